"""Secure and break tempo on small ladders whose answer is plain."""

from __future__ import annotations

import numpy as np
import pytest
from ladders import simple, table

from livecheck.measures.review.curve import fit_curve
from livecheck.measures.review.limits import tempo_limits
from livecheck.measures.stats import sigmoid


def ladder(middle=147.0, width=5.0, lapse=0.0, n=1000):
    """Exact shares of a falling curve."""
    bpm = np.arange(80, 181, 10.0)
    chance = (1 - lapse) * sigmoid((middle - bpm) / width)
    return simple([(b, round(n * p), n) for b, p in zip(bpm, chance)])


def test_both_tempos_are_read_off_as_plain_probabilities():
    """At one half and at nine in ten of clean repetitions, not of the way between floor and
    lapse."""
    found = tempo_limits(ladder(lapse=0.06))
    inner = {level: np.log((level / 0.94) / (1 - level / 0.94)) for level in (0.5, 0.9)}
    assert found.broken.bpm == pytest.approx(147 - 5 * inner[0.5], abs=1.0)
    assert found.secure.bpm == pytest.approx(147 - 5 * inner[0.9], abs=2.0)
    assert found.broken.low_bpm < found.broken.bpm < found.broken.high_bpm


def test_a_clean_ladder_has_not_reached_its_break():
    """S-05: all clean: above the range, and the fastest tempo tried is named."""
    found = tempo_limits(simple([(bpm, 12, 12) for bpm in (80, 100, 120, 140)]))
    for limit in (found.secure, found.broken):
        assert (limit.status, limit.bpm, limit.low_bpm) == ("above_range", None, 140)


def test_a_broken_ladder_lies_above_its_break():
    """S-05: nothing clean: below the range, and the slowest tempo tried is named."""
    found = tempo_limits(simple([(bpm, 0, 12) for bpm in (80, 100, 120)]))
    for limit in (found.secure, found.broken):
        assert (limit.status, limit.bpm, limit.high_bpm) == ("below_range", None, 80)


def test_perfect_separation_gives_the_gap():
    """S-04: clean up to 3, broken from 4 on: between 3 and 4, whatever the number inside."""
    found = tempo_limits(
        simple([(bpm, 20 * (bpm <= 130), 20) for bpm in (100, 110, 120, 130, 140, 150, 160)])
    )
    assert found.broken.status == "found"
    assert found.broken.gap == (130, 140)
    assert found.broken.low_bpm == pytest.approx(
        130, abs=1
    ) and found.broken.high_bpm == pytest.approx(140, abs=1)


def test_six_tries_say_little_more_than_nothing():
    """S-04 as it stands: the gap is told, and the interval is honest about single tries."""
    found = tempo_limits(simple([(bpm, bpm <= 130, 1) for bpm in (110, 120, 130, 140, 150, 160)]))
    assert found.broken.gap == (130, 140)
    assert found.broken.low_bpm < 128 and found.broken.high_bpm > 145


def test_too_few_tries_say_nothing():
    """Five repetitions are no ladder."""
    found = tempo_limits(simple([(100, 2, 2), (120, 1, 2), (140, 0, 1)]))
    assert (found.broken.status, found.secure.status, found.band) == ("too_few", "too_few", None)


def test_one_tempo_can_only_lie_on_one_side():
    """Twenty tries at one tempo: nineteen clean ones lie above the break, but nine in ten is
    open."""
    found = tempo_limits(simple([(120, 19, 20)]))
    assert (found.broken.status, found.secure.status) == ("above_range", "too_few")
    assert tempo_limits(simple([(120, 1, 20)])).broken.status == "below_range"


def test_a_player_who_never_is_that_sure_has_no_secure_tempo():
    """Eight in ten however slow: the break is found, the secure tempo lies below everything
    tried."""
    found = tempo_limits(ladder(lapse=0.2))
    assert (found.secure.status, found.broken.status) == ("below_range", "found")


def test_an_awkward_range_is_not_the_break():
    """Clumsy from 90 to 100, smooth at 110 to 140: with that range set aside the break is the one
    on top."""
    counts = [
        (80, 20),
        (90, 6),
        (100, 6),
        (110, 20),
        (120, 20),
        (130, 19),
        (140, 16),
        (150, 6),
        (160, 1),
        (170, 0),
    ]
    found = tempo_limits(simple([(bpm, clean, 20) for bpm, clean in counts]), dip=True)
    assert found.broken.bpm == pytest.approx(147, abs=3)
    assert found.secure.bpm == pytest.approx(136, abs=6)


def test_takes_that_share_their_fate_widen_the_interval():
    """The same counts from fewer, all-or-nothing takes say less about the break."""
    bpm, turn = np.repeat(np.arange(100, 181, 10.0), 10), np.tile(np.arange(10), 9)
    good = turn < np.repeat(np.linspace(10, 1, 9).round(), 10)
    single = tempo_limits(table(np.arange(90), bpm, np.full(90, 2), 2 * good)).broken
    joined = tempo_limits(table(turn, bpm, np.full(90, 2), 2 * good)).broken
    assert single.bpm == pytest.approx(joined.bpm, rel=0.02)
    assert joined.high_bpm - joined.low_bpm > 1.2 * (single.high_bpm - single.low_bpm)


def test_the_same_tries_give_the_same_interval():
    """Drawing is seeded by the data: an answer does not change from one look to the next."""
    assert tempo_limits(ladder(n=20)).broken == tempo_limits(ladder(n=20)).broken


def test_the_band_holds_the_curve():
    """The curve for drawing lies within its band everywhere."""
    band = tempo_limits(ladder(n=20)).band
    assert np.all(band.low <= band.chance) and np.all(band.chance <= band.high)


def test_the_curve_agrees_with_a_staircase():
    """S-16, S-19: two clean in a row -> faster, one flawed -> slower settles where the chance is
    0.7071 (Levitt 1971).

    Tempos of such a walk put into the review's fit: the curve falls through 0.7071 where the walk
    turned. (S-17 and S-18 follow single walks by hand; nothing here walks a staircase, the player
    chooses the tempos.)
    """
    rng = np.random.default_rng(3)
    bpm, run, rising, turns, rows = 120.0, 0, True, [], []
    for _ in range(6000):
        clean = rng.random() < 1.0 / (1.0 + np.exp((bpm - 130.0) / 5.0))
        rows.append((bpm, int(clean)))
        run = run + 1 if clean else 0
        if not clean or run == 2:
            turns += [bpm] if clean != rising else []
            rising, run = clean, 0
            bpm += 1.0 if clean else -1.0
    at, hits = np.array(rows).T
    tempos, of_row = np.unique(at, return_inverse=True)
    curve, _ = fit_curve(tempos, np.bincount(of_row, hits), np.bincount(of_row))
    assert curve.x_at(0.5**0.5) == pytest.approx(np.mean(turns[20:]), rel=0.01)
