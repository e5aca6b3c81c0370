"""The far view: tempo, the last repetition's slots and its outcome, to be read from two metres."""

from __future__ import annotations

from collections.abc import Sequence

from rich.style import Style

from ..core.events import HIT, MISSED, WRONG
from .big import largest
from .footer import message_line, status_line
from .header import link_lost, link_words, outcome_style
from .lines import Line, both_ends, columns, cut, piece
from .model import Model
from .palette import FAINT, MISS, NORMAL, STRONG, VERDICT_STYLES, Signs
from .words import cell_title, in_one_word

_SHAPES = {
    HIT: ("######", "######", "######", "######"),
    MISSED: ("......", "......", "......", "######"),
    WRONG: ("######", "...##.", ".##...", "######"),
}


def far_lines(model: Model, width: int, height: int, signs: Signs) -> list[Line]:
    """Title and port, large tempo, large slots, large outcome, the slots under way, status."""
    ink = "█" if signs.blocks else "#"
    title = "only recording" if model.cell is None else cell_title(model.cell)
    link, style = link_words(model)
    first = both_ends(
        [piece(" " + title, STRONG)],
        [piece(cut(link, width // 2, signs.more), style), piece(" ")],
        width,
    )
    lost = link_lost(model)
    figure = "NO PORT" if lost else "" if model.tempo_bpm is None else f"{model.tempo_bpm:.0f}"
    outcome = in_one_word(model.last) if model.last else ""
    room = height - 7
    marks = big_slots(model, width - 4, ink, signs) if room >= 14 else []
    under = min(room // 4, 10) if room >= 13 else 3
    words = largest(outcome, width - 4, under, ink, signs.blocks)
    upper = room - len(marks) - len(words)
    tempo = largest(figure, width - 12, max(1, upper), ink, signs.blocks)
    unit = "" if lost or model.tempo_bpm is None else "bpm"
    spare = height - 6 - len(tempo) - len(marks) - len(words)
    gap: list[Line] = [[]] * max(0, spare // 3)
    lines: list[Line] = [
        first,
        *gap,
        *centred_block(tempo, width, MISS if lost else STRONG, unit),
        [],
        *gap,
    ]
    lines += [*(_indent(line, width) for line in marks), [], *gap]
    lines += centred_block(words, width, outcome_style(model), "")
    lines += [[] for _ in range(height - 3 - len(lines))]
    under_way = _under_way(model, width, signs)
    return [*lines, under_way, message_line(model, width, signs), status_line(model, width, signs)]


def centred_block(block: Sequence[str], width: int, style: Style, unit: str) -> list[Line]:
    """Lettering in the middle of the line, its unit at the foot."""
    if not block:
        return []
    left = max(0, (width - len(block[0])) // 2)
    lines: list[Line] = [[piece(" " * left), piece(line, style)] for line in block]
    lines[-1].append(piece(f" {unit}", FAINT))
    return lines


def big_slots(model: Model, width: int, ink: str, signs: Signs) -> list[Line]:
    """The last repetition's verdicts as large shapes; as signs in one line where there is no
    room."""
    if model.last is None:
        return []
    verdicts = [result.verdict for result in model.last.slots]
    if len(verdicts) * 8 - 2 > width:
        gap = " " if len(verdicts) * 2 <= width else ""
        return [
            [
                piece(signs.verdict(verdict) + gap, VERDICT_STYLES[verdict])
                for verdict in verdicts[:width]
            ]
        ]
    lines: list[Line] = []
    for row in range(4):
        line: Line = []
        for verdict in verdicts:
            shape = "".join(ink if pixel == "#" else " " for pixel in _SHAPES[verdict][row])
            line += [piece(shape, VERDICT_STYLES[verdict]), piece("  ")]
        lines.append(line[:-1])
    return lines


def _indent(line: Line, width: int) -> Line:
    return [piece(" " * max(0, (width - columns(line)) // 2)), *line]


def _under_way(model: Model, width: int, signs: Signs) -> Line:
    if model.current is None:
        return []
    rep, verdicts = model.current
    line = [piece(f"{rep}  ", FAINT)]
    line += [
        piece(signs.verdict(verdict) + " ", VERDICT_STYLES.get(verdict or "", NORMAL))
        for verdict in verdicts
    ]
    return _indent(line, width)
