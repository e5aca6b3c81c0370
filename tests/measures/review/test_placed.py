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


def test_takes_that_go_through_a_ladder_keep_its_tempos():
    """Eight tempos, 8 % apart, two or three repetitions each that scatter by 1 %: at most one in
    twenty stands more than 3 % from where it was played."""
    rng = np.random.default_rng(2)
    far = []
    for _ in range(10):
        played = np.repeat(100.0 * 1.08 ** np.arange(8), int(rng.integers(2, 4)))
        tempos = played * np.exp(rng.normal(0.0, 0.01, len(played)))
        found = placed([rep(i, bpm=float(bpm)) for i, bpm in enumerate(tempos)])
        far += [abs(at / bpm - 1.0) > 0.03 for (_, at), bpm in zip(found, played)]
    assert np.mean(far) < 0.05


def test_a_last_uneven_repetition_is_no_tempo_of_its_own():
    """Fifteen at 120, the last one, in which a note was missed, a tenth faster: it stands at
    120."""
    take = [rep(i, bpm=120.0) for i in range(15)]
    take.append(rep(15, "hit missed hit hit", bpm=132.0))
    assert placed(take)[-1][1] == pytest.approx(120.0, rel=0.01)
