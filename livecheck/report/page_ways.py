"""Ways of playing as pictures: their shares over the tempo, how clean each is, and the cell with
what differs marked on its notes and strings."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from ..measures.ways.describe import Differs
from ..measures.ways.features import Figure
from ..measures.ways.find import WayFound, Ways
from . import chart
from .page_parts import numbers, percent, section
from .ways_text import headline, thing

_KINDS = ("fit", "limit", "then")
_LINES = ("full line", "broken line", "dotted line")
_HEIGHT = 240
_ROW = 26  # between strings
_MOST_MARKS = 6


def ways_part(ways: Ways, names: Sequence[str], figure: Figure) -> str:
    """Sections with all pictures; nothing where there is one way only."""
    if len(ways.ways) < 2:
        return ""
    parts = [_shares(ways, names), _clean(ways, names)]
    parts += [
        _cell(way, name, names[0], figure)
        for way, name in zip(ways.ways[1:], names[1:])
        if way.differs
    ]
    return "".join(parts)


def _legend(names: Sequence[str]) -> str:
    return ", ".join(f"{line}: {name}" for line, name in zip(_LINES, names)).capitalize() + "."


def _shares(ways: Ways, names: Sequence[str]) -> str:
    tempos = [bpm for bpm, _ in ways.ways[0].by_tempo]
    box = chart.frame(tempos, 0.0, 1.0, _HEIGHT)
    parts = chart.axes(box, "tempo, beats per minute", "share of repetitions", percent)
    for way, name, kind in zip(ways.ways, names, _KINDS):
        shares = [share for _, share in way.by_tempo]
        if len(tempos) > 1:
            parts.append(chart.curve(box, tempos, shares, kind))
        parts += [
            chart.dot(box, bpm, share, 3.5, "played", f"{name} at {bpm:.0f} bpm: {share:.0%}")
            for bpm, share in way.by_tempo
        ]
    if ways.from_bpm is not None and box.x0 < ways.from_bpm < box.x1:
        told = f"{names[1]} from {ways.from_bpm:.0f}"
        parts.append(chart.upright(box, ways.from_bpm, "mark", told))
    caption = f"{headline(ways, names)} {_legend(names)}"
    rows = [
        [f"{bpm:.0f}", *(f"{100 * way.by_tempo[at][1]:.0f}" for way in ways.ways)]
        for at, bpm in enumerate(tempos)
    ]
    drawn = chart.drawing(f"Share of each way against tempo. {caption}", parts, _HEIGHT)
    more = numbers(("bpm", *(f"{name} in 100" for name in names)), rows)
    return section("Ways of playing", drawn, caption, more)


def _clean(ways: Ways, names: Sequence[str]) -> str:
    some = [way.clean_by_tempo for way in ways.ways]
    tempos = sorted({bpm for points in some for bpm, _, _ in points})
    if len(tempos) < 2:
        return ""
    box = chart.frame(tempos, 0.0, 1.0, _HEIGHT)
    parts = chart.axes(box, "tempo, beats per minute", "clean repetitions", percent)
    for points, name, kind in zip(some, names, _KINDS):
        xs, ys = [bpm for bpm, _, _ in points], [a / n for _, a, n in points]
        if len(xs) > 1:
            parts.append(chart.curve(box, xs, ys, kind))
        parts += [
            chart.dot(
                box, bpm, a / n, 2.0 + 0.5 * n**0.5, "part", f"{name}, {bpm:.0f} bpm: {a} of {n}"
            )
            for bpm, a, n in points
        ]
    caption = (
        f"Clean repetitions of each way, tempo by tempo; rings are larger with more repetitions. "
        f"{_legend(names)}"
    )
    rows = [
        [
            f"{bpm:.0f}",
            *(next((f"{a} of {n}" for at, a, n in points if at == bpm), "-") for points in some),
        ]
        for bpm in tempos
    ]
    return section(
        "How clean each way is",
        chart.drawing(f"Clean repetitions of each way against tempo. {caption}", parts, _HEIGHT),
        caption,
        numbers(("bpm", *names), rows),
    )


def _cell(way: WayFound, name: str, first: str, figure: Figure) -> str:
    """Strings as lines, string 1 on top, notes in their places; what differs is filled."""
    marked = {one.slot for one in way.differs if one.slot is not None}
    strings = {one.string for one in way.differs if one.string is not None}
    left, wide = 60, chart.WIDTH - 90
    height = 24 + _ROW * figure.strings
    parts = []
    for string in range(1, figure.strings + 1):
        y = 20 + _ROW * (string - 1)
        kind = "mark" if string in strings else "grid"
        parts.append(f'<path class="{kind}" d="M{left} {y}H{left + wide}"/>')
        parts.append(f'<text x="{left - 8}" y="{y + 4}" text-anchor="end">string {string}</text>')
    for at, (string, start) in enumerate(zip(figure.slot_strings, figure.starts), 1):
        x = left + 20 + (wide - 40) * start / max(figure.steps, 1)
        y = 20 + _ROW * (string - 1)
        told = [thing(one) for one in way.differs if one.slot == at]
        parts.append(_note(x, y, at, at in marked, "; ".join(told) or f"note {at}: no difference"))
    if any(one.what == "seam" for one in way.differs):
        x = left + wide
        parts.append(f'<path class="mark" d="M{x} 12V{height - 8}"/>')
    things: list[Differs] = list(way.differs[:_MOST_MARKS])
    said = "; ".join(thing(one) for one in things)
    caption = f"{name} against {first}: {said}. Filled notes and broken lines mark what differs."
    return section(f"What differs in {name}", chart.drawing(caption, parts, height), caption)


def _note(x: float, y: float, number: int, marked: bool, told: str) -> str:
    kind, ink = ("hot", "over") if marked else ("cell", "under")
    return (
        f'<g><title>{escape(told)}</title><circle class="{kind}" cx="{x:.1f}" cy="{y}" r="10"/>'
        f'<text class="{ink}" x="{x:.1f}" y="{y + 4}" text-anchor="middle">{number}</text></g>'
    )
