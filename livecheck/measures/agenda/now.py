"""Where a cell stands on a day, from the days on which it was played.

The *state* is where it breaks on a day like any other; a day's luck lies on top of it. Both are
densities over the logarithm of tempo, carried from day to day (``agenda``, theory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from math import exp, hypot, log

import numpy as np

from ..review.answers import Review
from ..review.course import TAKE_LUCK
from ..review.limits import Limit
from ..review.table import Tries
from ..stats import sigmoid

STEP, BEYOND = 0.006, 0.45
"""The grid of breaks, in log tempo, and how far it goes on beyond the tempos played."""

WIDTHS, LAPSES = (0.014, 0.024, 0.04, 0.06, 0.09), (0.0, 0.05)
"""Forms of the fall: its width in log tempo, and what goes wrong however slow (common practice, no
source)."""

LEARN = {-0.004: 0.15, 0.003: 0.35, 0.009: 0.3, 0.017: 0.2}
FORGET = {0.0: 0.35, 0.012: 0.4, 0.032: 0.25}
WANDER = {0.003: 0.6, 0.012: 0.4}
LUCK = {0.004: 0.3, 0.009: 0.4, 0.016: 0.3}
"""Log tempo a day of practice, for each factor e of days off, in a week, and a day's, and how
likely each is beforehand (common practice, no source)."""

BAD_DAY, BAD_SIZE = 0.1, 3.0
"""Chance of a day unlike the others, and how many times as unlike (common practice, no source)."""

FEWEST_DAYS = 4
"""Days before anything is said of learning and forgetting."""

MOST_DAYS = 40
"""Days played before these are no longer gone through."""

_READ = 0.6
"""Learning and forgetting are told where their spread has shrunk to this part of what it was."""

_UNLIKELY = 1e-3
"""Combinations that the days have made so unlikely against the likeliest are left behind."""

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(5)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True, slots=True)
class Range:
    """A tempo with its 95 % interval, in beats a minute."""

    bpm: float
    low_bpm: float
    high_bpm: float

    @property
    def half(self) -> float:
        """How far the interval reaches to its farther side, in log tempo."""
        return max(log(self.bpm / self.low_bpm), log(self.high_bpm / self.bpm))


@dataclass(frozen=True, slots=True)
class State:
    """A cell on a day.

    own: where it breaks but for that day's luck. today: with the luck of a day on which it was not
    played yet. width: of the fall, in log tempo; luck: a day's (standard deviation). told_today:
    the information about that day's break that was already won on it, 1 / variance. learn: a day of
    practice, forget: for each factor e of days off, in log tempo; None where the player's own days
    do not tell.
    """

    own: Range
    today: Range
    width: float
    luck: float
    told_today: float
    learn: float | None
    forget: float | None


def stands_on(review: Review, tries: Tries, today: int) -> tuple[Limit, Limit, State | None]:
    """Secure and break tempo on a day number, and the state of the break, from a review of tries
    and these. An awkward range that is told is no part of the fall, nor is a string that sounds:
    what that decides stays where it is."""
    last, rest = int(tries.day.max(initial=0)), tries
    if review.awkward is not None:
        low, high = review.awkward.low_bpm, review.awkward.high_bpm
        rest = tries.where((tries.bpm < low) | (tries.bpm > high))
    secure, broken, sounding = review.secure, review.broken, review.sounding
    stays = (False, False)
    if sounding is not None:
        rest, stays = _without(rest, sounding.string), sounding.decides
    state = state_on(rest, max(today, last))
    if state is not None and sounding is not None and sounding.fall_bpm and broken.bpm:
        state = _at_break(state, broken.bpm / sounding.fall_bpm)
    if today > last > 0:
        secure, broken = (
            one if stay else present(one, review.broken, state)
            for one, stay in zip((secure, broken), stays)
        )
    return secure, broken, state


def state_on(tries: Tries, today: int) -> State | None:
    """The state on a day number, from all days up to it; None where no day is known."""
    tries = tries.where((tries.day > 0) & (tries.day <= today) & (tries.n > 0))
    if not len(tries.day):
        return None
    days = np.unique(tries.day)[-MOST_DAYS:]
    following = Following(float(tries.bpm.min()), float(tries.bpm.max()))
    for day in days:
        following.feed(int(day), tries.where(tries.day == day))
    return following.on(today)


def _without(tries: Tries, string: int) -> Tries:
    """The repetitions in which a string stayed silent."""
    silent = replace(tries, n=tries.n - tries.noise[:, string - 1])
    return silent.where(silent.n > 0)


def _at_break(state: State, share: float) -> State:
    """The state of a break that lies at this share of the fall's own."""

    def moved(one: Range) -> Range:
        return Range(one.bpm * share, one.low_bpm * share, one.high_bpm * share)

    return replace(state, own=moved(state.own), today=moved(state.today))


def present(limit: Limit, broken: Limit, state: State | None) -> Limit:
    """A limit of the last day played as it stands on a day on which it was not played.

    broken: the break of that last day. The break becomes the state's with the luck of a day to
    come; what else was found moves as the break does, and is known less well by what the break is.
    """
    if state is None or limit.bpm is None or broken.bpm is None:
        return limit
    now = state.today
    if limit == broken:
        return replace(
            limit, bpm=now.bpm, low_bpm=now.low_bpm, high_bpm=now.high_bpm, gap=None,
            open_low=False, open_high=False,
        )  # fmt: skip
    bpm = limit.bpm * now.bpm / broken.bpm
    had = log((broken.high_bpm or broken.bpm) / (broken.low_bpm or broken.bpm)) / 2.0
    more = max(now.half**2 - had**2, 0.25 * now.half**2) ** 0.5
    below = hypot(log(limit.bpm / (limit.low_bpm or limit.bpm)), more)
    above = hypot(log((limit.high_bpm or limit.bpm) / limit.bpm), more)
    return replace(limit, bpm=bpm, low_bpm=bpm * exp(-below), high_bpm=bpm * exp(above), gap=None)


class Following:
    """The filter: fed with a day after the other, it says the state on any day that follows."""

    def __init__(self, slowest_bpm: float, fastest_bpm: float) -> None:
        """The tempos between which all was played."""
        self.days = 0
        self._grid = np.arange(log(slowest_bpm) - BEYOND, log(fastest_bpm) + BEYOND, STEP)
        self._good, self._bad = _forms(len(self._grid))
        self._frequency = np.fft.rfftfreq(_padded(len(self._grid)), d=STEP)
        self._lucks = np.stack([_day_luck(self._frequency, sd) for sd in LUCK])
        self._kinds = _all_kinds(self._good.shape[1])
        self._state = np.full((len(self._kinds.form), len(self._grid)), 1.0 / len(self._grid))
        self._log_weight = _beforehand(self._kinds)
        self._last = 0
        self._told = 0.0  # about the last day's own break

    def feed(self, day: int, tries: Tries) -> None:
        """All of a day's repetitions; days come in order."""
        state = self._at(day) if self.days else self._state
        seen = self._seen(tries)
        likely = np.exp(seen - seen.max())  # one constant for all: forms are weighed by it
        blurred = np.stack([_convolved(likely, luck) for luck in self._lucks])
        state = state * np.maximum(blurred[self._kinds.luck, self._kinds.form], 1e-300)
        total = state.sum(axis=1)
        log_weight = self._log_weight + np.log(total)
        kept = log_weight > log_weight.max() + log(_UNLIKELY)
        self._kinds, self._log_weight = self._kinds.where(kept), log_weight[kept]
        self._state = state[kept] / total[kept][:, None]
        self._last, self.days = day, self.days + 1
        self._told = _information(likely, self._kinds, self._log_weight, self._grid)

    def on(self, today: int) -> State:
        """The state on the last day that was fed, or on a later one."""
        kinds, grid = self._kinds, self._grid
        state = self._at(today)
        weight = np.exp(self._log_weight - self._log_weight.max())
        weight /= weight.sum()
        ahead = np.zeros(len(grid))
        for at, luck in enumerate(self._lucks):
            mine = kinds.luck == at
            if mine.any():
                ahead += _convolved((weight[mine] @ state[mine])[None, :], luck)[0]
        return State(
            own=_range(grid, weight @ state),
            today=_range(grid, ahead),
            width=float(weight @ np.repeat(WIDTHS, len(LAPSES))[kinds.form]),
            luck=float((weight @ np.array(list(LUCK))[kinds.luck] ** 2) ** 0.5)
            * (1.0 + BAD_DAY * (BAD_SIZE**2 - 1.0)) ** 0.5,
            told_today=self._told if today == self._last else 0.0,
            learn=_read(kinds.learn, weight, LEARN, self.days),
            forget=_read(kinds.forget, weight, FORGET, self.days),
        )

    def _at(self, day: int) -> np.ndarray:
        """The states on a later day: moved, and known less well."""
        gap = float(day - self._last)
        if gap <= 0.0:
            return self._state
        kinds = self._kinds
        moves, at = np.unique(
            np.stack([kinds.learn - kinds.forget * log(max(gap, 1.0)), kinds.wander]),
            axis=1,
            return_inverse=True,
        )
        shift, sd = moves[0], moves[1] * (gap / 7.0) ** 0.5
        turn = np.exp(-2j * np.pi * self._frequency[None, :] * shift[:, None])
        moved = turn * _normal(self._frequency[None, :], sd[:, None])
        return _convolved(self._state, moved[at.ravel()])

    def _seen(self, tries: Tries) -> np.ndarray:
        """(forms, grid) log likelihood of where the day's break lay."""
        size = len(self._grid)
        places = np.round((np.log(tries.bpm) - self._grid[0]) / STEP).astype(int)
        found = np.zeros((self._good.shape[1], size))
        for take in np.unique(tries.take):
            rows = np.nonzero(tries.take == take)[0]
            likely = np.zeros((len(_NODES), *found.shape))
            for place in np.unique(places[rows]):  # those of a take at one tempo count together
                here = rows[places[rows] == place]
                clean, of = float(tries.clean[here].sum()), float(tries.n[here].sum())
                part = slice(size - place, 2 * size - place)
                likely += clean * self._good[:, :, part] + (of - clean) * self._bad[:, :, part]
            top = likely.max(axis=0)
            found += np.log(np.tensordot(_WEIGHTS, np.exp(likely - top), 1)) + top
        return found


def _forms(size: int) -> tuple[np.ndarray, np.ndarray]:
    """(nodes of a take's luck, forms, 2 size) log chances of a clean repetition and of another, by
    the break's distance above its tempo."""
    forms = np.array(list(product(WIDTHS, LAPSES)))
    width, lapse = forms[:, :1], forms[:, 1:]
    apart = (np.arange(2 * size) - size) * STEP
    inner = 0.5 / (1.0 - lapse)
    z = apart[None, :] / width + np.log(inner / (1.0 - inner))
    chance = (1.0 - lapse)[:, :, None] * sigmoid(z[:, :, None] + TAKE_LUCK * _NODES)
    chance = np.moveaxis(np.clip(chance, 1e-4, 1.0 - 1e-4), 2, 0)
    return np.log(chance), np.log1p(-chance)


@dataclass(frozen=True, slots=True)
class _Kinds:
    """Combinations of form (index), learning, forgetting, wandering and luck (index)."""

    form: np.ndarray
    learn: np.ndarray
    forget: np.ndarray
    wander: np.ndarray
    luck: np.ndarray

    def where(self, kept: np.ndarray) -> _Kinds:
        return _Kinds(*(getattr(self, name)[kept] for name in self.__slots__))


def _all_kinds(forms: int) -> _Kinds:
    every = product(range(forms), LEARN, FORGET, WANDER, range(len(LUCK)))
    return _Kinds(*map(np.array, zip(*every)))


def _beforehand(kinds: _Kinds) -> np.ndarray:
    """The log of how likely each combination is before anything was played."""
    lucks = np.array(list(LUCK.values()))[kinds.luck]
    sizes = ((kinds.learn, LEARN), (kinds.forget, FORGET), (kinds.wander, WANDER))
    return np.log(lucks) + sum(
        np.log([likely[float(size)] for size in sizes]) for sizes, likely in sizes
    )


def _information(
    likely: np.ndarray, kinds: _Kinds, log_weight: np.ndarray, grid: np.ndarray
) -> float:
    """What a day's own repetitions say of that day's break: 1 / variance, of the likeliest form."""
    own = likely[kinds.form[log_weight.argmax()]]
    own = own / own.sum()
    mean = float(own @ grid)
    return 1.0 / max(float(own @ (grid - mean) ** 2), STEP**2)


def _range(grid: np.ndarray, density: np.ndarray) -> Range:
    """Median and middle 95 %."""
    upto = np.cumsum(density) / density.sum()
    low, middle, high = np.interp([0.025, 0.5, 0.975], upto, grid + STEP / 2.0)
    return Range(exp(middle), exp(low), exp(high))


def _read(
    values: np.ndarray, weight: np.ndarray, before: dict[float, float], days: int
) -> float | None:
    """The mean of a size, where the player's own days say more of it than was known before."""
    mean = float(weight @ values)
    spread = float(np.sqrt(weight @ (values - mean) ** 2))
    sizes, likely = np.array(list(before)), np.array(list(before.values()))
    had = float(np.sqrt(likely @ (sizes - likely @ sizes) ** 2))
    return mean if days >= FEWEST_DAYS and spread < _READ * had else None


def _day_luck(frequency: np.ndarray, sd: float) -> np.ndarray:
    """A day's luck, bad days with it, as it multiplies in frequency."""
    return np.asarray(
        (1.0 - BAD_DAY) * _normal(frequency, sd) + BAD_DAY * _normal(frequency, BAD_SIZE * sd)
    )


def _normal(frequency: np.ndarray, sd: np.ndarray | float) -> np.ndarray:
    """A normal density as it multiplies in frequency."""
    return np.asarray(np.exp(-2.0 * (np.pi * frequency * sd) ** 2))


def _padded(size: int) -> int:
    """Room for a grid, so that nothing comes round: a length that is quick to transform."""
    return -(-3 * size // 128) * 64


def _convolved(rows: np.ndarray, kernel: np.ndarray) -> np.ndarray:
    size = rows.shape[1]
    length = _padded(size)
    wide = np.fft.rfft(rows, n=length, axis=1) * kernel
    return np.maximum(np.fft.irfft(wide, n=length, axis=1)[:, :size], 0.0)
