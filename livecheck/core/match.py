"""Follow the looped cell: which slot does each note answer?

Owns the search. Every note either answers a slot or answers none; a *reading* is one consistent
story for all notes so far, with its cost in nats (minus the logarithm of a probability, so costs
add up and a difference of 3 means odds of 20 to 1). Readings that end alike are merged, readings
that lie ``BOUND`` behind the best are dropped, and a note is told as soon as all readings left
agree on it, at the latest ``LATEST_SLOTS`` slots later or a moment after play stops. What a story
costs is ``core/odds.py``'s; what it means for repetitions is ``core/reps.py``'s.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from .cell import Cell
from .decode import is_double
from .events import HIT, Note
from .odds import (
    AHEAD,
    BEND_DROPPED,
    BEND_SPREAD_S,
    CHEAPEST,
    EXIT,
    EXTRA_DOUBLE,
    EXTRA_STOPPED,
    FORGOTTEN_S,
    JUMP,
    OUTSIDE,
    RESTART,
    RESTART_AFTER_LAST,
    STOPPED_S,
    WIDER,
    Spread,
    Touch,
    Window,
    entry_cost,
    interval_cost,
    lateness_cost,
    pause_cost,
)
from .readings import NO_SLOT, NONE, Family, Reading

LATEST_SLOTS = 3
SILENCE_S = 0.48
"""So long after the last note everything is told, unless the next slot is not even due yet."""

UNSURE_S = 1.0
"""The same while the tempo is not known yet."""

_LIKELY = 3.0
"""A reading is waited for whose next slot is not due yet, unless it is so much dearer than the
best."""
_MOST_PENDING = 32
"""Notes that wait to be told at most: a bound on the work for play that never settles. No
source."""

_SHORTEST_STEP_S, _LONGEST_STEP_S = 0.02, 1.2
"""Grid steps that a tempo may have: 50 a second is beyond any hand, 1.2 s beyond any figure."""

_NEW_TEMPO, _NEW_START = 3.0, 2.0
"""Doubt (factor on the spread) after an interval that gave the tempo, after a stop or new start:
the first interval carries the scatter of two strokes and of a hand that is only setting out."""

_SURE, _MOST_DOUBT = 1.5, 4.0
"""Below the one the grid counts as known; above the other a spread says nothing any more."""

_SURPRISE = 2.5
"""A note so many spreads off its place is a stumble or a change of tempo: one in eighty by
chance."""

_STOP_S = 0.12
"""Later than this the next note may also follow a stop. Longer than any swing of a sixteenth."""

_AT_ONCE_S, _SETS_ON = 0.03, 0.6
"""Two strokes so close, or within such a share of a step, are one movement: nobody begins anew
within it."""


class _Follow(NamedTuple):
    """How far the grid goes along with a note that came late.

    gain: share of the lateness that its place takes over; pull: share that the step takes over;
    easing: factor on the doubt that is left.
    """

    gain: float
    pull: float
    easing: float


_STEADY = _Follow(0.45, 0.10, 0.65)  # half of a stroke's error is its own, a tempo drifts slowly
_SETTLING = _Follow(0.65, 0.35, 0.65)  # the tempo is known by few intervals: each new one counts
_SURPRISED = _Follow(0.75, 0.45, 1.0)  # more likely another tempo than so wide a scatter
_BENT = _Follow(0.15, 0.0, 0.8)  # a glide's time says little of the stroke's
_BENT_SETTLING = _Follow(0.5, 0.3, 0.8)  # but it is all there is while the tempo is new


class Told(NamedTuple):
    """What became certain of one note."""

    note: Note
    slot: int  # index into the cell's slots, or -1: it answers none
    verdict: str | None


class Matcher:
    """Follow one cell. ``note`` takes notes in the order struck and gives back what became certain,
    oldest first.

    ``deadline_s`` is when ``overdue`` must be called if no note has come before. ``gain``: nats by
    which the best reading explains the last note better than playing outside does.
    """

    def __init__(self, cell: Cell, most_habit: float = 0.25) -> None:
        self.deadline_s: float | None = None
        self.gain = 0.0
        self._slots = len(cell.slots)
        self._steps_a_slot = cell.steps / len(cell.slots)
        self._window = Window(cell)
        self._spread = Spread(len(cell.slots), most_habit)
        self._touch = Touch()
        self._readings = [Reading(0.0, NO_SLOT, 0.0, 0.0, 0.0, 1.0, ())]
        self._pending: list[Note] = []
        self._recent: dict[int, Note] = {}  # last note of each string
        self._last_s = -inf  # stroke of the last note
        self._silence_s = inf

    # ----------------------------------------------------------------------------------- the search

    def note(self, note: Note) -> list[Told]:
        """Take the next note."""
        if note.gated:
            return self._gated(note)
        self._pending.append(note)
        family = Family()
        if note.by == "bend":
            self._bend(note, family)
        else:
            self._note_on(note, family)
        self._readings = family.best()
        self.gain = (OUTSIDE if note.by == "note" else BEND_DROPPED) - family.base
        told = self._agreed()
        self._set_deadline(note.onset_s)
        return told

    def _gated(self, note: Note) -> list[Told]:
        self.gain = 0.0
        if not self._pending:
            return [Told(note, NO_SLOT, None)]
        self._pending.append(note)
        for reading in self._readings:
            reading.path += NONE
        return []

    def _note_on(self, note: Note, family: Family) -> None:
        before = self._recent.get(note.string)
        self._recent[note.string] = note
        if is_double(before, note):
            extra = EXTRA_DOUBLE
        else:
            extra = self._touch.extra_cost(note, self._window)
        silence_s, self._last_s = note.struck_s - self._last_s, note.struck_s
        for reading in self._readings:
            if reading.slot == NO_SLOT:
                self._enter(reading, note, silence_s, family)
                family.outside(reading, reading.cost + OUTSIDE)
                continue
            self._answer(reading, note, self._window.answers(reading.slot, note), family)
            self._start_again(reading, note, family)
            stopped_s = STOPPED_S + 2.0 * self._window.steps_to_next(reading.slot) * reading.step_s
            stopped = note.struck_s - reading.struck_s > stopped_s
            self._ignore(reading, extra + EXTRA_STOPPED if stopped else extra, OUTSIDE, family)

    def _bend(self, note: Note, family: Family) -> None:
        dropped = BEND_DROPPED
        for reading in self._readings:
            if reading.slot == NO_SLOT:
                family.outside(reading, reading.cost + dropped)
                continue
            self._answer(reading, note, self._window.bend_answers(reading.slot, note), family)
            self._ignore(reading, dropped, dropped, family)

    def _ignore(self, reading: Reading, extra: float, outside: float, family: Family) -> None:
        """The note answers no slot: an extra in play, or play is over."""
        cost = reading.cost + extra
        if cost <= family.limit:
            path = reading.path + NONE
            family.add(
                cost,
                reading.slot,
                reading.struck_s,
                reading.phase_s,
                reading.step_s,
                reading.doubt,
                path,
            )
        cost = reading.cost + EXIT + outside
        if cost <= family.limit:
            family.outside(reading, cost)

    def _enter(self, reading: Reading, note: Note, silence_s: float, family: Family) -> None:
        """Play begins with this note."""
        struck_s = note.struck_s
        for at, price in self._window.entries(note):
            cost = reading.cost + price + entry_cost(at, silence_s)
            if cost <= family.limit:
                family.add(
                    cost, at, struck_s, struck_s, 0.0, _NEW_TEMPO, (*reading.path, (at, HIT, None))
                )

    def _start_again(self, reading: Reading, note: Note, family: Family) -> None:
        """The player broke off and begins again, from slot 1 or another one."""
        struck_s = note.struck_s
        gap_s = struck_s - reading.struck_s
        if gap_s < max(_AT_ONCE_S, _SETS_ON * reading.step_s):
            return
        for at, price in self._window.entries(note):
            if at != 0:
                price += JUMP if at <= reading.slot else AHEAD
            else:
                price += RESTART_AFTER_LAST if reading.slot == self._slots - 1 else RESTART
            cost = reading.cost + price + interval_cost(gap_s)
            if cost <= family.limit:
                path = (*reading.path, (at, HIT, None))
                step_s = reading.step_s if gap_s < FORGOTTEN_S else 0.0
                family.add(
                    cost, at, struck_s, struck_s, step_s, _NEW_START if step_s else _NEW_TEMPO, path
                )

    def _answer(
        self,
        reading: Reading,
        note: Note,
        answers: list[tuple[int, int, float, str, bool]],
        family: Family,
    ) -> None:
        """The note answers one of the next slots."""
        struck_s, step_s, limit = note.struck_s, reading.step_s, family.limit
        spread = self._spread
        bent = note.by == "bend"
        one_step_s = spread.sigma_s(step_s) * reading.doubt
        for at, steps, price, verdict, is_next in answers:
            cost = reading.cost + price
            if cost + CHEAPEST > limit:
                continue
            if step_s == 0.0:
                interval_s = struck_s - reading.struck_s
                first_step_s = interval_s / steps
                cost += interval_cost(interval_s)
                if cost <= family.limit and _SHORTEST_STEP_S < first_step_s < _LONGEST_STEP_S:
                    path = (*reading.path, (at, verdict, None))
                    family.add(cost, at, struck_s, struck_s, first_step_s, _NEW_TEMPO, path)
                continue
            late_s = struck_s - reading.phase_s - steps * step_s - spread.offset_s[at]
            sigma_s = one_step_s * WIDER[steps]
            if bent:
                sigma_s += BEND_SPREAD_S
            timing = lateness_cost(late_s, sigma_s)
            if is_next and late_s > _STOP_S:
                stop = pause_cost(late_s)
                if stop < timing or late_s > FORGOTTEN_S:  # so late it tells nothing of the tempo
                    if cost + stop <= family.limit:
                        path = (*reading.path, (at, verdict, None))
                        family.add(cost + stop, at, struck_s, struck_s, step_s, _NEW_START, path)
                    continue
            cost += timing
            if cost > family.limit:
                continue
            ratio = abs(late_s) / sigma_s
            doubt = reading.doubt
            if bent:
                follow = _BENT if doubt < _SURE else _BENT_SETTLING
            elif ratio > _SURPRISE:
                follow = _SURPRISED
                doubt = min(_MOST_DOUBT, max(doubt, 1.0 + 0.5 * ratio))
            else:
                follow = _STEADY if doubt < _SURE else _SETTLING
            family.add(
                cost,
                at,
                struck_s,
                struck_s - spread.offset_s[at] - (1.0 - follow.gain) * late_s,
                max(_SHORTEST_STEP_S, step_s + follow.pull * late_s / steps),
                max(1.0, doubt * follow.easing),
                (*reading.path, (at, verdict, None if bent else late_s)),
            )

    # ------------------------------------------------------------------------------------ certainty

    def _agreed(self) -> list[Told]:
        """Tell what all readings agree on, and what has waited long enough."""
        told: list[Told] = []
        while self._pending:
            readings = self._readings
            if len(readings) == 1:
                path = readings[0].path
                told += [self._tell(note, step) for note, step in zip(self._pending, path)]
                self._pending = []
                readings[0].path = ()
                break
            first = readings[0].path[0]
            for reading in readings:
                step = reading.path[0]
                if step[0] != first[0] or step[1] != first[1]:
                    if self._progress() < LATEST_SLOTS and len(self._pending) < _MOST_PENDING:
                        return told
                    break
            told.append(self._settle_first())
        return told

    def _settle_first(self) -> Told:
        """The oldest note is told by the best reading. Those that tell it otherwise go on: they may
        still be right."""
        first = self._readings[0].path[0]
        for reading in self._readings:
            reading.path = reading.path[1:]
        return self._tell(self._pending.pop(0), first)

    def _progress(self) -> int:
        """How many slots the best reading has gone on since the oldest note that is not told.

        Outside of play there are no slots; there every two notes count for one.
        """
        best = self._readings[0]
        if best.slot == NO_SLOT:
            return len(best.path) // 2
        slots = 0
        before = NO_SLOT
        for place, step in enumerate(best.path):
            if step[0] >= 0:
                if before >= 0:
                    slots += (step[0] - before) % self._slots or self._slots
                elif place > 0:
                    slots += 1
                before = step[0]
        return slots

    def _tell(self, note: Note, step: tuple[int, str | None, float | None]) -> Told:
        slot, verdict, late_s = step
        if slot >= 0:
            if late_s is not None and verdict == HIT:
                self._spread.learn(slot, late_s, self._readings[0].step_s)
            self._touch.learn(note)
        return Told(note, slot, verdict)

    def _set_deadline(self, onset_s: float) -> None:
        if not self._pending:
            self.deadline_s = None
            return
        best = self._readings[0]
        self._silence_s = onset_s + max(
            self._silence_after_s(reading) for reading in self._readings if reading.cost <= _LIKELY
        )
        self.deadline_s = self._silence_s
        if best.slot != NO_SLOT and best.step_s > 0.0:
            self._limit_oldest(onset_s)

    def _silence_after_s(self, reading: Reading) -> float:
        """How long nothing must sound for play to have stopped, as one reading has it."""
        if reading.slot == NO_SLOT or reading.step_s == 0.0:
            return UNSURE_S
        ahead_s = self._window.steps_to_next(reading.slot) * reading.step_s
        return max(SILENCE_S, 1.25 * ahead_s + 0.1)

    def overdue(self) -> list[Told]:
        """The deadline passed without a note: by the best reading the oldest note is told, or in
        silence all are."""
        assert self.deadline_s is not None
        told = [self._settle_first()]
        if self.deadline_s >= self._silence_s:
            while self._pending:
                told.append(self._settle_first())
            self.deadline_s = None
            return told
        told += self._agreed()
        if self._pending:
            now_s, self.deadline_s = self.deadline_s, self._silence_s
            self._limit_oldest(now_s)
        else:
            self.deadline_s = None
        return told

    def _limit_oldest(self, now_s: float) -> None:
        """While play goes on, the oldest note does not wait longer than its slots take."""
        if self._progress() >= 2:
            longest_s = (LATEST_SLOTS + 1.1) * self._steps_a_slot * self._readings[0].step_s
            self.deadline_s = min(self._silence_s, max(now_s, self._pending[0].onset_s + longest_s))

    def arrived_before(self, time_s: float) -> bool:
        """Is there a note, not told yet, that arrived before?"""
        return any(note.onset_s < time_s for note in self._pending)
