"""The gate that is suggested from notes and ghosts."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from played import note, repetition

from livecheck.core.cell import make_cell
from livecheck.core.events import ARTEFACT, NOISE, Extra, Note, RepDone, Repetition
from livecheck.core.rig import Gate
from livecheck.measures.noise.gates import LEAST_NOTES, advise_gate
from livecheck.player.cells import random_cell
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import perform
from livecheck.session import Session

CELL = make_cell("four", [(2, 13), (2, 10), (3, 12), (3, 10)])


def sitting(
    softest: int,
    shortest_s: float,
    ghosts: list[tuple[int, float]],
    kind: str = ARTEFACT,
    reps: int = 20,
) -> list[Repetition]:
    """Repetitions whose notes are never softer or shorter, one ghost (velocity, length) in each of
    the first ones."""
    rng = Random(1)
    found = []
    for rep in range(reps):
        extras: list[Note] = []
        if rep < len(ghosts):
            extras = [note(rep + 0.2, 5, 50, ghosts[rep][0], ghosts[rep][1])]
        found.append(
            repetition(
                CELL,
                rep,
                start_s=rep,
                velocities=[softest, *(rng.randint(softest, 110) for _ in range(3))],
                lengths_s={1: shortest_s},
                extras=extras,
                kind=kind,
            )
        )
    return found


def test_the_gate_lies_between_ghosts_and_notes() -> None:
    """Soft short ghosts and notes far from them: every ghost is stopped and no note."""
    advice = advise_gate(
        sitting(40, 0.08, [(15, 0.012), (20, 0.018), (9, 0.02), (18, 0.01), (22, 0.016)])
    )
    assert advice.gate is not None
    assert advice.gate.velocity <= 40 and advice.gate.length_ms <= 80.0
    assert (advice.notes_stopped, advice.ghosts_passed) == (0.0, 0.0)
    assert all(
        one.velocity < advice.gate.velocity or one.length_s * 1000 < advice.gate.length_ms
        for one in advice.ghosts
    )


def test_notes_matter_more_than_ghosts() -> None:
    """Where a ghost is as loud and long as the softest notes, it passes and the notes stay."""
    ghosts = [(10, 0.012), (12, 0.018), (9, 0.02), (11, 0.01), (60, 0.09)]
    advice = advise_gate(sitting(30, 0.04, ghosts))
    assert advice.notes_stopped == 0.0
    assert advice.ghosts_passed == pytest.approx(0.2)


def test_a_brushed_string_is_the_players_and_not_gated_without_need() -> None:
    """Longer soft sounds are noise that the player wants to know of (measures.md, noise)."""
    reps = sitting(40, 0.08, [(15, 0.012), (20, 0.018), (9, 0.02), (18, 0.01), (22, 0.016)])
    reps += [
        repetition(CELL, 50 + at, start_s=50 + at, extras=[note(50.2 + at, 5, 50, 24, 0.05)])
        for at in range(5)
    ]
    advice = advise_gate(reps)
    assert len(advice.others) == 5
    assert advice.others_stopped == 0.0 and advice.ghosts_passed == 0.0


def test_second_triggers_and_corrected_octaves_are_no_ghosts() -> None:
    """No gate tells them from notes (sources.md C-14, C-15)."""
    double = note(0.04, 2, 72, 60, 0.02)  # slot 1's string and pitch again
    octave = note(0.245, 3, 79, 70, 0.01)  # the octave of slot 3, put right 5 ms later
    reps = [repetition(CELL, 1, extras=[double, octave], kind=ARTEFACT), *sitting(40, 0.08, [])]
    assert advise_gate(reps).ghosts == ()


def test_sounds_outside_all_repetitions_count_too() -> None:
    """Ghosts between takes are the converter's as well."""
    reps = sitting(40, 0.08, [])
    outside = [Extra(note(100.0 + at, 5, 50, 14, 0.015), NOISE) for at in range(6)]
    assert len(advise_gate(reps, outside).ghosts) == 6
    assert advise_gate(reps, outside).gate is not None


def test_few_notes_or_few_ghosts_say_nothing() -> None:
    """Four ghosts, or less than fifty notes, are no ground for a gate."""
    few = advise_gate(sitting(40, 0.08, [(15, 0.012)] * 4))
    assert few.gate is None and few.why is not None and "too few converter faults" in few.why
    assert "the gate stays as it is" in few.why  # which may well stop them: it was open here
    short = advise_gate(sitting(40, 0.08, [(15, 0.012)] * 6, reps=LEAST_NOTES // 4 - 1))
    assert short.gate is None and short.why is not None and "too few notes" in short.why
    assert advise_gate([]).gate is None


def test_a_sound_that_has_not_ended_has_no_length_yet() -> None:
    """It is left out rather than taken for long."""
    reps = [
        repetition(CELL, 1, extras=[note(0.2, 5, 50, 9, None)], kind=ARTEFACT),
        *sitting(40, 0.08, []),
    ]
    assert advise_gate(reps).ghosts == ()


@pytest.mark.parametrize("seed", range(4))
def test_a_suggested_gate_loses_no_slot_of_a_simulated_take(seed: int) -> None:
    """Judged again with the suggestion, a take with many ghosts has as many hits as with the gate
    wide open."""
    rng = Random(seed)
    cell = random_cell(rng, least_slots=6, legato=0.0)
    take = perform(cell, Habits(notes_per_s=6.0, reps=40), Conversion(ghost=0.15), rng)

    def judged(gate: Gate) -> tuple[int, list[Repetition]]:
        session = Session(take.cell, replace(take.rig, gate=gate))
        outcomes = session.feed_all(take.records)
        return session.counts["hit"], [
            one.repetition for one in outcomes if isinstance(one, RepDone)
        ]

    hits, reps = judged(Gate(1, 0.0))
    gate = advise_gate(reps).gate
    assert gate is not None
    assert judged(gate)[0] >= hits - 1
