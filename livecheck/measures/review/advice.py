"""What to play next to know more: the open question that matters most, and nothing once it is
answered.

A faster tempo is never suggested without a rest, and only if nothing hurts.
"""

from __future__ import annotations

from ...core.plain_text import joined
from .answers import Review
from .limits import Limit

SHARP = 0.06
"""A break whose interval is narrower than this part of the tempo needs no sharpening."""

ENOUGH = 120
"""Where so many repetitions lie in the interval already, twenty more would change little."""

CAREFUL = "after a rest and if nothing hurts"


def advice(review: Review) -> str | None:
    """What to play next; None where no question is open that some repetitions would answer."""
    secure, broken = review.secure, review.broken
    if broken.status == "too_few" or review.tempo_range_bpm is None:
        return "Ten repetitions at each of five tempos, slow to fast, would show where it breaks."
    slow, fast = review.tempo_range_bpm
    if review.suspected is not None:
        tempos = joined([f"{bpm:.0f}" for bpm in review.suspected.ask_bpm])
        return f"Ten repetitions each at {tempos} bpm would tell whether it is awkward there."
    if broken.status == "below_range":
        return f"Twenty repetitions below {slow:.0f} bpm would show whether it holds there."
    if broken.status == "above_range":
        return (
            f"Ten repetitions each at {fast * 1.05:.0f} and {fast * 1.1:.0f} bpm, {CAREFUL}, would "
            "show whether it breaks there."
        )
    if secure.status == "below_range":
        return (
            f"Twenty repetitions below {slow:.0f} bpm, at {0.9 * slow:.0f} and {0.8 * slow:.0f} "
            "for example, would show where it is secure."
        )
    if (ends := _wide(review, broken, SHARP)) is not None:
        return (
            f"Twenty repetitions between {ends[0]:.0f} and {ends[1]:.0f} bpm, {CAREFUL}, would "
            "sharpen the break."
        )
    if review.even is not None and review.even.why is not None:
        return (
            "How even it is across strings could be told if the delay were known: `livecheck rig "
            "latency` measures it."
        )
    if (ends := _wide(review, secure, 2 * SHARP)) is not None:
        return (
            f"Twenty repetitions between {ends[0]:.0f} and {ends[1]:.0f} bpm would sharpen "
            "what is secure."
        )
    return None


def _wide(review: Review, limit: Limit, wide: float) -> tuple[float, float] | None:
    """The ends of an interval that more repetitions would narrow."""
    low, high = limit.low_bpm, limit.high_bpm
    if limit.bpm is None or low is None or high is None or (high - low) / limit.bpm <= wide:
        return None
    there = sum(rung.reps for rung in review.by_tempo if low * 0.98 <= rung.bpm <= high * 1.02)
    return (low, high) if there < ENOUGH else None
