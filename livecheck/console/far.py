"""The far view: tempo, the last repetition and its outcome, the repetition under way, to be read
from two metres."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len
from rich.style import Style

from ..core.events import HIT, MISSED, WRONG
from .big import HALVES, HEIGHT, largest, pixels
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
ROWS = len(_SHAPES[HIT])
SMALL, LOW, TALL = 2, ROWS // 2 + 1, ROWS + 1
"""Rows of a repetition with its note numbers: signs in a line, half as tall shapes, shapes."""
FRAME = 3  # rows of title, message and status
_STEPS = (
    ("now", SMALL), ("last", SMALL), ("tempo", 3), ("now", LOW), ("last", LOW), ("words", 3),
    ("tempo", HEIGHT), ("now", TALL), ("words", HEIGHT), ("last", TALL), ("tempo", 2 * HEIGHT),
    ("now", 2 * ROWS + 1), ("last", 2 * ROWS + 1), ("words", 2 * HEIGHT), ("tempo", 4 * HEIGHT),
    ("words", 4 * HEIGHT),
)  # fmt: skip
"""What grows to how many rows, in the order of its use, as long as there is room."""


def far_lines(model: Model, width: int, height: int, signs: Signs) -> list[Line]:
    """Title and port, large tempo, the last repetition with note numbers, its outcome, the
    repetition under way, status."""
    ink = "█" if signs.blocks else "#"
    lost = link_lost(model)
    figure = "NO PORT" if lost else "" if model.tempo_bpm is None else f"{model.tempo_bpm:.0f}"
    last = [result.verdict for result in model.last.slots] if model.last else []
    now = list(model.current[1]) if model.current is not None else []
    pending = [at for at, verdict in enumerate(now) if verdict is None]
    for at in pending[: len(model.struck)]:
        now[at] = STRUCK
    rows = _rows(
        {
            "now": _most_rows(len(now), width - 4),
            "last": _most_rows(len(last), width - 4),
            "tempo": _letter_rows([figure] if figure else [], width - 12, signs),
            "words": _letter_rows(in_large(model.last) if model.last else [], width - 4, signs),
        },
        height - FRAME,
    )
    marks, running = (
        shapes(verdicts, width - 4, rows[name], signs) if rows[name] else []
        for name, verdicts in (("last", last), ("now", now))
    )
    tempo = largest(figure, width - 12, rows["tempo"], ink, signs.blocks)
    words = _outcome(model, width - 4, rows["words"], ink, signs)
    unit = "" if lost or model.tempo_bpm is None else "bpm"
    spare = height - FRAME - len(tempo) - len(marks) - len(words) - len(running)
    gaps = [
        spare // 4 + (spare % 4 > at) for at in range(4)
    ]  # of a little room the end needs least
    lines: list[Line] = [_title_line(model, width, signs)]
    for gap, part in zip(
        (gaps[3], gaps[1], gaps[2], gaps[0]),
        (
            centred_block(tempo, width, MISS if lost else STRONG, unit),
            [_indent(line, width) for line in marks],
            centred_block(words, width, outcome_style(model), ""),
            [_indent(line, width) for line in running],
        ),
    ):
        lines += [*([[]] * max(0, gap)), *part]
    return [
        *lines[: height - 2],
        *([[]] * (height - 2 - len(lines))),
        message_line(model, width, signs),
        status_line(model, width, signs),
    ]


def _title_line(model: Model, width: int, signs: Signs) -> Line:
    """What is played, and the port where it is lost or there is room for it."""
    title = "only recording" if model.cell is None else cell_title(model.cell)
    port, style = port_words(model)
    if cell_len(title) + cell_len(port) + 4 > width:
        if not link_lost(model):
            return [piece(" " + cut(title, width - 2, signs.more), STRONG)]
        port = "PORT LOST"
    return both_ends([piece(" " + title, STRONG)], [piece(port, style), piece(" ")], width)


def _rows(most: dict[str, int], room: int) -> dict[str, int]:
    """How many rows each part gets: one line each where there is one, then what grows first."""
    rows = {name: min(1, limit) for name, limit in most.items()}
    for name, size in _STEPS:
        if rows[name] < size <= most[name] and sum(rows.values()) - rows[name] + size <= room:
            rows[name] = size
    return rows


def _most_rows(notes: int, width: int) -> int:
    """The most rows that a repetition of so many notes can take in a width."""
    if not notes:
        return 0
    if notes * 2 > width + 1:
        return 1
    scale = (width + GAP) // (notes * (WIDE + GAP))
    return SMALL if not scale else TALL if scale < 2 else 2 * ROWS + 1


def _letter_rows(texts: Sequence[str], width: int, signs: Signs) -> int:
    """The most rows that any of some wordings can take in a width."""
    most = 0
    for text in texts:
        across = len(pixels(text)[0])
        scale = width // (2 * across)
        most = max(most, scale * HEIGHT or (3 if signs.blocks and across <= width else 1))
    return most


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
    """A repetition's verdicts as large shapes over their note numbers, those of failed notes
    bright; smaller where there is less room, at the least as signs in one line."""
    if not verdicts:
        return []
    scale = 1
    if height > 2 * ROWS and len(verdicts) * 2 * (WIDE + GAP) - 2 * GAP <= width:
        scale = 2
    if len(verdicts) * (WIDE + GAP) - GAP > width or height < LOW:
        each = next((each for each in (4, 3, 2, 1) if len(verdicts) * each <= width + 1), 1)
        line = [
            piece(
                (signs.struck if verdict == STRUCK else signs.verdict(verdict)).ljust(each),
                _style(verdict),
            )
            for verdict in verdicts[:width]
        ]
        if each < 2 or height < SMALL:
            return [line]
        return [line, _numbers(verdicts, each, left=True)]
    lines: list[Line] = []
    tall = height >= TALL
    for row in range(ROWS) if tall else range(0, ROWS, 2):
        line = []
        for verdict in verdicts:
            ink = "".join(pixel * scale for pixel in _ink(_SHAPES[verdict], row, tall, signs))
            line += [piece(ink, _style(verdict)), piece(" " * GAP * scale)]
        lines += [line[:-1]] * (scale if tall else 1)
    numbers = _numbers(verdicts, (WIDE + GAP) * scale)
    last = numbers[-1]
    return [*lines, [*numbers[:-1], piece(last.text[: -GAP * scale], last.style or FAINT)]]


def _numbers(verdicts: Sequence[str | None], each: int, left: bool = False) -> Line:
    """Note numbers in columns of a width, under the middle of shapes of two columns less."""
    line = []
    for number, verdict in enumerate(verdicts, start=1):
        text = str(number if number < 10 or each > 2 else number % 10)
        text = text.ljust(each) if left else text.center(each * WIDE // (WIDE + GAP)).ljust(each)
        line.append(piece(text, _style(verdict) if verdict in (MISSED, WRONG) else FAINT))
    return line


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
