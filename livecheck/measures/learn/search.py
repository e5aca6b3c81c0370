"""The search for the figure that was played over and over.

Every stretch of what was heard is tried as the figure; the best are mended from what all their
repetitions say, then every small change to them is tried (another note or length, one more or
less, another beginning). What each says of the whole, with what it costs to describe, is weighed
against all others: that is how sure it is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from math import exp, log
from statistics import median

from ..stats import robust_sd
from .loops import AGAIN, BEGIN, FORWARD, Loop, Story, tried
from .rhythm import HABIT, lowest, steps_cost, whole_steps
from .sounds import Sounds

# Prices in nats, of a figure before anything is heard. No source.
MOST_SLOTS = 24
LEAST_REPS = 3
_FRESH_SLOT = log(25.0)  # a slot told by itself: one of so many notes in reach
_COPIED, _ALTERED, _COPYING = 0.2, 2.2, 1.5  # a slot copied, changed in copying; that one copies
_SHORT, _SHORT_SLOT = 3, 2.0  # a figure has so many slots; for each one less
_LONG, _LONG_FIGURE = 16, 2.0  # or up to so many; beyond
_TOO_FEW, _BROUGHT = 6.0, 0.3  # a repetition less than the three; so much of one is forgiven

# Scatter of the logarithm of an interval. No source.
_SPREAD, _SPREAD_WEIGHT = 0.07, 6  # the usual one, which counts as so many intervals
_NARROWEST, _WIDEST = 0.035, 0.12
_LEAST_OFFS = 5  # intervals from which it is learned
_MOVED = 0.1  # a change of its logarithm below which all stays as it is

# How much is tried. No source.
_STARTS = 120  # notes at which a figure may begin
_KEPT, _WITHIN, _OF_A_SIZE = 10, 45.0, 3  # of stretches: most, nats behind the best, of one size
_ROUNDS, _LEADERS = 4, 3  # of small changes; to so many of the best
_JUDGED = 40
_TRIED_AGAIN = 80  # with another spread
_MOST_EXTRAS = 40
_AT_ONCE = 400  # for the memory that it takes
_HEAT = 1.0  # nats of cost that count as one

# Stretches as they were heard.
_DOUBLE_S, _USUAL_S = 0.08, 0.25  # no interval below says what is usual; the usual one if none does
_SHORTEST_S, _LONGEST = 0.04, 9.0  # an interval of a figure; in usual ones
_ROUGH, _ROUGH_SLOT = 1.4, 2.0  # wider spread for lengths as heard, and nats for each such length
_STOPPED = 1.0  # an interval longer by more than this, its logarithm, is a stop
_LEAST_STEP = 0.3  # what sounds sooner after its slot than this part of a step is no slot
_MOST_HABIT = 2.0  # of a slot, in the usual size of habits


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure that was tried: symbols and whole steps, and its cost in nats."""

    slots: tuple[int, ...]
    steps: tuple[int, ...]

    @property
    def loop(self) -> Loop:
        return Loop(self.slots, self.steps)

    def turned(self, by: int) -> Figure:
        return Figure(self.slots[by:] + self.slots[:by], self.steps[by:] + self.steps[:by])


@dataclass(frozen=True, slots=True)
class Found:
    """Figures with the chance of each, the likeliest first; the first one's story."""

    ranked: tuple[tuple[Figure, float], ...]
    story: Story
    spread: float


def found(sounds: Sounds) -> Found | None:
    """What was played, None where too little was heard to say anything."""
    if len(sounds) < 4:
        return None
    pool = _Pool(sounds)
    first = _stretches(sounds)
    if not first:
        return None
    loops = first
    for _ in range(2):
        _, stories = tried(sounds, loops, pool.spread, trace=True)
        figures = [
            figure for loop, story in zip(loops, stories) for figure in mended(sounds, loop, story)
        ]
        pool.add(turn for figure in figures for turn in _turns(figure))
        pool.narrow()
        loops = [figure.loop for figure, _ in pool.best(_KEPT)]
    for _ in range(_ROUNDS):
        before = pool.best(1)[0][0]
        leaders = [figure for figure, _ in pool.best(_LEADERS)]
        pool.add(near for figure in leaders for near in _neighbours(sounds, figure, pool))
        pool.narrow()
        if pool.best(1)[0][0] == before:
            break
    ranked = _with_habits(sounds, pool.best(_JUDGED), pool.spread)
    least = ranked[0][1]
    weights = [(figure, exp(-(cost - least) / _HEAT)) for figure, cost in ranked]
    total = sum(weight for _, weight in weights)
    _, stories = tried(sounds, [ranked[0][0].loop], pool.spread, trace=True)
    return Found(
        tuple((figure, weight / total) for figure, weight in weights), stories[0], pool.spread
    )


def _with_habits(
    sounds: Sounds, ranked: list[tuple[Figure, float]], spread: float
) -> list[tuple[Figure, float]]:
    """What each figure costs where every slot may have a length of its own near the written one."""
    loops = [figure.loop for figure, _ in ranked]
    _, stories = tried(sounds, loops, spread, trace=True)
    habits: list[list[float]] = []
    for loop, story in zip(loops, stories):
        heard = intervals(sounds, loop, story)
        offs = [
            (sum(each) - len(each) * log(steps)) / (len(each) + (spread / HABIT) ** 2)
            for each, steps in zip(heard, loop.steps)
        ]
        habits.append([max(-_MOST_HABIT * HABIT, min(_MOST_HABIT * HABIT, off)) for off in offs])
    own = [
        Loop(loop.slots, tuple(steps * exp(off) for steps, off in zip(loop.steps, offs)))
        for loop, offs in zip(loops, habits)
    ]
    costs, _ = tried(sounds, own, spread)
    settled = []
    for (figure, _), offs, cost in zip(ranked, habits, costs):
        cost = float(cost) + described(figure) + _short(len(sounds) / len(figure.slots))
        settled.append((figure, cost + sum(0.5 * (off / HABIT) ** 2 for off in offs)))
    return sorted(settled, key=lambda item: item[1])


class _Pool:
    """Every figure tried so far, each with what it costs at the spread now believed in."""

    def __init__(self, sounds: Sounds) -> None:
        self.sounds = sounds
        self.spread = _SPREAD
        self._costs: dict[Figure, float] = {}

    def add(self, figures: Iterable[Figure]) -> None:
        new = list(dict.fromkeys(one for one in figures if one not in self._costs))
        for at in range(0, len(new), _AT_ONCE):
            part = new[at : at + _AT_ONCE]
            costs, _ = tried(self.sounds, [one.loop for one in part], self.spread)
            for figure, cost in zip(part, costs):
                self._costs[figure] = float(cost) + described(figure)
                self._costs[figure] += _short(len(self.sounds) / len(figure.slots))

    def best(self, most: int) -> list[tuple[Figure, float]]:
        order = sorted(self._costs.items(), key=lambda item: item[1])
        return order[:most]

    def narrow(self) -> None:
        """Take the spread from the best story, and try the leaders again with it."""
        figure = self.best(1)[0][0]
        _, stories = tried(self.sounds, [figure.loop], self.spread, trace=True)
        offs = residuals(self.sounds, figure.loop, stories[0])
        if len(offs) < _LEAST_OFFS:
            return
        spread = robust_sd(offs)
        spread = spread * spread * len(offs) + _SPREAD**2 * _SPREAD_WEIGHT
        spread /= len(offs) + _SPREAD_WEIGHT
        spread = min(max(spread**0.5 if spread > 0 else 0.0, _NARROWEST), _WIDEST)
        if abs(log(spread / self.spread)) < _MOVED:
            return
        self.spread = spread
        leaders = [one for one, _ in self.best(_TRIED_AGAIN)]
        self._costs = {}
        self.add(leaders)


def _short(reps: float) -> float:
    return max(0.0, LEAST_REPS - _BROUGHT - reps) * _TOO_FEW


def described(figure: Figure) -> float:
    """What a figure costs to describe (nats): its slots one by one, or as a copy of itself some
    slots before, with changes. Where it begins does not matter."""
    fresh = [_FRESH_SLOT + one for one in steps_cost(figure.steps)]
    count = len(fresh)
    slots = list(zip(figure.slots, figure.steps))
    best = whole = sum(fresh)
    for lag in range(1, count // 2 + 1):
        saved = [
            fresh[at] - _COPIED if slots[at] == slots[at - lag] else -_ALTERED
            for at in range(count)
        ]
        # one stretch as long as the lag is told, the rest is copied
        window = sum(saved[:lag])
        least = window
        for at in range(1, count):
            window += saved[(at + lag - 1) % count] - saved[at - 1]
            least = min(least, window)
        best = min(best, whole + _COPYING - sum(saved) + least)
    if count < _SHORT:
        return best + _SHORT_SLOT * (_SHORT - count)
    return best + (0.0 if count <= _LONG else _LONG_FIGURE)


def _stretches(sounds: Sounds) -> list[Loop]:
    """The stretches that explain the rest best, as loops with lengths as heard."""
    count = len(sounds)
    gaps = [after - before for before, after in zip(sounds.time_s, sounds.time_s[1:])]
    usual = median([gap for gap in gaps if gap > _DOUBLE_S] or [_USUAL_S])
    loops: list[Loop] = []
    for size in range(1, min(MOST_SLOTS, count // 2) + 1):
        for first in range(min(count - size, _STARTS)):
            steps = gaps[first : first + size]
            if min(steps) < _SHORTEST_S or max(steps) > _LONGEST * usual:
                continue
            if size == 1 or any(one != sounds.which[first] for one in sounds.which[first:][:size]):
                loops.append(
                    Loop(sounds.which[first : first + size], tuple(gap / usual for gap in steps))
                )
    if not loops:
        return []
    rough: list[tuple[float, Loop]] = []
    for at in range(0, len(loops), _AT_ONCE):
        part = loops[at : at + _AT_ONCE]
        costs, _ = tried(sounds, part, _ROUGH * _SPREAD)
        for cost, loop in zip(costs, part):
            rough.append((float(cost) + _ROUGH_SLOT * len(loop.slots), loop))
    rough.sort(key=lambda item: item[0])
    kept: list[Loop] = []
    sizes: Counter[int] = Counter()
    for cost, loop in rough:
        if cost > rough[0][0] + _WITHIN or len(kept) >= _KEPT:
            break
        if sizes[len(loop.slots)] < _OF_A_SIZE:
            kept.append(loop)
            sizes[len(loop.slots)] += 1
    return kept


# --------------------------------------------------------------------------- what repetitions say


def intervals(sounds: Sounds, loop: Loop, story: Story) -> list[list[float]]:
    """Logarithms of each slot's length in steps, one for each time it was heard whole."""
    heard: list[list[float]] = [[] for _ in loop.slots]
    before = -1
    for at, (answer, way) in enumerate(zip(story.answers, story.ways)):
        if answer < 0:
            continue
        if before >= 0 and way == FORWARD:
            step_s = (story.step_s[before] * story.step_s[at]) ** 0.5
            gap = (sounds.time_s[at] - sounds.time_s[before]) / step_s
            slot = story.answers[before]
            off = log(max(gap, 1e-3) / loop.steps[slot])
            if off < _STOPPED:
                heard[slot].append(log(max(gap, 1e-3)))
        before = at
    return heard


def residuals(sounds: Sounds, loop: Loop, story: Story) -> list[float]:
    """How far each interval's logarithm lies from the one written."""
    return [
        one - log(steps)
        for each, steps in zip(intervals(sounds, loop, story), loop.steps)
        for one in each
    ]


def mended(sounds: Sounds, loop: Loop, story: Story) -> list[Figure]:
    """The figure as most repetitions have it, in the whole steps that fit best."""
    votes = heard_at(sounds, loop, story)
    slots = tuple(
        max(each, key=lambda symbol: (each[symbol], symbol == own)) if each else own
        for each, own in zip(votes, loop.slots)
    )
    lengths = intervals(sounds, loop, story)
    middles = [median(each) if each else None for each in lengths]
    counts = [len(each) for each in lengths]
    return [Figure(slots, steps) for steps in whole_steps(middles, counts, _SPREAD)]


def heard_at(sounds: Sounds, loop: Loop, story: Story) -> list[Counter[int]]:
    """Symbols heard in each slot's place."""
    votes: list[Counter[int]] = [Counter() for _ in loop.slots]
    for at, answer in enumerate(story.answers):
        if answer >= 0:
            votes[answer][sounds.which[at]] += 1
    return votes


# --------------------------------------------------------------------------------- small changes


def _turns(figure: Figure) -> list[Figure]:
    return [figure.turned(by) for by in range(len(figure.slots))]


def _neighbours(sounds: Sounds, figure: Figure, pool: _Pool) -> list[Figure]:
    """Figures a small step away: each is one that a fault could have made of what was played."""
    _, stories = tried(sounds, [figure.loop], pool.spread, trace=True)
    story = stories[0]
    count = len(figure.slots)
    near: list[Figure] = []
    for at, votes in enumerate(heard_at(sounds, figure.loop, story)):
        for symbol in votes:
            if symbol != figure.slots[at]:
                slots = (*figure.slots[:at], symbol, *figure.slots[at + 1 :])
                near.append(Figure(slots, figure.steps))
        for by in (-1, 1):
            steps = [*figure.steps]
            steps[at] += by
            if steps[at] > 0:
                near.append(Figure(figure.slots, lowest(steps)))
        if count > 1:
            steps = [*figure.steps]
            steps[at - 1] += steps[at]
            near.append(
                Figure(
                    figure.slots[:at] + figure.slots[at + 1 :], lowest(steps[:at] + steps[at + 1 :])
                )
            )
    near += _with_extras(sounds, figure, story)
    near += [turn for one in near[:] if len(one.slots) != count for turn in _turns(one)]
    if count * 2 <= MOST_SLOTS:
        near.append(Figure(figure.slots * 2, figure.steps * 2))
        for at, votes in enumerate(heard_at(sounds, figure.loop, story)):
            for symbol in votes:
                if symbol != figure.slots[at]:
                    slots = (*figure.slots[:at], symbol, *figure.slots[at + 1 :])
                    twice = Figure(figure.slots + slots, figure.steps * 2)
                    near += [twice, twice.turned(count)]
    return [*near, *_turns(figure)]


def _with_extras(sounds: Sounds, figure: Figure, story: Story) -> list[Figure]:
    """With a slot more: what sounded between two slots belongs to the figure."""
    near: list[Figure] = []
    before = -1
    for at, answer in enumerate(story.answers):
        if answer >= 0:
            before = at
            continue
        if before < 0:
            continue
        slot = story.answers[before]
        part = (sounds.time_s[at] - sounds.time_s[before]) / max(story.step_s[before], 1e-3)
        length = figure.steps[slot]
        whole = round(part)
        slots = (*figure.slots[: slot + 1], sounds.which[at], *figure.slots[slot + 1 :])
        if 1 <= whole < length:
            steps = (*figure.steps[:slot], whole, length - whole, *figure.steps[slot + 1 :])
            near.append(Figure(slots, lowest(steps)))
        elif _LEAST_STEP < part < length:
            doubled = [2 * one for one in figure.steps]
            first = max(1, round(2 * part))
            if first < doubled[slot]:
                steps = (*doubled[:slot], first, doubled[slot] - first, *doubled[slot + 1 :])
                near.append(Figure(slots, lowest(steps)))
    return list(dict.fromkeys(near))[:_MOST_EXTRAS]


def rounds(figure: Figure, story: Story) -> int:
    """Complete repetitions: begun, and gone through to the last slot or beyond."""
    complete = 0
    count = len(figure.slots)
    before = -1
    for answer, way in zip(story.answers, story.ways):
        if answer < 0:
            continue
        came_round = before >= 0 and way not in (AGAIN, BEGIN) and answer <= before
        complete += came_round or (before == count - 1 and way == AGAIN)
        before = answer
    return complete + (before == count - 1)


def unexplained(sounds: Sounds, story: Story) -> float:
    """Share of the sounds, soft ones less, that belong to no slot."""
    alone = sum(firm for firm, answer in zip(sounds.firm, story.answers) if answer < 0)
    return alone / max(sum(sounds.firm), 1e-6)
