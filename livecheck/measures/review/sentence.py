"""The review in words: one sentence first, what it rests on, and what would sharpen it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from .answers import Review, Rung
from .changes import Change
from .limits import Limit
from .stroke_words import fault_words, seam_words, start_words

SHARP = 0.06
"""A break whose interval is narrower than this part of the tempo needs no sharpening."""

MEANING = "Secure: nine in ten repetitions are clean; break: half of them are."
"""What both words mean (``tempo_limits.SECURE`` and ``BREAK``)."""

FEWEST_SECURE = 20
"""Fewer repetitions than this may be clean, but are not called secure: ten clean of ten still allow
a share of seven in ten (sources.md S-12)."""

FEWEST_TOLD, MOSTLY = 5, 0.75
"""Sounds of a string that have to be told apart, and the share that has to be of one kind, before
it is called struck or brushed (common practice, no source)."""


def sentence(review: Review) -> str:
    """Where it holds and breaks, what goes first, and what changes, in plain words."""
    parts = [
        _limits(review),
        _earlier(review),
        start_words(review.by_start),
        _awkward(review),
        _first(review),
        *fault_words(review.by_start, lambda string: sounding(review, string, 0.0)),
        seam_words(review.seam),
        *_more_noise(review),
        _without_fault(review),
    ]
    return " ".join(part for part in parts if part)


def rests_on(review: Review) -> str:
    """How many repetitions the answer rests on.

    A single take says nothing about good and bad days; that is told.
    """
    if review.tempo_range_bpm is None:
        return "No repetition with a tempo."
    low, high = (f"{end:.0f}" for end in review.tempo_range_bpm)
    repetitions = f"{review.reps} repetition" + ("s" if review.reps != 1 else "")
    takes = f"{review.takes} take" + ("s" if review.takes != 1 else "")
    tempos = f"{low} to {high}" if low != high else f"at {low}"
    text = f"Rests on {repetitions} in {takes}, {tempos} bpm."
    if review.takes < 4 and review.broken.status == "found":
        text += " So few takes tell nothing about good and bad days."
    told = {review.secure.status, review.broken.status} & {"found", "above_range", "below_range"}
    return f"{text} {MEANING}" if told and len(review.by_tempo) > 1 else text


def sharpen(review: Review) -> str | None:
    """What to play next to know more; None where the answer is sharp already."""
    secure, broken = review.secure, review.broken
    if broken.status == "too_few" or review.tempo_range_bpm is None:
        return "Ten repetitions at each of five tempos, slow to fast, would show where it breaks."
    slow, fast = review.tempo_range_bpm
    if broken.status == "below_range":
        return f"Twenty repetitions below {slow:.0f} bpm would show whether it holds there."
    if broken.status == "above_range":
        return f"Ten repetitions each at {fast * 1.05:.0f} and {fast * 1.1:.0f} bpm would show whether it breaks there."
    low, high = broken.low_bpm or slow, broken.high_bpm or fast
    if broken.bpm is not None and (high - low) / broken.bpm > SHARP:
        return f"Twenty repetitions between {low:.0f} and {high:.0f} bpm would sharpen the break."
    if secure.status != "found" or secure.bpm is None:
        return None
    low, high = secure.low_bpm or slow, secure.high_bpm or fast
    if (high - low) / secure.bpm > 2 * SHARP:
        return (
            f"Twenty repetitions between {low:.0f} and {high:.0f} bpm would sharpen what is secure."
        )
    return None


def _limits(review: Review) -> str:
    secure, broken = review.secure, review.broken
    if review.cleaner_fast is not None and broken.status == "too_few":
        return f"{_cleaner_fast(review.cleaner_fast, review.by_tempo[0])}; where it breaks cannot be told yet."
    if review.tempo_range_bpm is None or (
        secure.status == "too_few" and broken.status == "too_few"
    ):
        return f"Too few repetitions to say where it breaks ({review.reps})."
    if len(review.by_tempo) == 1:
        return _one_tempo(review, review.by_tempo[0])
    slow, fast = review.tempo_range_bpm
    if broken.status == "below_range":
        return f"Breaks below {slow:.0f} bpm, the slowest tempo tried."
    but = ""
    if review.awkward is not None:
        but = " but for slow tempos" if review.awkward.from_slowest else " but for an awkward range"
    word = "Secure" if review.reps >= FEWEST_SECURE else "Clean"
    if review.earlier is not None:
        word = f"Now {word.lower()}"
    if secure.status == "above_range":
        start = (
            f"{word} up to {fast:.0f} bpm{but}"
            if but or review.earlier is not None
            else f"{word} at every tempo tried, up to {fast:.0f} bpm"
        )
        start += (
            f" ({sum(rung.clean for rung in review.by_tempo)} of {review.reps})"
            if word == "Clean"
            else ""
        )
        return f"{start}; the break is not reached."
    start = {
        "found": f"{word} up to {secure.gap[0] if secure.gap is not None else secure.bpm or 0:.0f} bpm{but}",
        "below_range": f"Not secure at any tempo tried, from {slow:.0f} bpm",
        "too_few": "Too few repetitions to say what is secure",
    }[secure.status]
    if review.cleaner_fast is not None:
        start = (
            f"{_cleaner_fast(review.cleaner_fast, review.by_tempo[0])}; what is secure cannot be "
            "told yet"
        )
    if broken.status == "above_range":
        return f"{start}; the break is not reached, up to {fast:.0f} bpm."
    if broken.status == "too_few":
        return f"{start}; too few repetitions to say where it breaks."
    return f"{start}; breaks {_at(broken)}."


def _cleaner_fast(fast: Rung, slow: Rung) -> str:
    told = (
        f"{fast.clean} of {fast.reps} at {fast.bpm:.0f} bpm, {slow.clean} of {slow.reps} at "
        f"{slow.bpm:.0f}"
    )
    return f"Cleaner fast than slow ({told})"


def _one_tempo(review: Review, rung: Rung) -> str:
    """A single tempo says only how it goes there."""
    told = f"{rung.clean} of {rung.reps} clean at {rung.bpm:.0f} bpm, the only tempo tried"
    if review.broken.status == "below_range":
        return f"{told}: it breaks below."
    if review.secure.status == "above_range":
        return f"{told}; the break is not reached."
    return f"{told}; one tempo does not say where it breaks."


def _at(limit: Limit) -> str:
    if limit.gap is not None:
        return f"between {limit.gap[0]:.0f} and {limit.gap[1]:.0f}"
    low = f"{'below ' if limit.open_low else ''}{limit.low_bpm or 0:.0f}"
    high = f"{'beyond ' if limit.open_high else ''}{limit.high_bpm or 0:.0f}"
    return f"at {limit.bpm or 0:.0f} ({low} to {high})"


def _earlier(review: Review) -> str:
    """Where it stood on the first day, where that surely differs."""
    then = review.earlier
    if then is None or review.as_of is None:
        return ""
    told = [
        f"{word} {bpm:.0f}"
        for word, bpm in (("secure up to", then.secure_bpm), ("breaking at", then.break_bpm))
        if bpm is not None
    ]
    return f"{ago(review.as_of.day - then.day)} it was {joined(told)}."


def ago(days: int) -> str:
    """How long ago a day was, in words that begin a sentence.

    >>> ago(1), ago(12), ago(23)
    ('A day before', '12 days before', '3 weeks before')
    """
    if days < 14:
        return "A day before" if days == 1 else f"{days} days before"
    return f"{round(days / 7)} weeks before"


def _awkward(review: Review) -> str:
    valley = review.awkward or review.suspected
    if valley is None:
        return ""
    low, high = f"{valley.low_bpm:.0f}", f"{valley.high_bpm:.0f}"
    where = f"from {low} to {high}" if low != high else f"around {low}"
    inside = f"{valley.clean} of {valley.reps}"
    above = f"{valley.above[0]} of {valley.above[1]} just above"
    if review.awkward is not None:
        if valley.from_slowest:
            return f"Awkward up to {high} bpm (clean {inside}), smooth above ({above})."
        return f"Awkward {where} bpm (clean {inside}): smooth above it ({above}) and slower."
    below = "" if valley.from_slowest else f"{valley.below[0]} of {valley.below[1]} below and "
    if valley.from_slowest:
        where = f"up to {high}"
    tempos = joined([f"{bpm:.0f}" for bpm in valley.ask_bpm])
    return (
        f"Perhaps awkward {where} bpm: clean {inside} there, {below}{above}; ten repetitions each "
        f"at {tempos} would tell."
    )


def _first(review: Review) -> str:
    first = review.first_to_go
    if first is None:
        why = review.first_to_go_why
        if why is None or review.broken.status != "found":
            return ""
        return f"{why[0].upper()}{why[1:]}."
    what = {
        "missed": f"note {first.slot} on string {first.string} is missed",
        "wrong": f"note {first.slot} on string {first.string} is wrong",
        "noise": f"string {first.string} {sounding(review, first.string, first.from_bpm)}, at note {first.slot}",
        "stray": f"an unwanted sound on string {first.string}, at note {first.slot}",
        "broken": f"breaking off before note {first.slot} on string {first.string}",
    }[first.fault]
    sure = f"{math.floor(100 * min(first.chance, 0.99))} in 100 sure"
    return f"First to go: {what}, from {first.from_bpm:.0f} bpm on ({sure})."


def _more_noise(review: Review) -> list[str]:
    """A sentence for each tempo from which strings that should be silent sound or fall silent."""
    first = review.first_to_go
    told: dict[str, list[str]] = {}
    for change in _by_tempo(review):
        if change.what != "noise":
            continue
        more, string = change.after > change.before, change.string or 0
        if more and first is not None and (first.fault, first.string) == ("noise", string):
            continue  # told already
        what = (
            f"string {string} "
            f"{sounding(review, string, change.from_bpm) if more else 'falls silent'}"
        )
        told.setdefault(f"{change.from_bpm:.0f}", []).append(what)
    return [f"From {bpm} bpm on {joined(what)}." for bpm, what in told.items()]


def _without_fault(review: Review) -> str:
    """What changes in how notes are played, tempo by tempo: no fault, so it says nothing about what
    goes first."""
    told: dict[str, list[str]] = {}
    for change in _by_tempo(review):
        if change.what != "noise":
            told.setdefault(f"{change.from_bpm:.0f}", []).append(_change(change))
    parts = [f"{joined(what)} from {bpm} bpm on" for bpm, what in told.items()]
    return f"Changed without a fault: {'; '.join(parts)}." if parts else ""


def _by_tempo(review: Review) -> list[Change]:
    return sorted(review.changes, key=lambda change: change.from_bpm)


def _change(change: Change) -> str:
    more = change.after > change.before
    if change.what == "attack":
        return f"note {change.slot} is {'harder' if more else 'softer'}"
    return f"note {change.slot} comes {abs(change.after - change.before):.0f} ms {'later' if more else 'earlier'}"


def joined(parts: Sequence[str]) -> str:
    """Parts of a sentence put together.

    >>> joined(["note 3 is softer", "note 4 comes 8 ms later", "note 5 is softer"])
    'note 3 is softer, note 4 comes 8 ms later and note 5 is softer'
    """
    return " and ".join(filter(None, (", ".join(parts[:-1]), parts[-1])))


def sounding(review: Review, string: int, from_bpm: float) -> str:
    """What a string does from a tempo on: sounds full, is brushed, or sounds, where that cannot be
    told."""
    above = [rung for rung in review.by_tempo if rung.bpm >= from_bpm * 0.99]
    struck = sum(rung.struck[string - 1] for rung in above if rung.struck)
    brushed = sum(rung.brushed[string - 1] for rung in above if rung.brushed)
    if struck + brushed < FEWEST_TOLD:
        return "sounds"
    share = struck / (struck + brushed)
    return "sounds full" if share >= MOSTLY else "is brushed" if share <= 1.0 - MOSTLY else "sounds"
