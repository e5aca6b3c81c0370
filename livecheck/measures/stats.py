"""Shares and order: the small statistics with textbook answers.

Everything here is a function of plain numbers and knows nothing of playing. Check values for all of
them stand in tests/measures/test_stats.py with their sources.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

Numbers = Sequence[float] | np.ndarray

Z95 = 1.959963984540054
"""The normal deviate that leaves 2.5 % on either side."""


def normal_cdf(z: float) -> float:
    """Chance that a standard normal deviate is at most z."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


# ------------------------------------------------------------------------------------------- shares


def wilson(hits: float, of: float) -> tuple[float, float] | None:
    """Wilson's score interval of a share, without continuity correction; None of none.

    Source: E. B. Wilson 1927, as tabled in R. G. Newcombe, Statistics in Medicine 17 (1998)
    857-872.

    >>> [round(end, 4) for end in wilson(5, 5)]
    [0.5655, 1.0]
    """
    if of <= 0:
        return None
    share, spread = hits / of, Z95 * Z95 / of
    middle = share + spread / 2.0
    half = Z95 * math.sqrt(share * (1.0 - share) / of + spread / (4.0 * of))
    return max(0.0, (middle - half) / (1.0 + spread)), min(1.0, (middle + half) / (1.0 + spread))


# -------------------------------------------------------------------------------------------- ranks
