"""Brushed or struck."""

from __future__ import annotations

from math import exp
from random import Random

import pytest

from livecheck.measures.noise.touched import USUAL_SCATTER, Sound, full_chances


def sounds(count: int, level: float, length_s: float, rng: Random) -> list[Sound]:
    """Alike but for some scatter."""
    return [
        Sound(level * exp(rng.gauss(0.0, 0.15)), length_s * exp(rng.gauss(0.0, 0.25)), True)
        for _ in range(count)
    ]


@pytest.mark.parametrize("late_s", [0.0, 0.06])
def test_soft_and_short_is_brushed_and_loud_and_long_struck(late_s: float) -> None:
    """Whatever the converter adds to each note's length."""
    rng = Random(1)
    soft = [
        one._replace(length_s=one.length_s + late_s)
        for one in sounds(10, 0.3, 0.03, rng)
        if one.length_s
    ]
    full = [
        one._replace(length_s=one.length_s + late_s)
        for one in sounds(10, 0.9, 0.2, rng)
        if one.length_s
    ]
    chances = full_chances([*soft, *full], USUAL_SCATTER, late_s)
    assert max(chances[:10]) < 0.1 and min(chances[10:]) > 0.9


def test_a_single_sound_is_told_by_what_is_usual() -> None:
    """Nothing else was heard in the sitting."""
    assert full_chances([Sound(0.25, 0.03, True)], USUAL_SCATTER, 0.0)[0] < 0.1
    assert full_chances([Sound(1.0, 0.3, True)], USUAL_SCATTER, 0.0)[0] > 0.9


def test_a_converter_of_one_velocity_leaves_the_length() -> None:
    """A fixed curve gives no softness (sources.md C-16)."""
    rng = Random(2)
    short = [one._replace(attack=1.0) for one in sounds(12, 1.0, 0.03, rng)]
    long = [one._replace(attack=1.0) for one in sounds(12, 1.0, 0.25, rng)]
    chances = full_chances([*short, *long], 0.0, 0.0)
    assert max(chances[:12]) < 0.2 and min(chances[12:]) > 0.8


def test_velocities_pressed_together_are_weighed_by_the_scatter_of_the_slots() -> None:
    """0.6 of the usual is soft where slots scatter by 0.05, and nothing special where they scatter
    by 0.15."""
    one = [Sound(0.6, 0.09, True)]
    assert full_chances(one, 0.05, 0.0)[0] < 0.5 < full_chances(one, 0.15, 0.0)[0]


def test_a_note_that_the_next_one_ended_may_have_been_meant_to_last() -> None:
    """Loud and cut short by the string's next stroke is struck."""
    assert full_chances([Sound(0.8, 0.04, False)], USUAL_SCATTER, 0.0)[0] > 0.9


def test_a_sound_that_has_not_ended_goes_by_its_velocity() -> None:
    """And where that says nothing either, it is as likely to be of one kind as of the other."""
    loud, soft, unknown = (
        full_chances([Sound(attack, None, True)], USUAL_SCATTER, 0.0)[0]
        for attack in (1.0, 0.2, None)
    )
    assert loud > 0.9 and soft < 0.1 and unknown == pytest.approx(0.5, abs=0.01)
    assert full_chances([], USUAL_SCATTER, 0.0) == []
