"""Two ways of playing at equal tempo.

The clean share of one group minus the other's is taken tempo by tempo, where both were tried, and
put together with the weights of Mantel and Haenszel. Intervals count takes: how far each lies off
its own group's curve is its luck. The part of the ladder in which they differ most is looked for as
well; its interval allows for having looked everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..stats import Z95, student_t
from .curve import fit_curve
from .draws import seeded
from .rungs import Rungs, rungs
from .table import Tries

FEWEST_TRIES, FEWEST_TAKES = 8, 4
"""Repetitions that each group needs to be compared at all, and takes in a part of the ladder that
is told by itself; in groups of fewer takes each has its luck at each tempo (common practice, no
source)."""

LEAST_SHARED = 0.4
"""Where less than this share of either group's repetitions has its like in the other, that is
told."""

_DRAWS = 1000


@dataclass(frozen=True, slots=True)
class Difference:
    """Clean share of the first minus the second, in points of a hundred, between two tempos."""

    from_bpm: float
    to_bpm: float
    points: float
    low: float
    high: float
    reps: tuple[int, int]
    clean: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Comparison:
    """``overall``: over every tempo that both tried. ``clearest``: the part where they surely
    differ, None where no part surely does. ``by_tempo``: tempo, clean and tries of the first, clean
    and tries of the second. ``reps``: all repetitions of both, those at tempos that the other did
    not try as well.
    """

    overall: Difference
    clearest: Difference | None
    by_tempo: tuple[tuple[float, int, int, int, int], ...]
    reps: tuple[int, int] = (0, 0)


def compare(first: Tries, second: Tries) -> Comparison | None:
    """The difference at equal tempo; None where the groups share no tempo, or too few
    repetitions."""
    every = rungs(np.concatenate([first.bpm, second.bpm]), np.concatenate([first.n, second.n]))
    parts = [
        Rungs(every.of_row[: len(first.bpm)], every.bpm),
        Rungs(every.of_row[len(first.bpm) :], every.bpm),
    ]
    n = [part.sums(group.n) for part, group in zip(parts, (first, second))]
    k = [part.sums(group.clean) for part, group in zip(parts, (first, second))]
    both = (n[0] > 0) & (n[1] > 0)
    if not both.any():
        return None
    units = [_units(group, part) for group, part in zip((first, second), parts)]
    zones = _zones(n[0] * both, n[1] * both, [part.of_row for part in parts], units)
    if not zones:
        return None
    masks = np.zeros((len(zones), len(every.bpm)))
    for row, (low, high) in enumerate(zones):
        masks[row, low : high + 1] = both[low : high + 1]
    weight = n[0] * n[1] / np.maximum(n[0] + n[1], 1.0)
    share = masks * weight / np.maximum(masks @ weight, 1e-12)[:, None]  # of each rung in each zone
    seen = share @ (k[0] / np.maximum(n[0], 1.0) - k[1] / np.maximum(n[1], 1.0))
    luck = [
        _luck(group, part, unit, every.bpm, share)
        for group, part, unit in zip((first, second), parts, units)
    ]
    squares = [
        np.sum(one.own**2, axis=0) * one.takes / np.maximum(one.takes - one.spent, 1.0)
        for one in luck
    ]
    least = _binomial_variance(k, n, share)
    # luck in all tempos, times mere chance
    alike = max(float(squares[0][0] + squares[1][0]) / float(least[0]), 1.0)
    error = np.sqrt(np.maximum(squares[0] + squares[1], alike * least))
    free = [np.maximum(one.takes - one.spent, 1.0) for one in luck]
    degrees = (squares[0] + squares[1] + 1e-12) ** 2 / sum(
        of**2 / on + 1e-24 for of, on in zip(squares, free)
    )
    error *= student_t(np.maximum(degrees, 2.0)) / Z95

    def told(zone: int, reach: float) -> Difference:
        rows = np.flatnonzero(masks[zone])
        low, high = float(seen[zone]) - reach, float(seen[zone]) + reach
        return Difference(
            float(every.bpm[rows[0]]), float(every.bpm[rows[-1]]),
            100.0 * float(seen[zone]), 100.0 * max(low, -1.0), 100.0 * min(high, 1.0),
            (int(n[0][rows].sum()), int(n[1][rows].sum())),
            (int(k[0][rows].sum()), int(k[1][rows].sum())),
        )  # fmt: skip

    overall = told(0, Z95 * float(error[0]))
    reach = error * _farthest(luck, seeded(first.bpm, first.clean, second.bpm, second.clean))
    surely = np.abs(seen) - reach
    if abs(seen[0]) > Z95 * error[0]:  # asked first, and so by itself
        reach[0] = Z95 * error[0]
        surely[0] = abs(seen[0]) - reach[0]
    best = int(surely.argmax())
    clearest = told(best, float(reach[best])) if surely[best] > 0 else None
    by_tempo = tuple(
        (float(bpm), int(k[0][i]), int(n[0][i]), int(k[1][i]), int(n[1][i]))
        for i, bpm in enumerate(every.bpm)
        if both[i]
    )
    return Comparison(overall, clearest, by_tempo, (first.reps, second.reps))


def _units(group: Tries, part: Rungs) -> np.ndarray:
    """What has its own luck, per row: the take, or with few takes its part at one tempo."""
    if group.takes >= FEWEST_TAKES:
        return group.take
    return np.unique(np.stack([group.take, part.of_row]), axis=1, return_inverse=True)[1].ravel()


def _zones(
    n_a: np.ndarray, n_b: np.ndarray, of_row: list[np.ndarray], units: list[np.ndarray]
) -> list[tuple[int, int]]:
    """The whole ladder, then from each rung up, and up to each rung, where both groups have enough
    tries and takes."""
    last = len(n_a) - 1
    if n_a.sum() < FEWEST_TRIES or n_b.sum() < FEWEST_TRIES:
        return []

    def enough(low: int, high: int) -> bool:
        if min(n_a[low : high + 1].sum(), n_b[low : high + 1].sum()) < FEWEST_TRIES:
            return False
        inside = [unit[(row >= low) & (row <= high)] for unit, row in zip(units, of_row)]
        return min(len(np.unique(unit)) for unit in inside) >= FEWEST_TAKES

    parts = [(i, last) for i in range(1, last + 1)] + [(0, i) for i in range(last)]
    return [(0, last)] + [part for part in parts if enough(*part)]


def _binomial_variance(k: list[np.ndarray], n: list[np.ndarray], share: np.ndarray) -> np.ndarray:
    """Variance of each zone's difference if repetitions were independent, shares drawn in a little:
    takes cannot be more alike than chance lets them.
    """
    spread = np.zeros(share.shape[1])
    for hits, of in zip(k, n):
        p = (hits + 1.0) / (of + 2.0)
        spread += p * (1.0 - p) / np.maximum(of, 1.0)
    return share**2 @ spread


@dataclass(frozen=True, slots=True)
class _Luck:
    """What each take's luck, its distance from its group's own curve, adds to the difference in
    each zone (takes, zones); and as many takes of equal weight as there are in each zone.
    ``spent``: how many takes' luck the curve took up: four where each has one tempo, little more
    than one (their common level) where each goes through all.
    """

    own: np.ndarray
    takes: np.ndarray
    spent: float


def _luck(group: Tries, part: Rungs, unit: np.ndarray, bpm: np.ndarray, share: np.ndarray) -> _Luck:
    n, k = part.sums(group.n), part.sums(group.clean)
    tried = n > 0
    if tried.sum() > 1:
        chance = fit_curve(bpm[tried], k[tried], n[tried])[0].chance(bpm)
    else:
        chance = np.full(len(bpm), k.sum() / n.sum())
    of_row = np.unique(unit, return_inverse=True)[1]
    # what one repetition of a row counts (zones, rows)
    each = (share / np.maximum(n, 1.0))[:, part.of_row]
    own, heavy = (
        np.stack([np.bincount(of_row, row) for row in each * column])
        for column in (group.clean - group.n * chance[part.of_row], group.n)
    )
    takes = heavy.sum(axis=1) ** 2 / np.maximum(np.sum(heavy**2, axis=1), 1e-12)
    pairs = len(np.unique(of_row * len(bpm) + part.of_row))
    return _Luck(own.T, takes, 1.0 + 3.0 * (int(of_row.max()) + 1) / pairs)


def _farthest(luck: list[_Luck], rng: np.random.Generator) -> float:
    """How many errors the farthest of all zones lies off by luck, in 99 of 100 times: luck is given
    other signs."""
    error = np.sqrt(sum(np.sum(one.own**2, axis=0) for one in luck))
    drawn = sum(rng.normal(size=(_DRAWS, len(one.own))) @ one.own for one in luck)
    told = error > 0.0
    if not told.any():
        return Z95
    return max(float(np.quantile(np.max(np.abs(drawn[:, told]) / error[told], axis=1), 0.99)), Z95)


def verdict(comparison: Comparison, first: str, second: str) -> str:
    """The comparison in a plain sentence.

    >>> between = Difference(140.0, 180.0, 22.4, 9.0, 35.2, (60, 70), (40, 30))
    >>> print(verdict(Comparison(between, between, ()), "hammered", "picked").replace(": ", ":\\n"))
    hammered is cleaner than picked at every tempo that both tried, 140 to 180 bpm:
    +22 points, 9 to 35.
    """
    return " ".join(filter(None, (_verdict(comparison, first, second), _overlap(comparison))))


def _overlap(comparison: Comparison) -> str:
    """A warning where most of what was played has nothing to be compared with."""
    counted, played = comparison.overall.reps, comparison.reps
    if all(count >= LEAST_SHARED * of for count, of in zip(counted, played)):
        return ""
    return (
        f"Their tempos barely overlap: {counted[0]} of {played[0]} and {counted[1]} of "
        f"{played[1]} repetitions "
        "were at tempos that both tried."
    )


def _verdict(comparison: Comparison, first: str, second: str) -> str:
    clear, whole = comparison.clearest, comparison.overall
    span = _span(whole)
    if clear is None:
        told = f"{_points(whole.points)}, {round(whole.low)} to {round(whole.high)}"
        return f"No clear difference between {first} and {second} at {span}: {told}."
    better, other, sign = (first, second, 1) if clear.points > 0 else (second, first, -1)
    if (clear.from_bpm, clear.to_bpm) == (whole.from_bpm, whole.to_bpm):
        where = f"at every tempo that both tried, {span}" if " to " in span else f"at {span}"
    elif clear.to_bpm == whole.to_bpm:
        where = f"from {clear.from_bpm:.0f} bpm up"
    else:
        where = f"up to {clear.to_bpm:.0f} bpm"
    low, high = sorted((sign * clear.low, sign * clear.high))
    return (
        f"{better} is cleaner than {other} {where}: {_points(sign * clear.points)}, "
        f"{round(low)} to {round(high)}."
    )


def _span(difference: Difference) -> str:
    low, high = f"{difference.from_bpm:.0f}", f"{difference.to_bpm:.0f}"
    return f"{low} to {high} bpm" if low != high else f"{low} bpm, the only tempo that both tried"


def _points(value: float) -> str:
    """
    >>> _points(22.4), _points(-0.3), _points(1.2)
    ('+22 points', '+0 points', '+1 point')
    """
    return f"{round(value):+d} point" + ("s" if abs(round(value)) != 1 else "")
