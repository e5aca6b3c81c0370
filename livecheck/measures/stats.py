"""Shares, ranks and order: the small statistics with textbook answers.

Everything here is a function of plain numbers and knows nothing of playing. Check values for all of
them stand in tests/measures/test_stats.py with their sources.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

Numbers = Sequence[float] | np.ndarray

Z95 = 1.959963984540054
"""The normal deviate that leaves 2.5 % on either side."""


def normal_cdf(z: float) -> float:
    """Chance that a standard normal deviate is at most z."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


# ------------------------------------------------------------------------------------------- shares


def wilson(hits: float, of: float, z: float = Z95) -> tuple[float, float] | None:
    """Wilson's score interval of a share, without continuity correction; None of none.

    Source: E. B. Wilson 1927, as tabled in R. G. Newcombe, Statistics in Medicine 17 (1998)
    857-872.

    >>> [round(end, 4) for end in wilson(5, 5)]
    [0.5655, 1.0]
    """
    if of <= 0:
        return None
    share, spread = hits / of, z * z / of
    middle = share + spread / 2.0
    half = z * math.sqrt(share * (1.0 - share) / of + spread / (4.0 * of))
    return max(0.0, (middle - half) / (1.0 + spread)), min(1.0, (middle + half) / (1.0 + spread))


def newcombe(hits_a: float, of_a: float, hits_b: float, of_b: float) -> tuple[float, float] | None:
    """95 % interval of the share of a minus the share of b by the hybrid score method; None where
    one is empty.

    Source: R. G. Newcombe, Statistics in Medicine 17 (1998) 873-890, method 10.
    """
    a, b = wilson(hits_a, of_a), wilson(hits_b, of_b)
    if a is None or b is None:
        return None
    share_a, share_b = hits_a / of_a, hits_b / of_b
    down = math.hypot(share_a - a[0], b[1] - share_b)
    up = math.hypot(a[1] - share_a, share_b - b[0])
    return share_a - share_b - down, share_a - share_b + up


# -------------------------------------------------------------------------------------------- order


def isotonic(y: Numbers, weights: Numbers | None = None, rising: bool = True) -> np.ndarray:
    """The best rising (or falling) sequence through y in weighted least squares, by pooling
    adjacent violators.

    Source: the algorithm of Ayer and others 1955; check values S-06 to S-11 of the sources page.

    >>> isotonic([1, 3, 2]).tolist()
    [1.0, 2.5, 2.5]
    """
    sign = 1.0 if rising else -1.0
    blocks: list[list[float]] = []  # [mean, weight, count]
    for value, weight in zip(y, weights if weights is not None else [1.0] * len(y)):
        blocks.append([sign * float(value), float(weight), 1])
        while len(blocks) > 1 and blocks[-2][0] >= blocks[-1][0]:
            mean, heavy, count = blocks.pop()
            before = blocks[-1]
            both = before[1] + heavy
            before[0] = (before[0] * before[1] + mean * heavy) / both if both else before[0]
            before[1], before[2] = both, before[2] + count
    return np.array([sign * mean for mean, _, count in blocks for _ in range(int(count))])


# -------------------------------------------------------------------------------------------- ranks


@dataclass(frozen=True, slots=True)
class Kendall:
    """How far two orders agree; ``p`` is two-sided: exact for few values without ties, else a
    normal approximation."""

    s: int  # agreeing minus disagreeing pairs
    tau: float  # tau-b
    p: float


def kendall(x: Numbers, y: Numbers) -> Kendall | None:
    """Kendall's rank correlation; with x = time it is the Mann-Kendall trend test. None below three
    values or all tied.

    The normal approximation corrects for ties and for continuity (Helsel and Hirsch, chapter 8).
    """
    a, b = np.asarray(x, float), np.asarray(y, float)
    n = len(a)
    if n < 3:
        return None
    upper = np.triu_indices(n, 1)
    sign_a = np.sign(a[:, None] - a[None, :])[upper]
    sign_b = np.sign(b[:, None] - b[None, :])[upper]
    s = int(np.sum(sign_a * sign_b))
    loose_a, loose_b = int(np.sum(sign_a != 0)), int(np.sum(sign_b != 0))
    if not loose_a or not loose_b:
        return None
    ties = loose_a < len(sign_a) or loose_b < len(sign_b)
    if not ties and n <= 60:
        p = _exact_kendall_p(n, s)
    else:
        z = (abs(s) - 1) / math.sqrt(kendall_variance(a, b)) if s else 0.0
        p = 2.0 * normal_cdf(-z)
    return Kendall(s, s / math.sqrt(loose_a * loose_b), min(1.0, p))


def kendall_variance(x: Numbers, y: Numbers) -> float:
    """Variance of Kendall's S when the orders have nothing to do with each other, ties allowed
    for."""
    n = len(x)

    def tied(values: Numbers, power: str) -> float:
        counts = np.unique(np.asarray(values, float), return_counts=True)[1].astype(float)
        terms = {"v": counts * (counts - 1) * (2 * counts + 5), "1": counts * (counts - 1)}
        terms["2"] = terms["1"] * (counts - 2)
        return float(np.sum(terms[power]))

    variance = (n * (n - 1) * (2 * n + 5) - tied(x, "v") - tied(y, "v")) / 18.0
    variance += tied(x, "1") * tied(y, "1") / (2.0 * n * (n - 1))
    return variance + tied(x, "2") * tied(y, "2") / (9.0 * n * (n - 1) * (n - 2))


def _exact_kendall_p(n: int, s: int) -> float:
    """Two-sided chance of an S at least this far from 0 among all orders of n values without
    ties."""
    pairs = n * (n - 1) // 2
    counts = np.ones(1)
    for k in range(2, n + 1):  # orders of k values by number of inversions, as shares
        counts = np.convolve(counts, np.ones(k) / k)
    fewest = (pairs - abs(s)) // 2
    return float(min(1.0, 2.0 * np.sum(counts[: fewest + 1])))


@dataclass(frozen=True, slots=True)
class Line:
    """A robust straight line with the 95 % interval of its slope, and the two-sided p of there
    being no trend."""

    slope: float
    low: float
    high: float
    middle: float  # value at x = 0: median of y minus slope times median of x
    p: float


def theil_sen(x: Numbers, y: Numbers) -> Line | None:
    """The median of the slopes between all pairs, with Sen's interval from Kendall's S.

    None for fewer than four points or where all x are alike: the interval would say nothing.
    Source: P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379-1389; Helsel and Hirsch, chapter 10.
    """
    a, b = np.asarray(x, float), np.asarray(y, float)
    if len(a) < 4 or np.ptp(a) == 0.0:
        return None
    i, j = np.triu_indices(len(a), 1)
    apart = a[i] != a[j]
    slopes = np.sort((b[j] - b[i])[apart] / (a[j] - a[i])[apart])
    slope = float(np.median(slopes))
    spread = Z95 * math.sqrt(max(kendall_variance(a, b), 0.0))
    low = max(round((len(slopes) - spread) / 2.0), 0)
    high = min(round((len(slopes) + spread) / 2.0), len(slopes) - 1)
    trend = kendall(a, b)
    middle = float(np.median(b) - slope * np.median(a))
    return Line(slope, float(slopes[low]), float(slopes[high]), middle, trend.p if trend else 1.0)
