"""What goes first, on ladders where it was planted; rates over many ladders are the benchmark's."""

from __future__ import annotations

import numpy as np
import pytest
from ladders import figure, layout, sigmoid

from livecheck.measures.review import first_to_go as module
from livecheck.measures.review.limits import standing, tempo_limits


def rise(middle, width=4.0):
    return lambda bpm: 0.003 + 0.99 * sigmoid((bpm - middle) / width)


def ladder(faults, seed=1):
    rng = np.random.default_rng(seed)
    return figure(rng, layout(rng, np.arange(90, 181, 7.5), 20, "many"), faults, 0.5)


def first_to_go(tries):
    stands = standing(tries)
    return module.first_to_go(tries, stands, tempo_limits(tries, stands))


@pytest.mark.parametrize(
    ("kind", "place", "slot", "string"),
    [
        ("missed", 5, 5, 5),
        ("wrong", 2, 2, 2),
        ("broken", 6, 6, 5),
        ("noise", 4, 4, 4),
        ("stray", 3, 3, 2),
    ],
)
def test_the_fault_that_rises_first_is_told(kind, place, slot, string):
    """Planted from about 136 on; another slot follows at 160."""
    found, why = first_to_go(ladder([(kind, place, rise(145)), ("missed", 1, rise(165))]))
    assert why is None and found.chance >= 0.9
    assert (found.fault, found.slot, found.string) == (kind, slot, string)
    assert found.from_bpm == pytest.approx(136, abs=5)


def test_notes_that_fail_about_as_often_are_no_first():
    """Six notes that give way alike: none is named, and the sentence says which are alike."""
    found, why = first_to_go(ladder([("missed", slot, rise(175, 9.0)) for slot in range(1, 7)]))
    assert found is None and why.startswith("no one note ")


def test_it_is_never_told_beyond_the_break():
    """From which tempo it goes lies no higher than where the cell breaks, in six ladders."""
    for seed in range(6):
        tries = ladder([("missed", 3, rise(150, 2.0)), ("wrong", 1, rise(152, 8.0))], seed)
        stands = standing(tries)
        limits = tempo_limits(tries, stands)
        found, _ = module.first_to_go(tries, stands, limits)
        assert found is None or found.from_bpm <= limits.broken.bpm, seed


def test_a_fault_that_was_always_there_does_not_go_first():
    """Slot 2 is missed in one of five at any tempo; slot 4 is the one that gives way."""
    found, _ = first_to_go(
        ladder([("missed", 2, lambda bpm: np.full(len(bpm), 0.2)), ("missed", 4, rise(150))])
    )
    assert found.slot == 4


def test_no_rise_no_answer():
    """Faults that do not depend on the tempo give no first to go."""
    found, why = first_to_go(ladder([("missed", 2, lambda bpm: np.full(len(bpm), 0.2))]))
    assert found is None and why
    found, why = first_to_go(ladder([]))
    assert found is None and why == "nothing fails more often as it gets faster"
