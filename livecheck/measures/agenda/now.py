"""Where a cell stands on a day, carried there from the days on which it was played."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from math import exp, hypot, log

import numpy as np

from ..review.course import Course
from ..review.curve import fit_curve
from ..review.draws import sigmoid
from ..review.limits import Limit
from ..review.rungs import rungs
from ..review.table import Tries
from ..stats import Z95

STEP, REACH = 0.002, 0.5
"""The grid of moves, in log tempo: finer than any day is known, wider than any player moves."""

LEARN = (-0.004, 0.0, 0.004, 0.009, 0.018)
FORGET = (0.0, 0.008, 0.02, 0.04)
WANDER = (0.004, 0.015)
LUCK = (0.004, 0.009, 0.017)
"""Log tempo a day of practice, for each factor e of days off, in a week, and a day's (common
practice, no source). All combinations are weighed alike beforehand."""

BAD_DAY, BAD_SIZE = 0.1, 3.0
"""Chance of a day unlike the others, and how many times as unlike (common practice, no source)."""

TAKE_LUCK = 0.45
"""As in ``review.course``: how much takes differ, in log odds."""

FEWEST_DAYS = 4
"""Days before anything is said of learning and forgetting."""

_LEAST_SD = 1.3 * STEP
"""Narrower densities cannot stand on the grid."""

_READ = 0.6
"""Learning and forgetting are told where their spread has shrunk to this part of what it was."""

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(5)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True, slots=True)
class Move:
    """How a cell has moved since it was last played, in log tempo: mean, and spread (as a standard
    deviation of its middle 95 %).

    learn: a day of practice; forget: for each factor e of days off; None where the player's own
    days do not tell.
    """

    mean: float
    sd: float
    learn: float | None
    forget: float | None


def move_since(tries: Tries, course: Course | None, today: int) -> Move:
    """What the days between the last one played and ``today`` (a day number) may have changed.

    A day on which it was played needs no carrying: nothing has changed then.
    """
    last = int(tries.day.max()) if len(tries.day) else 0
    if last <= 0 or today <= last:
        return Move(0.0, 0.0, None, None)
    names, at = np.unique(tries.day, return_inverse=True)
    bpm = tries.bpm if course is None else course.in_frame(tries)
    seen = _seen(tries, bpm, at, len(names))
    if seen is None:  # no day says where it breaks: only what is likely beforehand
        seen, names = np.zeros((1, _grid().size)), names[-1:]
    by_day = np.zeros(1) if course is None else np.log1p(course.move / course.usual_bpm)
    start = float(by_day[0])
    moves = np.zeros(len(names)) if course is None else by_day[course.of_row[_first(at)]]
    return _carried(seen, names, moves, start, today)


def present(limit: Limit, move: Move, loose: float = 0.0) -> Limit:
    """A limit of the last day as it stands after the move. loose: what its interval holds of the
    doubt about that day already, in log tempo."""
    if limit.bpm is None or (move.mean == 0.0 and move.sd == 0.0):
        return limit
    low, high = (limit.low_bpm or limit.bpm), (limit.high_bpm or limit.bpm)
    more = max(move.sd**2 - loose**2, 0.25 * move.sd**2) ** 0.5
    below = hypot(log(limit.bpm / low), Z95 * more)
    above = hypot(log(high / limit.bpm), Z95 * more)
    bpm = limit.bpm * exp(move.mean)
    return replace(limit, bpm=bpm, low_bpm=bpm * exp(-below), high_bpm=bpm * exp(above), gap=None)


def loose_of(course: Course | None) -> float:
    """What a limit's interval holds of the doubt about the last day already, in log tempo."""
    return 0.0 if course is None else course.loose / course.usual_bpm


def _grid() -> np.ndarray:
    return np.arange(-REACH, REACH + STEP / 2, STEP)


def _first(at: np.ndarray) -> np.ndarray:
    return np.unique(at, return_index=True)[1]


def _seen(tries: Tries, bpm: np.ndarray, at: np.ndarray, days: int) -> np.ndarray | None:
    """(days, grid) log likelihood of each day's own move against the common frame; None where one
    fall cannot be fitted."""
    x = np.log(bpm)
    steps = rungs(bpm, tries.n, most=40, near=0.012)
    if len(steps.bpm) < 2:
        return None
    of, hits = steps.sums(tries.n), steps.sums(tries.clean)
    curve, _ = fit_curve(np.log(steps.bpm), hits, of, floor=0.0, most_lapse=0.3)
    width = float(np.clip(curve.width, 0.012, 0.1))
    middle = float(np.clip(curve.middle, x.min() - 0.3, x.max() + 0.3))
    grid = _grid()
    chance = np.clip(
        (1.0 - curve.lapse)
        * sigmoid(
            (middle + grid[None, :, None] - x[:, None, None]) / width
            + TAKE_LUCK * _NODES[None, None, :]
        ),
        1e-4,
        1.0 - 1e-4,
    )
    rows = tries.clean[:, None, None] * np.log(chance)
    rows = rows + (tries.n - tries.clean)[:, None, None] * np.log1p(-chance)
    # a take's luck is one for all its rows, so these are put together before the luck is averaged
    takes, take = np.unique(np.stack([at, tries.take]), axis=1, return_inverse=True)
    by_take = np.zeros((takes.shape[1], *rows.shape[1:]))
    np.add.at(by_take, take.ravel(), rows)
    top = by_take.max(axis=2, keepdims=True)
    of_take = np.log(np.exp(by_take - top) @ _WEIGHTS) + top[:, :, 0]
    found = np.zeros((days, grid.size))
    np.add.at(found, takes[0], of_take)
    return found - found.max(axis=1, keepdims=True)


def _carried(
    seen: np.ndarray, names: np.ndarray, moves: np.ndarray, start: float, today: int
) -> Move:
    """The filter over all days for every combination of sizes at once.

    seen: each day's own likelihood in the frame in which the course has taken its move off;
    ``moves`` puts it back, so that the grid is against the last day's place.
    """
    grid = _grid()
    kinds = np.array(list(product(LEARN, FORGET, WANDER, LUCK)))
    learn, forget, wander, luck = kinds.T
    frequency = np.fft.rfftfreq(4 * grid.size, d=STEP)
    spread = _normal(frequency, luck) * (1.0 - BAD_DAY) + BAD_DAY * _normal(
        frequency, BAD_SIZE * luck
    )
    state = np.exp(-0.5 * ((grid - start) / 0.15) ** 2)
    state = np.repeat(state[None, :] / state.sum(), len(kinds), axis=0)
    evidence = np.zeros(len(kinds))
    filtered = state
    for at, day in enumerate(names):
        if at:
            gap = float(day - names[at - 1])
            state = _pushed(filtered, learn - forget * log(max(gap, 1.0)), wander, gap, frequency)
        shifted = np.interp(grid - moves[at], grid, seen[at])
        told = np.exp(shifted - shifted.max())
        emitted = np.maximum(_convolved(np.repeat(told[None, :], len(kinds), 0), spread), 1e-12)
        filtered = state * emitted
        total = filtered.sum(axis=1)
        evidence += np.log(total)
        filtered = filtered / total[:, None]
    gap = float(today - names[-1])
    shift = learn - forget * log(max(gap, 1.0))
    ahead = _convolved(_pushed(filtered, shift, wander, gap, frequency), spread)
    weight = np.exp(evidence - evidence.max())
    weight /= weight.sum()
    ahead = np.maximum(weight @ ahead, 0.0)
    ahead /= ahead.sum()
    mean = float(ahead @ grid)
    low, high = np.interp([0.025, 0.975], np.cumsum(ahead), grid)
    sd = float(high - low) / (2.0 * Z95)  # of the middle, since a bad day's tail is long
    told = [_read(column, weight, len(names)) for column in (learn, forget)]
    return Move(mean, sd, *told)


def _read(values: np.ndarray, weight: np.ndarray, days: int) -> float | None:
    """The mean of a size, where the player's own days say more of it than was known before."""
    mean = float(weight @ values)
    spread = float(np.sqrt(weight @ (values - mean) ** 2))
    return mean if days >= FEWEST_DAYS and spread < _READ * float(values.std()) else None


def _pushed(
    state: np.ndarray, shift: np.ndarray, wander: np.ndarray, gap: float, frequency: np.ndarray
) -> np.ndarray:
    """The state some days later: moved, and known less well."""
    turn = np.exp(-2j * np.pi * frequency[None, :] * shift[:, None])
    return _convolved(state, _normal(frequency, wander * (gap / 7.0) ** 0.5) * turn)


def _normal(frequency: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """A normal density as it multiplies in frequency: (kinds, frequencies)."""
    wide = np.maximum(sd, _LEAST_SD)
    return np.exp(-2.0 * (np.pi * frequency[None, :] * wide[:, None]) ** 2)


def _convolved(state: np.ndarray, kernel: np.ndarray) -> np.ndarray:
    size = state.shape[1]
    wide = np.fft.rfft(state, n=4 * size, axis=1) * kernel
    return np.maximum(np.fft.irfft(wide, n=4 * size, axis=1)[:, :size], 0.0)
