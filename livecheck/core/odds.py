"""What a story costs: the probabilities behind the search, in nats, each with where its value comes
from.

A cost is minus the natural logarithm of a probability, or of a density in 1/s where it speaks of a
time. The values are round numbers for an ordinary player and converter, not fitted to any one set
of takes: what differs from player to player (spread, gallop, loudness) is learned within the take
from the notes already told.
"""

from __future__ import annotations

from math import exp, log, pi, sqrt

from .cell import Cell
from .decode import OCTAVE_ERRORS
from .events import HIT, WRONG, Note

BOUND = 9.2
"""Readings less likely than e^-9 (1 : 10,000) of the best are dropped; one wrong verdict in 500 is
aimed at. At 10 the same takes were told alike, later and slower; at 8.5 the worst mixes lost a note
in 2,000."""

PITCHES = 6 * 18
"""Places where an unplanned note may sound: six strings, some eighteen frets in reach."""

HIT_COST = -log(0.93)
MISS = -log(0.02)
"""One slot in fifty is dropped: between a clean player (1 : 500) and a breaking figure (1 : 5)."""

WRONG_FRET = -log(0.02)
WRONG_STRING = -log(0.004)
FRET_SLIPS = {1: 0.28, 2: 0.12, 3: 0.035, 4: 0.02, 5: 0.01}
FAR_SLIP = 0.005
"""Share of each distance, one direction, among wrong frets: mostly a neighbour. No source."""

OCTAVE_HELD = -log(0.01)

EXTRA = -log(0.35 / PITCHES)
EXTRA_QUIET = -log(1.0 / PITCHES)
"""An unplanned note in play: one in three seconds on the cell's own strings, one a second on those
in the way of the hand, anywhere on the neck."""

EXTRA_STOPPED = 2.0
STOPPED_S = 0.4
"""A hand that has stopped (this and two slots long) makes no noise by itself: what sounds then is
meant. No source."""

EXTRA_DOUBLE = -log(0.25)
"""A double trigger: one note in a hundred, somewhere in a window of 40 ms; its pitch is given."""

OUTSIDE = -log(6.0 / 80)
"""A note outside of play: six a second, in some eighty places: a hand that noodles stays near the
cell."""

ENTRY_FIRST, ENTRY_LATER = 6.5, 8.5
"""Beginning to play the cell at its first slot, elsewhere: it takes three notes in order to be
believed."""

AFTER_SILENCE_FIRST, AFTER_SILENCE_LATER = 4.4, 3.5
BREATH_S, LONGER_BREATH_S, SILENT_S = 0.25, 0.5, 0.8
"""So many nats less after a silence: the first note at all, or after a pause, is more likely the
cell's beginning than the same note in a row, and once in ten figures one from its middle. From the
shorter pause on it counts by degrees, for the middle from the longer one on: between notes of other
music pauses of half a second are common. No source."""

EXIT = 5.6
"""Play ends with this note: one note in 270, as after 45 repetitions of six."""

RESTART = -log(0.006)
RESTART_AFTER_LAST = -log(0.03)
JUMP = -log(0.0006)
AHEAD = -log(0.0003)
"""Starting again from slot 1: one note in 170; after the last slot one in 30; from another slot one
in 1,700, from one further on one in 3,500: what was not played is seldom skipped on purpose."""

FORGOTTEN_S = 3.0
"""After such a silence a new start may be at any tempo. No source."""

PAUSE = -log(0.004) + 0.3
"""Stopping and going on with the next slot: one note in 250, anywhere within about a second and a
half."""

BEND_HIT, BEND_WRONG, BEND_DROPPED = 0.2, 0.9, 2.2
"""A bent pitch that lasts: a planned legato note, another note, or vibrato and the wheel put back.
No source."""

BEND_SPREAD_S = 0.020
"""A glide to the new pitch takes its time: the message that comes near it is up to 50 ms later than
the stroke."""

FAR = 7.5
"""The most that bad timing may cost: a note in its place in the order is its slot's, however odd
its time."""

CHEAPEST = -5.0
"""No timing is cheaper than this: a spread of 3 ms met exactly."""

_MOST_MISSES = 5
"""Slots missed in a row that a note may leap: six would cost 23 nats, beyond ``BOUND`` twice
over."""

WIDER = [sqrt(1.0 + 0.3 * (steps - 1)) if steps else 1.0 for steps in range(1025)]
"""Factor on the spread by grid steps: the tempo wanders on the way. The longest cell has fewer
steps."""

_TAIL_SHARE, _TAIL_WIDTH = 0.06, 4.0
"""One stroke in seventeen is a stumble, with four times the scatter of the others. No source."""

_PER_SIGMA, _SIGMAS = 8.0, 24
"""Places of the table of lateness in one standard deviation, and how many it has: beyond it
``FAR`` is reached."""

_INTERVALS = 3.2
"""The logarithm of 1.25 s over 0.05 s, between which an interval may lie. No source."""
_SHORTEST_S, _SHORTEST = 0.01, -3.5
"""Intervals up to this all cost the same: about what one of 10 ms does."""

_LONG_PAUSE_S, _LONG_PAUSE = 2.5, 2.0
"""A pause beyond this is so many nats dearer: a new start is likelier. No source."""

_MOST_MISSES_WRONG = 2
"""A wrong note leaps no more slots than this: it might be any slot's."""

_LEAST_FACTOR, _FIRST_FACTOR = 0.6, 4.0
"""Least factor on the variance that is believed of a player, and the one before anything is heard:
twice the scatter of a steady one. No source."""
_LEARN_LEAST, _LEARN_FIRST = 0.03, 8
"""Share of a new note in the spread: it counts as one of so many and those heard, never less than
this. No source."""
_OUTLIER = 4.0
"""A note's square counts at most this often the variance believed in. No source."""
_HABIT_RATE = 0.12
"""Share of a new note in its slot's habit. No source."""

_TOUCH_RATE = 0.1
"""Share of a new note in its string's usual velocity. No source."""
_SOFT_BELOW, _SOFT = 0.5, -0.8
_HARD_ABOVE, _HARD = 0.85, 0.5
"""An unplanned note softer (harder) than this share of the usual velocity, in nats: a brush is
soft. No source."""


def interval_cost(interval_s: float) -> float:
    """An interval of which only its order of magnitude is known: even over the logarithm from 0.05
    to 1.25 s."""
    return log(interval_s * _INTERVALS) if interval_s > _SHORTEST_S else _SHORTEST


def entry_cost(slot: int, silence_s: float) -> float:
    """Beginning to play at a slot (index), so long after the last note."""
    if slot == 0:
        return ENTRY_FIRST - AFTER_SILENCE_FIRST * _rested(silence_s, BREATH_S)
    return ENTRY_LATER - AFTER_SILENCE_LATER * _rested(silence_s, LONGER_BREATH_S)


def _rested(silence_s: float, breath_s: float) -> float:
    """0 up to a breath, 1 from a silence on, between by the logarithm."""
    if silence_s <= breath_s:
        return 0.0
    return log(min(silence_s, SILENT_S) / breath_s) / log(SILENT_S / breath_s)


def pause_cost(late_s: float) -> float:
    """Going on with the next slot so much later than due."""
    return PAUSE if late_s < _LONG_PAUSE_S else PAUSE + _LONG_PAUSE


class Window:
    """Which slots a note may answer after a given slot, and at what price, timing apart. Tables are
    made as needed."""

    def __init__(self, cell: Cell) -> None:
        self._slots = cell.slots
        self._steps = cell.steps
        self._quiet = frozenset(cell.quiet)
        self._answers: dict[int, list[tuple[int, int, float, str, bool]]] = {}
        self._bend_answers: dict[int, list[tuple[int, int, float, str, bool]]] = {}
        self._entries: dict[int, list[tuple[int, float]]] = {}
        self._used = {(slot.string, slot.pitch) for slot in cell.slots}

    def quiet(self, string: int) -> bool:
        return string in self._quiet

    def steps_to_next(self, slot: int) -> int:
        """Grid steps from a slot's beginning to the next one's."""
        following = slot + 1
        if following < len(self._slots):
            return self._slots[following].start - self._slots[slot].start
        return self._steps - self._slots[slot].start + self._slots[0].start

    def entries(self, note: Note) -> list[tuple[int, float]]:
        """Slots that the note could be the first one played of: (index, price)."""
        key = note.string << 8 | note.pitch & 0xFF
        found = self._entries.get(key)
        if found is None:
            found = self._entries[key] = [
                (index, priced[0])
                for index in range(len(self._slots))
                if (priced := self._price(index, note.string, note.pitch)) is not None
                and priced[1] == HIT
            ]
        return found

    def answers(self, slot: int, note: Note) -> list[tuple[int, int, float, str, bool]]:
        """Slots after ``slot`` that the note could answer: (index, steps ahead, price, verdict, is
        it the next)."""
        key = (slot << 16) | (note.string << 8) | (note.pitch & 0xFF)
        found = self._answers.get(key)
        if found is None:
            found = self._answers[key] = self._find(slot, note.string, note.pitch)
        return found

    def bend_answers(self, slot: int, note: Note) -> list[tuple[int, int, float, str, bool]]:
        """The same for a note that came as a bend alone."""
        key = (slot << 16) | (note.string << 8) | (note.pitch & 0xFF)
        found = self._bend_answers.get(key)
        if found is None:
            found = self._bend_answers[key] = [
                (
                    index,
                    steps,
                    price + (BEND_HIT if verdict == HIT else BEND_WRONG),
                    verdict,
                    is_next,
                )
                for index, steps, price, verdict, is_next in self.answers(slot, note)
            ]
        return found

    def _find(self, after: int, string: int, pitch: int) -> list[tuple[int, int, float, str, bool]]:
        count = len(self._slots)
        found = []
        for missed in range(min(_MOST_MISSES, count - 1) + 1):
            index = (after + 1 + missed) % count
            priced = self._price(index, string, pitch)
            if priced is None or (priced[1] == WRONG and missed > _MOST_MISSES_WRONG):
                continue
            steps = (
                self._slots[index].start - self._slots[after].start
            ) % self._steps or self._steps
            found.append((index, steps, missed * MISS + priced[0], priced[1], missed == 0))
        return found

    def _price(self, index: int, string: int, pitch: int) -> tuple[float, str] | None:
        slot = self._slots[index]
        if string == slot.string:
            off = pitch - slot.pitch
            if off == 0:
                return HIT_COST, HIT
            if off in OCTAVE_ERRORS and (string, pitch) not in self._used:
                return OCTAVE_HELD, HIT
            return WRONG_FRET - log(FRET_SLIPS.get(abs(off), FAR_SLIP)), WRONG
        if pitch == slot.pitch:
            return WRONG_STRING + log(max(1, abs(string - slot.string))), WRONG
        return None


class Spread:
    """How far this player's notes lie from the grid: overall spread and each slot's habit, learned
    from told notes."""

    _FLOOR_S2 = 0.003**2 + 0.003**2  # the hand's and the converter's least scatter; no source
    _SHARE = 0.03  # of a grid step, a steady player's; no source

    def __init__(self, slots: int, most_habit: float = 0.25) -> None:
        """most_habit: how far a slot's mean may come to lie from the grid, share of a step."""
        self.offset_s = [0.0] * slots  # each slot's mean distance from the grid
        self._most_habit = most_habit
        self.factor = _FIRST_FACTOR  # on the variance: 1 is a steady player
        self._seen = 0

    def sigma_s(self, step_s: float) -> float:
        """Spread of a note about where the one a grid step before puts it; ``WIDER`` says how it
        grows."""
        share = self._SHARE * step_s
        return sqrt((self._FLOOR_S2 + share * share) * self.factor)

    def learn(self, slot: int, late_s: float, step_s: float) -> None:
        share = self._SHARE * step_s
        ratio = late_s * late_s / (self._FLOOR_S2 + share * share)
        self._seen += 1
        rate = max(_LEARN_LEAST, 1.0 / (self._seen + _LEARN_FIRST))
        self.factor += rate * (min(ratio, _OUTLIER * self.factor) - self.factor)
        self.factor = max(_LEAST_FACTOR, self.factor)
        limit = self._most_habit * step_s
        moved = self.offset_s[slot] + _HABIT_RATE * max(-limit, min(limit, late_s))
        self.offset_s[slot] = max(-limit, min(limit, moved))


def lateness_cost(late_s: float, sigma_s: float) -> float:
    """Minus log density of a note this late: a normal core, a wider tail for stumbles, and an end
    to it."""
    place = int(abs(late_s) / sigma_s * _PER_SIGMA)
    if place >= _CORE_PLACES:
        return FAR
    cost = _CORE[place] + log(sigma_s)
    return cost if cost < FAR else FAR


def _core_table() -> list[float]:
    table = []
    for place in range(int(_PER_SIGMA) * _SIGMAS):
        z = (place + 0.5) / _PER_SIGMA
        core = (1.0 - _TAIL_SHARE) * exp(-0.5 * z * z)
        tail = _TAIL_SHARE / _TAIL_WIDTH * exp(-0.5 * (z / _TAIL_WIDTH) ** 2)
        table.append(-log((core + tail) / sqrt(2.0 * pi)))
    return table


_CORE = _core_table()
_CORE_PLACES = len(_CORE)


class Touch:
    """How hard this player strikes each string, learned from told notes: a brush is softer than a
    stroke."""

    def __init__(self) -> None:
        self._usual: dict[int, float] = {}

    def learn(self, note: Note) -> None:
        if note.velocity is None:
            return
        usual = self._usual.get(note.string)
        self._usual[note.string] = (
            note.velocity if usual is None else usual + _TOUCH_RATE * (note.velocity - usual)
        )

    def extra_cost(self, note: Note, window: Window) -> float:
        """An unplanned note: dearer where it is as loud as a stroke."""
        cost = EXTRA_QUIET if window.quiet(note.string) else EXTRA
        usual = self._usual.get(note.string)
        if usual is not None and note.velocity is not None:
            share = note.velocity / usual
            if share < _SOFT_BELOW:
                cost += _SOFT
            elif share > _HARD_ABOVE:
                cost += _HARD
        return cost
