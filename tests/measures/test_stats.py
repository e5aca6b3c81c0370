"""Deviates and shares against published answers and other libraries (rows S-.. of the sources
page)."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.special
import scipy.stats
from statsmodels.stats.proportion import proportion_confint

from livecheck.measures.stats import (
    FLATTENING,
    MAD_TO_SD,
    QUARTILES_APART,
    Z95,
    logit,
    normal_cdf,
    robust_sd,
    sigmoid,
    student_t,
    wilson,
)


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


def test_log_odds_and_normal_chances_agree_with_scipy():
    """As far as figures can be told apart; far out they are nought and one."""
    z = np.linspace(-30.0, 30.0, 601)
    assert sigmoid(z) == pytest.approx(scipy.special.expit(z), abs=1e-15)
    assert logit(sigmoid(z[250:350])) == pytest.approx(z[250:350], abs=1e-12)
    assert sigmoid(np.array([-1e6, 1e6])).tolist() == [0.0, 1.0]
    assert sigmoid(0.0) == 0.5 and isinstance(sigmoid(1.0), float)
    assert [normal_cdf(x) for x in z] == pytest.approx(scipy.stats.norm.cdf(z), abs=1e-15)
    assert normal_cdf(Z95) == pytest.approx(0.975, abs=1e-15)


def test_scatter_is_read_from_the_middle():
    """Of normal quantiles it is their SD, and far ones hardly move it."""
    off = scipy.stats.norm.ppf((np.arange(10_000) + 0.5) / 10_000) * 3.0
    assert robust_sd(off) == pytest.approx(3.0, rel=1e-3)
    assert robust_sd([*off, 1e9, -1e9]) == pytest.approx(3.0, rel=2e-3)
    assert pytest.approx(scipy.stats.norm.ppf(0.75), abs=2e-5) == 1.0 / MAD_TO_SD
    assert pytest.approx(2.0 * scipy.stats.norm.ppf(0.75), rel=2e-3) == QUARTILES_APART


def test_a_scatter_of_log_odds_flattens_the_mean_chance():
    """Drawn together over a normal scatter, within 0.012."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(40)
    assert pytest.approx((16 * 3**0.5 / 15 / np.pi) ** 2, abs=2e-4) == FLATTENING
    for sd in (0.3, 1.0, 2.0):
        for odds in (-3.0, -1.0, 0.5, 2.0):
            mean = float(weights @ sigmoid(odds + sd * nodes) / weights.sum())
            told = sigmoid(odds / (1.0 + FLATTENING * sd * sd) ** 0.5)
            assert told == pytest.approx(mean, abs=0.012)
