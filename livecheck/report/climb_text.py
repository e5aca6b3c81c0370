"""A climb in words: a block in a line, and the tempos found."""

from __future__ import annotations

from collections import Counter

from ..core.climb import Over, Plan
from ..core.cues import AGAIN, DOWN, END, REST, STRING, UP
from ..core.plain_text import times
from ..measures.review.by_start import ByStart
from ..measures.review.limits import Limit
from ..measures.review.stroke_words import start_words

CUE_WORDS = {
    UP: "faster",
    DOWN: "slower",
    AGAIN: "the same again",
    STRING: "a string sounded",
    REST: "rest",
    END: "the end",
}


def begin_line(plan: Plan) -> str:
    """``block 3: 96 bpm, 6 repetitions``"""
    kind = "" if plan.kind == "try" else f" ({plan.kind})"
    return f"block {plan.number}: {plan.bpm:g} bpm, {plan.reps} repetitions{kind}"


def block_line(over: Over) -> str:
    """``block 3: 96 bpm, clean 4 of 6; note 5 failed twice; slower``"""
    told = [outcome(over)]
    if not over.void:
        told += faults(over.heard.failed, over.heard.noise)
        if over.heard.bpm is not None and abs(over.heard.bpm / over.plan.bpm - 1.0) > 0.03:
            told.append(f"played at {over.heard.bpm:.0f} bpm")
    line = f"block {over.plan.number}: {over.plan.bpm:g} bpm, {'; '.join(told)}"
    return f"{line}; {CUE_WORDS.get(over.cue, over.cue)}"


def outcome(over: Over) -> str:
    """How a block went, or why it does not count."""
    if over.lost:
        return "a port was lost: not counted"
    if not over.heard.reps:
        return "nothing of the cell was heard: not counted"
    return f"clean {over.heard.clean} of {over.plan.reps}"


def faults(failed: Counter[int], noise: Counter[int]) -> list[str]:
    """What failed, named, the most frequent first.

    >>> faults(Counter({5: 2}), Counter({4: 1}))
    ['note 5 failed twice', 'string 4 sounded once']
    """
    told = [f"note {slot} failed {times(n)}" for slot, n in failed.most_common(2)]
    return told + [f"string {string} sounded {times(n)}" for string, n in noise.most_common(1)]


def start_lines(found: ByStart | None) -> list[str]:
    """How it went begun with either stroke, where both were told."""
    if found is None:
        return []
    counts = (
        f"{found.reps[0]} repetitions began with a down stroke, {found.reps[1]} with an up stroke"
    )
    said = start_words(found) or "No sure difference between the two."
    return [f"{counts}. {said}"]


def limit_text(what: str, where: str, limit: Limit) -> str:
    """One of the two tempos, or why it cannot be told.

    >>> limit_text("Breaks", "at", Limit("found", 141.2, 138.0, 144.6))
    'Breaks at 141 bpm (138 to 145).'
    """
    if limit.bpm is not None:
        span = f"{limit.low_bpm:.0f} to {limit.high_bpm:.0f}"
        return f"{what} {where} {limit.bpm:.0f} bpm ({span})."
    told = {
        "above_range": f"above {limit.low_bpm or 0:.0f} bpm, the fastest tried",
        "below_range": f"below {limit.high_bpm or 0:.0f} bpm, the slowest tried",
    }
    return f"{what}: {told.get(limit.status, 'too few repetitions to tell')}."
