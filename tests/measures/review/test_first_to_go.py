"""What goes first, on ladders where it was planted; rates over many ladders are the benchmark's."""

from __future__ import annotations

import numpy as np
import pytest
from ladders import figure, layout, sigmoid

from livecheck.measures.review.first_to_go import first_to_go, rising_faults


def rise(middle, width=4.0):
    return lambda bpm: 0.003 + 0.99 * sigmoid((bpm - middle) / width)


def ladder(faults, seed=1):
    rng = np.random.default_rng(seed)
    return figure(rng, layout(rng, np.arange(90, 181, 7.5), 20, "many"), faults, 0.5)


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
    found = first_to_go(ladder([(kind, place, rise(145)), ("missed", 1, rise(165))]))
    assert (found.fault, found.slot, found.string) == (kind, slot, string)
    assert found.from_bpm == pytest.approx(136, abs=5)


def test_the_others_follow_in_order():
    """Three slots that go one after the other are listed so."""
    faults = [("missed", 1, rise(165)), ("missed", 4, rise(150)), ("missed", 6, rise(135))]
    assert [found.slot for found in rising_faults(ladder(faults))] == [6, 4, 1]


def test_a_fault_that_was_always_there_does_not_go_first():
    """Slot 2 is missed in one of five at any tempo; slot 4 is the one that gives way."""
    found = first_to_go(
        ladder([("missed", 2, lambda bpm: np.full(len(bpm), 0.2)), ("missed", 4, rise(150))])
    )
    assert found.slot == 4


def test_no_rise_no_answer():
    """Faults that do not depend on the tempo give no first to go."""
    assert first_to_go(ladder([("missed", 2, lambda bpm: np.full(len(bpm), 0.2))])) is None
    assert first_to_go(ladder([])) is None
