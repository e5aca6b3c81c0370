"""A figure is learned from what was played, and what is not sure is said."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from livecheck.core.cell import Cell
from livecheck.core.events import Midi
from livecheck.core.rig import Delay, Rig
from livecheck.measures.learn.answer import Learned, learn
from livecheck.measures.learn.rhythm import lowest, whole_steps

OPEN = (64, 59, 55, 50, 45, 40)
SIX = [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 10)]
SEVEN = [(1, 5), (1, 8), (2, 5), (2, 8), (1, 5), (3, 7), (2, 5)]
Played = list[tuple[float, int, int]]  # seconds, string, fret


def looped(
    notes: Sequence[tuple[int, int]],
    reps: int,
    steps: Sequence[int] = (),
    step_s: float = 0.25,
    start_s: float = 1.0,
) -> Played:
    """A figure over and over, evenly."""
    steps = steps or [1] * len(notes)
    played: Played = []
    t_s = start_s
    for _ in range(reps):
        for (string, fret), length in zip(notes, steps, strict=True):
            played.append((t_s, string, fret))
            t_s += length * step_s
    return played


def messages(played: Played, held_s: float = 0.2, soft: Sequence[int] = ()) -> list[Midi]:
    """Channel 1 is string 1; ``soft``: places of notes that are only brushed."""
    records = []
    for at, (t_s, string, fret) in enumerate(played):
        key = OPEN[string - 1] + fret
        velocity = 20 if at in soft else 80
        records.append(Midi(t_s, bytes((0x90 | string - 1, key, velocity))))
        records.append(Midi(t_s + held_s, bytes((0x80 | string - 1, key, 0))))
    return sorted(records, key=lambda record: record.t_s)


def figure(cell: Cell | None) -> list[tuple[int, int]]:
    assert cell is not None
    return [(slot.string, slot.fret) for slot in cell.slots]


def to_next(cell: Cell | None) -> list[int]:
    assert cell is not None
    starts = [slot.start for slot in cell.slots] + [cell.steps]
    return [after - before for before, after in zip(starts, starts[1:])]


def told(played: Played, **options: object) -> Learned:
    return learn(messages(played), **options)  # type: ignore[arg-type]


def test_three_even_repetitions_give_the_figure():
    """Strings, frets, lengths and tempo are those played; it is sure and has nothing to explain."""
    one = told(looped(SIX, 3))
    assert figure(one.cell) == SIX
    assert to_next(one.cell) == [1] * 6
    assert (one.sure, one.why, one.repetitions) == (True, None, 3)
    assert one.cell is not None
    assert one.cell.tempo_bpm == pytest.approx(60.0, abs=0.5)
    assert one.cell.written == (None,) * 6


@pytest.mark.parametrize(
    "steps", [(1, 1, 2, 1, 1, 4), (3, 1, 3, 1, 3, 1), (2, 2, 3, 2, 2, 3), (1, 1, 1, 1, 1, 5)]
)
def test_long_notes_are_whole_steps_without_a_common_factor(steps):
    """Ratios of lengths come out exactly, the wait at the end included."""
    one = told(looped(SIX, 4, steps))
    assert (figure(one.cell), to_next(one.cell)) == (SIX, list(steps))
    assert one.sure


def test_a_note_let_go_early_has_a_rest_after_it():
    """Time after a short note is a rest; a note held through is long."""
    short = learn(messages(looped(SIX, 3, (1, 1, 1, 1, 1, 3)), held_s=0.2)).cell
    held = learn(messages(looped(SIX, 3, (1, 1, 1, 1, 1, 3)), held_s=0.7)).cell
    assert short is not None
    assert held is not None
    assert (short.slots[-1].length, short.steps) == (1, 8)
    assert (held.slots[-1].length, held.steps) == (3, 8)


def test_two_equal_halves_are_one_half():
    """What cannot be told from its half is the half."""
    assert figure(told(looped(SIX * 2, 2)).cell) == SIX


def test_halves_that_differ_in_one_note_stay_whole():
    """One note makes a figure of twice the length, and is no slip."""
    halves = [*SEVEN, *SEVEN[:-1], (2, 6)]
    one = told(looped(halves, 3))
    assert figure(one.cell) == halves


def test_faults_are_outvoted():
    """A missed, a wrong and a brushed note in three different repetitions change nothing."""
    played = looped(SEVEN, 4)
    played[16] = (played[16][0], 2, 6)
    del played[10]
    played.insert(20, (played[19][0] + 0.1, 6, 0))
    one = learn(messages(played, soft=[20]))
    assert figure(one.cell) == SEVEN
    assert one.repetitions == 4


def test_a_stop_and_a_new_start_are_no_part_of_it():
    """Play that breaks off in the third repetition and begins again gives the same figure; the
    broken one is not counted."""
    played = looped(SIX, 2)
    played += looped(SIX[:3], 1, start_s=4.0)
    played += looped(SIX, 2, start_s=6.3)
    one = told(played)
    assert (figure(one.cell), to_next(one.cell)) == (SIX, [1] * 6)
    assert one.repetitions == 4


def test_a_tempo_that_drifts_is_followed():
    """A third faster from beginning to end, and every length is still one step."""
    played: Played = []
    t_s, step_s = 1.0, 0.4
    for string, fret in SEVEN * 4:
        played.append((t_s, string, fret))
        t_s += step_s
        step_s *= 0.985
    one = told(played)
    assert (figure(one.cell), to_next(one.cell)) == (SEVEN, [1] * 7)


def test_slots_begin_where_play_begins_unless_another_start_is_asked_for():
    """The first note played is note 1; ``start`` turns the figure."""
    assert figure(told(looped(SIX, 3), start=3).cell) == SIX[2:] + SIX[:2]
    with pytest.raises(ValueError, match="6 notes"):
        told(looped(SIX, 3), start=7)


def test_frets_count_from_tuning_and_capo():
    """The same sounds lie two frets lower behind a capo at the second."""
    one = told(looped(SIX, 3), capo=2)
    assert figure(one.cell) == [(string, fret - 2) for string, fret in SIX]
    low = told(looped([(6, 3), (5, 2), (6, 0)], 4), tuning=(64, 59, 55, 50, 45, 38))
    assert figure(low.cell) == [(6, 5), (5, 2), (6, 2)]


def test_a_note_below_its_string_is_said_and_no_cell_is_made():
    """Where tuning and notes do not go together nothing is invented."""
    one = told(looped([(6, 1), (5, 2), (6, 3)], 4), capo=2)
    assert (one.sure, one.cell) == (False, None)
    assert one.why is not None
    assert "below its lowest note F#2" in one.why


@pytest.mark.parametrize(("reps", "word"), [(1, "comes back"), (2, "only twice")])
def test_fewer_than_three_repetitions_are_never_sure(reps, word):
    """Once is no figure at all; twice is told, with doubt."""
    one = told(looped(SEVEN, reps))
    assert not one.sure
    assert one.why is not None
    assert word in one.why


@pytest.mark.parametrize("notes", [0, 1, 3])
def test_too_few_notes_are_said(notes):
    """Nothing heard is an answer, too."""
    one = told(looped(SEVEN, 1)[:notes])
    assert (one.sure, one.cell, one.chance, one.repetitions) == (False, None, 0.0, 0)
    assert one.why is not None
    assert "three times or more" in one.why


def test_a_rig_says_channels_and_delay():
    """With a rig, string 1 is its first channel."""
    rig = Rig(channels=(11, 12, 13, 14, 15, 16), delay=Delay(4.0, 1.6))
    moved = [
        Midi(one.t_s, bytes((one.data[0] + 10, *one.data[1:]))) for one in messages(looped(SIX, 3))
    ]
    assert figure(learn(moved, rig).cell) == SIX
    assert learn(moved).cell is None


def test_slips_of_the_converter_are_no_notes():
    """A double trigger and an octave that corrects itself leave the figure as it is."""
    played = looped(SIX, 3)
    t_s, string, fret = played[8]
    played.insert(9, (t_s + 0.035, string, fret))
    t_s, string, fret = played[3]
    played.insert(3, (t_s - 0.03, string, fret + 12))
    one = learn(messages(played, held_s=0.03))
    assert (figure(one.cell), one.sure) == (SIX, True)


def test_whole_steps_take_the_shortest_ratios():
    """Lengths in any unit, and of what was never heard one step."""
    assert lowest([4, 2, 2, 6]) == (2, 1, 1, 3)
    from math import log

    heard = [log(0.26), log(0.24), log(0.51), log(0.77)]
    assert whole_steps(heard, [3, 3, 3, 2], 0.07)[0] == (1, 1, 2, 3)
    assert whole_steps([None, None], [0, 0], 0.07) == [(1, 1)]
