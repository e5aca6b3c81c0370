"""Several assumptions at once, weighed by what was seen."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import multivariate_normal, norm

from livecheck.measures.delay.model_average import Assumption, Blend, Seen, blend

RNG = np.random.default_rng(1)
X = RNG.normal(size=(40, 2))
Y = X @ np.array([1.5, -0.5]) + RNG.normal(size=40)
SEEN = Seen(X.T @ X, X.T @ Y, float(Y @ Y), 40)


def assumed(mean: float, spread: float, variance: float = 1.0, weight: float = 1.0) -> Assumption:
    return Assumption(np.full(2, mean), np.full(2, spread), variance, weight)


def test_with_wide_priors_it_is_least_squares() -> None:
    """Value and interval agree with ordinary least squares of known variance."""
    found = blend(SEEN, [assumed(0.0, 1e4)])
    value, low, high = found.told(np.array([1.0, 0.0]))
    sd = np.linalg.inv(X.T @ X)[0, 0] ** 0.5
    assert value == pytest.approx(np.linalg.lstsq(X, Y, rcond=None)[0][0], abs=1e-6)
    assert (low, high) == pytest.approx(norm.interval(0.95, value, sd), abs=1e-5)


def test_the_weights_are_the_chances_of_what_was_seen() -> None:
    """Two assumptions weigh as the density of y under each, by scipy's multivariate normal, times
    their weights."""
    both = [assumed(0.0, 0.1, 1.0, 0.7), assumed(1.0, 2.0, 1.3, 0.3)]
    found = blend(SEEN, both)
    logs = [
        multivariate_normal(
            X @ one.means, X @ np.diag(one.spreads**2) @ X.T + one.variance * np.eye(40)
        ).logpdf(Y)
        + np.log(one.weight)
        for one in both
    ]
    assert np.log(found.weights[1] / found.weights[0]) == pytest.approx(logs[1] - logs[0], abs=1e-6)


def test_an_interval_holds_the_doubt_between_assumptions() -> None:
    """Half of the weight at 0 and half at 4: the interval is the mixture's own, from one to the
    other."""
    mixture = Blend(np.array([0.5, 0.5]), np.array([[0.0], [4.0]]), np.array([[[1.0]], [[0.25]]]))
    value, low, high = mixture.told(np.ones(1))
    assert value == pytest.approx(2.0)
    for share, end in ((0.025, low), (0.975, high)):
        true = brentq(
            lambda x, s=share: 0.5 * norm.cdf(x) + 0.5 * norm.cdf(x, 4.0, 0.5) - s, -9.0, 9.0
        )
        assert end == pytest.approx(true, abs=1e-5)
    assert mixture.told(np.ones(1), np.array([1.0, 0.0])).value == pytest.approx(0.0)


def test_what_the_data_do_not_tell_keeps_the_prior_s_width() -> None:
    """Two columns alike: their sum is known, and each only as far as the priors say."""
    alike = np.repeat(X[:, :1], 2, axis=1)
    found = blend(Seen(alike.T @ alike, alike.T @ Y, float(Y @ Y), 40), [assumed(0.0, 3.0)])
    both, one = found.told(np.ones(2)), found.told(np.array([1.0, 0.0]))
    assert both.high - both.low < 0.9
    assert one.high - one.low == pytest.approx(2 * 1.96 * 3.0 / 2**0.5, rel=0.05)
