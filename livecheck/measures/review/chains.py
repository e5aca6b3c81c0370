"""Forms of fall and the moves of days, drawn together.

The forms are drawn from a grid (``forms``) in the frame of one course (``course``); both are but
near the truth. Here each draw is carried on by Metropolis steps: the fall's width and lapse and its
step, the luck of takes, where the fall stood on each day, and how much days differ, all at once,
so that what is not known of one widens the other. The fall's steps are differences of other chains
(C. J. F. ter Braak, Statistics and Computing 16 (2006) 239-249); a day's place is a smooth course
(level, trend and wandering, drawn as Gaussian) and a luck of the day (Student's t, as a Gaussian of
drawn scale: Gelman et al., Bayesian Data Analysis, 3rd ed., section 12.1).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..stats import logit, sigmoid
from .course import DAY_LUCK, HEAVY, WANDER, Course, smooth_prior
from .forms import (
    ABOVE,
    BELOW,
    LAPSE_PRIOR,
    LAPSES,
    LEVELS,
    SPREAD_PRIOR,
    SPREADS,
    Drawn,
    pair_levels,
)

CHAINS, SWEEPS, WARM = 120, 34, 14
"""Chains, turns of each, and of these the first ones, which are not kept."""

MANY_DAYS, FEWER = 24, 60
"""From so many days on, each draw costs more and there are fewer chains."""

NEAREST = 0.01
"""Rows of a take closer than this (log tempo) are counted together."""

MOST_ROWS = 400
_WIDTH_ENDS, _LAPSE_ENDS = (0.004, 0.16), (0.0005, 0.4)
_STEP_ENDS = (0.05, 0.985)

# How chains are carried on. It changes how soon they are where they belong, not where that is; no
# source, but that differences of chains are now and then taken whole (ter Braak).
_WIDTH_APART, _LAPSE_APART = 0.2, 0.3  # chains begin apart by as much, in logarithms
_MOVES_APART, _MOST_APART = 0.5, 0.01  # days by so much of what is open of them; most of that
_SIZES_EVERY, _SIZES_EVERY_MANY = 3, 9  # turns; with many days
_WHOLE_EVERY = 5  # turns
_LEAST_SIZE, _SIZE = 0.2, 1.2  # of a difference of chains: most, and least in that
_SHAKEN = (0.001, 0.03, 0.05)  # beside it: place, log width and log lapse
_STEP_MOVED, _STEP_SHAKEN = (0.004, 0.03), 0.3  # of a step: log tempo, little or far; log odds
_STEP_NEAR = (0.02, 0.99)  # the part lost by a step, held off the ends
_DAY_STEPS = (2.2, 1.0)  # of each day's place, in what is open of it


@dataclass(frozen=True, slots=True)
class Rows:
    """Hits and tries of each take at one tempo, and the day they are of."""

    bpm: np.ndarray  # (R,)
    day: np.ndarray  # (R,) index
    hits: np.ndarray
    of: np.ndarray
    rung: np.ndarray  # (R,) rung in the frame, for dips


@dataclass(frozen=True, slots=True)
class Carried:
    """Forms with the moves they were drawn with; every array (draws, ...)."""

    forms: Drawn
    move: np.ndarray  # (draws, days) in bpm, against the frame

    def chance(self, x: np.ndarray, day: int = -1) -> np.ndarray:
        """(draws, len(x)): chance on a day, the last one if none is said, at log tempos, over all
        takes, without the dip."""
        at = np.maximum(np.exp(x)[None, :] - self.move[:, day, None], 1.0)
        return self.forms.chance(np.log(at))

    def some(self, which: np.ndarray) -> Carried:
        """These draws."""
        return Carried(self.forms.some(which), self.move[which])

    def course(self, course: Course) -> Course:
        """The course with the moves that were drawn."""
        away = self.move - self.move[:, -1:]
        sd = away.std(axis=0)
        return replace(course, move=away.mean(axis=0), sd=sd, first_sd=float(sd[0]))


def gathered(
    take: np.ndarray,
    bpm: np.ndarray,
    day: np.ndarray,
    rung: np.ndarray,
    hits: np.ndarray,
    of: np.ndarray,
) -> Rows:
    """Rows of one take at nearly one tempo put together; where there are too many, neighbouring
    takes of a day count as one, as sharing their luck."""
    told = of > 0
    take, bpm, day, rung, hits, of = (one[told] for one in (take, bpm, day, rung, hits, of))
    place = np.round(np.log(bpm) / NEAREST).astype(int)
    number = np.unique(take, return_inverse=True)[1]
    for size in (1, 2, 4, 8, 16, 64, 1 << 20):
        keys = np.stack([number // size, day, rung, place])
        at = np.unique(keys, axis=1, return_inverse=True)[1].ravel()
        if at.max() < MOST_ROWS:
            break
        place = np.zeros_like(place)  # a rung is one place
    n = np.bincount(at, of)
    first = np.unique(at, return_index=True)[1]
    return Rows(np.bincount(at, bpm * of) / n, day[first], np.bincount(at, hits), n, rung[first])


def carried(rows: Rows, drawn: Drawn, course: Course | None, rng: np.random.Generator) -> Carried:
    """The drawn forms carried on, with the moves of the days."""
    many = course is not None and len(course.move) > MANY_DAYS
    some = rng.choice(len(drawn.middle), FEWER if many else CHAINS)
    chains = _Chains(rows, drawn.some(some), course, rng)
    kept: list[tuple[Drawn, np.ndarray]] = []
    for sweep in range(SWEEPS):
        chains.turn(sweep)
        if sweep >= WARM and sweep % 2:
            kept.append((chains.forms, chains.move * chains.usual))
    forms = Drawn(
        *(np.concatenate([getattr(one, name) for one, _ in kept]) for name in Drawn.__slots__)
    )
    return Carried(forms, np.concatenate([move for _, move in kept]))


class _Chains:
    """The state of all chains; moves are in parts of the usual tempo."""

    def __init__(
        self, rows: Rows, drawn: Drawn, course: Course | None, rng: np.random.Generator
    ) -> None:
        self.rows, self.rng, count = rows, rng, len(drawn.middle)
        self.usual = (
            float(np.average(rows.bpm, weights=rows.of)) if course is None else course.usual_bpm
        )
        self.days = 1 if course is None else len(course.move)
        framed = rows.bpm if course is None else rows.bpm - course.move[rows.day]
        self.x_low, self.x_high = (
            float(np.log(max(end, 1.0))) for end in (framed.min(), framed.max())
        )
        by_pair, pair = pair_levels(rows.hits, rows.of)  # (spreads, pairs, levels), (R,)
        self.flat = np.asarray(by_pair.ravel(), np.float32)
        self.by_spread, self.pair_place = by_pair.shape[1] * len(LEVELS), pair * len(LEVELS)
        self.outside = ~(
            (rows.rung >= drawn.dip_from[:, None])
            & (rows.rung <= drawn.dip_to[:, None])
            & (drawn.dip_from[:, None] >= 0)
        )
        spread = np.abs(drawn.spread[:, None] - SPREADS).argmin(axis=1)
        self.spread = spread
        wide = np.exp(rng.uniform(-_WIDTH_APART, _WIDTH_APART, count))
        lapse = drawn.lapse * np.exp(rng.uniform(-_LAPSE_APART, _LAPSE_APART, count))
        self.forms = replace(
            drawn, width=np.clip(drawn.width * wide, *_WIDTH_ENDS),
            lapse=np.clip(lapse, *_LAPSE_ENDS),
        )  # fmt: skip
        self.move = np.zeros((count, self.days))
        self.telling = np.ones(1)  # how much each day tells of where the fall is
        self.course = course
        if course is not None:
            self._begin(course)
        self.x = self._at(self.move)
        self.value = self._likelihood(self.forms, self.spread, self.x)

    def _begin(self, course: Course) -> None:
        count = len(self.move)
        self.move = np.repeat(course.move[None] / self.usual, count, axis=0)
        self.telling = course.own_sd**-2.0 / np.sum(course.own_sd**-2.0)
        self.reach = np.maximum(course.own_sd / self.usual, 1e-4)
        apart = np.minimum(self.reach, _MOST_APART)
        self.move = self.move + self.rng.normal(0.0, _MOVES_APART, self.move.shape) * apart
        self.priors = [smooth_prior(course.week, wander) for wander in WANDER]
        self.roots = [np.linalg.cholesky(prior + 1e-9 * np.eye(self.days)) for prior in self.priors]
        self.wander = self.rng.integers(0, len(WANDER), count)
        self.luck = self.rng.integers(0, len(DAY_LUCK), count)
        self.of_day = np.asarray(self.rows.day[:, None] == np.arange(self.days), np.float32)
        self.scale = np.ones((count, self.days))  # of each day's luck, squared

    # ------------------------------------------------------------------------------------ a turn

    def turn(self, sweep: int) -> None:
        if self.course is not None:
            every = _SIZES_EVERY_MANY if self.days > MANY_DAYS else _SIZES_EVERY
            if sweep % every == 0:
                self._sizes()
            self._days()
        self._fall(1.0 if sweep % _WHOLE_EVERY == _WHOLE_EVERY - 1 else None)
        self._fall(None)
        self._step()

    def _at(self, move: np.ndarray) -> np.ndarray:
        """(chains, rows) log tempo in the frame."""
        at = self.rows.bpm[None, :] - move[:, self.rows.day] * self.usual
        return np.asarray(np.log(np.maximum(at, 1.0)), np.float32)

    def _likelihood(self, forms: Drawn, spread: np.ndarray, x: np.ndarray) -> np.ndarray:
        """(chains, rows) log-likelihood, luck of takes averaged over; nought inside a dip."""
        middle, slope, top = (
            np.asarray(one, np.float32)[:, None]
            for one in (forms.middle, -1.0 / forms.width, 1.0 - forms.lapse)
        )
        if np.isfinite(forms.step_at).any():
            stepped = top * np.asarray(1.0 - forms.step, np.float32)[:, None]
            top = np.where(x >= np.asarray(forms.step_at, np.float32)[:, None], stepped, top)
        falls = np.exp(np.minimum((middle - x) * slope, 30.0))
        level = (np.log(top) - np.log(1.0 - top + falls) - LEVELS[0]) / (LEVELS[1] - LEVELS[0])
        level = np.clip(level, 0.0, len(LEVELS) - 1.001)
        low = level.astype(np.int32)
        place = spread[:, None] * self.by_spread + self.pair_place[None, :] + low
        part = level - low
        under, over = self.flat[place], self.flat[place + 1]
        return np.where(self.outside, under + (over - under) * part, np.float32(0.0))

    def _taken(self, gain: np.ndarray) -> np.ndarray:
        return np.log(self.rng.random(gain.shape)) < gain

    def _fall(self, whole: float | None) -> None:
        """A step of width, lapse, spread and the place of all days, by the difference of two other
        chains."""
        count, forms = len(self.move), self.forms
        first, second = (self.rng.integers(0, count, count) for _ in range(2))
        size = np.full(count, whole) if whole else _SIZE * self.rng.uniform(_LEAST_SIZE, 1.0, count)
        where = np.exp(forms.middle) + self.move @ self.telling * self.usual
        state = np.stack([where / self.usual, np.log(forms.width), np.log(forms.lapse)], axis=1)
        step = size[:, None] * (state[first] - state[second])
        step = step + self.rng.normal(size=(count, 3)) * np.array(_SHAKEN)
        middle = np.log(np.maximum(np.exp(forms.middle) + step[:, 0] * self.usual, 1.0))
        width, lapse = forms.width * np.exp(step[:, 1]), forms.lapse * np.exp(step[:, 2])
        spread = self.spread + self.rng.integers(-1, 2, count)
        inside = (middle > self.x_low - BELOW) & (middle < self.x_high + ABOVE)
        inside &= (width > _WIDTH_ENDS[0]) & (width < _WIDTH_ENDS[1])
        inside &= (lapse > _LAPSE_ENDS[0]) & (lapse < _LAPSE_ENDS[1])
        inside &= (spread >= 0) & (spread < len(SPREADS))
        trial_spread = np.clip(spread, 0, len(SPREADS) - 1)
        trial = replace(  # the fall goes along as a whole, all days with it
            forms, middle=np.where(inside, middle, forms.middle),
            width=np.clip(width, *_WIDTH_ENDS), lapse=np.clip(lapse, *_LAPSE_ENDS),
        )  # fmt: skip
        value = self._likelihood(trial, trial_spread, self.x)
        gain = (value - self.value).sum(axis=1)
        gain += _lapse_prior(trial.lapse) - _lapse_prior(forms.lapse)
        gain += np.log(SPREAD_PRIOR)[trial_spread] - np.log(SPREAD_PRIOR)[self.spread]
        self._take(self._taken(gain) & inside, trial, trial_spread, value)

    def _step(self) -> None:
        """A step of what is lost at once, and of where."""
        forms, count = self.forms, len(self.move)
        has = np.isfinite(forms.step_at)
        if not has.any():
            return
        at = forms.step_at + self.rng.normal(size=count) * self.rng.choice(_STEP_MOVED, count)
        odds = logit(np.clip(forms.step, *_STEP_NEAR)) + _STEP_SHAKEN * self.rng.normal(size=count)
        step = sigmoid(odds)
        inside = has & (at > self.x_low) & (at < self.x_high)
        inside &= (step > _STEP_ENDS[0]) & (step < _STEP_ENDS[1])
        trial = replace(forms, step_at=np.where(has, at, np.inf), step=np.where(has, step, 0.0))
        value = self._likelihood(trial, self.spread, self.x)
        gain = (value - self.value).sum(axis=1)
        was = np.clip(forms.step, *_STEP_NEAR)  # even in the part, steps taken in its log odds
        gain += np.log(step * (1.0 - step)) - np.log(was * (1.0 - was))
        self._take(self._taken(gain) & inside, trial, self.spread, value)

    def _take(self, taken: np.ndarray, trial: Drawn, spread: np.ndarray, value: np.ndarray) -> None:
        self.forms = Drawn(
            *(
                np.where(taken, getattr(trial, name), getattr(self.forms, name))
                for name in Drawn.__slots__
            )
        )
        self.spread = np.where(taken, spread, self.spread)
        self.forms = replace(self.forms, spread=SPREADS[self.spread])
        self.value = np.where(taken[:, None], value, self.value)

    # -------------------------------------------------------------------------------------- days

    def _sizes(self) -> None:
        """How much days differ, drawn by what it makes of their moves."""
        logs = []
        kinds = [(w, k) for w in range(len(WANDER)) for k in range(len(DAY_LUCK))]
        count, days = self.move.shape
        bordered = np.empty((count, days + 1, days + 1))  # its last row becomes what is seen
        bordered[:, -1, :-1] = bordered[:, :-1, -1] = self.move
        bordered[:, -1, -1] = 1e9
        for wander, luck in kinds:
            own = DAY_LUCK[luck] ** 2 * self.scale
            bordered[:, :-1, :-1] = self.priors[wander][None] + own[:, :, None] * np.eye(days)
            root = np.linalg.cholesky(bordered)
            seen = root[:, -1, :-1]
            size = np.log(np.einsum("cii->ci", root)[:, :-1]).sum(axis=1)
            logs.append(-0.5 * np.sum(seen**2, axis=1) - size)
        at = np.argmax(np.array(logs) + self.rng.gumbel(size=(len(kinds), len(self.move))), axis=0)
        self.wander, self.luck = (np.array(kinds)[at, i] for i in range(2))

    def _days(self) -> None:
        """The smooth course, the scale of each day's luck, and then each day's place."""
        luck = np.array(DAY_LUCK)[self.luck][:, None]
        prior = np.array(self.priors)[self.wander]
        own = luck**2 * self.scale
        drawn = np.einsum(
            "cij,cj->ci", np.array(self.roots)[self.wander], self.rng.normal(size=self.move.shape)
        )
        off = self.move - drawn - np.sqrt(own) * self.rng.normal(size=self.move.shape)
        total = prior + own[:, :, None] * np.eye(self.days)
        smooth = drawn + np.einsum(
            "cij,cj->ci", prior, np.linalg.solve(total, off[:, :, None])[:, :, 0]
        )
        left = (self.move - smooth) / luck
        self.scale = 0.5 * (HEAVY + left**2) / self.rng.gamma((HEAVY + 1.0) / 2.0, size=left.shape)
        own = luck**2 * self.scale
        reach = 1.0 / np.sqrt(1.0 / self.reach**2 + 1.0 / own)
        for factor in _DAY_STEPS:
            trial = self.move + factor * reach * self.rng.normal(size=self.move.shape)
            x = self._at(trial)
            value = self._likelihood(self.forms, self.spread, x)
            gain = (value - self.value) @ self.of_day
            gain = gain + 0.5 * ((self.move - smooth) ** 2 - (trial - smooth) ** 2) / own
            taken = self._taken(gain)
            self.move = np.where(taken, trial, self.move)
            of_row = taken[:, self.rows.day]
            self.value = np.where(of_row, value, self.value)
            self.x = np.where(of_row, x, self.x)


def _lapse_prior(lapse: np.ndarray) -> np.ndarray:
    """Log density of a lapse on the log scale: that of the grid, joined up."""
    edges = np.sqrt(LAPSES[1:] * LAPSES[:-1])
    wide = np.diff(np.log(np.r_[_LAPSE_ENDS[0], edges, _LAPSE_ENDS[1]]))
    return np.interp(np.log(lapse), np.log(LAPSES), np.log(LAPSE_PRIOR / wide))
