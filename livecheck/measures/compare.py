"""Two ways of playing at equal tempo.

The clean share of one group minus the other's is taken tempo by tempo, where both were tried, and put together with the
weights of Mantel and Haenszel. Intervals come from drawing whole takes of both groups again. The part of the ladder in
which they differ most is looked for as well; its interval allows for having looked everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .resample import expanded_tails, seeded, take_weights
from .tries import Rungs, Tries, rungs

FEWEST_TRIES, FEWEST_TAKES = 8, 4
"""Repetitions that each group needs to be compared at all, and takes in a part of the ladder that is told by itself;
groups of fewer takes are drawn again by take and tempo (common practice, no source)."""

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
    """``overall``: over every tempo that both tried. ``clearest``: the part where they surely differ, None where no
    part surely does. ``by_tempo``: tempo, clean and tries of the first, clean and tries of the second.
    """

    overall: Difference
    clearest: Difference | None
    by_tempo: tuple[tuple[float, int, int, int, int], ...]


def compare(first: Tries, second: Tries) -> Comparison | None:
    """The difference at equal tempo; None where the groups share no tempo, or too few repetitions."""
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
    rng = seeded(first.bpm, first.clean, second.bpm, second.clean)
    drawn = [_drawn(group, part, unit, rng) for group, part, unit in zip((first, second), parts, units)]
    masks = np.zeros((len(zones), len(every.bpm)))
    for row, (low, high) in enumerate(zones):
        masks[row, low : high + 1] = both[low : high + 1]
    seen = _differences(k[0][None, :], n[0][None, :], k[1][None, :], n[1][None, :], masks)[0]
    again = _differences(drawn[0][0], drawn[0][1], drawn[1][0], drawn[1][1], masks)
    again = np.where(np.isnan(again), seen, again)
    takes = min(len(np.unique(unit)) for unit in units)

    def told(zone: int, low: float, high: float) -> Difference:
        rows = np.flatnonzero(masks[zone])
        return Difference(
            float(every.bpm[rows[0]]), float(every.bpm[rows[-1]]),
            100.0 * float(seen[zone]), 100.0 * max(low, -1.0), 100.0 * min(high, 1.0),
            (int(n[0][rows].sum()), int(n[1][rows].sum())), (int(k[0][rows].sum()), int(k[1][rows].sum())),
        )  # fmt: skip

    tails = expanded_tails(takes)
    least = _binomial_error(k, n, masks)  # takes cannot be more alike than chance lets them
    low, high = np.quantile(again[:, 0], tails)
    reach_0 = 1.96 * least[0]
    overall = told(0, min(float(low), float(seen[0] - reach_0)), max(float(high), float(seen[0] + reach_0)))
    error = np.maximum(again.std(axis=0), least)
    farthest = np.max(np.abs(again - seen) / error, axis=1)
    reach = max(float(np.quantile(farthest, tails[1] - tails[0])), 2.0) * error
    surely = np.abs(seen) - reach
    best = int(surely.argmax())
    clearest = (
        told(best, float(seen[best] - reach[best]), float(seen[best] + reach[best])) if surely[best] > 0 else None
    )
    by_tempo = tuple(
        (float(bpm), int(k[0][i]), int(n[0][i]), int(k[1][i]), int(n[1][i]))
        for i, bpm in enumerate(every.bpm)
        if both[i]
    )
    return Comparison(overall, clearest, by_tempo)


def _units(group: Tries, part: Rungs) -> np.ndarray:
    """What is drawn again, per row: the take, or with few takes its part at one tempo."""
    if group.takes >= FEWEST_TAKES:
        return group.take
    return np.unique(np.stack([group.take, part.of_row]), axis=1, return_inverse=True)[1].ravel()


def _zones(
    n_a: np.ndarray, n_b: np.ndarray, of_row: list[np.ndarray], units: list[np.ndarray]
) -> list[tuple[int, int]]:
    """The whole ladder, then from each rung up, and up to each rung, where both groups have enough tries and takes."""
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


def _binomial_error(k: list[np.ndarray], n: list[np.ndarray], masks: np.ndarray) -> np.ndarray:
    """Standard error of each zone's difference if repetitions were independent, shares drawn in a little."""
    weight = n[0] * n[1] / np.maximum(n[0] + n[1], 1.0)
    spread = np.zeros(len(weight))
    for hits, of in zip(k, n):
        p = (hits + 1.0) / (of + 2.0)
        spread += p * (1.0 - p) / np.maximum(of, 1.0)
    return np.sqrt((weight**2 * spread) @ masks.T) / np.maximum(weight @ masks.T, 1e-12)


def _drawn(group: Tries, part: Rungs, unit: np.ndarray, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Clean and tries by rung for each draw of the group's takes."""
    weights = take_weights(unit, rng, _DRAWS)
    member = np.zeros((len(group.bpm), len(part.bpm)))
    member[np.arange(len(group.bpm)), part.of_row] = 1.0
    return (weights * group.clean) @ member, (weights * group.n) @ member


def _differences(k_a: np.ndarray, n_a: np.ndarray, k_b: np.ndarray, n_b: np.ndarray, masks: np.ndarray) -> np.ndarray:
    """(draws, zones): the weighted mean over the zone's rungs of share a minus share b; nan where nothing is left."""
    weight = n_a * n_b / np.maximum(n_a + n_b, 1.0)
    apart = k_a / np.maximum(n_a, 1.0) - k_b / np.maximum(n_b, 1.0)
    heavy = weight @ masks.T
    return np.where(heavy > 0, (weight * apart) @ masks.T / np.maximum(heavy, 1e-12), np.nan)


def verdict(comparison: Comparison, first: str, second: str) -> str:
    """The comparison in a plain sentence.

    >>> between = Difference(140.0, 180.0, 22.4, 9.0, 35.2, (60, 70), (40, 30))
    >>> verdict(Comparison(between, between, ()), "hammered", "picked")
    'hammered is cleaner than picked at every tempo that both tried, 140 to 180: +22 points, 9 to 35.'
    """
    clear, whole = comparison.clearest, comparison.overall
    if clear is None:
        return (
            f"No clear difference between {first} and {second} at {whole.from_bpm:.0f} to {whole.to_bpm:.0f}: "
            f"{whole.points:+.0f} points, {whole.low:.0f} to {whole.high:.0f}."
        )
    better, other, sign = (first, second, 1.0) if clear.points > 0 else (second, first, -1.0)
    if (clear.from_bpm, clear.to_bpm) == (whole.from_bpm, whole.to_bpm):
        where = f"at every tempo that both tried, {clear.from_bpm:.0f} to {clear.to_bpm:.0f}"
    elif clear.to_bpm == whole.to_bpm:
        where = f"from {clear.from_bpm:.0f} up"
    else:
        where = f"up to {clear.to_bpm:.0f}"
    ends = sorted((sign * clear.low, sign * clear.high))
    return (
        f"{better} is cleaner than {other} {where}: {sign * clear.points:+.0f} points, {ends[0]:.0f} to {ends[1]:.0f}."
    )
