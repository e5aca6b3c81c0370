"""What is told of the ways that were found: in what they differ, and how clean each is.

Which way a repetition was played in is known only by its chance, so every figure is worked out on
several draws of whole practices (``chain.paths``) and put together as multiple imputations are (D.
B. Rubin, Multiple Imputation for Nonresponse in Surveys, 1987): the spread between draws is the
doubt about the ways, the spread within is the luck of takes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..review.rungs import rungs
from ..stats import robust_sd, student_t
from .base import Base
from .features import Features

DRAWS = 20


@dataclass(frozen=True, slots=True)
class Difference:
    """``this`` and ``other``: levels of a way and of the first; ``low``, ``high``: of this minus
    other, 95 %."""

    this: float
    other: float
    low: float
    high: float

    @property
    def by(self) -> float:
        return self.this - self.other


@dataclass(frozen=True, slots=True)
class Clean:
    """Clean repetitions in a hundred of a way minus the first's at equal tempo."""

    points: float
    low: float
    high: float


def put_together(values: np.ndarray, variances: np.ndarray, free: float) -> tuple[float, float]:
    """Estimate and half of its 95 % interval from several draws (Rubin 1987).

    free: degrees of freedom within a draw.
    """
    m = len(values)
    between = float(values.var(ddof=1)) if m > 1 else 0.0
    within = float(variances.mean())
    total = within + (1.0 + 1.0 / m) * between
    if total <= 0.0:
        return float(values.mean()), 0.0
    part = (1.0 + 1.0 / m) * between / total
    drawn = (m - 1) / max(part, 1e-6) ** 2
    degrees = 1.0 / (1.0 / max(free, 2.0) + 1.0 / max(drawn, 2.0))
    reach = student_t(max(degrees, 2.0))
    return float(values.mean()), reach * total**0.5


def at_equal_tempo(
    value: np.ndarray, features: Features, paths: np.ndarray, way: int
) -> Difference | None:
    """The share of a way against the first, tempo by tempo with Mantel and Haenszel's weights; the
    luck of a take is what its repetitions of both ways lie off together.

    value: (N,) 1 or 0, NaN where it cannot be said. None where they share no tempo.
    """
    told = ~np.isnan(value)
    if told.sum() < 8:
        return None
    value, bpm = value[told], features.bpm[told]
    steps = rungs(bpm, np.ones(len(bpm)))
    take = np.unique(features.take[told], return_inverse=True)[1]
    rows = len(steps.bpm)
    found, spread, levels, free = [], [], [], []
    for path in paths[:, told]:
        a, b = path == way, path == 0
        n = [np.bincount(steps.of_row[side], minlength=rows).astype(float) for side in (a, b)]
        k = [np.bincount(steps.of_row[side], value[side], rows) for side in (a, b)]
        weight = n[0] * n[1] / np.maximum(n[0] + n[1], 1.0)
        if weight.sum() < 2.0:
            continue
        weight /= weight.sum()
        share = [hits / np.maximum(of, 1.0) for hits, of in zip(k, n)]
        levels.append([float(weight @ one) for one in share])
        found.append(levels[-1][0] - levels[-1][1])
        # what one repetition adds, by how far it lies off its own group at its tempo
        adds = np.zeros(len(value))
        for side, of, mean, sign in ((a, n[0], share[0], 1.0), (b, n[1], share[1], -1.0)):
            smooth = (mean * of + 0.5 * _overall(k, n)) / (of + 0.5)
            at = steps.of_row[side]
            adds[side] = sign * weight[at] * (value[side] - smooth[at]) / of[at]
        by_take = np.bincount(take, adds)
        takes = float((by_take**2).sum())
        some = by_take[np.bincount(take, np.abs(adds)) > 0]
        heavy = max(float((some**2).sum()) ** 2 / max(float((some**4).sum()), 1e-30), 2.0)
        alone = float(
            sum(
                (weight**2 * _spread(hits, of) / np.maximum(of, 1.0)).sum()
                for hits, of in zip(k, n)
            )
        )
        spread.append(max(takes * len(some) / max(len(some) - 1.0, 1.0), alone))
        free.append(heavy)
    if len(found) < max(2, len(paths) // 2):
        return None
    middle, reach = put_together(np.array(found), np.array(spread), float(np.mean(free)))
    this, other = np.mean(levels, axis=0)
    return Difference(
        float(this), float(other), max(middle - reach, -1.0), min(middle + reach, 1.0)
    )


def _overall(k: list[np.ndarray], n: list[np.ndarray]) -> float:
    return float((k[0].sum() + k[1].sum()) / max(n[0].sum() + n[1].sum(), 1.0))


def _spread(k: np.ndarray, n: np.ndarray) -> np.ndarray:
    p = (k + 1.0) / (n + 2.0)
    return p * (1.0 - p)


def level_difference(
    value: np.ndarray, base: Base, features: Features, paths: np.ndarray, way: int
) -> Difference | None:
    """The mean of a column in a way against the first, beside all courses.

    value: (N,), NaN where it was not heard.
    """
    told = ~np.isnan(value)
    if told.sum() < 8:
        return None
    y = value[told]
    middle = np.median(y)
    size = max(robust_sd(y - middle), 1e-9)
    y = np.clip(y, middle - 6 * size, middle + 6 * size)
    columns = base.columns[told]
    held = np.diag(1.0 / base.variance)
    inverse = np.linalg.inv(columns.T @ columns + held)
    take = np.unique(features.take[told], return_inverse=True)[1]
    ways = int(paths.max()) + 1
    found, spread, firsts = [], [], []
    for path in paths[:, told]:
        marks = np.stack([path == k for k in range(1, ways)], axis=1).astype(float)
        both = [part - columns @ (inverse @ (columns.T @ part)) for part in (marks, y[:, None])]
        normal = both[0].T @ marks + 1e-9 * np.eye(ways - 1)
        coef = np.linalg.solve(normal, both[0].T @ y)
        left = both[1][:, 0] - both[0] @ coef
        turned = np.linalg.inv(normal)
        sums = np.stack([np.bincount(take, part * left) for part in both[0].T], axis=1)
        cluster = turned @ (sums.T @ sums) @ turned
        alone = turned * float(left @ left) / max(len(y) - ways - 4, 1)
        takes = int(take.max()) + 1
        found.append(coef[way - 1])
        spread.append(
            max(cluster[way - 1, way - 1] * takes / max(takes - 1, 1), alone[way - 1, way - 1])
        )
        first = path == 0
        firsts.append(float(y[first].mean()) if first.any() else float(y.mean()))
    by, reach = put_together(np.array(found), np.array(spread), float(take.max()))
    other = float(np.mean(firsts))
    return Difference(other + by, other, by - reach, by + reach)
