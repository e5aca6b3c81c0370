"""Deviates and shares against published answers and other libraries (rows S-.. of the sources
page)."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats
from statsmodels.stats.proportion import proportion_confint

from livecheck.measures.stats import student_t, wilson


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0, 0.1611),
        (1, 29, 0.0061, 0.1718), (5, 5, 0.5655, 1), (3, 4, 0.3006, 0.9544), (8, 10, 0.4902, 0.9433),
        (9, 10, 0.5958, 0.9821), (10, 10, 0.7225, 1), (19, 20, 0.7639, 0.9911),
    ],
)  # fmt: skip
def test_wilson_gives_the_published_intervals(hits, of, low, high):
    """S-12: Newcombe 1998, table I, and values on which scipy and statsmodels agree."""
    assert wilson(hits, of) == pytest.approx((low, high), abs=5e-5)
    assert wilson(hits, of) == pytest.approx(
        proportion_confint(hits, of, method="wilson"), abs=1e-9
    )


def test_a_share_of_nothing_has_no_interval():
    """Nothing tried, nothing said."""
    assert wilson(0, 0) is None


def test_students_t_agrees_with_scipy():
    """Within half a per cent from one degree of freedom on, whole or not, of one number as of
    many; the more degrees the less."""
    free = 1.0 / np.linspace(1.0, 0.001, 2000)
    found = student_t(free)
    assert found == pytest.approx(scipy.stats.t.ppf(0.975, free), rel=0.005)
    assert np.all(np.diff(found) < 0.0)
    assert student_t(7.0) == pytest.approx(2.3646, abs=1e-4)
    assert isinstance(student_t(2.5), float)
