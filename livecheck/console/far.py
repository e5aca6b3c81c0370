"""The far view: tempo, the last repetition and its outcome, the repetition under way, to be read
from two metres."""

from __future__ import annotations

from collections.abc import Sequence

from rich.style import Style

from ..core.events import HIT, MISSED, WRONG
from .big import HALVES, largest
from .footer import message_line, status_line
from .header import link_lost, outcome_style, port_words
from .lines import Line, both_ends, columns, cut, piece
from .model import Model
from .palette import FAINT, MISS, STRONG, VERDICT_STYLES, Signs
from .words import cell_title, in_large

STRUCK = "struck"  # and not certain yet

_SHAPES = {
    HIT: ("######", "######", "######", "######"),
    MISSED: ("......", "......", "......", "######"),
    WRONG: ("######", "...##.", ".##...", "######"),
    STRUCK: ("......", ".####.", ".####.", "......"),
    None: ("......", "..##..", "..##..", "......"),  # to come
}
WIDE, GAP = 6, 2  # columns of a shape, and between two
TALL, LOW = 5, 3  # rows of shapes with their numbers, and of half as tall ones


def far_lines(model: Model, width: int, height: int, signs: Signs) -> list[Line]:
    """Title and port, large tempo, the last repetition with note numbers, its outcome, the
    repetition under way, status."""
    ink = "█" if signs.blocks else "#"
    title = "only recording" if model.cell is None else cell_title(model.cell)
    port, style = port_words(model)
    first = both_ends(
        [piece(" " + title, STRONG)],
        [piece(cut(port, width // 2, signs.more), style), piece(" ")],
        width,
    )
    lost = link_lost(model)
    figure = "NO PORT" if lost else "" if model.tempo_bpm is None else f"{model.tempo_bpm:.0f}"
    room = height - 6
    last = [result.verdict for result in model.last.slots] if model.last else []
    now = list(model.current[1]) if model.current is not None else []
    pending = [at for at, verdict in enumerate(now) if verdict is None]
    for at in pending[: len(model.struck)]:
        now[at] = STRUCK
    marks = shapes(last, width - 4, room // 4, signs)
    running = shapes(now, width - 4, (room - len(marks)) // 4, signs) if now else []
    room -= len(marks) + len(running) + (1 if marks else 0)
    words = _outcome(model, width - 4, min(10, max(1, room // 2)), ink, signs)
    tempo = largest(figure, width - 12, max(1, room - len(words)), ink, signs.blocks)
    unit = "" if lost or model.tempo_bpm is None else "bpm"
    spare = max(0, height - 4 - len(tempo) - len(marks) - len(words) - len(running))
    gap: list[Line] = [[]] * (spare // 4)
    lines: list[Line] = [
        first,
        *gap,
        *centred_block(tempo, width, MISS if lost else STRONG, unit),
        *gap,
        *(_indent(line, width) for line in marks),
        *gap,
        *centred_block(words, width, outcome_style(model), ""),
    ]
    under = [_indent(line, width) for line in running]
    lines = lines[: height - 3 - len(under)]
    lines += [[] for _ in range(height - 2 - len(under) - len(lines))]
    return [*lines, *under, message_line(model, width, signs), status_line(model, width, signs)]


def _outcome(model: Model, width: int, height: int, ink: str, signs: Signs) -> list[str]:
    """The last outcome as large as it goes, in full where that is no smaller than in less."""
    if model.last is None:
        return []
    drawn = [largest(text, width, height, ink, signs.blocks) for text in in_large(model.last)]
    best = max(len(one) for one in drawn)
    return next(one for one in drawn if len(one) == best)


def centred_block(block: Sequence[str], width: int, style: Style, unit: str) -> list[Line]:
    """Lettering in the middle of the line, its unit at the foot."""
    if not block:
        return []
    left = max(0, (width - len(block[0])) // 2)
    lines: list[Line] = [[piece(" " * left), piece(line, style)] for line in block]
    lines[-1].append(piece(f" {unit}", FAINT))
    return lines


def shapes(verdicts: Sequence[str | None], width: int, height: int, signs: Signs) -> list[Line]:
    """A repetition's verdicts as large shapes over their note numbers; smaller where there is less
    room, at the least as signs in one line."""
    if not verdicts:
        return []
    numbers = range(1, len(verdicts) + 1)
    if len(verdicts) * (WIDE + GAP) - GAP > width or height < LOW:
        each = next((each for each in (4, 3, 2, 1) if len(verdicts) * each <= width + 1), 1)
        line = [
            piece(
                (signs.struck if verdict == STRUCK else signs.verdict(verdict)).ljust(each),
                _style(verdict),
            )
            for verdict in verdicts[:width]
        ]
        if each < 2 or height < 2:
            return [line]
        told = (str(n if n < 10 or each > 2 else n % 10).ljust(each) for n in numbers)
        return [line, [piece("".join(told), FAINT)]]
    lines: list[Line] = []
    for row in range(TALL - 1) if height >= TALL else range(0, TALL - 1, 2):
        line = []
        for verdict in verdicts:
            line += [
                piece(_ink(_SHAPES[verdict], row, height >= TALL, signs), _style(verdict)),
                piece(" " * GAP),
            ]
        lines.append(line[:-1])
    lines.append([piece("".join(str(n).center(WIDE + GAP) for n in numbers)[:-GAP], FAINT)])
    return lines


def _style(verdict: str | None) -> Style:
    return STRONG if verdict == STRUCK else VERDICT_STYLES.get(verdict or "", FAINT)


def _ink(shape: Sequence[str], row: int, tall: bool, signs: Signs) -> str:
    """One line of a shape: a row of it, or two rows in half blocks."""
    if tall:
        ink = "█" if signs.blocks else "#"
        return "".join(ink if pixel == "#" else " " for pixel in shape[row])
    if not signs.blocks:
        both = (("#" in pair, pair) for pair in zip(shape[row], shape[row + 1]))
        return "".join("#" if any_ink else " " for any_ink, _ in both)
    pairs = zip(shape[row], shape[row + 1], strict=True)
    return "".join(HALVES[upper == "#", lower == "#"] for upper, lower in pairs)


def _indent(line: Line, width: int) -> Line:
    return [piece(" " * max(0, (width - columns(line)) // 2)), *line]
