"""Wear and progress where the answer is plain."""

from __future__ import annotations

import numpy as np
import pytest
from ladders import sigmoid, table

from livecheck.measures.trends import progress, wear


def sitting(fall, climbing=False):
    """Forty minutes, a take every two; clean share falls by ``fall`` points in ten minutes."""
    minute = np.arange(0, 40, 2.0)
    bpm = 80 + 3 * minute if climbing else np.tile([100.0, 120.0], 10)
    n = np.full(20, 50.0)
    clean = np.round(n * (0.95 - fall / 1000 * minute - 0.001 * (bpm - 80)))
    rng = np.random.default_rng(1)
    return table(range(20), bpm, n, clean, minute=minute, cv_sum=n * (4 + rng.normal(0, 0.2, 20)), cv_n=n)


def test_wear_is_the_fall_at_equal_tempo():
    """Ten points less clean in ten minutes are told so, with an interval; evenness that stays shows no trend."""
    told = wear(sitting(10))
    assert told.clean_points.value == pytest.approx(-10, abs=0.7) and told.clean_points.sure
    assert abs(told.cv_points.value) < 0.3 and not told.cv_points.sure


def test_a_single_climb_says_nothing_about_wear():
    """Each tempo was played once: faster and later cannot be told apart."""
    assert wear(sitting(10, climbing=True)) is None


def days(gain, count=8):
    bpm = np.tile(np.arange(80, 181, 10.0), count)
    day = np.repeat(7 * np.arange(count), 11)
    chance = sigmoid((140 + gain * day / 7 - bpm) / 5)
    rng = np.random.default_rng(2)
    n = np.full(len(bpm), 40)
    return table(range(len(bpm)), bpm, n, rng.binomial(n, chance), day=day)


def test_progress_is_in_bpm_a_week():
    """Two beats per minute a week are found; none is no sign of a trend."""
    assert progress(days(2)).bpm_a_week.value == pytest.approx(2, abs=0.8)
    assert progress(days(2)).bpm_a_week.sure
    assert not progress(days(0)).bpm_a_week.sure


def test_three_days_are_no_trend():
    """Fewer than four days say nothing."""
    assert progress(days(2, count=3)) is None
