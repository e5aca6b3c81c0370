"""What happened on the strings that the hand passed over, and how long a left string rang on.

A *crossing* is the way from one slot to the next on another string; it passes over the strings that
lie between, those of the cell too (skipping back). Each passage is silent, brushed (a soft short
sound), struck (a full note), or cut off (the string was ringing and stopped as the hand passed):
measures.md, noise. Where more than one is true the loudest counts. What lies under the rig's gate
is the converter's and counts as silence; a string that goes on ringing through the crossing was not
touched either. The kind is None where what was heard fits two of them about as well.

Both questions, brushed or struck and cut off or ended by itself, are answered from the whole
sitting (``touched.py``, ``cut_off.py``). Notes learn their end only when it comes, so a passage
read again later may have become ``cut off``.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import log
from statistics import median
from typing import NamedTuple

from ...core.events import ARTEFACT, HIT, Note, Repetition
from ..stats import QUARTILES_APART
from ..strokes.attack import usual_velocities
from .crossings import Crossing, crossings, reaches, spans_of, time_of
from .cut_off import CUT, NOT_CUT, Left, Window, cut_chances
from .ring_over import LEAST_LEFT, overhangs
from .touched import USUAL_SCATTER, Sound, full_chances

SILENT, BRUSHED, STRUCK, CUT_OFF = "silent", "brushed", "struck", "cut off"
KINDS = (SILENT, BRUSHED, STRUCK, CUT_OFF)
_GRAVEST = (STRUCK, BRUSHED, CUT_OFF, SILENT)

FULL, NOT_FULL = 0.6, 0.4
"""Struck from this chance on, brushed up to that one; between them it cannot be said."""

# a note that ends so shortly before its string is struck again was ended by that
_CENSORED_S = 0.020
# a sound that nobody planned must have lasted so long before it counts as ringing
_RINGING_S = 0.12

_Place = tuple[int, int, int]  # repetition (index), slot before, string


class Passage(NamedTuple):
    """What one string did in one crossing of one repetition. ``note`` is what sounded or
    stopped."""

    rep: int
    before: int
    after: int
    string: int
    kind: str | None  # one of KINDS; None: it cannot be told which of two it was
    note: Note | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StringShare:
    """How a string fared over all times that it was passed over (or, a quiet one, over all
    repetitions)."""

    string: int
    of: int
    counts: dict[str, int]
    touched_low: float | None  # 95 % interval of the share that was not silent, of those told
    touched_high: float | None
    watched: bool  # quiet in the plan and passed by no crossing: counted by repetition
    cannot_tell: int = 0  # of ``of``, which two kinds fit about as well


def read_passages(reps: Sequence[Repetition], last: int | None = None) -> tuple[Passage, ...]:
    """Every passage of every string in one sitting's repetitions of a cell, in order; or in the
    ``last`` so many only.

    A crossing that was not played (broken off, paused in, both its slots' times unknown) has none;
    the last repetition's way back to slot 1 is read up to where slot 1 was due.
    """
    if not reps:
        return ()
    heard = _Heard(reps)
    found: list[Passage] = []
    first = max(0, len(reps) - last) if last is not None else 0
    for (at, before, string), (rep, crossing) in heard.passages.items():
        if at < first:
            continue
        kind, note = heard.touched(at, before, string)
        if kind == SILENT:
            kind, note = heard.cut(at, before, string)
        found.append(Passage(rep.rep, crossing.before, crossing.after, string, kind, note))
    return tuple(found)


def read_quiet(reps: Sequence[Repetition], last: int | None = None) -> tuple[Passage, ...]:
    """Each quiet string that no crossing passes, once a repetition: its gravest sound; both slots
    are 0.

    reps: one sitting's; told of all or of the ``last`` so many.
    """
    full = _full_sounds(reps, _by_string(reps))
    found = []
    for rep in reps[-last:] if last is not None else reps:
        passed = {string for crossing in crossings(rep.cell) for string in crossing.over}
        for string in rep.cell.quiet:
            if string not in passed:
                own = [
                    extra.note
                    for extra in rep.extras
                    if extra.note.string == string and extra.kind != ARTEFACT
                ]
                kind, note = _gravest([(full[id(note)], note) for note in own])
                found.append(Passage(rep.rep, 0, 0, string, kind, note))
    return tuple(found)


def chances_full(reps: Sequence[Repetition]) -> dict[int, float]:
    """By id of each note of one sitting that answers no slot, the chance that it was a full one and
    no brush."""
    return _full_sounds(reps, _by_string(reps))


def shares(passages: Iterable[Passage]) -> tuple[StringShare, ...]:
    """Counts of each kind by string, with Wilson's interval of the share that was not silent
    (sources.md S-12)."""
    from ..stats import wilson

    counts: dict[tuple[int, bool], dict[str | None, int]] = {}
    for passage in passages:
        key = (passage.string, passage.before == 0)
        counts.setdefault(key, dict.fromkeys((*KINDS, None), 0))[passage.kind] += 1
    found = []
    for (string, watched), by_kind in sorted(counts.items()):
        told = {kind: by_kind[kind] for kind in KINDS}
        of = sum(told.values())
        low, high = wilson(of - told[SILENT], of) or (None, None)
        found.append(
            StringShare(
                string=string,
                of=of + by_kind[None],
                counts=told,
                touched_low=low,
                touched_high=high,
                watched=watched,
                cannot_tell=by_kind[None],
            )
        )
    return tuple(found)


def gravest(passages: Iterable[Passage]) -> dict[int, str]:
    """By string, the gravest thing that happened; silent strings are left out, and what cannot be
    told."""
    worst: dict[int, str] = {}
    for passage in passages:
        if passage.kind is not None and passage.kind != SILENT:
            worst[passage.string] = min(
                passage.kind, worst.get(passage.string, SILENT), key=_GRAVEST.index
            )
    return dict(sorted(worst.items()))


# ------------------------------------------------------------------------------------------- sounds


class _Sound(NamedTuple):
    note: Note
    slot: int | None  # of a slot's own note
    next_s: float | None  # when the next note on its string was struck

    @property
    def taken_over(self) -> bool:
        """The next note of its string ended it: at the stroke already, or when that note had been
        converted."""
        return (
            self.next_s is not None
            and self.note.end_s is not None
            and self.note.end_s > self.next_s - _CENSORED_S
        )


def _by_string(reps: Sequence[Repetition]) -> dict[int, list[_Sound]]:
    """All notes of each string above the gate, in order."""
    notes: dict[int, list[tuple[float, int | None, Note]]] = {}
    for rep in reps:
        for result in rep.slots:
            if result.note is not None:
                notes.setdefault(result.note.string, []).append(
                    (result.note.onset_s, result.slot, result.note)
                )
        for extra in rep.extras:
            if extra.kind != ARTEFACT:
                notes.setdefault(extra.note.string, []).append(
                    (extra.note.onset_s, None, extra.note)
                )
    found = {}
    for string, own in notes.items():
        own.sort(key=lambda item: item[0])
        nexts = [item[2].corrected_s for item in own[1:]] + [None]
        found[string] = [_Sound(note, slot, next_s) for (_, slot, note), next_s in zip(own, nexts)]
    return found


def _full_sounds(reps: Sequence[Repetition], sounds: dict[int, list[_Sound]]) -> dict[int, float]:
    """By id of each note that answers no slot, the chance that it was a full one."""
    usual = usual_velocities(reps)
    usual[0] = median(usual.values()) if usual else 80.0  # of a string that the cell does not play
    unwanted = [sound for own in sounds.values() for sound in own if sound.slot is None]
    heard = []
    for sound in unwanted:
        note = sound.note
        attack = note.velocity / usual.get(note.string, usual[0]) if note.velocity else None
        heard.append(
            Sound(
                attack,
                note.end_s - note.onset_s if note.end_s is not None else None,
                not sound.taken_over,
            )
        )
    late = [value for values in overhangs(reps).values() for value in values]
    late_s = max(0.0, median(late)) if len(late) >= LEAST_LEFT else 0.0
    chances = full_chances(heard, _scatter(reps), min(late_s, 0.06))
    return {id(sound.note): chance for sound, chance in zip(unwanted, chances)}


def _scatter(reps: Sequence[Repetition]) -> float:
    """SD of the log velocity within slots, from the middle half of each; the usual one where there
    are few notes."""
    by_slot: dict[tuple[int, bool], list[float]] = {}
    for rep in reps:
        for result in rep.slots:
            if result.verdict == HIT and result.note is not None and result.note.velocity:
                key = (result.slot, rep.cell.slots[result.slot - 1].picked)
                by_slot.setdefault(key, []).append(log(result.note.velocity))
    spreads, count = [], 0
    for values in by_slot.values():
        if len(values) >= 5:
            own = sorted(values)
            spreads.append((own[(3 * len(own)) // 4] - own[len(own) // 4]) / QUARTILES_APART)
            count += len(own)
    return median(spreads) if count >= 15 else USUAL_SCATTER


def _gravest(sounds: Sequence[tuple[float, Note]]) -> tuple[str | None, Note | None]:
    """Kind and note of the gravest of some unwanted sounds, each with its chance of being full."""
    if not sounds:
        return SILENT, None
    full, note = max(sounds, key=lambda one: one[0])
    return STRUCK if full >= FULL else BRUSHED if full <= NOT_FULL else None, note


class _Heard:
    """One sitting's repetitions: every passage, what sounded in it, and what stopped."""

    def __init__(self, reps: Sequence[Repetition]) -> None:
        self.reps = reps
        self.sounds = _by_string(reps)
        self.full = _full_sounds(reps, self.sounds)
        self.passages: dict[_Place, tuple[Repetition, Crossing]] = {}
        self._unwanted: dict[_Place, list[Note]] = {}
        self._windows: dict[int, list[tuple[_Place, float, float]]] = {}
        touches: list[float] = []
        for at, rep in enumerate(reps):
            spans = spans_of(rep, reps[at + 1] if at + 1 < len(reps) else None)
            for (crossing, begin_s, end_s), (near_begin_s, near_end_s) in zip(
                spans, reaches(spans)
            ):
                for string in crossing.over:
                    place = (at, crossing.before, string)
                    self.passages[place] = rep, crossing
                    self._windows.setdefault(string, []).append((place, begin_s, end_s))
                    notes = self._within(string, near_begin_s, near_end_s)
                    self._unwanted[place] = notes
                    touches += [(note.corrected_s - begin_s) / (end_s - begin_s) for note in notes]
        self._cut: dict[_Place, tuple[float, Note]] = self._stopped(touches)

    def touched(self, at: int, before: int, string: int) -> tuple[str | None, Note | None]:
        return _gravest(
            [(self.full[id(note)], note) for note in self._unwanted[at, before, string]]
        )

    def cut(self, at: int, before: int, string: int) -> tuple[str | None, Note | None]:
        chance, note = self._cut.get((at, before, string), (0.0, None))
        if chance <= NOT_CUT:
            return SILENT, None
        return CUT_OFF if chance >= CUT else None, note

    def _within(self, string: int, begin_s: float, end_s: float) -> list[Note]:
        """Notes that answer no slot and were sounded in this time."""
        own = self.sounds.get(string, [])
        at = bisect_left(own, begin_s - 0.2, key=lambda sound: sound.note.onset_s)
        found = []
        while at < len(own) and own[at].note.onset_s < end_s + 0.2:
            if own[at].slot is None and begin_s <= own[at].note.corrected_s < end_s:
                found.append(own[at].note)
            at += 1
        return found

    def _stopped(self, touches: Sequence[float]) -> dict[_Place, tuple[float, Note]]:
        """By passage, the chance that the hand stopped the note that was ringing, and that note."""
        left_s = self._left_at()
        now_s = max((rep.end_s for rep in self.reps), default=0.0)
        lefts: list[Left] = []
        asked: list[tuple[Note, list[_Place]]] = []
        for string, own in self.sounds.items():
            windows = self._windows.get(string, [])
            at = 0
            for sound in own:
                note = sound.note
                from_s = left_s.get(id(note)) if sound.slot is not None else note.corrected_s
                if from_s is None or (
                    sound.next_s is not None and sound.next_s < from_s + _CENSORED_S
                ):
                    continue  # not the last one on its string before it was left
                ended = note.end_s is not None and not sound.taken_over
                end_s = sound.next_s if sound.taken_over else note.end_s
                if end_s is None:
                    end_s = now_s
                while at < len(windows) and windows[at][1] < from_s - 1e-6:
                    at += 1
                ahead = []
                for place, begin_s, close_s in windows[at:]:
                    if begin_s >= end_s:
                        break
                    if sound.slot is not None or begin_s > note.corrected_s + _RINGING_S:
                        ahead.append((place, begin_s, close_s))
                    if close_s > end_s + 1.0:
                        break
                crossed = tuple(
                    Window((before, string), begin_s - from_s, close_s - from_s)
                    for (_, before, _), begin_s, close_s in ahead
                )
                lefts.append(Left((string, sound.slot or 0), end_s - from_s, ended, crossed))
                asked.append((note, [place for place, _, _ in ahead]))
        found: dict[_Place, tuple[float, Note]] = {}
        for (note, places), chances in zip(asked, cut_chances(lefts, touches)):
            for place, chance in zip(places, chances):
                if chance > found.get(place, (0.0, note))[0]:
                    found[place] = chance, note
        return found

    def _left_at(self) -> dict[int, float]:
        """By id of each slot's note, when the next note on another string was played or was due."""
        steps: list[tuple[float, int, Note | None]] = []
        for rep in self.reps:
            for result in rep.slots:
                time_s, note = time_of(result), result.note
                if time_s is not None:
                    string = (
                        note.string if note is not None else rep.cell.slots[result.slot - 1].string
                    )
                    steps.append((time_s, string, note))
        found: dict[int, float] = {}
        # the next step on another string than the one at hand
        after: tuple[float, int] | None = None
        for at in range(len(steps) - 1, -1, -1):
            time_s, string, note = steps[at]
            following = steps[at + 1] if at + 1 < len(steps) else None
            if following is not None and following[1] != string:
                after = following[0], following[1]
            if (
                note is not None
                and after is not None
                and after[1] != string
                and time_s < after[0] < time_s + 2.0
            ):
                found[id(note)] = after[0]
        return found
