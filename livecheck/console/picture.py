"""A frame of the screen as a picture (SVG), for the manual.

Blocks are drawn as rectangles, so that large lettering has no seams; everything else is text placed
column by column, so that no font's spacing shifts it. The same model gives the same picture, byte
for byte.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from xml.sax.saxutils import escape

from rich.cells import cell_len
from rich.style import Style

from .lines import Line
from .model import Model
from .palette import FULL, GROUND, INK
from .view import screen_lines

COLUMN, ROW, SIZE, MARGIN = 10, 20, 16.5, 14
_HALVES = {"█": (0.0, 1.0), "▀": (0.0, 0.5), "▄": (0.5, 1.0), "▬": (0.3, 0.7), "■": (0.25, 0.75)}
_APART = {"■"}  # of these, each stands by itself


def picture(
    model: Model,
    width: int = 80,
    height: int = 24,
    *,
    far: bool = False,
    title: str = "livecheck",
) -> str:
    """SVG text of one frame of ``width`` columns and ``height`` rows."""
    return picture_of(screen_lines(model, width, height, FULL, far), width, title)


def picture_of(lines: Sequence[Line], width: int, title: str) -> str:
    """SVG text of lines of at most ``width`` columns."""
    across, down = width * COLUMN + 2 * MARGIN, len(lines) * ROW + 2 * MARGIN
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {across} {down}" width="{across}" '
        f'height="{down}">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{across}" height="{down}" rx="6" fill="{GROUND}"/>',
        f'<g font-family="ui-monospace, monospace" font-size="{SIZE}">',
    ]
    for row, line in enumerate(lines):
        parts += _drawn(line, MARGIN + row * ROW)
    return "\n".join([*parts, "</g>", "</svg>", ""])


def _drawn(line: Line, top: float) -> Iterator[str]:
    column = 0
    for text, style, _ in line:
        style = style or Style.null()
        ink = style.color.name if style.color else INK
        ground = None
        if style.reverse:
            ink, ground = GROUND, ink
        wide, left = cell_len(text), MARGIN + column * COLUMN
        if ground is not None:
            yield (
                f'<rect x="{left}" y="{top}" width="{wide * COLUMN}" height="{ROW}" '
                f'fill="{ground}"/>'
            )
        faint = ' opacity="0.6"' if style.dim else ""
        bold = ' font-weight="bold"' if style.bold else ""
        for at, run in _runs(text):
            x = left + at * COLUMN
            if run[0] in _HALVES:
                above, below = _HALVES[run[0]]
                y, tall = top + above * ROW, (below - above) * ROW
                apart = 1 if run[0] in _APART else 0
                across = len(run) * COLUMN - 2 * apart
                yield (
                    f'<rect x="{x + apart}" y="{y:g}" width="{across}" height="{tall:g}" '
                    f'fill="{ink}"{faint}/>'
                )
            else:
                places = " ".join(str(x + place * COLUMN) for place in range(len(run)))
                yield (
                    f'<text x="{places}" y="{top + 15}" '
                    f'fill="{ink}"{bold}{faint}>{escape(run)}</text>'
                )
        column += wide


def _runs(text: str) -> Iterator[tuple[int, str]]:
    """Words and rows of equal blocks, with the column that each begins at."""
    run, began, column = "", 0, 0
    for char in text:
        joins = (
            bool(run)
            and char != " "
            and (char == run[-1] if run[-1] in _HALVES or char in _HALVES else True)
        )
        if run and not joins:
            yield began, run
            run = ""
        if char != " ":
            if not run:
                began = column
            run += char
        column += cell_len(char)
    if run:
        yield began, run
