"""Curves through shares against published fits and other libraries (rows S-.. of the sources
page)."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.optimize
import statsmodels.api as sm

from livecheck.measures.review.curve import Curve, fit_curve, separation

HOURS = [
    0.5,
    0.75,
    1,
    1.25,
    1.5,
    1.75,
    1.75,
    2,
    2.25,
    2.5,
    2.75,
    3,
    3.25,
    3.5,
    4,
    4.25,
    4.5,
    4.75,
    5,
    5.5,
]
PASSED = [0, 0, 0, 0, 0, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 1, 1, 1, 1, 1]
DOSE = [1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839]
BEETLES = [59, 60, 62, 56, 63, 59, 62, 60]
KILLED = [6, 13, 18, 28, 52, 53, 61, 60]


def line(x, hits, of=None):
    """b0, b1 and the log-likelihood of a rising line in log odds: a curve that falls as x rises,
    mirrored, with neither floor nor lapse."""
    curve, likelihood = fit_curve(-np.array(x), hits, of or [1] * len(x), floor=0.0, lapse=0.0)
    return curve.middle / curve.width, 1.0 / curve.width, likelihood


def test_hours_of_study():
    """S-01: the worked example of the encyclopedia article 'Logistic regression'."""
    b0, b1, likelihood = line(HOURS, PASSED)
    assert (b0, b1) == pytest.approx((-4.07771, 1.50465), abs=1e-3)
    assert likelihood == pytest.approx(-8.02988, abs=1e-5)
    curve, _ = fit_curve(-np.array(HOURS), PASSED, [1] * 20, floor=0.0, lapse=0.0)
    assert (-curve.x_at(0.5), -curve.x_at(0.8)) == pytest.approx((2.71008, 3.63143), abs=1e-3)


def test_bliss_beetles():
    """S-02: C. I. Bliss 1935, as in Dobson's textbook: estimates and deviance."""
    b0, b1, likelihood = line(DOSE, KILLED, BEETLES)
    assert (b0, b1) == pytest.approx((-60.717, 34.270), rel=1e-3)
    assert -b0 / b1 == pytest.approx(1.77172, abs=1e-4)
    k, n = np.array(KILLED, float), np.array(BEETLES, float)
    share = np.clip(k / n, 1e-12, 1 - 1e-12)
    full = float(k @ np.log(share) + (n - k) @ np.log1p(-share))
    assert 2 * (full - likelihood) == pytest.approx(11.23, abs=0.005)


@pytest.mark.parametrize("seed", range(5))
def test_it_agrees_with_statsmodels(seed):
    """Random falling ladders: statsmodels' GLM gives the same line."""
    rng = np.random.default_rng(seed)
    bpm = np.linspace(80, 180, 12)
    n = rng.integers(10, 31, 12)
    k = rng.binomial(n, 1 / (1 + np.exp((bpm - 140) / 9)))
    theirs = sm.GLM(
        np.stack([k, n - k], axis=1), sm.add_constant(bpm), family=sm.families.Binomial()
    ).fit()
    ours, _ = fit_curve(bpm, k, n, floor=0.0, lapse=0.0)
    assert (ours.middle / ours.width, -1.0 / ours.width) == pytest.approx(
        tuple(theirs.params), rel=1e-3
    )


def test_perfect_separation_is_told():
    """S-04: all of one kind below, all of the other above: the answer is the gap between 3 and
    4."""
    assert separation([1, 2, 3, 4, 5, 6], [0, 0, 0, 1, 1, 1], [1] * 6) == (3.0, 4.0)
    assert separation([1, 2, 3], [1, 1, 1], [1, 1, 1]) is None
    assert separation([1, 2, 2, 3], [1, 1, 0, 0], [1, 1, 1, 1]) is None


def test_a_curve_needs_two_places():
    """One tempo shows no curve."""
    with pytest.raises(ValueError, match="two or more places"):
        fit_curve([100, 100], [1, 0], [1, 1])


@pytest.mark.parametrize("seed", range(8))
def test_no_other_climber_finds_a_likelier_curve(seed):
    """scipy's bounded minimiser from the true values ends no higher than the climb, floor and lapse
    included."""
    rng = np.random.default_rng(seed)
    bpm = np.linspace(80, 180, int(rng.integers(8, 21)))
    n = rng.integers(10, 31, len(bpm)).astype(float)
    true = np.array(
        [
            rng.uniform(110, 160),
            np.log(rng.uniform(2, 8)),
            rng.uniform(0, 0.1),
            rng.uniform(0, 0.15),
        ]
    )

    def p(theta):
        return np.clip(
            Curve(theta[0], float(np.exp(theta[1])), theta[2], theta[3]).chance(bpm), 1e-9, 1 - 1e-9
        )

    k = rng.binomial(n.astype(int), p(true)).astype(float)
    bounds = [(0, 300), (np.log(0.2), np.log(900)), (0, 0.3), (0, 0.4)]
    theirs = scipy.optimize.minimize(
        lambda t: -(k @ np.log(p(t)) + (n - k) @ np.log1p(-p(t))),
        true,
        bounds=bounds,
        method="L-BFGS-B",
    )
    _, likelihood = fit_curve(bpm, k, n)
    assert likelihood >= -theirs.fun - 1e-3


def test_psignifits_own_set():
    """S-03: two-alternative data of psignifit, its threshold 0.004645 (Gaussian sigmoid, MAP);
    logistic, ML here."""
    x = np.array([1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 7, 8, 10])
    right = [45, 50, 44, 44, 52, 53, 62, 64, 76, 79, 88, 90, 90]
    curve, _ = fit_curve(-x, right, [90] * 13, floor=0.5)
    assert -curve.middle == pytest.approx(4.645, rel=0.01)
    assert curve.lapse == pytest.approx(0, abs=0.002)


def test_psignifit_agrees():
    """psignifit with a logistic sigmoid on the same set lies within a hundredth."""
    psignifit = pytest.importorskip("psignifit", reason="psignifit is not installed")
    x = np.array([1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 7, 8, 10])
    right = np.array([45, 50, 44, 44, 52, 53, 62, 64, 76, 79, 88, 90, 90])
    theirs = psignifit.psignifit(
        np.stack([x, right, np.full(13, 90)], axis=1), sigmoid="logistic", experiment_type="2AFC"
    ).parameter_estimate_MAP
    curve, _ = fit_curve(-x, right, [90] * 13, floor=0.5)
    assert -curve.middle == pytest.approx(theirs["threshold"], rel=0.01)


def test_a_plain_probability_is_read_off():
    """One half means one half, floor and lapse or not; a level that the curve never has gives
    None."""
    curve = Curve(middle=140, width=5, floor=0.1, lapse=0.2)
    assert float(curve.chance(curve.x_at(0.5))) == pytest.approx(0.5)
    assert curve.x_at(0.85) is None and curve.x_at(0.05) is None
