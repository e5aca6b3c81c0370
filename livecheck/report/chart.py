"""Small drawings for a page: axes, curves, bands, points and heat tables as SVG text.

Colours are names of the page's own variables, so that one drawing serves light and dark. Shapes
differ as well as colours. Every drawing says in words what it shows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from math import ceil, floor, log10

WIDTH, HEIGHT = 720, 300
LEFT, RIGHT, TOP, BOTTOM = 66, 14, 38, 44


@dataclass(frozen=True, slots=True)
class Frame:
    """Where data lie in a drawing: x from x0 to x1, y from y0 (bottom) to y1 (top)."""

    x0: float
    x1: float
    y0: float
    y1: float
    height: int = HEIGHT

    def x(self, value: float) -> float:
        return LEFT + (value - self.x0) / (self.x1 - self.x0) * (WIDTH - LEFT - RIGHT)

    def y(self, value: float) -> float:
        return (
            self.height
            - BOTTOM
            - (value - self.y0) / (self.y1 - self.y0) * (self.height - TOP - BOTTOM)
        )


def frame(xs: Sequence[float], y0: float, y1: float, height: int = HEIGHT) -> Frame:
    """A frame with a little room on either side of the data."""
    low, high = min(xs), max(xs)
    room = max((high - low) * 0.04, 1.0)
    return Frame(low - room, high + room, y0, y1 if y1 > y0 else y0 + 1.0, height)


def drawing(told: str, parts: Sequence[str], height: int = HEIGHT) -> str:
    """One SVG with its meaning in words."""
    label = escape(told, quote=True)
    return (
        f'<svg viewBox="0 0 {WIDTH} {height}" role="img" aria-label="{label}">'
        + "".join(parts)
        + "</svg>"
    )


def axes(box: Frame, x_name: str, y_name: str, y_text: Callable[[float], str]) -> list[str]:
    """Grid lines with their numbers, and the names of both axes."""
    parts = []
    for value in ticks(box.y0, box.y1, 5):
        y = box.y(value)
        parts.append(f'<path class="grid" d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}"/>')
        parts.append(
            f'<text x="{LEFT - 7}" y="{y + 4:.1f}" text-anchor="end">{escape(y_text(value))}</text>'
        )
    bottom = box.height - BOTTOM
    for value in ticks(box.x0, box.x1, 8):
        x = box.x(value)
        parts.append(f'<path class="grid" d="M{x:.1f} {bottom}v5"/>')
        parts.append(f'<text x="{x:.1f}" y="{bottom + 19}" text-anchor="middle">{value:g}</text>')
    parts.append(f'<path class="axis" d="M{LEFT} {bottom}H{WIDTH - RIGHT}"/>')
    parts.append(
        f'<text x="{(LEFT + WIDTH) / 2:.0f}" y="{box.height - 6}" '
        f'text-anchor="middle">{escape(x_name)}</text>'
    )
    parts.append(
        f'<text class="upname" transform="translate(13 {(TOP + bottom) / 2:.0f}) rotate(-90)" '
        'text-anchor="middle">'
        f"{escape(y_name)}</text>"
    )
    return parts


def ticks(low: float, high: float, about: int) -> list[float]:
    """Round numbers within a range.

    >>> ticks(83, 181, 5)
    [100.0, 120.0, 140.0, 160.0, 180.0]
    """
    rough = (high - low) / about
    step = 10.0 ** floor(log10(rough))
    step *= next(factor for factor in (1, 2, 5, 10) if factor * step >= rough * 0.999)
    return [
        round(i * step, 9) for i in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1)
    ]


def curve(box: Frame, xs: Sequence[float], ys: Sequence[float], kind: str) -> str:
    """A line through points."""
    points = " ".join(f"{box.x(x):.1f},{box.y(y):.1f}" for x, y in zip(xs, ys))
    return f'<polyline class="{kind}" points="{points}"/>'


def band(box: Frame, xs: Sequence[float], lows: Sequence[float], highs: Sequence[float]) -> str:
    """The area between two curves."""
    there = [f"{box.x(x):.1f},{box.y(y):.1f}" for x, y in zip(xs, highs)]
    back = [f"{box.x(x):.1f},{box.y(y):.1f}" for x, y in zip(reversed(xs), reversed(lows))]
    return f'<polygon class="band" points="{" ".join(there + back)}"/>'


def dot(
    box: Frame, x: float, y: float, size: float, kind: str, told: str, aside: float = 0.0
) -> str:
    """A round point that says what it is when pointed at; ``aside`` moves it, so that none hides
    another."""
    at = f'cx="{box.x(x) + aside:.1f}" cy="{box.y(y):.1f}" r="{size:.1f}"'
    return f'<circle class="{kind}" {at}><title>{escape(told)}</title></circle>'


def upright(box: Frame, x: float, kind: str, told: str, level: int = 0) -> str:
    """A line from bottom to top with its name above."""
    at = box.x(x)
    anchor, away = ("end", -5) if at > WIDTH * 0.7 else ("start", 5)
    return (
        f'<path class="{kind}" d="M{at:.1f} {TOP - 30 + 15 * level}V{box.height - BOTTOM}"/>'
        f'<text class="{kind}" x="{at + away:.1f}" y="{TOP - 22 + 15 * level}" '
        f'text-anchor="{anchor}">'
        f"{escape(told)}</text>"
    )


def reach(box: Frame, low: float, high: float, level: int, told: str) -> str:
    """An interval as a bar on the foot of the drawing, one a level."""
    x0, x1 = box.x(max(low, box.x0)), box.x(min(high, box.x1))
    y = box.height - BOTTOM - 12 + 6 * level
    return (
        f'<rect class="reach" x="{x0:.1f}" y="{y}" width="{max(x1 - x0, 2):.1f}" height="4">'
        f"<title>{escape(told)}</title></rect>"
    )


def span(box: Frame, low: float, high: float, kind: str, told: str) -> str:
    """A range of x, shaded from bottom to top."""
    x0, x1 = box.x(low), max(box.x(high), box.x(low) + 3)
    tall = box.height - TOP - BOTTOM
    title = f"<title>{escape(told)}</title>"
    return (
        f'<rect class="{kind}" x="{x0:.1f}" y="{TOP}" width="{x1 - x0:.1f}" '
        f'height="{tall}">{title}</rect>'
    )


PALE = 0.3
"""Cells that rest on few repetitions are no darker than this."""

HeatRow = tuple[str, Sequence[tuple[float | None, str, str]], bool]
"""A row's name, its cells (share, its text, and what it counts), and whether it rests on few
repetitions."""


def column_width(columns: int) -> float:
    """How wide a column of a table of shares is."""
    return min(64.0, (WIDTH - LEFT - RIGHT) / max(columns, 1))


def heat(
    rows: Sequence[HeatRow],
    columns: Sequence[str],
    told: str,
    above: tuple[Sequence[str], float] = ((), 0.0),
) -> str:
    """A table of shares by tempo: the stronger, the more; few repetitions are pale and dashed.

    What a cell counts stands in its title. above: what is drawn over the columns, and how tall it
    is.
    """
    cell_w = column_width(len(columns))
    cell_h, begin = 24, int(above[1])
    top = begin + 26
    parts = list(above[0])
    parts.append(f'<text x="{LEFT - 7}" y="{begin + 17}" text-anchor="end">bpm</text>')
    parts += [
        f'<text x="{LEFT + (i + 0.5) * cell_w:.1f}" y="{begin + 17}" '
        f'text-anchor="middle">{escape(name)}</text>'
        for i, name in enumerate(columns)
    ]
    for j, (name, cells, few) in enumerate(rows):
        y = top + j * cell_h
        parts.append(f'<text x="{LEFT - 7}" y="{y + 16}" text-anchor="end">{escape(name)}</text>')
        for i, (share, text, title) in enumerate(cells):
            if share is None:
                continue
            x = LEFT + i * cell_w
            full = min(share / 0.5, 1.0)  # half of the repetitions is as dark as it gets
            full = min(full, PALE) if few else full
            text = "" if share == 0 else text
            ink = "over" if full > 0.7 else "under"
            parts.append(
                f'<g><title>{escape(title)}</title><rect class="cell" x="{x + 1:.1f}" y="{y + 1}" '
                f'width="{cell_w - 2:.1f}" height="{cell_h - 2}"/>'
                f'<rect class="hot" opacity="{full:.2f}" x="{x + 1:.1f}" y="{y + 1}" '
                f'width="{cell_w - 2:.1f}" height="{cell_h - 2}"/>'
                f"{_dashed(x, y, cell_w, cell_h) if few and share else ''}"
                f'<text class="{ink}" x="{x + cell_w / 2:.1f}" y="{y + 16}" '
                f'text-anchor="middle">{text}</text></g>'
            )
    return drawing(told, parts, top + len(rows) * cell_h + 6)


def _dashed(x: float, y: float, wide: float, tall: float) -> str:
    return (
        f'<rect class="few" x="{x + 1.5:.1f}" y="{y + 1.5}" width="{wide - 3:.1f}" '
        f'height="{tall - 3}"/>'
    )
