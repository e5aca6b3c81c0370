"""The picture of both beginnings: clean repetitions against tempo, begun with a down stroke and
with an up stroke."""

from __future__ import annotations

from ..measures.review.by_start import ByStart
from ..measures.review.limits import Limits
from ..measures.review.stroke_words import start_words
from . import chart
from .page_parts import percent, section

TITLE = "Begun down, begun up"
_HEIGHT = 300


def starts(found: ByStart | None) -> str:
    """A section with the drawing and its caption; nothing where a beginning has no curve."""
    if found is None or found.down.band is None or found.up.band is None:
        return ""
    sides = ("down", found.down, "fit"), ("up", found.up, "limit")
    tempos = [float(bpm) for _, side, _ in sides for bpm in _bpm(side)]
    box = chart.frame(tempos, 0.0, 1.0, _HEIGHT)
    parts = chart.axes(box, "tempo, beats per minute", "clean repetitions", percent)
    for level, (name, side, kind) in enumerate(sides):
        band = side.band
        assert band is not None
        parts.append(
            chart.band(box, *(column.tolist() for column in (band.bpm, band.low, band.high)))
        )
        parts.append(chart.curve(box, band.bpm.tolist(), band.chance.tolist(), kind))
        if side.broken.bpm is not None:
            told = f"begun {name} breaks {side.broken.bpm:.0f}"
            parts.append(chart.upright(box, side.broken.bpm, "mark", told, level))
    words = start_words(found) or "No sure difference between the two."
    down, up = found.reps
    caption = (
        f"{words} Full line: the {down} repetitions begun with a down stroke, broken line: the "
        f"{up} begun with an up stroke, as they were played; shaded: 95 % intervals."
    )
    drawn = chart.drawing("Share of clean repetitions by starting stroke. " + words, parts, _HEIGHT)
    return section(TITLE, drawn, caption)


def _bpm(side: Limits) -> list[float]:
    return [] if side.band is None else [float(side.band.bpm[0]), float(side.band.bpm[-1])]
