"""The review in words: one sentence first, and what it rests on."""

from __future__ import annotations

import math

from ...core.plain_text import joined
from .answers import Review, Rung
from .changes import Change
from .even import OffNote
from .limits import Limit
from .stroke_words import fault_words, seam_words, start_words

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
        *_in_order(review),
        *fault_words(review.by_start, lambda string: sounding(review, string, 0.0)),
        seam_words(review.seam, review.left_out),
        evenness(review),
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


def _limits(review: Review) -> str:
    secure, broken = review.secure, review.broken
    if review.cleaner_fast is not None and broken.status == "too_few":
        return (
            f"{_cleaner_fast(review.cleaner_fast, review.by_tempo[0])}; where it breaks cannot "
            "be told yet."
        )
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
        "found": f"{word} up to {secure.gap[0] if secure.gap is not None else secure.bpm or 0:.0f} "
        f"bpm{but}",
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


def claim(review: Review) -> str:
    """What is said of the fall: the caption of its picture."""
    return " ".join(filter(None, (_limits(review), _earlier(review), _awkward(review))))


def _earlier(review: Review) -> str:
    """Where it stood on the first day, where that surely differs."""
    then = review.earlier
    if then is None or review.as_of is None:
        return ""
    told = [
        f"{word} {bpm:.0f}"
        for word, bpm, now in (
            ("was secure up to", then.secure_bpm, review.secure.bpm),
            ("broke at", then.break_bpm, review.broken.bpm),
        )
        if bpm is not None and (now is None or round(bpm) != round(now))  # else it has not moved
    ]
    return f"{ago(review.as_of.day - then.day)} it {joined(told)}." if told else ""


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
    return f"Perhaps awkward {where} bpm: clean {inside} there, {below}{above}."


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
        "noise": f"string {first.string} {sounding(review, first.string, first.from_bpm)}, at note "
        f"{first.slot}",
        "stray": f"an unwanted sound on string {first.string}, at note {first.slot}",
        "broken": f"breaking off before note {first.slot} on string {first.string}",
    }[first.fault]
    sure = f"{math.floor(100 * min(first.chance, 0.99))} in 100 sure"
    return f"First to go: {what}, from {first.from_bpm:.0f} bpm on ({sure})."


def _in_order(review: Review) -> list[str]:
    """What goes first and what changes, from the slowest tempo on: each stands where it belongs in
    the order of what it touches."""
    first = review.first_to_go
    told = [] if first is None else [(first.from_bpm, _first(review))]
    at: dict[str, list[Change]] = {}
    for change in sorted(review.changes, key=lambda change: change.from_bpm):
        noise = ("noise", change.string) if change.what == "noise" else None
        if first is not None and (first.fault, first.string) == noise:
            continue  # told already
        at.setdefault(f"{change.from_bpm:.0f}", []).append(change)
    for changes in at.values():
        bpm = changes[0].from_bpm
        what = joined([changed(review, change) for change in changes])
        text = f"{_since(changes[0])} {what}"
        secure = review.secure.bpm if review.secure.status == "found" else None
        sure = bpm if changes[0].between is None else changes[0].between[1]
        if all(change.what != "noise" for change in changes) and secure and secure > 1.02 * sure:
            text += f"; it stays secure up to {secure:.0f}"
        told.append((bpm, f"{text}."))
    lines = [text for _, text in sorted(told, key=lambda one: one[0])]
    return lines if first is not None else [*lines, _first(review)]


def first_words(review: Review, of_note: bool) -> str:
    """What goes first, where that is a note (or a string's noise); of notes also why none is
    named."""
    first = review.first_to_go
    if first is None:
        return _first(review) if of_note else ""
    return _first(review) if (first.fault not in ("noise", "stray")) == of_note else ""


def noise_words(review: Review) -> str:
    """What is said of the strings that should be silent."""
    told = [first_words(review, of_note=False)]
    first = review.first_to_go
    for change in review.changes:
        if change.what == "noise" and (
            first is None or (first.fault, first.string) != ("noise", change.string)
        ):
            told.append(change_words(review, change))
    return " ".join(filter(None, told))


def change_words(review: Review, change: Change) -> str:
    """One change as a sentence of its own."""
    return f"{_since(change)} {changed(review, change)}."


def _since(change: Change) -> str:
    """From which tempo on, as nearly as the tempos played tell."""
    if change.between is None:
        return f"From {change.from_bpm:.0f} bpm on"
    low, high = change.between
    return f"From somewhere between {low:.0f} and {high:.0f} bpm on"


def changed(review: Review, change: Change) -> str:
    """A change of movement in words: the same in the sentence, the pictures and the summary.

    What changed and where is told; what the hand did is the player's to say.
    """
    more = change.after > change.before
    if change.what == "noise":
        silent = f"string {change.string} falls silent"
        return (
            f"string {change.string} {sounding(review, change.string, change.from_bpm)}"
            if more
            else silent
        )
    if change.what == "timing":
        late = f"{abs(change.after - change.before):.0f} ms {'later' if more else 'earlier'}"
        return f"note {change.slot} comes {late}"
    if change.unpicked is not None and abs(change.unpicked[1] - change.unpicked[0]) >= 0.3:
        before, after = change.unpicked
        if after > before:
            often = "is no longer picked" if after >= 0.8 else f"is not picked {_in_ten(after)}"
        else:
            often = "is picked" if after <= 0.2 else f"is picked {_in_ten(1.0 - after)}"
        return f"note {change.slot} {often}"
    return f"note {change.slot} comes {'harder' if more else 'softer'}"


def _in_ten(share: float) -> str:
    return f"in {max(round(10 * share), 1)} of ten repetitions"


def evenness(review: Review) -> str:
    """Up to which tempo it is even, and which notes are off; nothing where it is even throughout or
    cannot be said."""
    found = review.even
    if found is None or not found.slots:
        return ""
    return f"Not even: {joined([_off(one) for one in found.slots])}."


def off_words(review: Review, slot: int) -> str:
    """That one note is off its place; nothing where it is not."""
    slots = () if review.even is None else review.even.slots
    told = [_off(one) for one in slots if one.slot == slot]
    return "".join(f"{words[0].upper()}{words[1:]}." for words in told)


def _off(one: OffNote) -> str:
    return f"note {one.slot} comes {abs(one.ms):.0f} ms {'late' if one.ms > 0 else 'early'} " + (
        "at every tempo" if one.from_bpm is None else f"from {one.from_bpm:.0f} bpm on"
    )


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
