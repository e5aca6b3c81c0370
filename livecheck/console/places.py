"""Where things stand within a note's column: the sign, early or late; figures and numbers under it;
how a note rings on into the next.

A sign stands in the middle of its column when nothing can be heard, and so many columns to the left
or right as the note was early or late by whole multiples of what is just noticed.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from rich.style import Style

from ..core.events import Repetition
from ..measures.profile import noticed
from .lines import Line, piece
from .palette import NOISY, Signs


def middle(width: int) -> int:
    """The column, from 0, in which a sign stands that is neither early nor late.

    >>> [middle(width) for width in (1, 2, 3, 4, 5, 7)]
    [0, 1, 1, 2, 2, 3]
    """
    return width // 2


def reach(width: int) -> int:
    """Columns that there are on both sides of the middle.

    >>> [reach(width) for width in (1, 2, 3, 4, 5, 7)]
    [0, 0, 1, 1, 2, 3]
    """
    return min(middle(width), width - 1 - middle(width))


def under(text: str, width: int) -> str:
    """A figure under a sign: it ends below it, or as near as there is room.

    >>> [under(text, width) for text, width in (("7", 3), ("-3", 3), ("-12", 4), ("12", 1))]
    [' 7 ', '-3 ', '-12 ', '1']
    """
    before = max(0, middle(width) + 1 - len(text))
    return (" " * before + text).ljust(width)[:width]


def shifts(rep: Repetition, width: int) -> list[int]:
    """For each slot of a repetition, columns to the right of the middle; minus is to the left."""
    most = reach(width)
    if not most:
        return [0] * len(rep.slots)
    return [max(-most, min(most, by)) for by in noticed(rep)]


def placed(
    marks: Sequence[tuple[str, Style]],
    width: int,
    signs: Signs,
    by: Sequence[int] = (),
    rings: Collection[int] = (),
) -> Line:
    """Signs in columns of one width.

    by: how far each stands to the right of the middle of its column, all in the middle where left
    out. rings: those, counted from 0, that ring on to the next.
    """
    if not any(by) and not rings:
        before, after = " " * middle(width), " " * (width - 1 - middle(width))
        return [piece(before + sign + after, style) for sign, style in marks]
    line: Line = []
    blank = ""  # before the next sign
    for at, (sign, style) in enumerate(marks):
        shift = by[at] if at < len(by) else 0
        blank += " " * (middle(width) + shift)
        rest = width - 1 - middle(width) - shift
        if at - 1 in rings and blank:
            line.append(piece(signs.rule * len(blank), NOISY))
            blank = ""
        line.append(piece(blank + sign, style))
        blank = " " * rest
    return [*line, piece(blank)]
