"""Deviates, chances, scatter and shares: the small statistics with textbook answers.

Everything here is a function of plain numbers or arrays and knows nothing of playing. Check values
for all of them stand in tests/measures/test_stats.py with their sources. numpy is loaded only where
arrays are worked on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeAlias, TypeVar

if TYPE_CHECKING:
    import numpy as np

Numbers: TypeAlias = "Sequence[float] | np.ndarray"
Some = TypeVar("Some", float, "np.ndarray")

Z95 = 1.959963984540054
"""The normal deviate that leaves 2.5 % on either side."""

MAD_TO_SD = 1.4826
"""A normal scatter's SD by the median distance from its middle: 1 / its quartile, 0.6745."""

QUARTILES_APART = 1.35
"""How many of its SD a normal scatter's quartiles lie apart: 2 * 0.6745."""

FLATTENING = 0.346
"""A logistic chance whose log odds scatter by sd is, on average, nearly a logistic chance of log
odds smaller by the root of 1 + FLATTENING sd²: (16 √3 / 15 π)², S. L. Zeger, K.-Y. Liang and P. S.
Albert, Biometrics 44 (1988) 1049-1060."""


def normal_cdf(z: float) -> float:
    """Chance that a standard normal deviate is at most z."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


_FEW_FREE = (3.0, 2.5, 2.0, 1.5, 1.25, 1.0)
_FEW_T = (3.182, 3.575, 4.303, 6.017, 8.028, 12.706)


def student_t(free: Some) -> Some:
    """The deviate of Student's t with 2.5 % beyond it, right to 0.5 % from one degree of freedom,
    whole or not, on.

    Below three degrees: the usual table (between whole degrees scipy's), its logarithm drawn out
    straight over 1 / free. From there on Cornish and Fisher's series: M. Abramowitz and I. A.
    Stegun, Handbook of Mathematical Functions (1964), 26.7.5.

    >>> round(student_t(1.0), 3), round(student_t(60.0), 3)
    (12.706, 2.0)
    """
    import numpy as np

    z, on = Z95, 1.0 / np.maximum(free, 1.0)
    terms = (
        z,
        (z**3 + z) / 4.0,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96.0,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384.0,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160.0,
    )
    series = sum(term * on**power for power, term in enumerate(terms))
    few = np.exp(np.interp(on, [1.0 / each for each in _FEW_FREE], np.log(_FEW_T)))
    found = np.where(on > 1.0 / _FEW_FREE[0], few, series)
    return found if isinstance(free, np.ndarray) else float(found)


# ---------------------------------------------------------------------------------------- log odds


def logit(p: np.ndarray) -> np.ndarray:
    """Log odds of chances."""
    import numpy as np

    return np.log(p) - np.log1p(-p)


def sigmoid(z: Some) -> Some:
    """The chance whose log odds are z: 1 / (1 + exp(-z)), without overflow."""
    import numpy as np

    found = 0.5 * (1.0 + np.tanh(0.5 * z))
    return found if isinstance(z, np.ndarray) else float(found)


# ------------------------------------------------------------------------------------------ scatter


def robust_sd(off: Numbers) -> float:
    """SD of a normal scatter by the median of how far its values lie off, which a few far ones
    hardly move."""
    import numpy as np

    return MAD_TO_SD * float(np.median(np.abs(off)))


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
