"""Published statistics of even playing and tapping against our measures and the built-in player."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from livecheck.measures.timing import cv_pct, just_noticeable_ms, npvi
from livecheck.player.habits import Habits
from livecheck.player.pulse import motor_sd

STEP_S = 0.125


def figures(intervals_s: list[float]) -> tuple[float, float]:
    cv, pairwise = cv_pct(intervals_s), npvi(intervals_s)
    assert cv is not None and pairwise is not None
    return cv, pairwise


def test_independent_intervals_have_the_known_spread() -> None:
    """SD 5 ms at T = 125 ms: CV 100 s/T = 4.00 %, nPVI 112.8 s/T = 4.51, lag-1 autocorrelation 0
    (sources.md E-12)."""
    rng = Random(1)
    intervals = [STEP_S + rng.gauss(0.0, 0.005) for _ in range(40_000)]
    cv, pairwise = figures(intervals)
    assert (cv, pairwise) == pytest.approx((4.00, 4.51), rel=0.02)
    assert float(np.corrcoef(intervals[:-1], intervals[1:])[0, 1]) == pytest.approx(0.0, abs=0.02)


def test_a_steady_drift_has_a_small_pairwise_index() -> None:
    """Each interval 1 % shorter: nPVI exactly 200 × 0.01 / 1.99 = 1.00503 (sources.md E-12), CV
    many times that."""
    cv, pairwise = figures([STEP_S * 0.99**at for at in range(50)])
    assert pairwise == pytest.approx(1.00503, abs=1e-5)
    assert cv > 10.0


def test_the_lag_one_covariance_gives_back_the_motor_delays_variance() -> None:
    """Clock 4 ms, motor 3 ms: minus the lag-1 covariance is 9 ms² (Wing & Kristofferson 1973,
    sources.md E-13), and CV 4.66 % (E-12)."""
    rng = Random(2)
    clock, onsets = 0.0, []
    for _ in range(40_000):
        clock += STEP_S + rng.gauss(0.0, 0.004)
        onsets.append(clock + rng.gauss(0.0, 0.003))
    intervals = np.diff(onsets)
    assert -1e6 * float(np.cov(intervals[:-1], intervals[1:])[0, 1]) == pytest.approx(9.0, rel=0.06)
    assert figures(intervals.tolist())[0] == pytest.approx(4.66, rel=0.02)


@pytest.mark.parametrize(("spread_ms", "published_pct"), [(8.1, 6.5), (8.9, 7.1)])
def test_pianists_intervals_scatter_by_more_than_is_just_noticed(
    spread_ms: float, published_pct: float
) -> None:
    """Scales at 125 ms: SD 8.1 and 8.9 ms, CV 6.5 and 7.1 % (Jabusch 2006, sources.md E-14), above
    6 ms (Friberg & Sundberg 1995, E-01; E-15)."""
    rng = Random(3)
    cv, _ = figures([STEP_S + rng.gauss(0.0, spread_ms / 1000.0) for _ in range(40_000)])
    assert cv == pytest.approx(published_pct, abs=0.1)
    assert spread_ms > just_noticeable_ms(STEP_S)


def test_the_built_in_player_scatters_as_trained_tappers_do() -> None:
    """Intervals of 300 to 600 ms: about 3 to 6 % of the interval, trained musicians towards 2 %
    (Repp 2005 and others, sources.md E-19, from memory); the usual player between 2 and 6 %."""
    habits = Habits()
    for interval_s in (0.3, 0.45, 0.6):
        motor_s = motor_sd(interval_s, habits)
        spread_s = (habits.timekeeper**2 + 2.0) ** 0.5 * motor_s  # sources.md E-12
        assert 2.0 <= 100.0 * spread_s / interval_s <= 6.0
