"""Progress where the answer is plain; coverage over many players is the benchmark's."""

from __future__ import annotations

import numpy as np
import pytest
from ladders import sigmoid, table

from livecheck.measures.review.progress import progress

FIRST = 739_000  # a day number in 2024
LADDER = np.arange(80, 181, 5.0)


def days(gain, count=8, ladder=lambda at, middle: LADDER, apart=None, luck=0.0):
    """A ladder a day; the curve moves by ``gain`` bpm a week. ``ladder`` chooses the day's
    tempos."""
    rng = np.random.default_rng(2)
    day = 7 * np.arange(count) if apart is None else np.cumsum(apart)
    rows = []
    for at, number in enumerate(day):
        middle = 140 + gain * number / 7 + luck * rng.normal()
        rows += [
            (bpm, number, rng.binomial(20, sigmoid((middle - bpm) / 4)))
            for bpm in ladder(at, middle)
        ]
    bpm, day_of, clean = (np.array(column) for column in zip(*rows))
    return table(range(len(bpm)), bpm, np.full(len(bpm), 20), clean, day=FIRST + day_of)


def test_progress_is_in_bpm_a_week():
    """Two beats per minute a week are found; none is no sign of a trend."""
    told = progress(days(2)).bpm_a_week
    assert told.value == pytest.approx(2, abs=0.4) and told.sure and told.low < 2 < told.high
    assert not progress(days(0, luck=2)).bpm_a_week.sure


def test_days_at_irregular_distances_count_as_days():
    """Three days running, then a fortnight's rest, and so on."""
    told = progress(days(2, count=9, apart=[0, 1, 1, 14, 1, 2, 10, 1, 1])).bpm_a_week
    assert told.value == pytest.approx(2, abs=0.8) and told.low < 2 < told.high


def test_a_day_on_which_all_was_clean_says_that_it_lies_beyond():
    """From the fifth day on only tempos that go well are tried: the rise is still seen, and those
    days are told so."""
    tries = days(4, ladder=lambda at, middle: LADDER if at < 4 else LADDER[LADDER < 125])
    told = progress(tries)
    assert told.bpm_a_week.low < 4 < told.bpm_a_week.high
    assert [day.status for day in told.days] == ["found"] * 4 + ["above_range"] * 4
    last = told.days[-1]
    assert last.bpm == pytest.approx(tries.bpm[tries.day == last.number].max(), rel=0.01)


def test_stopping_early_when_it_goes_well_is_no_fall():
    """No gain at all, but half of the days stop while all is clean: those days' lower ends do not
    pull the trend."""
    tries = days(0, count=12, ladder=lambda at, middle: LADDER if at < 6 else LADDER[LADDER < 120])
    assert not progress(tries).bpm_a_week.sure


def test_a_days_own_secure_tempo_is_where_nine_in_ten_are_clean():
    """140 less four times the log of nine."""
    for day in progress(days(0)).days:
        assert day.status == "found" and day.bpm == pytest.approx(140 - 4 * np.log(9), abs=4)


def test_three_days_are_no_trend():
    """Fewer than four days say nothing; repetitions of an unknown day count for none."""
    assert progress(days(2, count=3)) is None
    tries = days(2, count=4)
    tries.day[tries.day == FIRST] = 0
    assert progress(tries) is None


def test_one_tempo_is_no_ladder():
    """Days at 120 bpm alone, or all clean throughout: nothing falls, nothing is told."""
    assert progress(days(0, ladder=lambda at, middle: [120.0])) is None
    assert progress(days(0, ladder=lambda at, middle: LADDER[LADDER < 110])) is None
