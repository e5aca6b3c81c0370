"""How often a note is picked, tempo by tempo, where that changes."""

from __future__ import annotations

from ..measures.review.answers import Review
from ..measures.review.changes import Change
from ..measures.review.sentence import changed
from . import chart
from .page_parts import numbers, percent, section


def strokes(review: Review) -> str:
    """A picture for each note whose stroke changes; nothing where none does."""
    told = [one for one in review.changes if one.what == "attack" and one.unpicked is not None]
    return "".join(_picture(review, one) for one in told)


def _picture(review: Review, change: Change) -> str:
    slot = change.slot or 1
    points = [
        (rung.bpm, 1.0 - share)
        for rung in review.by_tempo
        if rung.unpicked and (share := rung.unpicked[slot - 1]) is not None
    ]
    if len(points) < 2:
        return ""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    box = chart.frame(xs, 0.0, 1.0, 220)
    parts = chart.axes(box, "tempo, beats per minute", "picked", percent)
    parts.append(chart.span(box, change.low_bpm, change.high_bpm, "awkward", "where it changes"))
    parts.append(chart.curve(box, xs, ys, "line"))
    parts += [
        chart.dot(box, x, y, 4.0, "played", f"{x:.0f} bpm: picked in {100 * y:.0f} of 100")
        for x, y in points
    ]
    claim = f"From {change.from_bpm:.0f} bpm on {changed(review, change)}."
    caption = f"{claim} Of the repetitions in which it can be told."
    lines = [(f"{x:.0f}", f"{100 * y:.0f}") for x, y in points]
    return section(
        f"How note {slot} is played",
        chart.drawing(caption, parts, 220),
        caption,
        numbers(("bpm", "picked in 100"), lines),
    )
