"""Shares, ranks and order against published answers and other libraries (rows S-.. of the sources
page)."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.optimize
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from livecheck.measures.stats import (
    isotonic,
    kendall,
    kendall_variance,
    newcombe,
    theil_sen,
    wilson,
)


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
    assert newcombe(1, 2, 0, 0) is None


@pytest.mark.parametrize(
    ("a", "of_a", "b", "of_b", "low", "high"),
    [
        (56, 70, 48, 80, 0.0524, 0.3339), (9, 10, 3, 10, 0.1705, 0.8090), (6, 7, 2, 7, 0.0582, 0.8062),
        (5, 56, 0, 29, -0.0381, 0.1926), (0, 10, 0, 20, -0.1611, 0.2775), (0, 10, 0, 10, -0.2775, 0.2775),
        (10, 10, 0, 20, 0.6791, 1), (10, 10, 0, 10, 0.6075, 1),
    ],
)  # fmt: skip
def test_the_difference_of_two_shares_has_the_published_interval(a, of_a, b, of_b, low, high):
    """S-13: Newcombe 1998, table II, as statsmodels gives it."""
    assert newcombe(a, of_a, b, of_b) == pytest.approx((low, high), abs=5e-5)
    other = confint_proportions_2indep(a, of_a, b, of_b, method="newcomb", compare="diff")
    assert newcombe(a, of_a, b, of_b) == pytest.approx(other, abs=1e-9)


def test_the_difference_quoted_by_fagerland():
    """S-13, last row: 7/34 - 1/34 has 0.019 to 0.34 (Fagerland and others 2015)."""
    assert newcombe(7, 34, 1, 34) == pytest.approx((0.019, 0.34), abs=0.005)


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


def test_kendall_of_the_tuna():
    """S-21: R's cor.test example (Hollander and Wolfe 1973, p. 187)."""
    x = [44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1]
    y = [2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8]
    found = kendall(x, y)
    assert (found.s, round(found.tau, 5), round(found.p, 5)) == (16, 0.44444, 0.11944)


def test_trend_of_the_robust_line_example():
    """S-22: Helsel and Hirsch, chapter 10: Mann-Kendall's S, its variance, and the Theil-Sen
    line."""
    y = [1, 2, 3, 4, 5, 16, 7]
    found = kendall(range(1, 8), y)
    assert (found.s, round(found.tau, 5), round(found.p, 7)) == (19, 0.90476, 0.0027778)
    assert kendall_variance(range(1, 8), y) == pytest.approx(44.3333, abs=1e-4)
    line = theil_sen(range(1, 8), y)
    assert (line.slope, line.middle) == (1.0, 0.0)


@pytest.mark.parametrize("seed", range(6))
def test_ranks_agree_with_scipy(seed):
    """Kendall's tau and p, and the Theil-Sen slope with its interval, as scipy computes them; with
    ties and without."""
    rng = np.random.default_rng(seed)
    x, y = np.arange(25.0), rng.normal(size=25)
    other = scipy.stats.kendalltau(x, y, method="exact")
    assert (kendall(x, y).tau, kendall(x, y).p) == pytest.approx((other.statistic, other.pvalue))
    line, theirs = theil_sen(x, y), scipy.stats.theilslopes(y, x)
    assert (line.slope, line.middle) == pytest.approx((theirs.slope, theirs.intercept))
    slopes = np.sort([(y[j] - y[i]) / (j - i) for i in range(25) for j in range(i + 1, 25)])
    near = [
        np.searchsorted(slopes, end)
        for end in (line.low, theirs.low_slope, line.high, theirs.high_slope)
    ]
    assert abs(near[0] - near[1]) <= 1 and abs(near[2] - near[3]) <= 1
    tied = np.round(y)
    assert kendall(x, tied).tau == pytest.approx(scipy.stats.kendalltau(x, tied).statistic)


def test_too_little_has_no_trend():
    """Fewer than three values have no order to speak of, fewer than four no interval, equal ones
    neither."""
    assert kendall([1, 2], [1, 2]) is None
    assert kendall([1, 2, 3], [5, 5, 5]) is None
    assert theil_sen([1, 2, 3], [1, 2, 3]) is None
    assert theil_sen([1, 1, 1, 1], [1, 2, 3, 4]) is None
