"""Linear models under several assumptions at once, each weighed by how well it foretells what was
seen.

Bayesian model averaging with normal priors: an estimate's interval holds the doubt between the
assumptions too. What the data cannot tell apart keeps the width that the priors give it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING, NamedTuple

from ..stats import normal_cdf

if TYPE_CHECKING:
    import numpy as np


class Interval(NamedTuple):
    """An estimate with its 95 % interval."""

    value: float
    low: float
    high: float


class Seen(NamedTuple):
    """Data reduced to what the estimate needs: XᵀX, Xᵀy, yᵀy and the number of rows."""

    gram: np.ndarray
    moment: np.ndarray
    square: float
    rows: int


class Assumption(NamedTuple):
    """Prior means and SDs of the columns, the variance of a row, and how likely the whole is
    beforehand."""

    means: np.ndarray
    spreads: np.ndarray
    variance: float
    weight: float


@dataclass(frozen=True, slots=True)
class Blend:
    """What each of G assumptions says of the k columns: weights (G,), means (G, k), covariances (G,
    k, k)."""

    weights: np.ndarray
    means: np.ndarray
    covariances: np.ndarray

    def told(self, contrast: np.ndarray, among: np.ndarray | None = None) -> Interval:
        """A combination of columns; ``among`` (G,) tells which assumptions are asked, as 0 or 1."""
        import numpy as np

        weights = self.weights if among is None else self.weights * among
        counted = weights > 1e-6 * weights.max()
        means = self.means[counted] @ contrast
        variances = np.einsum("i,gij,j->g", contrast, self.covariances[counted], contrast)
        parts = [
            (float(weight), float(mean), sqrt(max(float(variance), 1e-18)))
            for weight, mean, variance in zip(
                weights[counted] / weights[counted].sum(), means, variances
            )
        ]
        value = sum(weight * mean for weight, mean, _ in parts)
        return Interval(value, _quantile(parts, 0.025), _quantile(parts, 0.975))


def blend(seen: Seen, assumptions: Sequence[Assumption]) -> Blend:
    """Posterior of the columns under each assumption, and the assumptions' posterior weights."""
    import numpy as np

    means = np.array([one.means for one in assumptions])
    firmness = 1.0 / np.array([one.spreads for one in assumptions]) ** 2
    variances = np.array([one.variance for one in assumptions])
    size = len(seen.moment)
    covariances = np.linalg.inv(
        seen.gram / variances[:, None, None] + firmness[:, :, None] * np.eye(size)
    )
    pulls = seen.moment / variances[:, None] + firmness * means
    found = np.einsum("gij,gj->gi", covariances, pulls)
    evidence = 0.5 * (
        np.log(firmness).sum(axis=1)
        + np.linalg.slogdet(covariances)[1]
        + (found * pulls).sum(axis=1)
        - (firmness * means**2).sum(axis=1)
        - seen.square / variances
        - seen.rows * np.log(variances)
    ) + np.log([one.weight for one in assumptions])
    weights = np.exp(evidence - evidence.max())
    return Blend(weights / weights.sum(), found, covariances)


def _quantile(parts: Sequence[tuple[float, float, float]], share: float) -> float:
    """Of a mixture of normals given as (weight, mean, SD), by bisection."""
    low = min(mean - 9.0 * sd for _, mean, sd in parts)
    high = max(mean + 9.0 * sd for _, mean, sd in parts)
    for _ in range(40):
        middle = 0.5 * (low + high)
        below = sum(weight * normal_cdf((middle - mean) / sd) for weight, mean, sd in parts)
        low, high = (middle, high) if below < share else (low, middle)
    return 0.5 * (low + high)
