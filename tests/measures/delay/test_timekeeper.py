"""The player's clock: rows made independent, and the clock of highest likelihood."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from statsmodels.tsa.statespace.structural import UnobservedComponents

from livecheck.measures.delay.timekeeper import Clock, likeliest, whiten


def onsets_ms(strokes: int, keeper_ms: float, motor_ms: float, seed: int = 1) -> np.ndarray:
    """Strokes off an even grid after the two-level model (sources.md E-13)."""
    rng = Random(seed)
    clock, found = 0.0, []
    for _ in range(strokes):
        clock += rng.gauss(0.0, keeper_ms)
        found.append(clock + rng.gauss(0.0, motor_ms))
    return np.array(found)


def lag_1(values: np.ndarray) -> float:
    return float(np.corrcoef(values[:-1], values[1:])[0, 1])


def test_intervals_hang_together_as_published_and_whitened_rows_do_not() -> None:
    """Clock 4 ms, motor 3 ms: intervals' SD 5.831 ms and r -0.2647 (sources.md E-12); whitened, SD
    3 ms and r 0."""
    away = onsets_ms(20_000, 4.0, 3.0)
    gaps = np.diff(away)
    assert float(gaps.std()) == pytest.approx(5.831, rel=0.02)
    assert lag_1(gaps) == pytest.approx(-0.2647, abs=0.02)
    white = whiten(away[:, None], [0] + [1] * 19_999, Clock(16.0 / 9.0, 0.0, 1.0))[2:, 0]
    assert float(white.std()) == pytest.approx(3.0, rel=0.02)
    assert lag_1(white) == pytest.approx(0.0, abs=0.02)


def test_surprises_are_those_of_statsmodels_filter() -> None:
    """A walk at an unknown tempo with noise, in statsmodels' own filter: equal standardised
    surprises."""
    away = onsets_ms(200, 2.0, 3.0)
    model = UnobservedComponents(away, "lldtrend")
    reference = model.filter([9.0, 4.0]).standardized_forecasts_error[0]
    white = whiten(away[:, None], [0] + [1] * 199, Clock(4.0 / 9.0, 0.0, 1.0))[:, 0] / 3.0
    assert white[20:] == pytest.approx(reference[20:], abs=0.02)


@pytest.mark.parametrize(("keeper_ms", "share"), [(0.3, 0.01), (1.8, 0.36), (4.2, 2.0)])
def test_the_likeliest_clock_is_near_the_true_one(keeper_ms: float, share: float) -> None:
    """Motor 3 ms beside three timekeepers: the variance is found within a step or two of the grid
    (E-13)."""
    found = likeliest(onsets_ms(1000, keeper_ms, 3.0), [0] + [1] * 999, to_click=False)
    assert share / 2.8 <= float(found.keeper) <= share * 3.1


def test_a_player_drawn_back_to_a_click_is_told_by_how_much() -> None:
    """Half of a lead is left at the next stroke: neither nearly all nor nearly none is found."""
    rng = Random(3)
    lead, away = 0.0, []
    for _ in range(1500):
        lead = 0.6 * lead + rng.gauss(0.0, 4.0)
        away.append(lead + rng.gauss(0.0, 2.0))
    found = likeliest(away, [0] + [1] * 1499, to_click=True)
    assert 0.3 <= float(found.left) <= 0.8


def test_a_tempo_of_any_kind_leaves_nothing() -> None:
    """A straight line off the grid, that is another tempo, is no surprise once two strokes are
    known."""
    line = 7.0 * np.arange(60.0)[:, None]
    assert np.abs(whiten(line, [0] + [1] * 59, Clock(0.36, 1e-4, 1.0))[8:]).max() < 0.05


def test_a_stroke_left_out_is_a_step_of_two_and_a_pause_begins_anew() -> None:
    """Without every seventh stroke the rows are as independent as before; after a pause any place
    is as good."""
    away = onsets_ms(7000, 4.0, 3.0)
    kept = [at for at in range(7000) if at % 7 != 3]
    steps = [0] + [later - at for at, later in zip(kept, kept[1:])]
    white = whiten(away[kept][:, None], steps, Clock(16.0 / 9.0, 0.0, 1.0))[2:, 0]
    assert float(white.std()) == pytest.approx(3.0, rel=0.03)
    away[3500:] += 500.0
    anew = whiten(away[:, None], [0] + [1] * 3499 + [0] + [1] * 3499, Clock(16.0 / 9.0, 0.0, 1.0))
    assert np.abs(anew[2:]).max() < 15.0
