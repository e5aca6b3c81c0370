"""Least squares that a few wild values do not move, with intervals; for rows that share errors with their neighbours.

numpy is imported where the work is done.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from .profile import t_975

if TYPE_CHECKING:
    import numpy as np

FAR = 4.0
"""Robust scatters beyond which a row is left out."""
HUBER = 2.0
"""Robust scatters beyond which a row weighs less (Huber 1964; his 1.345 is for purer noise)."""


class Fit(NamedTuple):
    """Fitted values with their covariance, degrees of freedom, and the scatter of single rows."""

    value: np.ndarray
    spread: np.ndarray  # covariance
    freedom: int
    scatter: float  # ms, of single rows; of single strokes where rows are intervals

    def half(self, contrast: np.ndarray) -> float:
        """Half of the 95 % interval of a combination."""
        return float(t_975(self.freedom) * (contrast @ self.spread @ contrast) ** 0.5)


def fit(y: np.ndarray, x: np.ndarray, nuisance: np.ndarray, taken: int, neighbours: np.ndarray | None) -> Fit | None:
    """Robust least squares, weighing neighbours' shared strokes; None where the data do not determine ``x``."""
    import numpy as np

    all_x = np.concatenate([x, nuisance], axis=1)
    freedom = len(y) - all_x.shape[1] - taken
    if freedom < 2 or np.linalg.matrix_rank(all_x, tol=1e-6 * max(1.0, float(np.abs(all_x).max()))) < all_x.shape[1]:
        return None
    root = np.eye(len(y))
    weight = np.ones(len(y))
    for _ in range(6):
        scaled_x, scaled_y = root @ all_x * weight[:, None], root @ y * weight
        value = np.linalg.lstsq(scaled_x, scaled_y, rcond=None)[0]
        plain = y - all_x @ value
        rest = root @ plain
        scatter = max(1.4826 * float(np.median(np.abs(rest))), 1e-6)
        size = np.maximum(np.abs(rest) / scatter, 1e-9)
        weight = np.sqrt(np.where(size > FAR, 0.0, np.minimum(1.0, HUBER / size)))
        if neighbours is not None:
            root = _whitening(plain, neighbours)
    counted = float((weight > 0).sum()) - all_x.shape[1] - taken
    if counted < 2:
        return None
    variance = float(np.sum((weight * rest) ** 2)) / counted
    precision = scaled_x.T @ scaled_x
    spread = variance * np.linalg.inv(precision)[: x.shape[1], : x.shape[1]]
    one_stroke = float(np.std(plain[weight > 0])) / (2.0**0.5 if neighbours is not None else 1.0)
    return Fit(value[: x.shape[1]], spread, int(counted), one_stroke)


def _whitening(rest: np.ndarray, neighbours: np.ndarray) -> np.ndarray:
    """What makes intervals with anticorrelated neighbours independent: the inverse root of their correlations."""
    import numpy as np

    joined = np.flatnonzero(np.diff(neighbours) == 1)
    clipped = np.clip(rest, -4 * np.median(np.abs(rest)), 4 * np.median(np.abs(rest)))
    share = float(np.mean(clipped[joined] * clipped[joined + 1])) / max(float(np.mean(clipped**2)), 1e-12)
    share = min(max(share, -0.48), 0.0)
    correlation = np.eye(len(rest))
    correlation[joined, joined + 1] = correlation[joined + 1, joined] = share
    return np.asarray(np.linalg.inv(np.linalg.cholesky(correlation)))
