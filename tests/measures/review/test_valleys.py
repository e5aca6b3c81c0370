"""Awkward ranges on small ladders whose answer is plain; rates over many ladders are the
benchmark's."""

from __future__ import annotations

import numpy as np
import pytest
from ladders import simple, table

from livecheck.measures.review.limits import standing
from livecheck.measures.review.valleys import find_valley


def ladder(shares, n=10, takes=2):
    """Each tempo from 80 in steps of 10, played in some takes of n with the same share of clean
    ones."""
    return simple(
        [(80 + 10 * i, round(n * share), n) for i, share in enumerate(shares) for _ in range(takes)]
    )


def found(tries):
    return find_valley(tries, standing(tries))


def test_a_clumsy_span_between_smooth_ones_is_found():
    """Smooth at 80 and 90, clumsy at 100 and 110, smooth again to 150, then broken."""
    valley = found(ladder([1, 1, 0.4, 0.4, 1, 1, 0.9, 0.9, 0.3, 0]))
    assert (valley.low_bpm, valley.high_bpm, valley.from_slowest) == (100, 110, False)
    assert valley.sure and (valley.clean, valley.reps) == (16, 40)
    assert (valley.below, valley.above) == ((20, 20), (20, 20))
    assert valley.ask_bpm == (90, pytest.approx(104.9, abs=0.1), 120) and valley.reps_to_know == 30


def test_clumsy_slow_and_smooth_fast_is_found():
    """Worse at the slowest tempos than faster on: no slower ones are needed to call it awkward."""
    valley = found(ladder([0.3, 0.4, 0.5, 1, 1, 1, 1, 0.6, 0.1]))
    assert valley.from_slowest and valley.low_bpm == 80 and valley.high_bpm in (90, 100)


def test_a_falling_ladder_has_no_valley():
    """Faster is worse all the way, a little scatter or none: no sign of a valley."""
    assert found(ladder([1, 1, 1, 0.9, 0.9, 0.8, 0.6, 0.3, 0.1, 0])) is None
    assert found(ladder([1, 0.9, 1, 0.9, 1, 0.8, 0.9, 0.3, 0.2, 0])) is None


def test_one_bad_take_is_no_valley():
    """Takes that differ as a matter of course: one poor one at one tempo says nothing about the
    tempo."""
    rng = np.random.default_rng(1)
    luck = rng.permutation(np.tile([1.0, 0.9, 0.6, 0.3], 9))
    bpm = np.repeat(np.arange(80, 161, 10.0), 4)
    clean = np.round(10 * luck)
    clean[4:8] = [2, 8, 9, 10]
    assert found(table(np.arange(36), bpm, np.full(36, 10), clean)) is None


def test_too_few_tempos_or_tries_say_nothing():
    """Three rungs, or a handful of tries, cannot show a valley."""
    assert found(ladder([1, 0, 1])) is None
    assert found(simple([(80, 1, 1), (90, 0, 1), (100, 1, 1), (110, 1, 1), (120, 0, 1)])) is None
