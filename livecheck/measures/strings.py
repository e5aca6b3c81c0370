"""What happened on the strings that the hand passed over, and how long a left string rang on.

A *crossing* is the way from one slot to the next on another string; it passes over the strings that lie between, those
of the cell too (skipping back). Each passage is silent, brushed (a soft short sound), struck (a full note), or cut off
(the string was ringing and stopped as the hand passed): measures.md, noise. Where more than one is true the loudest
counts. What lies under the rig's gate is the converter's and counts as silence; a string that goes on ringing through
the crossing was not touched either.

Notes learn their end only when it comes, so a passage read again later may have become ``cut off``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import log
from statistics import median
from typing import NamedTuple

from ..core.cell import Cell
from ..core.events import ARTEFACT, Note, Repetition, SlotResult
from .attack import usual_velocities

SILENT, BRUSHED, STRUCK, CUT_OFF = "silent", "brushed", "struck", "cut off"
KINDS = (SILENT, BRUSHED, STRUCK, CUT_OFF)
_GRAVEST = (STRUCK, BRUSHED, CUT_OFF, SILENT)

NEAR_S = 0.025
"""A sound this far outside of a crossing still belongs to it (as in core/reps.py). No source."""

_HALF_ATTACK, _ATTACK_SPAN = 0.5, 0.30  # against the string's usual velocity; span in logs. No source.
_HALF_LENGTH_S, _LENGTH_SPAN = 0.075, 0.65
_CENSORED_S = 0.012  # a note that ends so near the next one of its string was ended by it
_RANG_ON_S = 0.035  # so long into a crossing a string must ring, at least, to be called ringing. No source; C-17
_RINGING_S = 0.12  # a sound that nobody planned must have lasted so long before it counts as ringing
LEAST_LEFT = 8
"""Crossings away from a string before its usual note-off delay is known."""


class Crossing(NamedTuple):
    """The way between two slots of the plan, numbered from 1; ``over`` are the strings passed, lowest number first."""

    before: int
    after: int
    over: tuple[int, ...]


class Passage(NamedTuple):
    """What one string did in one crossing of one repetition. ``note`` is what sounded or stopped."""

    rep: int
    before: int
    after: int
    string: int
    kind: str
    note: Note | None


@dataclass(frozen=True, slots=True)
class StringShare:
    """How a string fared over all times that it was passed over (or, a quiet one, over all repetitions)."""

    string: int
    of: int
    counts: dict[str, int]
    touched_low: float | None  # 95 % interval of the share that was not silent
    touched_high: float | None
    watched: bool  # quiet in the plan and passed by no crossing: counted by repetition


class RingOver(NamedTuple):
    """How long the string of slot ``before`` sounded on beyond its usual note-off after slot ``after`` began."""

    rep: int
    before: int
    after: int
    string: int
    ring_over_ms: float


def crossings(cell: Cell) -> tuple[Crossing, ...]:
    """The string changes of a cell in order, the one from the last slot back to the first included.

    >>> from livecheck.core.cell import make_cell
    >>> crossings(make_cell("three", [(2, 13), (2, 10), (5, 12)]))
    (Crossing(before=2, after=3, over=(3, 4)), Crossing(before=3, after=1, over=(3, 4)))
    """
    slots = cell.slots
    found = []
    for at, slot in enumerate(slots):
        after = slots[(at + 1) % len(slots)]
        if after.string != slot.string:
            low, high = sorted((slot.string, after.string))
            found.append(Crossing(slot.number, after.number, tuple(range(low + 1, high))))
    return tuple(found)


def read_passages(reps: Sequence[Repetition], last: int | None = None) -> tuple[Passage, ...]:
    """Every passage of every string in one sitting's repetitions of a cell, in order; or in the ``last`` so many only.

    A crossing that was not played (broken off, paused in, both its slots' times unknown) has none; the last
    repetition's way back to slot 1 is read up to where slot 1 was due.
    """
    if not reps:
        return ()
    usual = _usual(reps)
    ringing = _ringing_from(reps)
    sounds = _by_string(reps)
    found: list[Passage] = []
    for at in range(max(0, len(reps) - last) if last is not None else 0, len(reps)):
        rep, following = reps[at], reps[at + 1] if at + 1 < len(reps) else None
        spans = _spans(rep, following)
        for (crossing, begin_s, end_s), (near_begin_s, near_end_s) in zip(spans, _reaches(spans)):
            for string in crossing.over:
                kind, note = _what_sounded(
                    [one for one in sounds.get(string, ()) if near_begin_s <= one.note.corrected_s < near_end_s], usual
                )
                if kind == SILENT:
                    note = _cut(sounds.get(string, ()), begin_s, end_s, ringing.get(string, _RANG_ON_S))
                    kind = CUT_OFF if note is not None else SILENT
                found.append(Passage(rep.rep, crossing.before, crossing.after, string, kind, note))
    return tuple(found)


def read_quiet(reps: Sequence[Repetition]) -> tuple[Passage, ...]:
    """Each quiet string that no crossing passes, once a repetition: its gravest sound; both slots are 0."""
    usual = _usual(reps)
    found = []
    for rep in reps:
        passed = {string for crossing in crossings(rep.cell) for string in crossing.over}
        for string in rep.cell.quiet:
            if string not in passed:
                own = [extra.note for extra in rep.extras if extra.note.string == string and extra.kind != ARTEFACT]
                kind, note = _what_sounded([_Sound(note, False, None) for note in own], usual)
                found.append(Passage(rep.rep, 0, 0, string, kind, note))
    return tuple(found)


def shares(passages: Iterable[Passage]) -> tuple[StringShare, ...]:
    """Counts of each kind by string, with Wilson's interval of the share that was not silent (sources.md S-12)."""
    from .stats import wilson

    counts: dict[tuple[int, bool], dict[str, int]] = {}
    for passage in passages:
        key = (passage.string, passage.before == 0)
        counts.setdefault(key, dict.fromkeys(KINDS, 0))[passage.kind] += 1
    found = []
    for (string, watched), by_kind in sorted(counts.items()):
        of = sum(by_kind.values())
        low, high = wilson(of - by_kind[SILENT], of) or (None, None)
        found.append(StringShare(string, of, by_kind, low, high, watched))
    return tuple(found)


def gravest(passages: Iterable[Passage]) -> dict[int, str]:
    """By string, the gravest thing that happened; silent strings are left out."""
    worst: dict[int, str] = {}
    for passage in passages:
        if passage.kind != SILENT:
            worst[passage.string] = min(passage.kind, worst.get(passage.string, SILENT), key=_GRAVEST.index)
    return dict(sorted(worst.items()))


# -------------------------------------------------------------------------------------------------------- ringing over


def note_off_rules(reps: Sequence[Repetition]) -> dict[int, float | None]:
    """By string, seconds that its note-off comes after the next string began, as a rule.

    The lower quarter of what is seen: longer ones are the finger's, not the converter's. 0 where strings are mostly
    damped before; None below ``LEAST_LEFT`` crossings.
    """
    return {
        string: max(0.0, sorted(values)[len(values) // 4]) if len(values) >= LEAST_LEFT else None
        for string, values in _overhangs(reps).items()
    }


def ring_overs(reps: Sequence[Repetition]) -> tuple[RingOver, ...]:
    """Ring-over of each crossing from a string whose usual note-off delay is known; 0 where it stopped by then.

    A string that has not ended yet is left out. Source: measures.md, ring-over.
    """
    rules = note_off_rules(reps)
    found = []
    for rep, crossing, note, left_s in _left(reps):
        rule_s = rules.get(note.string)
        if rule_s is not None and note.end_s is not None:
            over_ms = 1000.0 * max(0.0, note.end_s - left_s - rule_s)
            found.append(RingOver(rep.rep, crossing.before, crossing.after, note.string, over_ms))
    return tuple(found)


def _overhangs(reps: Sequence[Repetition]) -> dict[int, list[float]]:
    """By string, how long after the next string began each note-off came; negative where it was damped before."""
    seen: dict[int, list[float]] = {}
    for _, _, note, left_s in _left(reps):
        if note.end_s is not None:
            seen.setdefault(note.string, []).append(note.end_s - left_s)
    return seen


def _ringing_from(reps: Sequence[Repetition]) -> dict[int, float]:
    """By string, seconds into a crossing after which a string left before is ringing and its note-off not just late.

    Three median deviations beyond the middle of its usual note-offs.
    """
    found = {}
    for string, values in _overhangs(reps).items():
        middle = median(values)
        found[string] = max(_RANG_ON_S, middle + 3.0 * median(abs(value - middle) for value in values))
    return found


def _left(reps: Sequence[Repetition]) -> Iterable[tuple[Repetition, Crossing, Note, float]]:
    """Each crossing whose two slots sounded as planned: the note left behind and when the next one began."""
    for at, rep in enumerate(reps):
        following = reps[at + 1] if at + 1 < len(reps) else None
        for crossing in crossings(rep.cell):
            before, after = _slot(rep, crossing.before), _after(rep, following, crossing)
            if before is None or after is None or before.note is None or after.note is None:
                continue
            if before.note.string != after.note.string:
                yield rep, crossing, before.note, after.note.corrected_s


# ------------------------------------------------------------------------------------------------------------- spans


def _slot(rep: Repetition, number: int) -> SlotResult | None:
    return rep.slots[number - 1] if number <= len(rep.slots) else None


def _after(rep: Repetition, following: Repetition | None, crossing: Crossing) -> SlotResult | None:
    if crossing.after > crossing.before:
        return _slot(rep, crossing.after)
    follows = following is not None and rep.complete and following.take == rep.take
    return _slot(following, crossing.after) if follows and following is not None else None


def _spans(rep: Repetition, following: Repetition | None) -> list[tuple[Crossing, float, float]]:
    """The crossings that were played, each with when it began and ended (delay taken off)."""
    spans = []
    for crossing in crossings(rep.cell):
        begin_s = _time(_slot(rep, crossing.before))
        after = _after(rep, following, crossing)
        end_s = _time(after)
        if after is None and rep.complete and crossing.after < crossing.before:
            end_s = rep.end_s
        if begin_s is not None and end_s is not None and begin_s < end_s < begin_s + 2.0:
            spans.append((crossing, begin_s, end_s))
    return spans


def _time(result: SlotResult | None) -> float | None:
    if result is None:
        return None
    return result.note.corrected_s if result.note is not None else result.expected_s


def _reaches(spans: Sequence[tuple[Crossing, float, float]]) -> list[tuple[float, float]]:
    """How far each crossing reaches for sounds: a little beyond its ends, but not into one that passes there too."""
    reaches = []
    for at, (crossing, begin_s, end_s) in enumerate(spans):
        before = spans[at - 1] if at else None
        after = spans[at + 1] if at + 1 < len(spans) else None
        over = set(crossing.over)
        shares_before = before is not None and before[2] >= begin_s - NEAR_S and over & set(before[0].over)
        shares_after = after is not None and after[1] <= end_s + NEAR_S and over & set(after[0].over)
        reaches.append((begin_s - (0.0 if shares_before else NEAR_S), end_s + (0.0 if shares_after else NEAR_S)))
    return reaches


# ------------------------------------------------------------------------------------------------------------- sounds


class _Sound(NamedTuple):
    note: Note
    planned: bool  # a slot's own note
    next_s: float | None  # arrival of the next note on its string


def _by_string(reps: Sequence[Repetition]) -> dict[int, list[_Sound]]:
    """All notes of each string above the gate, in order."""
    notes: dict[int, list[tuple[float, bool, Note]]] = {}
    for rep in reps:
        for result in rep.slots:
            if result.note is not None:
                notes.setdefault(result.note.string, []).append((result.note.onset_s, True, result.note))
        for extra in rep.extras:
            if extra.kind != ARTEFACT:
                notes.setdefault(extra.note.string, []).append((extra.note.onset_s, False, extra.note))
    found = {}
    for string, own in notes.items():
        own.sort(key=lambda item: item[0])
        nexts = [item[0] for item in own[1:]] + [None]
        found[string] = [_Sound(note, planned, next_s) for (_, planned, note), next_s in zip(own, nexts)]
    return found


def _usual(reps: Sequence[Repetition]) -> dict[int, float]:
    """Usual velocity by string; a string that the cell does not play takes the middle of the others (key 0)."""
    usual = usual_velocities(reps)
    return {0: median(usual.values()) if usual else 80.0, **usual}


def _what_sounded(sounds: Sequence[_Sound], usual: dict[int, float]) -> tuple[str, Note | None]:
    told = [(STRUCK if _is_full(sound, usual) else BRUSHED, sound.note) for sound in sounds if not sound.planned]
    return min(told, key=lambda one: _GRAVEST.index(one[0])) if told else (SILENT, None)


def _is_full(sound: _Sound, usual: dict[int, float]) -> bool:
    """Full note or soft short sound: velocity and length weigh together."""
    note = sound.note
    level = (note.velocity or 0) / usual.get(note.string, usual[0])
    weight = log(max(level, 0.01) / _HALF_ATTACK) / _ATTACK_SPAN
    if note.end_s is None:
        return weight > -2.0
    length = log(max(note.end_s - note.onset_s, 0.001) / _HALF_LENGTH_S) / _LENGTH_SPAN
    if sound.next_s is not None and abs(note.end_s - sound.next_s) < _CENSORED_S:
        length = max(length, 0.0)  # the next note ended it: it may have been meant to last
    return weight + length > 0.0


def _cut(sounds: Sequence[_Sound], begin_s: float, end_s: float, ringing_s: float) -> Note | None:
    """The note that was ringing when the crossing began and stopped before it was over."""
    for sound in reversed(sounds):
        note = sound.note
        if note.corrected_s >= begin_s - (0.0 if sound.planned else _RINGING_S):
            continue
        if note.end_s is None:
            return None
        taken_over = sound.next_s is not None and abs(note.end_s - sound.next_s) < _CENSORED_S
        stopped = begin_s + min(ringing_s, 0.5 * (end_s - begin_s)) < note.end_s <= end_s + NEAR_S
        return note if stopped and not taken_over else None
    return None
