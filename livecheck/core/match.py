"""Follow the looped cell: which slot does each note answer?

Owns the search. Every note either answers a slot or answers none; a *reading* is one consistent story for all notes so
far, with its cost in nats (minus the logarithm of a probability, so costs add up and a difference of 3 means odds of 20
to 1). Readings that end alike are merged, readings that lie ``BOUND`` behind the best are dropped, and a note is told
as soon as all readings left agree on it, at the latest ``LATEST_SLOTS`` slots later or a moment after play stops. What
a story costs is ``core/odds.py``'s; what it means for repetitions is ``core/reps.py``'s.
"""

from __future__ import annotations

from typing import NamedTuple

from .cell import Cell
from .events import HIT, WRONG, Note
from .odds import (
    BOUND,
    ENTRY_FIRST,
    ENTRY_LATER,
    EXIT,
    EXTRA_DOUBLE,
    JUMP_BACK,
    OUTSIDE,
    PAUSE,
    RESTART,
    RESTART_AFTER_LAST,
    Spread,
    Touch,
    Window,
    interval_cost,
)

LATEST_SLOTS = 4
SILENCE_S = 0.48
"""So long after the last note everything is told, unless the next slot is not even due yet."""

UNSURE_S = 1.0
"""The same while the tempo is not known yet."""

_MOST_READINGS = 24
_FIRST_DOUBT = 3.0
_NO_SLOT = -1


class Told(NamedTuple):
    """What became certain of one note."""

    note: Note
    slot: int  # index into the cell's slots, or -1: it answers none
    verdict: str | None


class Reading:
    """One story of the notes so far. ``slot`` is -1 outside of play; ``step_s`` 0 while the tempo is unknown."""

    __slots__ = ("cost", "doubt", "path", "phase_s", "slot", "step_s", "struck_s")

    def __init__(
        self, cost: float, slot: int, struck_s: float, phase_s: float, step_s: float, doubt: float, path: tuple
    ) -> None:
        self.cost = cost
        self.slot = slot
        self.struck_s = struck_s  # the last answered slot's stroke
        self.phase_s = phase_s  # where the grid puts that slot
        self.step_s = step_s  # seconds a grid step
        self.doubt = doubt  # factor on the spread: the tempo is new, or the last note surprised
        self.path = path  # for each note not yet told: (slot or -1, verdict, surprise in seconds or None)


class Matcher:
    """Follow one cell. ``note`` takes the notes in the order struck and gives back what became certain, oldest first."""

    def __init__(self, cell: Cell) -> None:
        self._last = len(cell.slots) - 1
        self._window = Window(cell)
        self._spread = Spread(len(cell.slots))
        self._touch = Touch()
        self._readings = [Reading(0.0, _NO_SLOT, 0.0, 0.0, 0.0, 1.0, ())]
        self._pending: list[Note] = []
        self._recent: dict[int, Note] = {}  # last note of each string
        self.deadline_s: float | None = None

    # ------------------------------------------------------------------------------------------------- the search

    def note(self, note: Note) -> list[Told]:
        """Take the next note."""
        if note.gated:
            return self._gated(note)
        self._pending.append(note)
        readings = self._readings
        before = self._recent.get(note.string)
        double = before is not None and before.pitch == note.pitch and note.onset_s - before.onset_s < 0.065
        if note.by == "note":
            extra = EXTRA_DOUBLE if double else self._touch.extra_cost(note, self._window)
            outside = OUTSIDE
        else:
            extra = outside = self._touch.bend_dropped
        self._recent[note.string] = note
        best = min(reading.cost for reading in readings) if len(readings) > 1 else readings[0].cost
        children: dict[tuple[int, float], Reading] = {}
        for reading in readings:
            if reading.cost > best + BOUND:
                continue
            self._extend(reading, note, extra, outside, children)
        self._prune(children)
        told = self._agreed()
        self._set_deadline(note.onset_s)
        return told

    def _gated(self, note: Note) -> list[Told]:
        if not self._pending:
            return [Told(note, _NO_SLOT, None)]
        self._pending.append(note)
        step = ((_NO_SLOT, None, None),)
        for reading in self._readings:
            reading.path += step
        return []

    def _extend(
        self, reading: Reading, note: Note, extra: float, outside: float, children: dict[tuple[int, float], Reading]
    ) -> None:
        """All the ways in which a reading can go on with one more note."""
        cost, slot, struck, path = reading.cost, reading.slot, note.struck_s, reading.path
        none = ((_NO_SLOT, None, None),)
        if slot == _NO_SLOT:
            _keep(children, Reading(cost + outside, slot, reading.struck_s, 0.0, 0.0, 1.0, path + none))
            if note.by == "note":
                for at, price in self._window.entries(note):
                    enter = cost + price + (ENTRY_FIRST if at == 0 else ENTRY_LATER)
                    step = ((at, HIT, None),)
                    _keep(children, Reading(enter, at, struck, struck, 0.0, _FIRST_DOUBT, path + step))
            return
        _keep(
            children,
            Reading(cost + extra, slot, reading.struck_s, reading.phase_s, reading.step_s, reading.doubt, path + none),
        )
        _keep(children, Reading(cost + EXIT + outside, _NO_SLOT, reading.struck_s, 0.0, 0.0, 1.0, path + none))
        spread = self._spread
        for at, steps, price, verdict, lone in self._window.answers(slot, note):
            if note.by == "bend":
                price += self._touch.bend_price(verdict)
            if reading.step_s == 0.0:
                interval = struck - reading.phase_s
                if interval <= 0.005:
                    continue
                step_s = interval / steps
                if not 0.02 < step_s < 1.2:
                    continue
                _keep(
                    children,
                    Reading(
                        cost + price + interval_cost(interval),
                        at,
                        struck,
                        struck,
                        step_s,
                        _FIRST_DOUBT,
                        path + ((at, verdict, None),),
                    ),
                )
                continue
            due = reading.phase_s + steps * reading.step_s + spread.offset_s[at]
            late = struck - due
            sigma = spread.sigma_s(reading.step_s, steps) * reading.doubt
            timing = spread.cost(late, sigma)
            if late > 0.12 and lone:
                stop = PAUSE + (0.0 if late < 2.5 else 2.0)
                if stop < timing:
                    _keep(
                        children,
                        Reading(
                            cost + price + stop, at, struck, struck, reading.step_s, 2.0, path + ((at, verdict, None),)
                        ),
                    )
                    continue
            z = late / sigma if late >= 0 else -late / sigma
            doubt = reading.doubt
            if z > 2.5:
                gain, pull, doubt = 0.75, 0.45, min(4.0, max(doubt, 1.0 + 0.5 * z))
            else:
                gain = 0.45 if doubt < 1.5 else 0.65
                pull = 0.10 if doubt < 1.5 else 0.35
                doubt = max(1.0, doubt * 0.65)
            phase = struck - spread.offset_s[at] - (1.0 - gain) * late
            step_s = reading.step_s + pull * late / steps
            if step_s < 0.02:
                step_s = 0.02
            _keep(
                children,
                Reading(cost + price + timing, at, struck, phase, step_s, doubt, path + ((at, verdict, late),)),
            )
        if note.by == "note":
            gap = struck - reading.struck_s
            if gap > 0.03:
                for at, price in self._window.entries(note):
                    if at == 0:
                        jump = RESTART_AFTER_LAST if slot == self._last else RESTART
                    else:
                        jump = JUMP_BACK
                    wait = interval_cost(gap)
                    _keep(
                        children,
                        Reading(
                            cost + price + jump + wait,
                            at,
                            struck,
                            struck,
                            reading.step_s,
                            2.0,
                            path + ((at, HIT, None),),
                        ),
                    )

    def _prune(self, children: dict[tuple[int, float], Reading]) -> None:
        kept = list(children.values())
        if len(kept) > 1:
            best = min(reading.cost for reading in kept)
            kept = [reading for reading in kept if reading.cost <= best + BOUND]
            if len(kept) > 1:
                kept.sort(key=lambda reading: reading.cost)
                del kept[_MOST_READINGS:]
        base = kept[0].cost
        for reading in kept:
            reading.cost -= base
        self._readings = kept

    # ------------------------------------------------------------------------------------------------- certainty

    def _agreed(self) -> list[Told]:
        """Tell what all readings agree on, and what has waited long enough."""
        told: list[Told] = []
        readings = self._readings
        while self._pending:
            first = readings[0].path[0]
            if len(readings) > 1 and any(
                reading.path[0][0] != first[0] or reading.path[0][1] != first[1] for reading in readings
            ):
                behind = sum(1 for step in readings[0].path[1:] if step[0] >= 0)
                if behind < LATEST_SLOTS and len(self._pending) < 4 * LATEST_SLOTS:
                    break
                readings = [r for r in readings if r.path[0][0] == first[0] and r.path[0][1] == first[1]]
                self._readings = readings
            told.append(self._tell(first))
            for reading in readings:
                reading.path = reading.path[1:]
        return told

    def _tell(self, step: tuple) -> Told:
        note = self._pending.pop(0)
        slot, verdict, late = step
        if slot >= 0 and late is not None and verdict == HIT:
            self._spread.learn(slot, late, self._readings[0].step_s)
        if slot >= 0:
            self._touch.learn(note)
        return Told(note, slot, verdict)

    def _set_deadline(self, onset_s: float) -> None:
        if not self._pending:
            self.deadline_s = None
            return
        reading = self._readings[0]
        if reading.slot == _NO_SLOT or reading.step_s == 0.0:
            self.deadline_s = onset_s + UNSURE_S
        else:
            ahead = self._window.steps_to_next(reading.slot) * reading.step_s
            self.deadline_s = onset_s + max(SILENCE_S, 1.25 * ahead + 0.1)

    def arrived_before(self, time_s: float) -> bool:
        """Is there a note, not told yet, that arrived before?"""
        return any(note.onset_s < time_s for note in self._pending)

    def silence(self) -> list[Told]:
        """The deadline passed without a note: what is pending is told by the best reading."""
        path = self._readings[0].path
        self._readings = [r for r in self._readings if [s[:2] for s in r.path] == [s[:2] for s in path]]
        told = [self._tell(step) for step in path]
        for reading in self._readings:
            reading.path = ()
        self.deadline_s = None
        return told


def _keep(children: dict[tuple[int, float], Reading], reading: Reading) -> None:
    """Readings that end in the same slot at the same stroke go on alike: the cheaper one stays."""
    key = (reading.slot, reading.struck_s)
    other = children.get(key)
    if other is None or reading.cost < other.cost:
        children[key] = reading
