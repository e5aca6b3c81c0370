"""Drawing again, against published intervals and known spreads."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats

from livecheck.measures.review.draws import (
    bca_interval,
    draw_hits,
    expanded_tails,
    seeded,
    shared_fate,
    student_t,
    take_weights,
)

LSAT = [576, 635, 558, 578, 666, 580, 555, 661, 651, 605, 653, 575, 545, 572, 594]
GPA = [3.39, 3.30, 2.81, 3.03, 3.44, 3.07, 3.00, 3.43, 3.36, 3.13, 3.12, 2.74, 2.76, 2.88, 2.96]


def test_the_law_schools():
    """S-23: Efron and Tibshirani: BCa of the correlation reaches from about 0.33 to 0.94, as
    scipy's does."""
    data = np.stack([LSAT, GPA], axis=1)
    ours = bca_interval(
        data, lambda rows: float(np.corrcoef(rows.T)[0, 1]), np.random.default_rng(1), 4000
    )
    theirs = scipy.stats.bootstrap(
        (LSAT, GPA), lambda x, y: np.corrcoef(x, y)[0, 1], paired=True, vectorized=False, n_resamples=4000,
        method="BCa", random_state=np.random.default_rng(2),
    ).confidence_interval  # fmt: skip
    assert ours == pytest.approx((theirs.low, theirs.high), abs=0.04)
    assert ours == pytest.approx((0.33, 0.94), abs=0.04)


@pytest.mark.parametrize("free", [3, 4, 7, 15, 30, 200])
def test_students_t(free):
    """Within one per cent of scipy's quantile from three degrees of freedom on."""
    assert student_t(free) == pytest.approx(scipy.stats.t.ppf(0.975, free), rel=0.01)


def test_few_takes_cut_later():
    """Many takes cut at 2.5 %, few at less."""
    assert expanded_tails(5000)[0] == pytest.approx(0.025, abs=1e-4)
    assert expanded_tails(6)[0] < 0.01


def test_whole_takes_are_drawn():
    """Rows of one take always come together, and as many takes as there are."""
    weights = take_weights(np.array([0, 0, 1, 2]), np.random.default_rng(1), 50)
    assert np.all(weights[:, 0] == weights[:, 1])
    assert np.all(weights[:, [0, 2, 3]].sum(axis=1) == 3)


@pytest.mark.parametrize("sd", [0.0, 0.5, 1.0])
def test_what_takes_share_is_found_again(sd):
    """Hits drawn with a spread of takes show that spread, and keep the mean chance."""
    rng = np.random.default_rng(4)
    of, chance = np.full(3000, 12), np.tile([0.3, 0.6, 0.85], 1000)
    hits = draw_hits(of, chance, np.arange(3000), sd, rng, 1)[0]
    assert shared_fate(hits, of, chance) == pytest.approx(sd, abs=0.1)
    assert hits.sum() / of.sum() == pytest.approx(chance.mean(), abs=0.015)


def test_data_are_their_own_seed():
    """The same columns give the same draws, others others."""
    assert seeded(np.array([1.0, 2.0])).random() == seeded(np.array([1.0, 2.0])).random()
    assert seeded(np.array([1.0, 2.0])).random() != seeded(np.array([1.0, 2.5])).random()
