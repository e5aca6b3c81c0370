"""Drawing again, against known spreads."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.measures.review.draws import (
    draw_hits,
    expanded_tails,
    seeded,
    shared_fate,
    take_weights,
)


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
