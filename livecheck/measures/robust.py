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
    weight = np.ones(len(y))
    share = 0.0
    for _ in range(6):
        white = _whitened(np.concatenate([all_x, y[:, None]], axis=1), share, neighbours)
        value = np.linalg.lstsq(white[:, :-1] * weight[:, None], white[:, -1] * weight, rcond=None)[0]
        plain, rest = y - all_x @ value, white[:, -1] - white[:, :-1] @ value
        scatter = max(1.4826 * float(np.median(np.abs(rest))), 1e-6)
        size = np.maximum(np.abs(rest) / scatter, 1e-9)
        used, weight = weight, np.sqrt(np.where(size > FAR, 0.0, np.minimum(1.0, HUBER / size)))
        share = _shared(plain, neighbours)
    counted = float((weight > 0).sum()) - all_x.shape[1] - taken
    if counted < 2:
        return None
    weighted = white[:, :-1] * used[:, None]
    variance = float(np.sum((used * rest) ** 2)) / counted
    spread = variance * np.linalg.inv(weighted.T @ weighted)[: x.shape[1], : x.shape[1]]
    one_stroke = float(np.std(plain[weight > 0])) / (2.0**0.5 if neighbours is not None else 1.0)
    return Fit(value[: x.shape[1]], spread, int(counted), one_stroke)


def _shared(rest: np.ndarray, neighbours: np.ndarray | None) -> float:
    """Correlation of rows that share a stroke: from -1/2 to 0 (sources.md E-12, E-13)."""
    import numpy as np

    if neighbours is None:
        return 0.0
    joined = np.flatnonzero(np.diff(neighbours) == 1)
    limit = 4.0 * float(np.median(np.abs(rest)))
    clipped = np.clip(rest, -limit, limit)
    share = float(np.sum(clipped[joined] * clipped[joined + 1])) / max(len(joined), 1)
    return min(max(share / max(float(np.mean(clipped**2)), 1e-12), -0.48), 0.0)


def _whitened(rows: np.ndarray, share: float, neighbours: np.ndarray | None) -> np.ndarray:
    """Rows made independent: the correlations' Cholesky factor has two diagonals, so it is solved row by row."""
    if neighbours is None or share == 0.0:
        return rows
    white = rows.copy()
    own = 1.0
    for at in range(1, len(rows)):
        if neighbours[at] - neighbours[at - 1] != 1:
            own = 1.0
            continue
        below = share / own
        own = (1.0 - below**2) ** 0.5
        white[at] = (rows[at] - below * white[at - 1]) / own
    return white
