"""Pictures of a comparison: two ways of playing tempo by tempo, and the cells of a family by where
they break; in text and as a page."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import NamedTuple

from ..measures.review.compare import Comparison
from ..measures.review.limits import Limit, Limits
from . import chart
from .page import STYLE
from .page_parts import numbers, percent, section
from .review_text import PLAIN, Signs

HEIGHT = 300
LABEL, LEAST_SCALE = 6, 20
ROW, ROWS_TOP = 30, 20


class Placed(NamedTuple):
    """One cell of a family and where it stands."""

    name: str
    reps: int
    limits: Limits


def two_lines(
    found: Comparison, names: tuple[str, str], width: int, signs: Signs = PLAIN
) -> list[str]:
    """Clean shares of both on one scale, a line a tempo, the fastest on top."""
    wide = max(width - LABEL - 3, LEAST_SCALE)
    scale = "0" + "50".center(wide - 6) + "100 %"
    lines = [f"{'bpm':>{LABEL}}  {scale}"]
    for bpm, k_a, n_a, k_b, n_b in reversed(found.by_tempo):
        row = [" "] * (wide + 1)
        first, second = round(k_a / n_a * wide), round(k_b / n_b * wide)
        for place in range(min(first, second), max(first, second) + 1):
            row[place] = signs.band
        row[first], row[second] = signs.share, signs.other
        if first == second:
            row[first] = signs.both
        lines.append(f"{bpm:{LABEL}.0f}  " + "".join(row).rstrip())
    return [*lines, f"{signs.share} {names[0]}   {signs.other} {names[1]}   {signs.both} both"]


def family_lines(members: Sequence[Placed], width: int, signs: Signs = PLAIN) -> list[str]:
    """A line a cell: where it is secure, and where it breaks with its interval, on one scale."""
    known = [value for one in members for value in _tempos(one)]
    if len(known) < 2 or min(known) == max(known):
        return []
    low, high = min(known), max(known)
    label = min(max(len(one.name) for one in members), width // 2)
    wide = max(width - label - 3, LEAST_SCALE)
    ends = f"{low:.0f}".ljust(wide - 8) + f"{high:.0f} bpm".rjust(9)
    lines = [" " * (label + 2) + ends]
    for one in members:
        row = [" "] * (wide + 1)

        def at(bpm: float) -> int:
            return round((bpm - low) / (high - low) * wide)

        broken, secure = one.limits.broken, one.limits.secure
        if broken.bpm is not None:
            for place in range(at(broken.low_bpm or low), at(broken.high_bpm or high) + 1):
                row[place] = signs.band
            row[at(broken.bpm)] = signs.share
        if secure.bpm is not None:
            row[at(secure.bpm)] = signs.other
        lines.append(f"{one.name[:label]:{label}}  " + "".join(row).rstrip())
    return [
        *lines,
        f"{signs.other} secure   {signs.share} breaks   {signs.band * 3} its 95 % interval",
    ]


def two_page(
    found: Comparison | None,
    names: tuple[str, str],
    limits: tuple[Limits, Limits],
    words: str,
    titles: Sequence[str],
) -> str:
    """The comparison as a page: what was found, both curves and what was played."""
    parts = [] if found is None else [_two_section(found, names, limits, words)]
    return _page(f"{names[0]} and {names[1]}", words, titles, parts)


def family_page(name: str, members: Sequence[Placed], words: Sequence[str]) -> str:
    """A family as a page: each cell's break with its interval, and where it is secure."""
    known = [value for one in members for value in _tempos(one)]
    parts = []
    if known:
        height = ROWS_TOP + ROW * len(members) + chart.BOTTOM + 10
        box = chart.frame(known, 0.0, float(len(members)), height)
        drawn = chart.axes(box, "tempo, beats per minute", "", lambda _: "")
        for row, one in enumerate(members):
            drawn += _member(box, row, len(members), one)
        told = f"Where each cell of {name} is secure and where it breaks."
        caption = (
            "Round: where a cell breaks, with its 95 % interval; broken upright: up to where it is "
            "secure."
        )
        rows = [
            [one.name, str(one.reps), tempo_text(one.limits.secure), tempo_text(one.limits.broken)]
            for one in members
        ]
        head = ["cell", "repetitions", "secure up to", "breaks at"]
        parts.append(
            section(
                "Where each breaks",
                chart.drawing(told, drawn, height),
                caption,
                numbers(head, rows),
            )
        )
    return _page(f"The family {name}", " ".join(words), (), parts)


def tempo_text(limit: Limit) -> str:
    """A tempo with its interval, or what is known in its place."""
    if limit.bpm is not None:
        return f"{limit.bpm:.0f} bpm ({limit.low_bpm or 0:.0f} to {limit.high_bpm or 0:.0f})"
    if limit.status == "above_range":
        return f"above {limit.low_bpm or 0:.0f} bpm"
    if limit.status == "below_range":
        return f"below {limit.high_bpm or 0:.0f} bpm"
    return "too few to tell"


def _tempos(one: Placed) -> list[float]:
    limits = (one.limits.secure, one.limits.broken)
    return [
        value
        for limit in limits
        if limit.bpm is not None
        for value in (limit.bpm, limit.low_bpm, limit.high_bpm)
        if value is not None
    ]


def _member(box: chart.Frame, row: int, rows: int, one: Placed) -> list[str]:
    y = rows - row - 0.5
    at = box.y(y)
    parts = [f'<text class="under" x="{chart.LEFT + 4}" y="{at - 8:.1f}">{escape(one.name)}</text>']
    broken, secure = one.limits.broken, one.limits.secure
    if broken.bpm is not None:
        ends = [broken.low_bpm or box.x0, broken.high_bpm or box.x1]
        parts.append(chart.curve(box, ends, [y, y], "fit"))
        parts.append(chart.dot(box, broken.bpm, y, 5.0, "played", tempo_text(broken)))
    if secure.bpm is not None:
        x = box.x(secure.bpm)
        title = f"<title>{escape(tempo_text(secure))}</title>"
        parts.append(f'<path class="mark" d="M{x:.1f} {at - 7:.1f}v14">{title}</path>')
    return parts


def _two_section(
    found: Comparison, names: tuple[str, str], limits: tuple[Limits, Limits], words: str
) -> str:
    tempos = [bpm for bpm, *_ in found.by_tempo]
    box = chart.frame(tempos, 0.0, 1.0, HEIGHT)
    parts = chart.axes(box, "tempo, beats per minute", "clean repetitions", percent)
    for level, (name, side, kind) in enumerate(zip(names, limits, ("fit", "limit"))):
        band = side.band
        if band is None:
            continue
        there = (band.bpm >= box.x0) & (band.bpm <= box.x1)
        columns = [
            column[there].tolist() for column in (band.bpm, band.low, band.high, band.chance)
        ]
        if columns[0]:
            parts.append(chart.band(box, *columns[:3]))
            parts.append(chart.curve(box, columns[0], columns[3], kind))
        if side.broken.bpm is not None and box.x0 <= side.broken.bpm <= box.x1:
            told = f"{name} breaks {side.broken.bpm:.0f}"
            parts.append(chart.upright(box, side.broken.bpm, "mark", told, level))
    for bpm, k_a, n_a, k_b, n_b in found.by_tempo:
        for name, clean, tries, kind in (
            (names[0], k_a, n_a, "played"),
            (names[1], k_b, n_b, "part"),
        ):
            told = f"{name}: {clean} of {tries} clean at {bpm:.0f}"
            parts.append(chart.dot(box, bpm, clean / tries, 4.5, kind, told))
    caption = (
        f"{words} Full line and filled points: {names[0]}; broken line and rings: {names[1]}; "
        "shaded: 95 % intervals."
    )
    rows = [
        [f"{bpm:.0f}", f"{k_a} of {n_a}", f"{k_b} of {n_b}"]
        for bpm, k_a, n_a, k_b, n_b in found.by_tempo
    ]
    drawn = chart.drawing(f"Share of clean repetitions of both. {words}", parts, HEIGHT)
    return section("Tempo by tempo", drawn, caption, numbers(["bpm", *names], rows))


def _page(title: str, words: str, titles: Sequence[str], parts: Sequence[str]) -> str:
    told = "".join(f"<h1>{escape(line)}</h1>" for line in titles)
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" '
        f'content="width=device-width,initial-scale=1"><title>{escape(title)}</title>'
        f"<style>{STYLE}</style></head><body><main>{told}"
        f'<p class="answer">{escape(words)}</p>{"".join(parts)}</main></body></html>\n'
    )
