"""What a climb has found: secure and break with their intervals, and what to do next time."""

from __future__ import annotations

from collections.abc import Sequence

from ..review.limits import FEWEST_TRIES, TOO_FEW, Limit
from .belief import NOTHING, Belief, Estimate, Known
from .rules import BELOW, Played, first_tempo


def limits(
    played: Sequence[Played], known: Known = NOTHING, start: float | None = None
) -> tuple[Limit, Limit]:
    """Secure and break. A tempo that the blocks do not reach is not told, as in a review."""
    blocks = [one for one in played if one.reps]
    if sum(one.reps for one in blocks) < FEWEST_TRIES or not blocks:
        return TOO_FEW, TOO_FEW
    belief = Belief(blocks, known, first_tempo(start, known))
    slowest, fastest = min(one.bpm for one in blocks), max(one.bpm for one in blocks)
    return (
        _limit(belief.secure_tempo(), slowest, fastest),
        _limit(belief.break_tempo(), slowest, fastest),
    )


def _limit(found: Estimate, slowest: float, fastest: float) -> Limit:
    if found.bpm > fastest:
        return Limit("above_range", low_bpm=fastest)
    if found.bpm < slowest:
        return Limit("below_range", high_bpm=slowest)
    return Limit(
        "found",
        found.bpm,
        max(found.low, slowest),
        min(found.high, fastest),
        open_low=found.low < slowest,
        open_high=found.high > fastest,
    )


def advice(secure: Limit, broken: Limit) -> str:
    """What to do next time, in one sentence. A faster tempo comes after a rest, if nothing
    hurts."""
    if broken.status == "found" and broken.bpm is not None:
        if secure.status == "found" and secure.bpm is not None:
            return (
                f"warm up at {BELOW * secure.bpm:.0f} bpm, then most blocks at {secure.bpm:.0f}; "
                f"up to {(secure.bpm + broken.bpm) / 2.0:.0f} after a rest, if nothing hurts"
            )
        return (
            f"blocks at {BELOW * broken.bpm:.0f} bpm until nearly all are clean; at no tempo were "
            "nine in ten so far"
        )
    if broken.status == "above_range" and broken.low_bpm is not None:
        return (
            f"begin near {broken.low_bpm:.0f} bpm: it held at every tempo; faster after a rest, if "
            "nothing hurts"
        )
    if broken.status == "below_range" and broken.high_bpm is not None:
        return f"begin well below {broken.high_bpm:.0f} bpm: it broke at every tempo"
    return "more blocks: there were too few repetitions to tell"
