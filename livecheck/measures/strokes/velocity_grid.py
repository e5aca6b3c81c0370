"""What a whole sitting shares in how hard it was struck, as a grid of ways to be weighed.

A way is one combination of drop, scatters and accents, with its chance before anything is heard;
``velocity_levels.py`` says how well each explains a sitting.
"""

from __future__ import annotations

from math import exp, log
from typing import NamedTuple

# What is usual, before anything is heard. No source; wide ranges.
# log velocity between the two levels
DROPS = (0.10, 0.16, 0.24, 0.33, 0.43, 0.55, 0.70, 0.90, 1.20)
_USUAL_DROP, _DROP_RANGE = 0.42, 0.55  # middle, and SD of its logarithm
SCATTERS = (0.05, 0.061, 0.074, 0.09, 0.11, 0.134, 0.164, 0.20, 0.245, 0.30, 0.36)
_USUAL_SCATTER, _SCATTER_RANGE = 0.14, 0.5
# scatter of hammered notes over that of picked ones
_RATIOS = ((0.65, 0.2), (1.0, 0.5), (1.5, 0.3))
# whether scatter is flat, all within so much, and how likely this is
SHAPES = ((False, 0.8), (True, 0.2))
# SD of the slots' accents in scatters, and how likely it is
_ACCENTS = ((0.25, 0.35), (0.6, 0.4), (1.2, 0.25))

Key = tuple[float, float, float, bool]  # drop, scatter, ratio, flat
Place = tuple[int, int, int, int]  # of a key on the grid of ways


class Way(NamedTuple):
    """One combination of what the whole sitting shares."""

    drop: float
    scatter: float  # of picked notes
    ratio: float  # scatter of hammered notes over it
    flat: bool  # scatter has limits, not tails
    accent: float  # SD of the slots' accents, in scatters
    log_prior: float

    @property
    def key(self) -> Key:
        return self.drop, self.scatter, self.ratio, self.flat


def _shares(values: tuple[float, ...], usual: float, spread: float) -> tuple[float, ...]:
    weights = [exp(-0.5 * (log(value / usual) / spread) ** 2) for value in values]
    return tuple(weight / sum(weights) for weight in weights)


_DROP_SHARES = _shares(DROPS, _USUAL_DROP, _DROP_RANGE)
_SCATTER_SHARES = _shares(SCATTERS, _USUAL_SCATTER, _SCATTER_RANGE)
BEGIN: list[Place] = [(2, 2, 1, 0), (4, 4, 1, 0), (6, 7, 1, 0), (4, 4, 1, 1)]
"""Where the search for likely ways begins: places in ``DROPS``, ``SCATTERS``, ``_RATIOS`` and
``SHAPES``."""


def ways_at(place: Place, single: bool = False) -> list[Way]:
    """The ways at a place, one for each spread of the slots' accents. single: one level, so no
    drop."""
    drop, scatter, ratio, shape = place
    flat, share_flat = SHAPES[shape]
    prior = log(_SCATTER_SHARES[scatter] * share_flat)
    if single:
        return [
            Way(0.0, SCATTERS[scatter], 1.0, flat, accent, prior + log(share))
            for accent, share in _ACCENTS
        ]
    prior += log(_DROP_SHARES[drop] * _RATIOS[ratio][1])
    key = DROPS[drop], SCATTERS[scatter], _RATIOS[ratio][0], flat
    return [Way(*key, accent, prior + log(share)) for accent, share in _ACCENTS]


def beside(place: Place) -> list[Place]:
    """Neighbours on the grid of ways."""
    sizes = (len(DROPS), len(SCATTERS), len(_RATIOS), len(SHAPES))
    found = []
    for axis in range(4):
        for step in (-1, 1):
            at = place[axis] + step
            if 0 <= at < sizes[axis]:
                found.append((*place[:axis], at, *place[axis + 1 :]))
    return found  # type: ignore[return-value]
