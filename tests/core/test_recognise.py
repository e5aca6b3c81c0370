"""Which of several cells is played: evidence note by note."""

from __future__ import annotations

import pytest

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Note
from livecheck.core.match import Matcher
from livecheck.core.recognise import IDLE_NOTES, Recogniser, music

SIX = make_cell("six", [(2, 10), (2, 12), (3, 12), (3, 10), (4, 12), (3, 10)])
TWIN = make_cell("twin", [(2, 10), (2, 12), (3, 12), (3, 9), (4, 12), (3, 10)])
FAR = make_cell("far", [(5, 3), (6, 5), (5, 2), (6, 3)])
TURNED = make_cell("turned", [(3, 12), (3, 10), (4, 12), (3, 10), (2, 10), (2, 12)])


def notes(cell: Cell, reps: int, start_s: float = 1.0, step_s: float = 0.11) -> list[Note]:
    """A cell played exactly in time."""
    return [
        Note(start_s + (rep * cell.steps + slot.start) * step_s, slot.string, slot.pitch, slot.pitch, 90)
        for rep in range(reps)
        for slot in cell.slots
    ]


def heard(cells: list[Cell], played: list[Note]) -> Recogniser:
    recogniser = Recogniser(cells)
    recogniser.begin(None)
    for note in played:
        recogniser.hear(note)
    return recogniser


@pytest.mark.parametrize("cell", [SIX, TWIN, FAR], ids=lambda cell: cell.name)
def test_the_cell_that_is_played_is_found_in_three_repetitions(cell):
    """Also where another one differs in a single slot."""
    assert heard([SIX, TWIN, FAR], notes(cell, 3)).found() is cell


def test_a_few_notes_are_not_enough():
    """Three notes in order could be anything."""
    assert heard([SIX, TWIN, FAR], notes(SIX, 1)[:3]).found() is None


def test_as_long_as_two_cells_are_alike_neither_is_found():
    """The first three slots are the same in both."""
    assert heard([SIX, TWIN], notes(SIX, 1)[:3] + notes(SIX, 1, 3.0)[:3]).found() is None


def test_cells_that_nobody_could_tell_apart_do_not_stand_in_each_others_way():
    """A rotation gives the same music; the one entered at its beginning is taken."""
    assert music(SIX) == music(TURNED) != music(TWIN)
    assert heard([TURNED, SIX], notes(SIX, 3)).found() is SIX
    assert heard([SIX, TURNED], notes(TURNED, 3)).found() is TURNED


def test_unrelated_notes_find_nothing():
    """A scale over the strings, some of its notes the cells' own."""
    scale = [Note(1.0 + 0.2 * at, 1 + at % 4, 60 + (7 * at) % 13, 60 + (7 * at) % 13, 80) for at in range(100)]
    recogniser = Recogniser([SIX, TWIN, FAR])
    recogniser.begin(None)
    for note in scale:
        recogniser.hear(note)
        assert recogniser.found() is None


def test_another_cell_overtakes_the_one_in_force_and_noise_does_not():
    """The twin takes over within three repetitions; while the cell itself goes on nothing does."""
    recogniser = heard([SIX, TWIN, FAR], notes(SIX, 3))
    recogniser.force(SIX)
    for note in notes(SIX, 6, 1.0 + 18 * 0.11):
        recogniser.hear(note)
        assert recogniser.overtaking() is None
    for note in notes(TWIN, 3, 1.0 + 54 * 0.11):
        recogniser.hear(note)
        if recogniser.overtaking() is not None:
            break
    assert recogniser.overtaking() is TWIN


def test_a_cell_that_gains_no_more_is_idle():
    """Notes far away from it."""
    recogniser = heard([SIX, FAR], notes(SIX, 3))
    recogniser.force(SIX)
    for at in range(IDLE_NOTES):
        recogniser.hear(Note(4.0 + 0.2 * at, 1, 80, 80, 90))
    assert recogniser.idle >= IDLE_NOTES


def test_sparing_the_search_changes_nothing():
    """A matcher that passes notes by ends with the same gains as one that searches each time."""
    played = notes(FAR, 2) + notes(SIX, 2, 3.0) + notes(FAR, 1, 8.0) + notes(SIX, 1, 8.6)
    whole, spared, passed = Matcher(SIX), Matcher(SIX), 0
    for note in played:
        whole.note(note)
        if spared.pass_by(note):
            passed += 1
        else:
            spared.note(note)
        assert spared.gain == whole.gain
    assert passed >= 8
