"""How late a note is by what was played before it, and what a new beginning is told by."""

from __future__ import annotations

import pytest
from hand import HITS, Hand, verdicts

from livecheck.core.cell import make_cell
from livecheck.core.events import Note
from livecheck.core.pace import Pace

STEP = 0.125
ROUND = make_cell("ends as it begins", [(4, 0), (3, 2), (2, 2), (2, 4), (3, 4), (4, 0)])


def note(struck_s: float) -> Note:
    return Note(struck_s, 1, 64, 64, 80)


def played(intervals: list[float]) -> tuple[Pace, Note]:
    """A pace that heard notes a grid step apart, and the last of them."""
    pace, last = Pace(), note(1.0)
    pace.begin(last)
    for interval_s in intervals:
        last = note(last.struck_s + interval_s)
        pace.learn(interval_s)
        pace.go_on(1, last)
    return pace, last


def test_a_steady_player_is_late_by_what_was_waited():
    """Ten steps after six even ones, half a step late, by both estimates."""
    pace, last = played([0.1] * 6)
    assert pace.late(last, note(last.struck_s + 1.05), 10) == pytest.approx([0.5, 0.5])


def test_one_odd_interval_moves_the_line_less_than_the_step():
    """The last interval a tenth longer: the step takes a third of it, twelve times over."""
    pace, last = played([0.1] * 6 + [0.11])
    by_step, by_line = pace.late(last, note(last.struck_s + 1.2), 12)
    assert abs(by_line) < abs(by_step)


def test_a_new_tempo_is_all_there_is_after_six_strokes():
    """What was played before is forgotten."""
    pace, last = played([0.1] * 20 + [0.2] * 8)
    assert pace.late(last, note(last.struck_s + 0.4), 2) == pytest.approx([0.0, 0.0], abs=0.05)


def test_nothing_is_said_after_one_note():
    """Without an interval there is no tempo."""
    pace, last = played([])
    assert pace.late(last, note(last.struck_s + 0.4), 2) == []


def test_a_first_note_struck_twice_is_no_repetition_with_all_the_rest_missed():
    """Before any tempo is known, the same note again begins anew: broken off, nothing missed."""
    told = Hand(ROUND).note(1.0, 4, 50).wait(0.15).reps(3).score()
    missed = [slot for rep in told["reps"] for slot in rep["slots"] if slot["verdict"] == "missed"]
    assert len(missed) <= 5 and [verdicts(rep) for rep in told["reps"][-3:]] == [HITS] * 3


@pytest.mark.parametrize("first", (5, 6))
def test_play_that_comes_round_at_once_was_entered_at_the_end(first: int):
    """After a breath behind other notes, entered at one of the last slots."""
    hand = Hand()
    for at, pitch in enumerate((61, 63, 60)):
        hand.note(1.0 + 0.2 * at, 1, pitch)
    told = hand.wait(1.0).reps(1, first=first).reps(3).score()
    words = " ".join(["missed"] * (first - 1) + ["hit"] * (7 - first))
    assert [verdicts(rep) for rep in told["reps"]] == [words, HITS, HITS, HITS]
    assert len(told["outside"]) == 3


def test_a_slots_note_again_within_half_a_step_is_no_new_beginning():
    """Nobody begins anew so soon: it is an extra, and nothing is missed."""
    hand = Hand(notes_per_s=6.0).reps(2)
    again = hand.at + 2 * hand.step + 0.08
    told = hand.reps(2).note(again, 3, 67, 90).score()
    assert [verdicts(rep) for rep in told["reps"]] == [HITS] * 4
    assert len(told["reps"][2]["extras"]) == 1


def test_six_slots_left_out_at_a_tempo_that_wavers_are_no_six_missed():
    """Broken off after the first note, begun again a step off its time: broken, not complete."""
    hand = Hand().reps(2, late={6: 0.012})
    told = hand.reps(1, last=1).wait(6 * STEP).reps(2).score()
    assert [rep["complete"] for rep in told["reps"]] == [True, True, False, True, True]
