"""Shares and order against published answers and other libraries (rows S-.. of the sources
page)."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.optimize
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from livecheck.measures.stats import isotonic, wilson


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0, 0.1611), (1, 29, 0.0061, 0.1718),
        (5, 5, 0.5655, 1), (3, 4, 0.3006, 0.9544), (8, 10, 0.4902, 0.9433), (9, 10, 0.5958, 0.9821),
        (10, 10, 0.7225, 1), (19, 20, 0.7639, 0.9911),
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


@pytest.mark.parametrize(
    ("y", "weights", "fit"),
    [
        ([8, 4, 8, 2, 2, 0, 8], None, [4, 4, 4, 4, 4, 4, 8]),
        ([0, 6, 8, 3, 5, 2, 1, 7, 9, 4], None, [0, *[25 / 6] * 6, *[20 / 3] * 3]),
        ([3, 2, 1, 10, 9, 8, 20, 10], [1, 2, 5, 0.5, 0.5, 0.5, 1, 3], [1.5] * 3 + [9] * 3 + [12.5] * 2),
        ([22.5, 23.3333, 20.8333, 24.25], [3, 3, 3, 2], [22.2222] * 3 + [24.25]),
    ],
)  # fmt: skip
def test_pooling_adjacent_violators_gives_the_published_fits(y, weights, fit):
    """S-06 to S-09: Busing 2022; R package monotone; scipy's test file; Robertson, Wright and
    Dykstra 1988."""
    assert isotonic(y, weights) == pytest.approx(fit, abs=1e-4)


def test_falling_is_fitted_as_well():
    """S-10: scipy's isotonic_regression(increasing=False)."""
    y = [1, 0.9, 1, 0.8, 0.6, 0.7, 0.2]
    assert isotonic(y, rising=False) == pytest.approx([1, 0.95, 0.95, 0.8, 0.65, 0.65, 0.2])


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(1, 20)), min_size=1, max_size=12))
def test_pooling_agrees_with_scipy(pairs):
    """Pooling and scipy find the same fit; the weighted sum stays (S-11)."""
    of = np.array([n for _, n in pairs], float)
    hits = np.array([min(k, n) for k, n in pairs], float)
    fit = isotonic(hits / of, of, rising=False)
    assert fit == pytest.approx(
        scipy.optimize.isotonic_regression(hits / of, weights=of, increasing=False).x, abs=1e-9
    )
    assert fit @ of == pytest.approx(hits.sum())
    assert isotonic(fit, of, rising=False) == pytest.approx(fit, abs=1e-9)
