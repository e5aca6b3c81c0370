"""Forms of fall weighed by counts, against plain sums and planted forms."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.measures.review.forms import Counts, weigh
from livecheck.measures.stats import sigmoid


def exact(chance, n=40, low=80.0, high=180.0, rungs=14):
    x = np.log(np.geomspace(low, high, rungs))
    return Counts(x, np.arange(rungs), np.round(n * chance(x)), np.full(rungs, float(n)))


def fall(x, at=150.0, width=0.03):
    return sigmoid((np.log(at) - x) / width)


def middle(drawn, level=0.5):
    fine = np.linspace(np.log(60), np.log(220), 800)
    at = (drawn.chance(fine) >= level).sum(axis=1)
    return float(np.exp(np.median(fine[np.maximum(at - 1, 0)])))


def test_a_smooth_fall_is_found_and_has_no_dip():
    """The break within 1 %, odds against a dip."""
    found = weigh(exact(fall), np.random.default_rng(1))
    assert middle(found.plain) == pytest.approx(150.0, rel=0.01)
    assert found.dip_odds < 0.0


def test_a_step_is_found_where_it_is():
    """Half of the share is lost at 120: forms with a step carry the weight, and place it there."""
    found = weigh(
        exact(lambda x: fall(x) * np.where(x >= np.log(120), 0.5, 1.0)), np.random.default_rng(1)
    )
    assert np.isfinite(found.plain.step_at).mean() > 0.95
    assert float(np.exp(np.median(found.plain.step_at))) == pytest.approx(120.0, rel=0.05)


def test_a_dip_is_found_and_left_out_of_the_fall():
    """A fifth is left from 100 to 115: the forms with a dip still break at 150."""

    def dipped(x):
        return fall(x) * np.where((x > np.log(100)) & (x < np.log(115)), 0.2, 1.0)

    found = weigh(exact(dipped), np.random.default_rng(1))
    assert found.dip_odds > 5.0 and found.dipped is not None
    assert middle(found.dipped) == pytest.approx(150.0, rel=0.02)


def test_the_same_counts_weigh_the_same():
    """The weight of forms does not hang on how they are drawn."""
    one, other = (weigh(exact(fall), np.random.default_rng(seed)) for seed in (1, 2))
    assert one.evidence == other.evidence and one.dip_odds == other.dip_odds
