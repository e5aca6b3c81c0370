"""The review as one JSON object, ``livecheck-review/1`` (formats.md), rounded once."""

from __future__ import annotations

from typing import Any

from ..measures.review.answers import Review
from ..measures.review.by_start import ByStart
from ..measures.review.compare import Comparison, Difference
from ..measures.review.even import Even
from ..measures.review.left_out import LeftOut
from ..measures.review.limits import Limit
from ..measures.review.progress import Progress
from ..measures.review.seam import Seam
from ..measures.review.sentence import sentence
from ..measures.review.wear import Slope
from .values import date_of, rounded

FORMAT = "livecheck-review/1"
COMPARE_FORMAT = "livecheck-compare/1"


def review_to_dict(review: Review, about: str | None = None) -> dict[str, Any]:
    """The review object. Tempos to a tenth, shares to a thousandth. about: which cell this is,
    where none was named."""
    named: dict[str, Any] = {"name": review.cell, "slots": len(review.slot_strings)}
    if review.variant is not None:
        named["variant"] = review.variant
    awkward, first = review.awkward, review.first_to_go
    return {
        "format": FORMAT,
        "about": about,
        "cell": named,
        "takes": review.takes,
        "reps": review.reps,
        "tempo_range_bpm": None
        if review.tempo_range_bpm is None
        else [rounded(end, 1) for end in review.tempo_range_bpm],
        "sentence": sentence(review),
        "secure": limit_to_dict(review.secure),
        "break": limit_to_dict(review.broken),
        "as_of": None
        if review.as_of is None
        else {
            "date": date_of(review.as_of.day),
            "sittings": review.as_of.sittings,
            "reps": review.as_of.reps,
        },
        "earlier": None
        if review.earlier is None
        else {
            "date": date_of(review.earlier.day),
            "secure_bpm": rounded(review.earlier.secure_bpm, 1),
            "break_bpm": rounded(review.earlier.break_bpm, 1),
        },
        "awkward": None
        if awkward is None
        else {
            "low_bpm": rounded(awkward.low_bpm, 1),
            "high_bpm": rounded(awkward.high_bpm, 1),
            "p": round(awkward.p, 4),
        },
        "suspected": None
        if review.suspected is None
        else {
            "low_bpm": rounded(review.suspected.low_bpm, 1),
            "high_bpm": rounded(review.suspected.high_bpm, 1),
            "clean": review.suspected.clean,
            "reps": review.suspected.reps,
            "reps_to_know": review.suspected.reps_to_know,
        },
        "first_to_go": None
        if first is None
        else {
            "slot": first.slot,
            "string": first.string,
            "fault": first.fault,
            "from_bpm": rounded(first.from_bpm, 1),
            "chance": round(first.chance, 3),
        },
        "first_to_go_why": review.first_to_go_why,
        "even": None if review.even is None else _even(review.even),
        "changes": [
            {
                "what": change.what,
                "slot": change.slot,
                "string": change.string,
                "from_bpm": rounded(change.from_bpm, 1),
                "low_bpm": rounded(change.low_bpm, 1),
                "high_bpm": rounded(change.high_bpm, 1),
                "before": round(change.before, 3),
                "after": round(change.after, 3),
                "share": rounded(change.share, 3),
                "between_bpm": None
                if change.between is None
                else [rounded(end, 1) for end in change.between],
            }
            for change in review.changes
        ],
        "by_tempo": [
            {
                "bpm": rounded(rung.bpm, 1),
                "reps": rung.reps,
                "complete": rung.complete,
                "clean": rung.clean,
                "cv_pct": rounded(rung.cv_pct, 2),
            }
            for rung in review.by_tempo
        ],
        "wear": None
        if review.wear is None
        else {
            "clean_points_per_10_min": _slope(review.wear.clean_points),
            "cv_pct_per_10_min": _slope(review.wear.cv_points),
        },
        "progress": None if review.progress is None else _progress(review.progress),
        "odd_even": None
        if review.odd_even is None
        else {
            "overall": _difference(review.odd_even.overall),
            "clearest": None
            if review.odd_even.clearest is None
            else _difference(review.odd_even.clearest),
        },
        "by_start": by_start_to_dict(review.by_start),
        "seam": _seam(review.seam),
        "left_out": _left_out(review.left_out),
    }


def by_start_to_dict(found: ByStart | None) -> dict[str, Any] | None:
    if found is None:
        return None
    sides = {
        name: {
            "secure": limit_to_dict(limits.secure),
            "break": limit_to_dict(limits.broken),
            "reps": reps,
            "cv_pct": rounded(cv, 2),
        }
        for name, limits, reps, cv in zip(
            ("down", "up"), (found.down, found.up), found.reps, found.cv_pct
        )
    }
    told = found.difference
    return {
        **sides,
        "difference": {
            "points": round(100 * told.share, 1),
            "low": round(100 * told.low, 1),
            "high": round(100 * told.high, 1),
        },
        "strokes": [
            {
                "what": one.what,
                "slot": one.slot,
                "string": one.string,
                "stroke": one.stroke,
                "share": round(one.share, 3),
                "other": round(one.other, 3),
            }
            for one in found.strokes
        ],
    }


def _seam(found: Seam | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "played": found.played,
        "chance": round(found.chance, 3),
        "from_bpm": rounded(found.from_bpm, 1),
        "before": found.before,
    }


def _left_out(found: LeftOut | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "slots": list(found.slots),
        "from_bpm": rounded(found.from_bpm, 1),
        "begins": found.begins,
        "turns": found.turns,
    }


def _even(even: Even) -> dict[str, Any]:
    return {
        "up_to_bpm": rounded(even.up_to_bpm, 1),
        "slots": [
            {
                "slot": off.slot,
                "ms": round(off.ms, 2),
                "low": round(off.low, 2),
                "high": round(off.high, 2),
                "from_bpm": rounded(off.from_bpm, 1),
            }
            for off in even.slots
        ],
        "why": even.why,
    }


def _progress(progress: Progress) -> dict[str, Any]:
    found = [day.bpm for day in progress.days if day.status == "found"]
    return {
        "days": len(found),
        "secure_bpm": [rounded(bpm, 1) for bpm in found],
        "bpm_per_week": _slope(progress.bpm_a_week),
        "by_day": [
            {
                "date": date_of(day.number),
                "status": day.status,
                "bpm": rounded(day.bpm, 1),
            }
            for day in progress.days
        ],
    }


def comparison_to_dict(
    comparison: Comparison | None, first: str, second: str, words: str
) -> dict[str, Any]:
    """Two ways of playing compared; ``overall`` is null where they share too little to be
    compared."""
    return {
        "format": COMPARE_FORMAT,
        "first": first,
        "second": second,
        "verdict": words,
        "overall": None if comparison is None else _difference(comparison.overall),
        "clearest": None
        if comparison is None or comparison.clearest is None
        else _difference(comparison.clearest),
        "by_tempo": []
        if comparison is None
        else [
            {
                "bpm": rounded(bpm, 1),
                "first": {"clean": k_a, "reps": n_a},
                "second": {"clean": k_b, "reps": n_b},
            }
            for bpm, k_a, n_a, k_b, n_b in comparison.by_tempo
        ],
    }


def _difference(difference: Difference) -> dict[str, Any]:
    return {
        "from_bpm": rounded(difference.from_bpm, 1),
        "to_bpm": rounded(difference.to_bpm, 1),
        "points": round(difference.points, 1),
        "low": round(difference.low, 1),
        "high": round(difference.high, 1),
        "reps": list(difference.reps),
        "clean": list(difference.clean),
    }


def limit_to_dict(limit: Limit) -> dict[str, Any]:
    return {
        "status": limit.status,
        "bpm": rounded(limit.bpm, 1),
        "low_bpm": rounded(limit.low_bpm, 1),
        "high_bpm": rounded(limit.high_bpm, 1),
    }


def _slope(slope: Slope | None) -> dict[str, float] | None:
    if slope is None:
        return None
    return {
        "value": round(slope.value, 3),
        "low": round(slope.low, 3),
        "high": round(slope.high, 3),
    }
