"""The slot profile: means, intervals and what can be heard."""

from __future__ import annotations

import pytest
from scipy import stats

from livecheck.core.cell import make_cell
from livecheck.core.events import HIT, Evenness, Repetition, SlotResult
from livecheck.measures.profile import LEAST_COUNT, slot_profile

CELL = make_cell("three", [(2, 13), (2, 10), (3, 12, None, 2)])


def repetition(*deviations_ms: float | None, bpm: float | None = 100.0) -> Repetition:
    slots = tuple(
        SlotResult(number, HIT, None, None, value) for number, value in enumerate(deviations_ms, 1)
    )
    nothing = Evenness(None, None, None, None)
    return Repetition(
        rep=1,
        take=1,
        cell=CELL,
        start_s=0.0,
        end_s=1.0,
        complete=True,
        pause_s=0.0,
        tempo_bpm=bpm,
        notes_per_s=None,
        slots=slots,
        extras=(),
        accuracy=1.0,
        clean=True,
        evenness=nothing,
    )


def test_the_interval_of_a_mean_agrees_with_scipy() -> None:
    """Mean and 95 % interval of a slot are the t interval of its deviations."""
    values = [3.0, -1.5, 7.25, 4.0, 2.0, 5.5, 0.25]
    mean = slot_profile([repetition(value, 0.0, 0.0) for value in values])[0]
    low, high = stats.t.interval(0.95, len(values) - 1, stats.tmean(values), stats.sem(values))
    assert mean.mean_ms == pytest.approx(stats.tmean(values))
    assert (mean.low_ms, mean.high_ms) == pytest.approx((low, high), rel=1e-3)


def test_a_slot_leans_only_when_its_whole_interval_can_be_noticed() -> None:
    """8 ms late without scatter can be heard at 100 bpm in sixteenths, 6 ms exactly cannot
    (sources.md E-01: 6 ms)."""
    late, edge, early = slot_profile([repetition(8.0, 6.0, -8.0)] * 6)
    assert (late.lean, edge.lean, early.lean) == ("late", None, "early")


def test_above_240_ms_the_noticeable_figure_grows_with_the_interval() -> None:
    """At 40 bpm a sixteenth lasts 375 ms, 2.5 % of it are 9.375 ms; after the long note 18.75
    (sources.md E-01)."""
    first, second, third = slot_profile([repetition(8.0, 8.0, 8.0, bpm=40.0)] * 6)
    assert (first.noticeable_ms, second.noticeable_ms, third.noticeable_ms) == pytest.approx(
        (18.75, 9.375, 9.375)
    )
    assert first.lean is None


def test_too_few_deviations_say_nothing() -> None:
    """Below the least count there is no mean, only the count; missed slots do not count."""
    profile = slot_profile([repetition(9.0, None, 9.0)] * (LEAST_COUNT - 1))
    assert [(mean.count, mean.mean_ms) for mean in profile] == [(4, None), (0, None), (4, None)]
    assert slot_profile([]) == ()
