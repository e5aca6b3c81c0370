"""Places on the neck for pitches alone."""

from __future__ import annotations

from itertools import product
from random import Random

import pytest

from livecheck.core.positions import HIGHEST_FRET, readings

STANDARD = (64, 59, 55, 50, 45, 40)


@pytest.mark.parametrize("seed", range(30))
def test_every_reading_sounds_the_pitches(seed):
    """Whatever tuning and capo; no reading stands there twice."""
    rng = Random(seed)
    tuning, capo = tuple(pitch - rng.choice((0, 2)) for pitch in STANDARD), rng.choice((0, 3))
    pitches = [rng.randint(44, 80) for _ in range(rng.randint(1, 12))]
    found = readings(pitches, tuning, capo)
    assert found and len(set(found)) == len(found) <= 8
    for places in found:
        assert [tuning[string - 1] + capo + fret for string, fret in places] == pitches
        assert all(0 <= fret <= HIGHEST_FRET for _, fret in places)


@pytest.mark.parametrize("seed", range(8))
def test_what_one_hand_can_hold_is_read_without_a_shift(seed):
    """Against all places by brute force: where some way fits under four fingers without an open
    string, one of the readings does."""
    rng = Random(seed)
    hand, strings = rng.randint(5, 12), rng.sample(range(1, 7), 2)
    places = [(rng.choice(strings), hand + rng.randint(0, 3)) for _ in range(5)]
    pitches = [STANDARD[string - 1] + fret for string, fret in places]
    ways = [
        [(s, pitch - o) for s, o in enumerate(STANDARD, 1) if 0 < pitch - o <= HIGHEST_FRET]
        for pitch in pitches
    ]
    held = {way for way in product(*ways) if max(f for _, f in way) - min(f for _, f in way) <= 3}
    assert tuple(places) in held
    assert held & set(readings(pitches, STANDARD))


def test_what_is_on_no_string_has_no_reading():
    """Too low, too high."""
    assert readings([30], STANDARD) == [] and readings([64, 100], STANDARD) == []
