"""The review in words: one sentence first, what it rests on, and what would sharpen it."""

from __future__ import annotations

from .review import Review
from .tempo_limits import Limit

SHARP = 0.06
"""A break whose interval is narrower than this part of the tempo needs no sharpening."""


def sentence(review: Review) -> str:
    """Where it holds and breaks, what goes first, and what changes, in plain words."""
    parts = [_limits(review), _awkward(review), _first(review), *_changes(review)]
    return " ".join(part for part in parts if part)


def rests_on(review: Review) -> str:
    """How many repetitions the answer rests on.

    A single take says nothing about good and bad days; that is told.
    """
    if review.tempo_range_bpm is None:
        return "No repetition with a tempo."
    low, high = review.tempo_range_bpm
    repetitions = f"{review.reps} repetition" + ("s" if review.reps != 1 else "")
    takes = f"{review.takes} take" + ("s" if review.takes != 1 else "")
    text = f"Rests on {repetitions} in {takes}, {low:.0f} to {high:.0f} bpm."
    if review.takes < 4 and review.broken.status == "found":
        text += " So few takes tell nothing about good and bad days."
    return text


def sharpen(review: Review) -> str | None:
    """What to play next to know more; None where the answer is sharp already."""
    secure, broken = review.secure, review.broken
    if broken.status == "too_few" or review.tempo_range_bpm is None:
        return "Ten repetitions at each of five tempos, slow to fast, would show where it breaks."
    slow, fast = review.tempo_range_bpm
    if broken.status == "below_range":
        return f"Twenty repetitions below {slow:.0f} would show whether it holds there."
    if broken.status == "above_range":
        return f"Ten repetitions each at {fast * 1.05:.0f} and {fast * 1.1:.0f} would show whether it breaks there."
    low, high = broken.low_bpm or slow, broken.high_bpm or fast
    if broken.bpm is not None and (high - low) / broken.bpm > SHARP:
        return f"Twenty repetitions between {low:.0f} and {high:.0f} would sharpen the break."
    if secure.status != "found" or secure.bpm is None:
        return None
    low, high = secure.low_bpm or slow, secure.high_bpm or fast
    if (high - low) / secure.bpm > 2 * SHARP:
        return f"Twenty repetitions between {low:.0f} and {high:.0f} would sharpen what is secure."
    return None


def _limits(review: Review) -> str:
    secure, broken = review.secure, review.broken
    if review.tempo_range_bpm is None or (secure.status == "too_few" and broken.status == "too_few"):
        return f"Too few repetitions to say where it breaks ({review.reps})."
    slow, fast = review.tempo_range_bpm
    if broken.status == "below_range":
        return f"Breaks below {slow:.0f}, the slowest tempo tried."
    if secure.status == "above_range":
        return f"Secure at every tempo tried, up to {fast:.0f}; the break is not reached."
    start = {
        "found": f"Secure up to {secure.bpm or 0:.0f}",
        "below_range": f"Not secure at any tempo tried, from {slow:.0f}",
        "too_few": "Too few repetitions to say what is secure",
    }[secure.status]
    if broken.status == "above_range":
        return f"{start}; the break is not reached, up to {fast:.0f}."
    if broken.status == "too_few":
        return f"{start}; too few repetitions to say where it breaks."
    return f"{start}; breaks {_at(broken)}."


def _at(limit: Limit) -> str:
    if limit.gap is not None:
        return f"between {limit.gap[0]:.0f} and {limit.gap[1]:.0f}"
    low = f"{'below ' if limit.open_low else ''}{limit.low_bpm or 0:.0f}"
    high = f"{'beyond ' if limit.open_high else ''}{limit.high_bpm or 0:.0f}"
    return f"at {limit.bpm or 0:.0f} ({low} to {high})"


def _awkward(review: Review) -> str:
    valley = review.awkward
    if valley is None:
        return ""
    if valley.from_slowest:
        return f"Clumsy slow: awkward up to {valley.high_bpm:.0f}, better above."
    if valley.high_bpm == valley.low_bpm:
        return f"Awkward around {valley.low_bpm:.0f}: better both slower and faster."
    return f"Awkward from {valley.low_bpm:.0f} to {valley.high_bpm:.0f}: better both slower and faster."


def _first(review: Review) -> str:
    first = review.first_to_go
    if first is None:
        return "No sign of one thing going first." if review.broken.status == "found" else ""
    what = {
        "missed": f"slot {first.slot}, missed",
        "wrong": f"slot {first.slot}, wrong note",
        "noise": f"string {first.string} sounds, at slot {first.slot}",
        "stray": f"stray sound on string {first.string}, at slot {first.slot}",
        "broken": f"broken off before slot {first.slot}",
    }[first.fault]
    return f"First to go: {what}, from {first.from_bpm:.0f}."


def _changes(review: Review) -> list[str]:
    told = []
    first = review.first_to_go
    for change in review.changes:
        more = change.after > change.before
        if change.what == "noise":
            if first is not None and first.fault == "noise" and first.string == change.string and more:
                continue  # told already
            text = f"string {change.string} {'sounds' if more else 'falls silent'}"
        elif change.what == "attack":
            text = f"slot {change.slot} is {'struck harder' if more else 'softer'}"
        else:
            text = (
                f"slot {change.slot} comes {abs(change.after - change.before):.0f} ms {'later' if more else 'earlier'}"
            )
        told.append(f"From {change.from_bpm:.0f} {text}.")
    return told
