"""What changes in the movement, tempo by tempo: a note's stroke, how hard it comes, and its
place."""

from __future__ import annotations

from collections.abc import Callable

from ..measures.review.answers import Review, Rung
from ..measures.review.changes import Change
from ..measures.review.sentence import change_words, off_words
from . import chart
from .page_parts import numbers, percent, section

_HEIGHT = 220


def note_changes(review: Review) -> str:
    """A picture for each note whose stroke, attack or place changes or is off; nothing where none
    is."""
    parts = [_attack(review, one) for one in review.changes if one.what == "attack"]
    slots = [one.slot for one in review.changes if one.what == "timing" and one.slot]
    off = [] if review.even is None else [one.slot for one in review.even.slots]
    return "".join([*parts, *(_place(review, slot) for slot in dict.fromkeys(slots + off))])


def _attack(review: Review, change: Change) -> str:
    slot = change.slot or 1
    claim = change_words(review, change)
    if change.unpicked is not None:
        points = _points(review, slot, lambda rung: rung.unpicked)
        shown = [(x, 1.0 - y) for x, y in points]
        caption = f"{claim} Of the repetitions in which it can be told."
        return _picture(
            f"How note {slot} is played", shown, (0.0, 1.0), "picked", percent, caption, change
        )
    shown = _points(review, slot, lambda rung: rung.attack)
    caption = f"{claim} How hard it comes beside the repetition's other notes (1: alike)."
    top = 1.1 * max([1.0, *(y for _, y in shown)])
    return _picture(
        f"How hard note {slot} comes", shown, (0.0, top), "attack", lambda y: f"{y:g}", caption,
        change,
    )  # fmt: skip


def _place(review: Review, slot: int) -> str:
    change = next(
        (one for one in review.changes if one.what == "timing" and one.slot == slot), None
    )
    claim = " ".join(
        filter(
            None,
            (None if change is None else change_words(review, change), off_words(review, slot)),
        )
    )
    shown = _points(review, slot, lambda rung: rung.timing_ms)
    if not shown:
        return ""
    reach = 1.15 * max(6.0, *(abs(y) for _, y in shown))
    caption = f"{claim} Its mean place against the repetition's own even line; plus is late."
    return _picture(
        f"Where note {slot} comes", shown, (-reach, reach), "ms late", lambda y: f"{y:+.0f}",
        caption, change,
    )  # fmt: skip


def _points(
    review: Review, slot: int, of: Callable[[Rung], tuple[float | None, ...]]
) -> list[tuple[float, float]]:
    return [
        (rung.bpm, value)
        for rung in review.by_tempo
        if of(rung) and (value := of(rung)[slot - 1]) is not None
    ]


def _picture(
    title: str,
    points: list[tuple[float, float]],
    ends: tuple[float, float],
    axis: str,
    text: Callable[[float], str],
    caption: str,
    change: Change | None,
) -> str:
    if len(points) < 2:
        return ""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    box = chart.frame(xs, *ends, _HEIGHT)
    parts = chart.axes(box, "tempo, beats per minute", axis, text)
    if change is not None:
        told = f"changes between {change.low_bpm:.0f} and {change.high_bpm:.0f}"
        parts.append(chart.span(box, change.low_bpm, change.high_bpm, "awkward", told))
        caption += " Shaded: where it changes."
    parts.append(chart.curve(box, xs, ys, "line"))
    parts += [chart.dot(box, x, y, 4.0, "played", f"{x:.0f} bpm: {text(y)}") for x, y in points]
    lines = [(f"{x:.0f}", text(y)) for x, y in points]
    drawn = chart.drawing(caption, parts, _HEIGHT)
    return section(title, drawn, caption, numbers(("bpm", axis), lines))
