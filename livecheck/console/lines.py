"""Lines of styled text of an exact width, cheap enough to be made anew for every frame.

A line is a list of rich Segments. Widths are terminal columns, so that wide characters in a cell's
name do no harm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from rich.style import Style

from .palette import NORMAL

Line = list[Segment]


class Fitted(Line):
    """A line that is known to be so many columns wide."""

    __slots__ = ("wide",)

    def __init__(self, segments: Iterable[Segment], wide: int) -> None:
        super().__init__(segments)
        self.wide = wide


def piece(text: str, style: Style = NORMAL) -> Segment:
    """A piece of text in one style."""
    return Segment(text, style)


def padded(text: str, width: int, style: Style = NORMAL, right: bool = False) -> Segment:
    """Text cut or filled to a width; ``right`` puts it to the right-hand side."""
    if right and cell_len(text) < width:
        return Segment(" " * (width - cell_len(text)) + text, style)
    return Segment(set_cell_size(text, max(0, width)), style)


def columns(line: Iterable[Segment]) -> int:
    """Columns that a line takes."""
    return sum(cell_len(segment.text) for segment in line)


def fitted(line: Sequence[Segment], width: int) -> Line:
    """A line cut or filled to exactly ``width`` columns."""
    if isinstance(line, Fitted) and line.wide == width:
        return line
    result = Fitted((), width)
    left = width
    for segment in line:
        taken = cell_len(segment.text)
        if taken > left:
            result.append(Segment(set_cell_size(segment.text, left), segment.style))
            return result
        result.append(segment)
        left -= taken
    if left:
        result.append(Segment(" " * left, NORMAL))
    return result


def merged(line: Iterable[Segment]) -> Line:
    """The same line in as few pieces as may be: neighbours of one style are one."""
    result: Line = Fitted((), line.wide) if isinstance(line, Fitted) else []
    for segment in line:
        if result and result[-1].style == segment.style:
            result[-1] = Segment(result[-1].text + segment.text, segment.style)
        elif segment.text:
            result.append(segment)
    return result


def both_ends(left: Sequence[Segment], right: Sequence[Segment], width: int) -> Line:
    """Left and right parts on one line; where there is no room for both, the left one is cut."""
    room = width - columns(right)
    if room < 8:
        return fitted(left, width)
    return [*fitted(left, room - 1), piece(" "), *right]


def cut(text: str, width: int, more: str) -> str:
    """Text cut to a width, with a sign where something was left out."""
    if cell_len(text) <= width:
        return text
    return set_cell_size(text, max(0, width - 1)).rstrip() + more if width > 0 else ""


def plain_text(lines: Iterable[Line]) -> str:
    """The bare text of lines, trailing spaces left out."""
    return "\n".join("".join(segment.text for segment in line).rstrip() for line in lines)


def wrapped(text: str, width: int) -> list[str]:
    """Words on lines of at most a width."""
    lines = [""]
    for word in text.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > width:
            lines.append("")
        lines[-1] += (" " if lines[-1] else "") + word
    return lines
