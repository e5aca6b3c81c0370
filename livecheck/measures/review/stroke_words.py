"""What the strokes say of a cell, in sentences."""

from __future__ import annotations

from collections.abc import Callable

from ...core.cell import ALTERNATE, REPEAT
from ...core.plain_text import a_or_an
from .by_start import ByStart, ByStroke
from .left_out import LeftOut
from .limits import Limit
from .seam import MIXED, Seam

MOST = 2
"""More notes and strings than this are not told in a sentence."""

ONLY = 0.2
"""A fault comes with one direction *only* where the other has less than this share of it (common
practice, no source)."""


def start_words(found: ByStart | None) -> str:
    """Where it breaks begun with either stroke, where that surely makes a difference; else ""."""
    if found is None or not found.difference.surely:
        return ""
    down, up = found.down.broken, found.up.broken
    points = round(100 * abs(found.difference.share))
    low, high = sorted(
        (abs(round(100 * found.difference.low)), abs(round(100 * found.difference.high)))
    )
    better = "down" if found.difference.share > 0 else "up"
    told = f"{points} more clean in a hundred ({low} to {high}) begun with {a_or_an(better)} stroke"
    if _apart(down, up):
        return (
            f"Begun with a down stroke it {_breaks(down)}, begun with an up stroke it "
            f"{_breaks(up)}: {told}."
        )
    return f"At equal tempo {told}."


def _apart(one: Limit, other: Limit) -> bool:
    """Both breaks are known, and lie farther apart than they may do by chance."""
    told = {one.status, other.status}
    if told == {"found"}:
        pairs = (one, other), (other, one)
        return any((a.high_bpm or 0.0) < (b.low_bpm or 0.0) for a, b in pairs)
    return len(told) == 2 and "too_few" not in told


def _breaks(limit: Limit) -> str:
    if limit.status == "found" and limit.bpm is not None:
        return f"breaks at {limit.bpm:.0f} ({limit.low_bpm or 0:.0f} to {limit.high_bpm or 0:.0f})"
    if limit.status == "above_range":
        return f"does not break, up to {limit.low_bpm or 0:.0f} bpm"
    if limit.status == "below_range":
        return f"breaks below {limit.high_bpm or 0:.0f} bpm"
    return ""


def fault_words(found: ByStart | None, sounding: Callable[[int], str]) -> list[str]:
    """A sentence for each of the clearest faults that go with a direction.

    sounding: what a string does, by its number.
    """
    return [] if found is None else [_fault(one, sounding) for one in found.strokes[:MOST]]


def _fault(one: ByStroke, sounding: Callable[[int], str]) -> str:
    what = f"Note {one.slot} fails" if one.what == "fails" else None
    if what is None:
        what = f"String {one.string} {sounding(one.string)}"
    only = "only" if one.other < ONLY * one.share else "more often"
    note = "it" if one.what == "fails" else f"note {one.slot}"
    told = f"{100 * one.share:.0f} in a hundred against {100 * one.other:.0f}"
    return f"{what} {only} when {note} is {a_or_an(one.stroke)} stroke ({told})."


def seam_words(found: Seam | None, left_out: LeftOut | None = None) -> str:
    """Which plan was played over the seams, where that is not the planned one, changes with the
    tempo, or follows from a note that is not picked; else ""."""
    if left_out is not None:
        return _left_out(left_out)
    if found is None or (found.as_planned and found.from_bpm is None):
        return ""
    now = _SEAMS[found.played]
    if found.from_bpm is None:
        return f"Played otherwise than planned: {now}."
    before = "" if found.before is None else f"; below, {_SEAMS[found.before]}"
    return f"From {found.from_bpm:.0f} bpm on {now}{before}."


def _left_out(found: LeftOut) -> str:
    """Why repetitions begin otherwise than planned."""
    *before, last = map(str, found.slots)
    notes = f"notes {', '.join(before)} and {last} are" if before else f"note {last} is"
    follows = "the picking turns round at each repetition"
    if not found.turns:
        stroke = "the same" if found.begins is None else a_or_an(found.begins)
        follows = f"each repetition begins with {stroke} stroke"
    if found.from_bpm is not None:
        return f"From {found.from_bpm:.0f} bpm on {notes} not picked, so {follows}."
    return f"{notes[0].upper()}{notes[1:]} not picked, so {follows}."


_SEAMS = {
    ALTERNATE: "the picking goes on alternating over the seam and turns round",
    REPEAT: "each repetition begins with the stroke that began the one before",
    MIXED: "repetitions begin now with the same stroke, now with the other",
}
