"""Down or up, as it was played: the built-in player's strokes told again."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from random import Random
from types import SimpleNamespace

import numpy as np
import pytest

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Mark, Record, RepDone, Repetition
from livecheck.measures.strokes.direction import Directions, _seams, read_directions
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import perform
from livecheck.session import Session

ODD = make_cell("odd", [(2, 13), (2, 10), (3, 12), (3, 10), (3, 9)])
EVEN = make_cell("even", [(2, 13), (2, 10), (3, 12), (3, 10), (4, 12), (4, 10)])
HANDS = Habits(reps=40, up_softer=0.0, gallop_pct=1.0)


@cache
def played(
    cell_name: str, seed: int = 1, mark: str | None = None, **changes: object
) -> tuple[list[Repetition], dict[float, str]]:
    """Repetitions as judged, and the true stroke of each note by its arrival."""
    cell: Cell = {"odd": ODD, "even": EVEN}[cell_name]
    take = perform(
        cell, replace(HANDS, **changes), Conversion(jitter_ms=0.4), Random(f"strokes {seed}")
    )
    session = Session(take.cell, take.rig)
    records: list[Record] = [Mark(0.1, mark)] if mark else []
    outcomes = session.feed_all([*records, *take.records])
    truth = {note.onset_s: note.stroke for note in take.truth.notes if note.stroke}
    return [one.repetition for one in outcomes if isinstance(one, RepDone)], truth


def shares(
    reps: list[Repetition], truth: dict[float, str], told: Directions
) -> tuple[float, float]:
    """Of all picked notes the share told, and of those the share told right."""
    onsets = {
        (rep.rep, result.slot): result.note.onset_s
        for rep in reps
        for result in rep.slots
        if result.note is not None
    }
    picked = [at for at, onset in onsets.items() if truth.get(onset) in ("down", "up")]
    strokes = {(one.rep, one.slot): one.played for one in told.strokes}
    known = [at for at in picked if strokes[at] is not None]
    right = [at for at in known if strokes[at] == truth[onsets[at]]]
    return len(known) / len(picked), len(right) / max(len(known), 1)


@pytest.mark.parametrize(
    "habits",
    [
        {"up_softer": 0.2},
        {"up_late_ms": 7.0},
        {"up_softer": 0.2, "seam_other": 0.2},
        {"up_softer": 0.3, "dropped": 0.05},
    ],
    ids=str,
)
def test_strokes_are_told_where_up_strokes_are_softer_or_later(habits: dict[str, float]) -> None:
    """Nearly all notes of an odd cell are told, and rightly, with restarts, holes and another
    seam."""
    reps, truth = played("odd", **habits)
    told, right = shares(reps, truth, read_directions(reps))
    assert told > 0.9 and right > 0.98


def test_where_both_directions_sound_alike_nothing_is_told() -> None:
    """No difference in loudness or lateness: no direction, with the reason."""
    silent = 0
    for seed in range(4):
        found = read_directions(played("odd", seed)[0])
        silent += not any(one.played for one in found.strokes) and found.why is not None
    assert silent == 4


def test_of_an_even_cell_it_is_told_by_how_its_slots_come() -> None:
    """No slot changes its direction there; up strokes a third softer are heard all the same."""
    reps, truth = played("even", up_softer=0.32)
    told, right = shares(reps, truth, read_directions(reps))
    assert told > 0.9 and right == 1.0


def test_a_note_that_was_not_picked_has_no_direction() -> None:
    """Slot 4 is hammered though a stroke is planned: five strokes less one, and it is named."""
    reps, _ = played(
        "odd", up_softer=0.3, hammered_slot=4, hammered=1.0, wait=0.25, restart_turned=0.5
    )
    found = read_directions(reps)
    assert found.not_picked == (4,)
    assert not any(one.played for one in found.strokes if one.slot == 4)


def test_the_players_word_names_the_directions() -> None:
    """A take that began up against the plan: without a word it is not told, with a mark it is told
    rightly."""
    habits = {"up_softer": 0.2, "restart_turned": 1.0}
    reps, truth = played("odd", **habits)
    assert not any(one.played for one in read_directions(reps).strokes)
    reps, truth = played("odd", mark=" Up ", **habits)
    assert reps[0].begins == "up" and reps[1].begins is None
    told, right = shares(reps, truth, read_directions(reps))
    assert told > 0.9 and right > 0.98


def test_the_habit_of_up_strokes_is_told_with_its_interval() -> None:
    """Softer by a fifth and 5 ms later, as planted."""
    found = read_directions(played("odd", up_softer=0.2, up_late_ms=5.0)[0])
    assert found.softer is not None and found.later is not None
    assert found.softer.low < 0.2 < found.softer.high
    assert found.later.low < 5.0 < found.later.high


@pytest.mark.parametrize("seam", ["alternate", "repeat"])
def test_a_seam_is_told_by_how_the_next_repetition_began(seam: str) -> None:
    """Going on alternating, or taking up the first stroke again."""
    habits = {"up_softer": 0.3, "seam": seam, "wait": 0.2, "restart_turned": 0.4}
    found = read_directions(played("odd", **habits)[0])
    told = [one.goes_on for one in found.seams]
    assert told.count(seam == "alternate") > 0.9 * len(told)
    assert told.count(seam != "alternate") == 0


def test_few_notes_say_nothing() -> None:
    """Three repetitions are too few, and so is none."""
    reps, _ = played("odd", up_softer=0.3)
    assert read_directions(reps[:3]).why == read_directions([]).why == "too few picked notes"


@pytest.mark.parametrize(("differs", "goes_on"), [(0.99, True), (0.8, None)])
def test_a_seam_is_no_surer_than_that_there_is_a_difference(differs: float, goes_on: bool | None):
    """By what could it be heard, if both directions sound alike?"""
    told = SimpleNamespace(goes_on=np.array([0.99]), takes_up=np.array([0.01]))
    sitting, state = SimpleNamespace(afresh=np.array([False])), SimpleNamespace(told=told)
    (seam,) = _seams(sitting, state, [SimpleNamespace(rep=2)], differs)
    assert seam.goes_on is goes_on
