"""Brushed or struck: what kind of sound a string made that nobody wanted (measures.md, noise).

A brush is soft and short, a struck string sounds a full note. How soft and how short is learned
from the sitting's own sounds, beginning from what is usual, since converters differ: one presses
all velocities together, another adds 60 ms to each note, a third gives every note the same
velocity. Softness is measured in the player's own scatter: the velocities of one slot vary by a
tenth or so where a converter passes them on, and by less where it evens them out.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log
from typing import TYPE_CHECKING, NamedTuple

from ..stats import sigmoid

if TYPE_CHECKING:
    import numpy as np

USUAL_SCATTER = 0.11
"""SD of the log velocity of one picked slot, where the converter is neither pressed together nor
stretched. No source."""

# Where learning begins: mean and SD of (log attack, log length), and how many sounds that is worth.
# No source.
_SOFT = (-1.20, log(0.045))
_FULL = (-0.20, log(0.165))
_SPREAD = (0.35, 0.55)
_WEIGHT = (5.0, 5.0)
_SPREAD_WEIGHT = 6.0
_SHARE_WEIGHT = 4.0
_LEAST_LENGTH_S = 0.020
_ODD = 0.02
_ROUNDS = 20


class Sound(NamedTuple):
    """One sound: velocity over the string's usual, seconds that it lasted, and whether it ended by
    itself."""

    attack: float | None  # None where the converter says nothing of it
    length_s: float | None  # None: it still sounds
    whole: bool  # False: the next note of its string ended it


def full_chances(sounds: Sequence[Sound], scatter: float, late_s: float) -> list[float]:
    """For each sound the chance that it was a full note (struck) and no brush.

    scatter: SD of the log velocity within slots, 0 where all velocities are alike; late_s: how late
    note-offs come.
    """
    import numpy as np

    if not sounds:
        return []
    stretch = min(max(scatter / USUAL_SCATTER, 0.3), 1.6)
    level = np.array(
        [np.nan if one.attack is None else log(max(one.attack, 0.01)) / stretch for one in sounds]
    )
    if scatter < 0.01:
        level[:] = np.nan
    lasted = np.array([np.nan if one.length_s is None else one.length_s for one in sounds])
    length = np.log(np.maximum(lasted - late_s, 0.0) + _LEAST_LENGTH_S)
    whole = np.array([one.whole for one in sounds])
    features = np.stack([level, length])
    soft, full, spread, share = np.array(_SOFT), np.array(_FULL), np.array(_SPREAD), 0.5
    full_ones = np.full(len(sounds), 0.5)
    for _ in range(_ROUNDS):
        odds = _log_odds(features, whole, soft, full, spread) + log(share / (1 - share))
        full_ones = sigmoid(odds)
        soft, full, spread = _learned(features, whole, full_ones)
        share = (float(full_ones.sum()) + 0.5 * _SHARE_WEIGHT) / (len(sounds) + _SHARE_WEIGHT)
    return [float(value) for value in np.clip(full_ones, _ODD / 2, 1 - _ODD / 2)]


def _log_odds(
    features: np.ndarray, whole: np.ndarray, soft: np.ndarray, full: np.ndarray, spread: np.ndarray
) -> np.ndarray:
    """Log odds of full against soft from both features, each only so far."""
    import numpy as np

    total = np.zeros(features.shape[1])
    for at in range(2):
        value = features[at]
        own = ((value - soft[at]) ** 2 - (value - full[at]) ** 2) / (2 * spread[at] ** 2)
        if at == 1:  # a note that was ended by the next one may have been meant to last
            own = np.where(whole, own, np.maximum(own, 0.0))
        # beyond both means softer or louder says no more
        middle = 0.5 * (soft[at] + full[at])
        reach = 0.75 * abs(full[at] - soft[at])
        limit = reach * abs(full[at] - soft[at]) / spread[at] ** 2
        own = np.where(np.abs(value - middle) > reach, np.clip(own, -limit, limit), own)
        total += np.nan_to_num(own)
    return total


def _learned(
    features: np.ndarray, whole: np.ndarray, full_ones: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Means of both kinds and the spread that they share, held by what is usual."""
    import numpy as np

    soft, full, spread = np.array(_SOFT), np.array(_FULL), np.array(_SPREAD)
    for at in range(2):
        value = features[at]
        known = ~np.isnan(value) & (whole if at == 1 else True)
        weights = [np.where(known, 1 - full_ones, 0.0), np.where(known, full_ones, 0.0)]
        value = np.nan_to_num(value)
        means = []
        for weight, begin in zip(weights, (_SOFT[at], _FULL[at])):
            means.append(
                (float((weight * value).sum()) + _WEIGHT[at] * begin)
                / (float(weight.sum()) + _WEIGHT[at])
            )
        soft[at], full[at] = means
        squares = sum(
            float((weight * (value - mean) ** 2).sum()) for weight, mean in zip(weights, means)
        )
        count = float(weights[0].sum() + weights[1].sum())
        spread[at] = (
            (squares + _SPREAD_WEIGHT * _SPREAD[at] ** 2) / (count + _SPREAD_WEIGHT)
        ) ** 0.5
    return soft, full, spread
