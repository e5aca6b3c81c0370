"""Changes of movement, against a published change point and small ladders whose answer is plain."""

from __future__ import annotations

import numpy as np
import pytest
from ladders import figure, layout
from statsmodels.datasets import nile

from livecheck.measures.review.changes import _Series, _usual_scatter, find_changes
from livecheck.measures.review.draws import take_weights
from livecheck.measures.review.splits import best_split, interval


def test_the_nile():
    """S-20: annual flow 1871 to 1970: one shift after observation 28 (1898); Cobb 1978, R
    strucchange."""
    flow = nile.load_pandas().data["volume"].to_numpy()
    gain, rss, at, before, after = (
        found[0]
        for found in best_split(flow[None, :], np.ones(100), np.eye(100), np.ones(99, bool))
    )
    assert at + 1 == 28
    assert (before, after) == pytest.approx((1097.75, 849.972), abs=1e-3)
    assert (rss, rss + gain) == pytest.approx((1597457.19, 2835156.75), abs=0.01)


def test_the_niles_interval():
    """S-20: R's strucchange gives 25 to 32 for the last year before the shift, from the theory of
    long series.

    Ours draws the years again. Its lower end is the same year; its upper end, the first year after
    the shift, lies inside R's: the years that follow 1898 were low one and all, so that draws
    seldom put the shift among them.
    """
    flow = nile.load_pandas().data["volume"].to_numpy()
    weights = take_weights(np.arange(100), np.random.default_rng(1), 4000)
    where = best_split(flow, weights, np.eye(100), np.ones(99, bool))[2]
    low, high = interval(where, 27, 100, np.arange(1.0, 101.0))
    assert low == 25 and 28 < high <= 32 + 1


def test_slots_tell_each_others_scatter():
    """Slots alike in scatter lend each other much, slots unlike in it little; the usual scatter is
    near the true one.

    The variances are drawn as G. K. Smyth's model has them: 4 degrees of freedom's worth about 9.
    """
    rng = np.random.default_rng(4)

    def told(variances):
        empty = np.zeros(10)
        return [
            _Series(empty, empty, empty, empty, empty, 0, (0.0, 0.0), 0.0, v * rng.chisquare(8))
            for v in variances
        ]

    usual, shared = _usual_scatter(told([9.0] * 200))
    assert shared > 15 and usual == pytest.approx(9.0, rel=0.1)
    usual, shared = _usual_scatter(told(9.0 * 4 / rng.chisquare(4, size=2000)))
    assert shared == pytest.approx(4, rel=0.25) and usual == pytest.approx(9.0, rel=0.1)


def ladder(seed, faults=(), shift=None, design="many"):
    rng = np.random.default_rng(seed)
    rows = layout(rng, np.arange(90, 181, 7.5), 20, design)
    return figure(
        rng, rows, [("noise", 1, lambda bpm: np.full(len(bpm), 0.04)), *faults], 0.5, shift
    )


@pytest.mark.parametrize("design", ["one", "many", "climb"])
def test_a_softer_slot_is_told_with_its_tempo(design):
    """Slot 5's attack falls by 0.3 above 132: that and nothing else, with an interval around it."""
    (change,) = find_changes(ladder(1, shift=("attack", 5, 132.0, -0.3), design=design))
    assert (change.what, change.slot, change.string) == ("attack", 5, 5)
    assert change.low_bpm <= 132 <= change.high_bpm and change.from_bpm == pytest.approx(
        132, rel=0.05
    )
    assert change.after - change.before == pytest.approx(-0.25, abs=0.08)


def test_a_late_slot_is_told_in_ms():
    """Slot 3 comes 12 ms later above 120; what the line through all slots gives the others is not
    told."""
    (change,) = find_changes(ladder(2, shift=("timing", 3, 120.0, 12.0)))
    assert (change.what, change.slot) == ("timing", 3)
    assert change.after - change.before == pytest.approx(10, abs=2.5)


def test_a_string_that_begins_to_sound_is_told():
    """String 4 sounds in four repetitions of ten above 150."""
    faults = [("noise", 4, lambda bpm: np.where(bpm > 150, 0.4, 0.02))]
    (change,) = find_changes(ladder(3, faults))
    assert (change.what, change.slot, change.string) == ("noise", None, 4)
    assert change.from_bpm == pytest.approx(150, rel=0.05)
    assert change.before < 0.1 and change.after > 0.25


def test_the_same_movement_at_every_tempo_has_no_change():
    """Ten ladders without a change: at most one false alarm among all their series."""
    assert sum(bool(find_changes(ladder(seed))) for seed in range(10)) <= 1


def test_one_tempo_has_no_change():
    """Nothing to compare."""
    rng = np.random.default_rng(1)
    assert find_changes(figure(rng, layout(rng, np.array([120.0]), 30, "many"), [])) == []


@pytest.mark.parametrize("gap", [False, True])
def test_tempos_far_apart_are_told_as_two(gap):
    """Where no tempo near the change was played, both sides are told and no tempo between."""
    rng = np.random.default_rng(7)
    tempos = np.array([90.0, 96, 102, 108, 140, 147]) if gap else np.arange(90.0, 150.0, 6.0)
    bpm = np.repeat(tempos, 3)
    tries = figure(rng, (np.arange(len(bpm)), bpm, np.full(len(bpm), 20)), [], 0.3)
    level = 1.0 - 0.4 * (tries.bpm > 120)
    tries.attack_n[:, 2] = tries.n
    tries.attack_sum[:, 2] = tries.n * (level + rng.normal(0.0, 0.03, len(level)))
    told = [one for one in find_changes(tries) if one.what == "attack" and one.slot == 3]
    assert len(told) == 1
    assert told[0].between == (pytest.approx((108.0, 140.0), rel=0.01) if gap else None)
