"""How well each of many looped figures explains what was heard, all of them at once.

Owns the prices of a story (in nats, as ``core/odds.py``): a slot answered, missed or played wrong,
a sound that belongs to none, a pause, a new start, the way an interval may differ from the one
written. A figure here is a row of symbols with the time to the next in steps. The search is over
the last slot answered (Viterbi), each state with the stroke and the tempo of its best story.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, pi, sqrt
from typing import Any

import numpy as np

from ...core.decode import OCTAVE_ERRORS
from ...core.odds import FAR_SLIP, FRET_SLIPS
from .sounds import Sounds

Array = Any

HIT = -log(0.93)
MISS = -log(0.025)
WRONG_FRET = -log(0.02)
WRONG_STRING = -log(0.006)
OCTAVE = -log(0.015)
EXTRA = -log(0.03) + log(30.0)
"""A sound that nobody meant: three in a hundred notes, anywhere in some thirty places."""
SOFT = 4.0
"""So much less for one that is as soft as a touch."""
LEAD_IN = -log(0.25) + log(30.0)
"""A sound before the figure begins."""
ENTRY_LATER = 4.5
RESTART = -log(0.03)
RESTART_ELSEWHERE = -log(0.002)
PAUSE = -log(0.01)
ENDS_INSIDE = 2.5
"""Play mostly ends with the figure, or on its first note."""
_NEVER = 1e6
_MOST_OFF = 7.0  # no interval is dearer: order tells more than time
_FRESH = 3.0  # the spread after a beginning, a stop or a new start, times

# How a story goes on. No source.
_EXTRA_SOFT = (0.8, 0.5)  # softer than this is a brush, by degrees until so much softer
_SLOT_SOFT, _SLOT_SOFT_COST = (0.6, 0.4), 1.5  # a slot is seldom so soft
_WIDER = 0.15  # the spread's growth for each slot missed
_PAUSED = 0.35  # an interval longer by this, its logarithm, may be a pause
_PULL_FRESH, _PULL = 1.0, 0.3  # of an interval on the tempo: after a new beginning, else
_MOST_FRESH, _MOST = 0.7, 0.25  # most by which one interval moves its logarithm
_AFTER_S = 0.05  # nobody begins anew sooner
_CORE, _TAIL, _TAIL_WIDTH = 0.92, 0.02, 4.0  # of an interval: normal, and stumbles, so much wider

BEGIN, FORWARD, AGAIN, IGNORED = 0, 1, 4, 5
"""Ways into a state: the first note of play, after 0, 1 or 2 missed slots (1, 2, 3), a new start,
no slot."""


@dataclass(frozen=True, slots=True)
class Loop:
    """A figure to be tried: places in ``Sounds.symbols``, steps to the next slot's stroke."""

    slots: tuple[int, ...]
    steps: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Story:
    """How one figure explains what was heard.

    ``answers``: for each sound the slot that it answers (from 0), -1 for none. ``turns``: for each
    sound the way into its state. ``step_s``: the tempo at each sound.
    """

    cost: float
    answers: tuple[int, ...]
    ways: tuple[int, ...]
    step_s: tuple[float, ...]


def prices(sounds: Sounds) -> Array:
    """[slot's symbol, heard symbol]: what it costs that the one is heard for the other."""
    count = len(sounds.symbols)
    table = np.full((count, count), _NEVER)
    for at, (string, pitch) in enumerate(sounds.symbols):
        for by, (other, heard) in enumerate(sounds.symbols):
            off = heard - pitch
            if at == by:
                table[at, by] = HIT
            elif string == other and off in OCTAVE_ERRORS:
                table[at, by] = OCTAVE
            elif string == other:
                table[at, by] = WRONG_FRET - log(FRET_SLIPS.get(abs(off), FAR_SLIP))
            elif off == 0:
                table[at, by] = WRONG_STRING
    return table


def tried(
    sounds: Sounds, loops: Sequence[Loop], spread: float, trace: bool = False
) -> tuple[Array, list[Story]]:
    """The cost of each figure (nats), and with ``trace`` its story.

    spread: standard deviation of the logarithm of an interval.
    """
    walk = _Walk(sounds, loops, spread)
    for at in range(len(sounds)):
        walk.hear(at, trace)
    return walk.costs(), walk.stories() if trace else []


class _Walk:
    """One pass over the sounds, all figures side by side: arrays are [figure, slot]."""

    def __init__(self, sounds: Sounds, loops: Sequence[Loop], spread: float) -> None:
        self.sounds = sounds
        count, longest = len(loops), max(len(loop.slots) for loop in loops)
        self.size = np.array([len(loop.slots) for loop in loops])
        self.used = np.arange(longest)[None, :] < self.size[:, None]
        self.symbol = np.zeros((count, longest), dtype=int)
        steps = np.zeros((count, longest))
        for at, loop in enumerate(loops):
            self.symbol[at, : len(loop.slots)] = loop.slots
            steps[at, : len(loop.slots)] = loop.steps
        self.table = prices(sounds)
        self.spread = spread
        self.rows = np.arange(count)[:, None]
        self.back, self.ahead = [], []
        places = np.arange(longest)[None, :]
        total = np.zeros((count, longest))
        for missed in range(3):
            came = (places - 1 - missed) % self.size[:, None]
            total = total + steps[self.rows, came]
            # a figure of two slots cannot miss two of them and go on
            self.back.append(came)
            self.ahead.append(np.where(self.size[:, None] > missed, total, np.inf))
        self.mean_steps = steps.sum(axis=1) / self.size
        self.cost = np.full((count, longest), np.inf)
        self.last = np.zeros((count, longest))
        self.step = np.ones((count, longest))
        self.fresh = np.ones((count, longest), dtype=bool)
        self.waiting = np.zeros(count)  # cost of not having begun
        self.entry = np.where(np.arange(longest)[None, :] == 0, 0.0, ENTRY_LATER)
        self.again = np.where(np.arange(longest)[None, :] == 0, RESTART, RESTART_ELSEWHERE)
        self.way: list[Array] = []
        self.came: list[Array] = []
        self.steps_heard: list[Array] = []
        # by way and state: what it costs to come so, the tempo then, whether it is new
        self.costs_by_way = np.empty((6, count, longest))
        self.steps_by_way = np.empty((6, count, longest))
        self.steps_by_way[BEGIN] = self._first_steps()[:, None]
        self.fresh_by_way = np.zeros((6, count, longest), dtype=bool)
        self.fresh_by_way[[BEGIN, AGAIN]] = True
        self.came_by_way = np.empty((6, count, longest), dtype=int)
        self.came_by_way[BEGIN] = -1
        self.came_by_way[FORWARD : FORWARD + 3] = self.back
        self.came_by_way[IGNORED] = places
        self.flat = np.arange(count * longest).reshape(count, longest)

    def _first_steps(self) -> Array:
        """A tempo to begin with: the middle interval between two sounds, over the middle step."""
        gaps = np.diff(self.sounds.time_s)
        gaps = gaps[gaps > 0.08]
        middle = float(np.median(gaps)) if len(gaps) else 0.25
        return middle / np.maximum(self.mean_steps, 1e-6)

    def hear(self, at: int, trace: bool) -> None:
        """Take the next sound: each state is reached in the cheapest of six ways."""
        sounds, rows = self.sounds, self.rows
        t_s, firm = sounds.time_s[at], sounds.firm[at]
        heard = self.table[self.symbol, sounds.which[at]]
        extra = EXTRA - SOFT * _softness(firm, *_EXTRA_SOFT)
        soft = _SLOT_SOFT_COST * _softness(firm, *_SLOT_SOFT)
        costs, steps, fresh = self.costs_by_way, self.steps_by_way, self.fresh_by_way
        for missed in range(3):
            source = self.back[missed]
            its_step, was_fresh = self.step[rows, source], self.fresh[rows, source]
            interval = np.maximum(t_s - self.last[rows, source], 1e-3)
            with np.errstate(divide="ignore"):
                off = np.clip(np.log(interval / (self.ahead[missed] * its_step)), -9.0, 9.0)
            wide = self.spread * (1.0 + _WIDER * missed)
            timing = _timing(off, np.where(was_fresh, _FRESH * wide, wide))
            if missed == 0:
                paused = (off > _PAUSED) & (timing > PAUSE)
                timing[paused] = PAUSE
                fresh[FORWARD] = paused
                pull = np.where(paused, 0.0, np.where(was_fresh, _PULL_FRESH, _PULL))
            else:
                pull = np.where(was_fresh, _PULL_FRESH, _PULL)
            most = np.where(was_fresh, _MOST_FRESH, _MOST)
            steps[FORWARD + missed] = its_step * np.exp(pull * np.clip(off, -most, most))
            costs[FORWARD + missed] = (
                self.cost[rows, source] + timing + heard + missed * MISS + soft
            )
        hit = np.where(heard == HIT, heard, _NEVER) + soft
        least = self.cost.argmin(axis=1)
        one = rows[:, 0]
        again = self.cost[one, least]
        again = again + np.where(t_s - self.last[one, least] > _AFTER_S, 0.0, _NEVER)
        costs[AGAIN] = again[:, None] + self.again + hit
        steps[AGAIN] = self.step[one, least][:, None]
        costs[BEGIN] = self.waiting[:, None] + self.entry + hit
        costs[IGNORED], steps[IGNORED], fresh[IGNORED] = self.cost + extra, self.step, self.fresh
        way = costs.argmin(axis=0)
        chosen = way * way.size + self.flat
        self.cost = costs.ravel()[chosen]
        self.step = steps.ravel()[chosen]
        self.fresh = fresh.ravel()[chosen]
        self.last = np.where(way == IGNORED, self.last, t_s)
        self.cost[~self.used] = np.inf
        self.waiting = self.waiting + min(extra, LEAD_IN)
        if trace:
            self.came_by_way[AGAIN] = least[:, None]
            self.way.append(way.astype(np.int8))
            self.came.append(self.came_by_way.ravel()[chosen])
            self.steps_heard.append(self.step)

    def _final(self) -> Array:
        places = np.arange(self.cost.shape[1])[None, :]
        inside = (places != 0) & (places != self.size[:, None] - 1)
        return self.cost + np.where(inside, ENDS_INSIDE, 0.0)

    def costs(self) -> Array:
        if not len(self.sounds):
            return np.full(len(self.size), np.inf)
        return np.minimum(self._final().min(axis=1), _NEVER)

    def stories(self) -> list[Story]:
        final = self._final()
        stories = []
        for row in range(len(self.size)):
            place = int(final[row].argmin())
            cost = float(final[row, place])
            answers, ways, steps = [], [], []
            for at in range(len(self.sounds) - 1, -1, -1):
                if place < 0:
                    answers.append(-1)
                    ways.append(IGNORED)
                    steps.append(0.0)
                    continue
                way = int(self.way[at][row, place])
                answers.append(-1 if way == IGNORED else place)
                ways.append(way)
                steps.append(float(self.steps_heard[at][row, place]))
                place = int(self.came[at][row, place])
            stories.append(Story(cost, tuple(answers[::-1]), tuple(ways[::-1]), tuple(steps[::-1])))
        return stories


def _softness(firm: float, from_firm: float, by: float) -> float:
    """0 from a firmness on, 1 from so much less."""
    return max(0.0, min(1.0, (from_firm - firm) / by))


def _timing(off: Array, spread: Array) -> Array:
    """Minus log density of an interval that differs by so much (its logarithm): a core, a tail."""
    z = off / spread
    core = _CORE * np.exp(-0.5 * z * z) + _TAIL * np.exp(-0.5 * (z / _TAIL_WIDTH) ** 2)
    return np.minimum(-np.log(core + 1e-12) + np.log(spread * sqrt(2.0 * pi)), _MOST_OFF)
