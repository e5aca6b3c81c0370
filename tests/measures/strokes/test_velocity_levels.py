"""Two levels of velocity, and the chances said of them."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from livecheck.measures.strokes.velocity_levels import Notes, two_levels


def sitting(
    rng: Random,
    shares: list[float],
    planned: list[bool],
    *,
    strings: list[int] | None = None,
    gains: list[float] | None = None,
    reps: int = 30,
    drop: float = 0.5,
    scatter: float = 0.12,
) -> tuple[Notes, np.ndarray]:
    """Notes of slots that are picked so often, and whether each was."""
    strings = strings or [0] * len(shares)
    gains = gains or [0.0] * (max(strings) + 1)
    rows = []
    for rep in range(reps):
        for slot, share in enumerate(shares):
            picked = rng.random() < share
            x = 4.4 + gains[strings[slot]] + rng.gauss(0.0 if picked else -drop, scatter)
            rows.append((x, strings[slot], rep, slot, planned[slot], picked))
    x, string, rep, slot, plan, picked = map(np.array, zip(*rows))
    return Notes(x, string, rep, slot, plan, np.zeros(len(x), bool), np.zeros(len(x))), picked


def right(notes: Notes, picked: np.ndarray) -> float:
    chances = two_levels(notes).chances
    return float(((chances > 0.5) == picked).mean())


def test_the_levels_are_found_with_their_distance_and_scatter() -> None:
    """Within a step of the grid."""
    notes, picked = sitting(Random(1), [1, 0, 1, 1], [True, False, True, True])
    levels = two_levels(notes)
    assert levels.drop == pytest.approx(0.5, abs=0.1)
    assert levels.scatter == pytest.approx(0.12, abs=0.04)
    assert levels.gain > 2
    assert ((levels.chances > 0.5) == picked).mean() > 0.98


def test_one_level_gains_nothing_by_a_second() -> None:
    """All picked, as planned."""
    notes, _ = sitting(Random(2), [1, 1, 1, 1], [True] * 4)
    assert two_levels(notes).gain < 2.0


def test_a_slot_planned_to_be_picked_and_hammered_half_of_the_time_is_told_note_by_note() -> None:
    """The plan says nothing of which half."""
    notes, picked = sitting(Random(3), [1, 0, 0.5, 1], [True, False, True, True], drop=0.6)
    own = notes.slot == 2
    assert ((two_levels(notes).chances[own] > 0.5) == picked[own]).mean() > 0.9


def test_a_slot_planned_to_be_hammered_and_always_picked_is_told_so() -> None:
    """Two picked slots of its string and a hammered one of another show where the levels lie."""
    planned = [True, False, True, True, False]
    notes, picked = sitting(Random(4), [1, 1, 1, 1, 0], planned, strings=[0, 0, 0, 1, 1])
    assert right(notes, picked) > 0.97


def test_a_figure_that_two_readings_fit_is_not_told_for_sure() -> None:
    """One string's two slots alike against the plan: either was played otherwise, and the string's
    level is unknown."""
    notes, _ = sitting(Random(4), [1, 1, 1, 0], [True, False, True, False], strings=[0, 0, 1, 1])
    levels = two_levels(notes)
    of_both = levels.chances[notes.slot < 2]
    assert 0.1 < of_both.mean() < 0.95


def test_strings_of_unlike_gain_do_not_pass_for_strokes() -> None:
    """A quarter softer on one string; each string has one picked and one hammered note."""
    notes, picked = sitting(
        Random(5), [1, 0, 1, 0], [True, False, True, False], strings=[0, 0, 1, 1], gains=[0.0, -0.3]
    )
    assert right(notes, picked) > 0.97


@pytest.mark.parametrize("steps", [16.0, 18.0])
def test_a_converter_of_eight_steps_is_read_by_what_each_step_stands_for(steps: float) -> None:
    """Velocities in steps of 16 or 18: half of the softer steps is no second level."""
    notes, picked = sitting(Random(6), [1, 0, 1, 1], [True, False, True, True], drop=0.7)
    velocity = np.maximum(np.round(np.exp(notes.x) / steps), 1) * steps
    width = np.log((velocity + steps / 2) / (velocity - steps / 2))
    assert right(notes._replace(x=np.log(velocity), width=width), picked) > 0.95


def test_the_loudest_velocity_may_have_been_louder() -> None:
    """Half of the picked notes stop at 127: they are picked as surely as the others, and the rest
    not less so."""
    notes, picked = sitting(Random(7), [1, 0, 1, 1], [True, False, True, True])
    x = np.minimum(notes.x + 0.45, np.log(127.0))
    width = np.where(x >= np.log(127.0), np.inf, 0.0)
    assert 0.2 < np.isinf(width).mean() < 0.6
    assert right(notes._replace(x=x, width=width), picked) > 0.97


def test_chances_hold() -> None:
    """Over 30 short sittings with overlapping levels: of the notes that are called so likely, as
    many were picked."""
    rng, chances, seen = Random(8), [], []
    for _ in range(30):
        planned = [True, False, True, True, False]
        shares = [rng.choice((p, p, p, p, 1 - p, 0.5)) for p in map(float, planned)]
        notes, picked = sitting(
            rng, shares, planned, strings=[0, 0, 1, 1, 1], reps=12, drop=0.4, scatter=0.17
        )
        chances.append(two_levels(notes).chances)
        seen.append(picked)
    said, was = np.concatenate(chances), np.concatenate(seen)
    for low, high in ((0.0, 0.1), (0.1, 0.4), (0.4, 0.7), (0.7, 0.9), (0.9, 1.01)):
        own = (said >= low) & (said < high)
        assert own.sum() > 25
        # notes of a slot are no independent ones: a third counts
        chance = 3.0 * (said[own].mean() * (1.0 - said[own].mean()) / (own.sum() / 3.0)) ** 0.5
        assert was[own].mean() == pytest.approx(said[own].mean(), abs=max(0.05, chance))
