"""Which of several cells is played: evidence note by note."""

from __future__ import annotations

import pytest

from livecheck.core.candidate import Candidate, music
from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Note
from livecheck.core.match import Matcher
from livecheck.core.recognise import CHANGED, IDLE_NOTES, LEAD, LEAD_CHANGED, Recogniser, enough

SIX = make_cell("six", [(2, 10), (2, 12), (3, 12), (3, 10), (4, 12), (3, 10)])
TWIN = make_cell("twin", [(2, 10), (2, 12), (3, 12), (3, 9), (4, 12), (3, 10)])
FAR = make_cell("far", [(5, 3), (6, 5), (5, 2), (6, 3)])
TURNED = make_cell("turned", [(3, 12), (3, 10), (4, 12), (3, 10), (2, 10), (2, 12)])


def notes(cell: Cell, reps: int, start_s: float = 1.0, step_s: float = 0.11) -> list[Note]:
    """A cell played exactly in time."""
    return [
        Note(
            start_s + (rep * cell.steps + slot.start) * step_s,
            slot.string,
            slot.pitch,
            slot.pitch,
            90,
        )
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
    scale = [
        Note(1.0 + 0.2 * at, 1 + at % 4, 60 + (7 * at) % 13, 60 + (7 * at) % 13, 80)
        for at in range(100)
    ]
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


def test_back_from_another_cell_it_is_the_one_before_and_not_its_rotation():
    """Taken up in its middle, it could be either; the one that was played already is meant."""
    recogniser = heard([SIX, TURNED, TWIN], notes(SIX, 3))
    recogniser.force(SIX)
    recogniser.force(TWIN)
    for note in notes(TURNED, 6, 1.0 + 20 * 0.11):
        recogniser.hear(note)
        if recogniser.overtaking() is not None:
            break
    assert recogniser.overtaking() is SIX


def test_a_cell_that_gains_no_more_is_idle():
    """Notes far away from it."""
    recogniser = heard([SIX, FAR], notes(SIX, 3))
    recogniser.force(SIX)
    for at in range(IDLE_NOTES):
        recogniser.hear(Note(4.0 + 0.2 * at, 1, 80, 80, 90))
    assert recogniser.idle >= IDLE_NOTES


def test_sparing_the_search_changes_nothing():
    """A candidate, which passes notes by, has the same gains as a matcher that searches each
    time."""
    whole, spared, nothing = Matcher(SIX, most_habit=0.0), Candidate(SIX), 0
    for note in notes(FAR, 2) + notes(SIX, 2, 3.0) + notes(FAR, 1, 8.0) + notes(SIX, 1, 8.6):
        whole.note(note)
        spared.hear(note)
        assert spared.gain == whole.gain
        nothing += spared.gain == 0.0
    assert nothing >= 8


def test_repetitions_played_are_counted_slot_by_slot():
    """Two and a half repetitions, a slot left out among them; the first note counts for one
    slot."""
    candidate = Candidate(SIX)
    for note in notes(SIX, 3)[:3] + notes(SIX, 3)[4:15]:
        candidate.hear(note)
    assert candidate.gained.repetitions == pytest.approx(15 / 6)


def test_a_note_that_sounds_twice_is_no_repetition():
    """Each note of the second repetition once more, 35 ms later: two repetitions were played, and
    who begins anew after half of the third has played one slot more."""
    candidate = Candidate(SIX)
    played = notes(SIX, 2) + notes(SIX, 1, 1.0 + 12 * 0.11)[:3] + notes(SIX, 1, 3.2)[:1]
    again = [
        Note(note.onset_s + 0.035, note.string, note.pitch, note.pitch, 90) for note in played[6:12]
    ]
    for note in sorted(played + again, key=lambda note: note.onset_s):
        candidate.hear(note)
    assert candidate.gained.repetitions == pytest.approx(16 / 6)


def test_what_was_gained_never_falls_below_nothing():
    """Unrelated notes take a little away; the count of repetitions begins anew with it."""
    candidate = Candidate(SIX)
    for note in notes(SIX, 1)[:2]:
        candidate.hear(note)
    assert candidate.gained.nats > 3.0 and candidate.gained.repetitions > 0.0
    for at in range(60):
        candidate.hear(Note(3.0 + 0.2 * at, 1, 80, 80, 90))
    assert candidate.gained.nats == candidate.gained.repetitions == candidate.gained.notes == 0


def test_a_turn_is_where_the_next_repetition_is_due():
    """In time, and told before it comes; unknown while nothing has been played."""
    candidate = Candidate(SIX)
    assert candidate.turn is None
    for note in notes(SIX, 3, start_s=1.0, step_s=0.11):
        candidate.hear(note)
    due_s, beat_s = candidate.turn
    assert due_s == pytest.approx(1.0 + 18 * 0.11, abs=0.002) and beat_s == pytest.approx(
        4 * 0.11, rel=0.01
    )


def test_another_cell_may_begin_where_a_repetition_ends():
    """Expected there, its second note already gains what a note in time gains; one elsewhere is not
    expected."""
    expected, plain = Candidate(FAR), Candidate(FAR)
    first, second = notes(FAR, 1, start_s=4.0)[:2]
    for candidate in (expected, plain):
        candidate.hear(Note(3.9, 1, 80, 80, 90))
    expected.expect(second, 4.0, 0.44)
    assert expected.turn is None
    expected.expect(first, 4.0, 0.44)
    for candidate in (expected, plain):
        candidate.hear(first)
        candidate.hear(second)
    assert expected.gained.nats > plain.gained.nats + 4.0


def test_the_same_music_in_other_units_or_twice_over_is_the_same():
    """Nobody can tell a figure from itself at half the tempo, or played twice a repetition."""
    slow = make_cell("slow", [(slot.string, slot.fret, None, 2) for slot in SIX.slots])
    twice = make_cell("twice", [(slot.string, slot.fret) for slot in SIX.slots + SIX.slots])
    longer = make_cell(
        "longer", [(slot.string, slot.fret) for slot in SIX.slots[:5]] + [(3, 10, None, 2)]
    )
    assert music(slow) == music(twice) == music(SIX) != music(longer)


def test_less_is_enough_the_more_was_played():
    """Both for a lead over others and over the cell in force."""
    for table in (LEAD, LEAD_CHANGED, CHANGED):
        asked = [enough(table, 0.25 * quarter) for quarter in range(20)]
        assert asked == sorted(asked, reverse=True) and asked[0] > asked[-1] > 0.0


def test_what_leads_before_a_pause_leads_after_it():
    """What the twin gained over the cell in force still speaks for it after a pause; where nothing
    was gained, the cell in force is the likeliest."""
    recogniser = heard([SIX, TWIN, FAR], notes(SIX, 3))
    recogniser.force(SIX)
    for note in notes(TWIN, 3, 1.0 + 18 * 0.11):
        recogniser.hear(note)
    recogniser.begin(SIX)
    nats = {one.cell.name: one.gained.nats for one in recogniser._candidates}
    assert nats["twin"] > nats["six"]
    recogniser = heard([SIX, TWIN, FAR], notes(SIX, 3))
    recogniser.force(SIX)
    recogniser.begin(SIX)
    nats = {one.cell.name: one.gained.nats for one in recogniser._candidates}
    assert nats["six"] > nats["twin"] == nats["far"] == 0.0


def test_a_cell_that_does_not_fit_stands_in_nobodys_way():
    """One that lost all it had gained asks for no longer lead than the others."""
    recogniser = heard([SIX, TWIN, FAR], notes(SIX, 3))
    recogniser.force(SIX)
    told = []
    for note in notes(TWIN, 4, 1.0 + 18 * 0.11):
        recogniser.hear(note)
        told.append(recogniser.overtaking())
    assert told.index(TWIN) < 18
