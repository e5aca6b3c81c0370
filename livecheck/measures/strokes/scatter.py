"""How log velocities scatter about their level: with tails, within limits, or beyond what is
sent."""

from __future__ import annotations

import numpy as np

from ..stats import sigmoid

_ODD, _ODD_SCATTER = 0.03, 3.0
"""Share of outliers, and their scatter (no source)."""


def tailed(distance: np.ndarray, scatter: float) -> np.ndarray:
    """Normal with a share of outliers."""

    def normal(sd: float) -> np.ndarray:
        return np.asarray(np.exp(-0.5 * (distance / sd) ** 2) / sd)

    return (1 - _ODD) * normal(scatter) + _ODD * normal(_ODD_SCATTER * scatter) + 1e-9


def flat(distance: np.ndarray, scatter: float) -> np.ndarray:
    """Nearly even within its limits (exp of minus the sixth power; its SD is the scatter), with a
    share of outliers."""
    even = (
        0.7626 / scatter * np.exp(-np.minimum((np.abs(distance) / (1.772 * scatter)) ** 6, 700.0))
    )
    odd = np.exp(-0.5 * (distance / (_ODD_SCATTER * scatter)) ** 2) / (_ODD_SCATTER * scatter)
    return np.asarray((1 - _ODD) * even + _ODD * odd + 1e-9)


def over(density: np.ndarray, width: int) -> np.ndarray:
    """Mean over so many neighbouring bins."""
    ends = np.concatenate(
        [np.full(width // 2, density[0]), density, np.full(width - 1 - width // 2, density[-1])]
    )
    return np.convolve(ends, np.ones(width) / width, mode="valid")


def beyond(distance: np.ndarray, scatter: float) -> np.ndarray:
    """Chance of so much or more, by a logistic curve that is close to the normal one."""
    return np.asarray((1 - 2e-3) * sigmoid(-1.702 * distance / scatter) + 1e-3)
