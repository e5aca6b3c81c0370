"""Attack, and picked or hammered."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from played import repetition

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Repetition
from livecheck.measures.strokes.attack import (
    HAMMERED,
    PICKED,
    Attacks,
    read_attacks,
    relative_attacks,
    usual_velocities,
)

PLAN = make_cell("four", [(2, 13), (2, 10, "pull"), (3, 12), (3, 10)])
PICK, PULL = 90, 55


def sitting(
    cell: Cell, levels: list[float], reps: int = 30, scatter: float = 6.0, seed: int = 1
) -> list[Repetition]:
    """Repetitions whose slots come at these velocities, a little scattered."""
    rng = Random(seed)
    return [
        repetition(
            cell,
            rep,
            start_s=rep,
            velocities=[max(1, round(rng.gauss(level, scatter))) for level in levels],
        )
        for rep in range(1, reps + 1)
    ]


def told(attacks: Attacks, slot: int) -> set[str | None]:
    return {one.told for one in attacks.struck if one.slot == slot}


def test_attack_is_over_the_strings_usual_and_then_over_the_repetitions() -> None:
    """measures.md: velocity over the string's median, then over the repetition's median of that."""
    soft = repetition(PLAN, 1, velocities=[40, 20, 30, 15])
    loud = repetition(PLAN, 2, velocities=[80, 40, 60, 30])
    usual = usual_velocities([soft, loud])
    assert usual == {2: 40.0, 3: 30.0}
    for rep in (soft, loud):  # twice as loud in every slot is the same attack
        assert relative_attacks(rep, usual) == pytest.approx(
            {1: 4 / 3, 2: 2 / 3, 3: 4 / 3, 4: 2 / 3}
        )


def test_a_note_without_velocity_has_no_attack() -> None:
    """A legato note that came by bend alone carries none, and is hammered whatever the plan
    says."""
    reps = [
        repetition(PLAN, rep, start_s=rep, velocities=[90, None, 88, 91]) for rep in range(1, 20)
    ]
    attacks = read_attacks(reps)
    assert {one.attack for one in attacks.struck if one.slot == 2} == {None}
    assert told(attacks, 2) == {HAMMERED}


def test_as_planned_nothing_is_against_the_plan() -> None:
    """Two clear levels where the plan has them."""
    attacks = read_attacks(sitting(PLAN, [PICK, PULL, PICK, PICK]))
    assert attacks.why is None
    assert [told(attacks, slot) for slot in (1, 2, 3, 4)] == [
        {PICKED},
        {HAMMERED},
        {PICKED},
        {PICKED},
    ]
    assert not any(attacks.against_plan(rep) for rep in range(1, 31))


def test_a_planned_pick_that_is_always_hammered_is_told_against_the_plan() -> None:
    """The plan is where the search begins, not where it ends."""
    attacks = read_attacks(sitting(PLAN, [PICK, PULL, PICK, PULL]))
    assert [one.slot for one in attacks.against_plan(7)] == [4]
    assert told(attacks, 4) == {HAMMERED}
    assert told(attacks, 3) == {PICKED}


def test_one_soft_note_is_told_in_its_repetition_alone() -> None:
    """Disagreement is a matter of single repetitions."""
    reps = sitting(PLAN, [PICK, PULL, PICK, PICK])
    reps[9] = repetition(PLAN, 10, start_s=10.0, velocities=[PICK, PULL, 50, PICK])
    attacks = read_attacks(reps)
    assert [one.slot for one in attacks.against_plan(10)] == [3]
    assert [rep for rep in range(1, 31) if attacks.against_plan(rep)] == [10]


def test_strings_weighed_differently_by_the_converter_are_not_taken_for_strokes() -> None:
    """A string that gives two thirds of the velocity is no hammered string (sources.md C-16)."""
    cell = make_cell(
        "strings", [(2, 13), (2, 10, "pull"), (3, 12), (3, 10), (4, 12), (4, 10, "pull")]
    )
    attacks = read_attacks(sitting(cell, [90, 55, 60, 60, 100, 62], scatter=4.0))
    assert told(attacks, 3) <= {PICKED, None}
    assert told(attacks, 2) == {HAMMERED}
    assert told(attacks, 6) == {HAMMERED}


@pytest.mark.parametrize("velocity", [64, 127])
def test_a_converter_that_always_sends_one_velocity_cannot_tell(velocity: int) -> None:
    """A fixed curve gives no contrast (sources.md C-16, M-06)."""
    reps = [repetition(PLAN, rep, start_s=rep, velocities=[velocity] * 4) for rep in range(1, 31)]
    attacks = read_attacks(reps)
    assert attacks.why is not None and "same velocity" in attacks.why
    assert {one.told for one in attacks.struck} == {None}
    assert {one.chance_picked for one in attacks.struck} == {None}


def test_one_level_for_picked_and_hammered_cannot_tell() -> None:
    """Scatter around one level is no contrast, whatever the plan calls the slots."""
    attacks = read_attacks(sitting(PLAN, [80, 80, 80, 80], scatter=8.0))
    assert attacks.why is not None
    assert {one.told for one in attacks.struck} == {None}


def test_down_and_up_strokes_of_unlike_strength_are_both_picked() -> None:
    """A tenth softer on every upstroke is no hammering: with nothing hammered in the plan two
    levels must be clear."""
    cell = make_cell("picked", [(2, 13), (2, 10), (3, 12), (3, 10)])
    attacks = read_attacks(sitting(cell, [92, 82, 92, 82], scatter=5.0))
    assert HAMMERED not in {one.told for one in attacks.struck}


def test_too_few_notes_say_nothing() -> None:
    """Two repetitions of four slots are 8 notes."""
    attacks = read_attacks(sitting(PLAN, [PICK, PULL, PICK, PICK], reps=2))
    assert attacks.why == "too few notes (8)"
    assert read_attacks([]).struck == ()


def test_chances_lie_between_and_follow_the_velocity() -> None:
    """In one slot a louder note is never less likely to have been picked."""
    rng = Random(3)
    levels = [PICK, PULL, PICK, PICK]
    reps = sitting(PLAN, levels, reps=40, scatter=12.0)
    reps += [
        repetition(PLAN, rep, start_s=rep, velocities=[PICK, PULL, rng.randint(40, 100), PICK])
        for rep in range(41, 81)
    ]
    attacks = read_attacks(reps)
    rows = sorted(
        (one.attack, one.chance_picked)
        for one in attacks.struck
        if one.slot == 3 and one.chance_picked is not None
    )
    assert len(rows) == 80
    assert all(0.0 < chance < 1.0 for _, chance in rows)
    assert rows[0][1] < 0.2 and rows[-1][1] > 0.8


def test_a_slot_that_is_always_late_says_nothing_of_its_stroke() -> None:
    """Lateness counts only where it differs within slots: a constant gallop is a habit of the
    slot."""
    gallop = [
        repetition(PLAN, rep, start_s=rep, velocities=v, late_ms=[0, 0, 9.0, 0])
        for rep, v in _noisy(30)
    ]
    straight = [
        repetition(PLAN, rep, start_s=rep, velocities=v, late_ms=[0, 0, 0, 0])
        for rep, v in _noisy(30)
    ]
    one, other = read_attacks(gallop), read_attacks(straight)
    assert [s.chance_picked for s in one.struck] == pytest.approx(
        [s.chance_picked for s in other.struck]
    )


def test_lateness_that_goes_with_the_softer_notes_sharpens_the_answer() -> None:
    """In a slot played both ways, with hammered notes 8 ms late, fewer notes cannot be told."""
    rng = Random(11)
    with_late, without = [], []
    for rep in range(1, 81):
        is_hammered = rep % 2 == 0
        velocities = [
            round(rng.gauss(90, 11)),
            round(rng.gauss(58, 11)),
            0,
            round(rng.gauss(90, 11)),
        ]
        velocities[2] = round(rng.gauss(62 if is_hammered else 84, 11))
        late = [
            rng.gauss(0, 2),
            rng.gauss(0, 2),
            rng.gauss(8 if is_hammered else 0, 2),
            rng.gauss(0, 2),
        ]
        with_late.append(repetition(PLAN, rep, start_s=rep, velocities=velocities, late_ms=late))
        without.append(repetition(PLAN, rep, start_s=rep, velocities=velocities))

    def right(reps: list[Repetition]) -> int:
        return sum(
            one.told == (HAMMERED if one.rep % 2 == 0 else PICKED)
            for one in read_attacks(reps).struck
            if one.slot == 3
        )

    assert right(with_late) > right(without) + 5


def _noisy(reps: int) -> list[tuple[int, list[int]]]:
    rng = Random(5)
    return [
        (rep, [round(rng.gauss(level, 14)) for level in (PICK, PULL, 74, PICK)])
        for rep in range(1, reps + 1)
    ]


def test_soft_up_strokes_of_a_cell_that_turns_round_are_no_hammered_notes() -> None:
    """Up strokes a third softer, every note picked: no slot stays soft, and none is hammered."""
    rng = Random(5)
    odd = make_cell("odd", [(2, 13), (2, 10), (3, 12), (3, 10), (3, 9)])
    reps = []
    for rep in range(1, 61):
        levels = [90.0 if (rep + slot) % 2 else 61.0 for slot in range(5)]
        velocities = [round(rng.gauss(level, 6)) for level in levels]
        one = repetition(odd, rep, start_s=rep, velocities=velocities)
        reps.append(replace(one, since_start=rep))
    assert not [one for one in read_attacks(reps).struck if one.told == HAMMERED]
