"""The tempo that repetitions stand at."""

from __future__ import annotations

import numpy as np
import pytest
from test_table import rep

from livecheck.measures.review.placed import placed


def test_an_uneven_players_repetitions_share_the_tempo_of_their_take():
    """Sixty repetitions at 166, each tempo off by 2 %: all stand within 1 % of 166."""
    rng = np.random.default_rng(1)
    take = [rep(i, bpm=166.0 * float(np.exp(rng.normal(0, 0.02)))) for i in range(60)]
    assert {round(at) for _, at in placed(take)} <= {165, 166, 167}


def test_a_change_of_tempo_in_a_take_is_two_tempos():
    """Ten at 120, then ten at 132, without a pause."""
    take = [rep(i, bpm=120.0) for i in range(10)] + [rep(i, bpm=132.0) for i in range(10, 20)]
    found = [at for _, at in placed(take)]
    assert found[:10] == pytest.approx([120.0] * 10) and found[10:] == pytest.approx([132.0] * 10)


def test_a_single_fast_repetition_stands_by_itself():
    """Wholly played, a fifth faster than its neighbours: a burst, and no slip."""
    take = [rep(i, bpm=150.0 if i == 5 else 120.0) for i in range(11)]
    found = [at for _, at in placed(take)]
    assert found[5] == pytest.approx(150.0) and found[4] == pytest.approx(120.0)
