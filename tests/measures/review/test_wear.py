"""Wear where the answer is plain; coverage over many sittings is the benchmark's."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from ladders import sigmoid, table

from livecheck.measures.review.wear import wear

MINUTES = np.arange(0, 40, 2.0)


def sitting(fall, tempos=(100.0, 120.0), cv_rise=0.0, seed=1):
    """Forty minutes, a take every two, tempo after tempo; clean share falls by ``fall`` points in
    ten minutes."""
    bpm = np.resize(np.asarray(tempos, float), len(MINUTES))
    n = np.full(len(bpm), 50.0)
    chance = 0.95 - fall / 1000 * MINUTES - 0.001 * (bpm - 80)
    cv = 4 + cv_rise / 10 * MINUTES + np.random.default_rng(seed).normal(0, 0.2, len(bpm))
    return table(
        range(len(bpm)), bpm, n, np.round(n * chance), minute=MINUTES, cv_sum=n * cv, cv_n=n
    )


def test_wear_is_the_fall_at_equal_tempo():
    """Ten points less clean in ten minutes are told so, with an interval."""
    told = wear(sitting(10)).clean_points
    assert told.value == pytest.approx(-10, abs=0.5) and told.sure


def test_evenness_that_stays_shows_no_trend_but_by_chance():
    """Of forty sittings without any about two are told to have one: the interval is a 95 % one."""
    assert sum(wear(sitting(0, seed=seed)).cv_points.sure for seed in range(40)) <= 4


def test_it_is_the_slope_of_least_squares_within_each_tempo():
    """With a level of its own for each tempo, statsmodels' regression finds the same."""
    tries = sitting(10)
    y = 100 * tries.clean / tries.n
    design = np.stack([tries.minute / 10, tries.bpm == 100, tries.bpm == 120], axis=1).astype(float)
    theirs = sm.OLS(y, design).fit().params[0]
    assert wear(tries).clean_points.value == pytest.approx(theirs, abs=1e-9)


def test_a_wild_take_does_not_move_the_evenness():
    """One take at three times the scatter: the rise of half a point in ten minutes stays."""
    tries = sitting(0, cv_rise=0.5)
    tries.cv_sum[18] *= 3
    assert wear(tries).cv_points.value == pytest.approx(0.5, abs=0.15)


def test_a_single_climb_says_nothing_about_wear():
    """Each tempo was played once: faster and later cannot be told apart."""
    assert wear(sitting(10, tempos=80 + 3 * MINUTES)) is None


def test_a_slow_creep_upwards_is_no_wear():
    """Half a per cent faster each take: neighbours are alike in tempo, but the later is always the
    faster."""
    assert wear(sitting(10, tempos=100 * 1.005 ** np.arange(20))) is None


def test_a_climb_that_breaks_later_is_no_wear():
    """Two climbs on one curve, the same early and late: fewer clean ones at the end of each are the
    tempo's."""
    ladder = np.linspace(90, 160, 10)
    tries = sitting(0, tempos=ladder)
    tries.clean[:] = np.round(tries.n * sigmoid((130 - tries.bpm) / 6))
    told = wear(tries)
    assert abs(told.clean_points.value) < 0.01 and not told.clean_points.sure


def test_few_takes_tell_nothing():
    """Seven takes are no trend."""
    tries = sitting(10)
    assert wear(tries.where(np.arange(20) < 7)) is None


@pytest.mark.parametrize("seed", range(3))
def test_no_wear_is_no_sign_of_wear(seed):
    """Chance alone, at tempos in any order: the interval holds nought."""
    rng = np.random.default_rng(seed)
    bpm, minute = rng.choice([100.0, 120.0, 140.0], 30), np.sort(rng.uniform(0, 40, 30))
    n = np.full(30, 10)
    clean = rng.binomial(n, sigmoid((135 - bpm) / 8))
    told = wear(table(range(30), bpm, n, clean, minute=minute))
    assert not told.clean_points.sure
