"""Secure and break tempo over days, as a picture."""

from __future__ import annotations

from ..files.values import date_of
from ..measures.review.answers import Review
from . import chart
from .page_parts import numbers, section


def over_days(review: Review) -> str:
    """Both tempos on each day, and the trend of what is secure; nothing of fewer than two days."""
    days = review.by_day
    if len(days) < 2:
        return ""
    first = days[0].day
    xs = [one.day - first + 1 for one in days]
    rows = {
        "secure": [one.secure_bpm for one in days],
        "break": [one.break_bpm for one in days],
    }
    told = {name: [bpm for bpm in row if bpm is not None] for name, row in rows.items()}
    every = [bpm for row in told.values() for bpm in row]
    if not every:
        return ""
    sds = {
        "secure": [one.secure_sd for one in days],
        "break": [one.break_sd for one in days],
    }
    most = max(sd for row in sds.values() for sd in row)
    box = chart.frame(xs, min(every) - 3.0 - 2.0 * most, max(every) + 3.0 + 2.0 * most, 260)
    parts = chart.axes(box, f"day, from {date_of(first)}", "tempo", lambda value: f"{value:g}")
    for name, kind in (("secure", "line"), ("break", "limit")):
        row = [bpm for bpm in rows[name] if bpm is not None]
        if len(row) < len(xs):
            continue
        lows = [bpm - 2.0 * sd for bpm, sd in zip(row, sds[name])]
        highs = [bpm + 2.0 * sd for bpm, sd in zip(row, sds[name])]
        parts += [chart.band(box, xs, lows, highs), chart.curve(box, xs, row, kind)]
        for x, bpm, one in zip(xs, row, days):
            parts.append(
                chart.dot(box, x, bpm, 4.0, "played", f"{date_of(one.day)}: {name} {bpm:.0f}")
            )
    caption = _caption(review)
    lines = [
        (date_of(one.day), *(f"{bpm:.0f}" if bpm is not None else "" for bpm in at))
        for one, *at in zip(days, rows["secure"], rows["break"])
    ]
    return section(
        "Over the days",
        chart.drawing(caption, parts, 260),
        caption,
        numbers(("day", "secure", "break"), lines),
    )


def _caption(review: Review) -> str:
    names = "Line: secure; dashed: break; shade: how well each day is known against the last."
    if review.progress is None:
        return names
    slope = review.progress.bpm_a_week
    told = f"{slope.value:+.1f} bpm a week ({slope.low:.1f} to {slope.high:.1f})"
    sign = told if slope.sure else f"no sign of a trend ({told})"
    return f"What is secure: {sign}. {names}"
