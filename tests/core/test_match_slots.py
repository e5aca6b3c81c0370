"""Which slot a note answers: one case for every sentence of the contract's rules for slots and
extras."""

from __future__ import annotations

import pytest
from hand import HITS, SIX, Hand, extras, verdicts

from livecheck.core.cell import make_cell
from livecheck.core.rig import Delay, Gate, Rig


def middle(hand: Hand) -> dict:
    """The third of five repetitions, the other four being perfect; nothing else may have
    suffered."""
    told = hand.score()["reps"]
    assert len(told) == 5
    for i in (0, 1, 3, 4):
        assert verdicts(told[i]) == HITS and told[i]["complete"] and not told[i]["extras"]
    return told[2]


def around(**faults: object) -> dict:
    return middle(Hand().reps(2).reps(1, **faults).reps(2))  # type: ignore[arg-type]


def with_extra(
    t_steps: float, string: int, pitch: int, velocity: int = 80, length: float = 0.08
) -> dict:
    """The third repetition with one more note, so many steps after its start."""
    hand = Hand().reps(2)
    begin = hand.at
    hand.reps(3)
    hand.note(begin + t_steps * hand.step, string, pitch, velocity, length)
    return middle(hand)


def test_every_slot_of_a_perfect_repetition_is_hit_and_clean():
    """Hit: the slot's string and pitch sounded."""
    rep = around()
    assert verdicts(rep) == HITS and rep["clean"] and rep["accuracy"] == 1.0
    assert [slot["slot"] for slot in rep["slots"]] == [1, 2, 3, 4, 5, 6]
    assert {slot["by"] for slot in rep["slots"]} == {"note"}


@pytest.mark.parametrize("slot", range(1, 7))
@pytest.mark.parametrize("by", (-2, 1, 3))
def test_another_fret_in_the_slots_place_is_wrong(slot: int, by: int):
    """Wrong: another fret of that string."""
    of = SIX.slots[slot - 1]
    rep = around(instead={slot: (of.string, of.pitch + by)})
    assert [one["verdict"] for one in rep["slots"]].index("wrong") == slot - 1
    assert verdicts(rep).count("hit") == 5 and not rep["extras"] and not rep["clean"]
    assert rep["slots"][slot - 1]["note"] == of.pitch + by


@pytest.mark.parametrize("string", (1, 4, 6))
def test_the_pitch_on_another_string_is_wrong_even_where_that_string_is_quiet(string: int):
    """Reading 2, with the quiet string 4 and two that are not used."""
    rep = around(instead={3: (string, 67)})
    assert verdicts(rep) == "hit hit wrong hit hit hit"
    assert rep["slots"][2]["string"] == string and not rep["extras"]


@pytest.mark.parametrize("slot", range(1, 7))
def test_nothing_in_its_place_is_missed_wherever_it_lies(slot: int):
    """Missed: nothing sounded in its place; a first or last slot is no exception."""
    rep = around(missing=[slot])
    told = [one["verdict"] for one in rep["slots"]]
    assert told.index("missed") == slot - 1 and told.count("hit") == 5
    assert rep["complete"] and not rep["clean"]
    gone = rep["slots"][slot - 1]
    assert (
        gone["onset_s"] is gone["by"] is gone["string"] is gone["note"] is gone["velocity"] is None
    )
    assert gone["deviation_ms"] is None
    assert gone["expected_s"] == pytest.approx(1.0 + (12 + slot - 1) * 0.125, abs=0.005)


def test_another_string_and_another_pitch_is_an_extra_and_the_slot_is_missed():
    """Reading 2, second half: a misplaced pick meets quiet string 4 instead of string 5."""
    rep = around(instead={5: (4, 50)})
    assert verdicts(rep) == "hit hit hit hit missed hit"
    assert extras(rep["extras"]) == [(4, 50, "noise")] and not rep["clean"]


def test_a_quiet_string_that_sounds_is_noise():
    """Noise: a quiet string sounded, above the gate; the slots keep their notes."""
    rep = with_extra(3.5, 4, 55, velocity=35)
    assert verdicts(rep) == HITS and extras(rep["extras"]) == [(4, 55, "noise")]
    assert not rep["clean"] and rep["accuracy"] == 1.0


@pytest.mark.parametrize("when", (3.4, 3.5, 3.9))
def test_a_string_of_the_cell_clipped_on_the_way_is_noise_though_it_sounds_a_pitch_of_the_cell(
    when: float,
):
    """Reading 3: string 3 lies between 2 and 5, and its finger is still on slot 2's pitch."""
    cell = make_cell("over", [(2, 13), (3, 12), (2, 10), (5, 12), (5, 9), (3, 10)], quiet=[4])
    hand = Hand(cell).reps(2)
    begin = hand.at
    hand.reps(3).note(begin + (when - 1.0 + 0.1) * hand.step, 3, 67, 30, 0.04)
    rep = middle(hand)
    assert verdicts(rep) == HITS and extras(rep["extras"]) == [(3, 67, "noise")]


def test_a_soft_note_under_the_gate_is_an_artefact_and_spoils_nothing():
    """Artefact: a note under the gate; the player made no mistake."""
    rep = with_extra(3.5, 4, 55, velocity=11)
    assert extras(rep["extras"]) == [(4, 55, "artefact")] and rep["clean"]


def test_a_note_shorter_than_the_gate_is_an_artefact():
    """The gate has a length as well; 20 ms lie under 25."""
    rep = with_extra(3.5, 4, 55, velocity=60, length=0.020)
    assert extras(rep["extras"]) == [(4, 55, "artefact")] and rep["clean"]


def test_what_lies_under_the_gate_can_never_be_a_slot():
    """Reading 5: softer than the gate, in a slot's own place, on its string and pitch: the slot is
    missed."""
    rep = around(velocity={3: 5})
    assert verdicts(rep) == "hit hit missed hit hit hit" and extras(rep["extras"]) == [
        (3, 67, "artefact")
    ]


def test_a_soft_note_above_the_gate_is_a_slot_like_any_other():
    """Reading 5: velocity 13 with a gate of 12."""
    rep = around(velocity={3: 13})
    assert verdicts(rep) == HITS and rep["clean"] and rep["slots"][2]["velocity"] == 13


def test_the_gate_is_the_rigs():
    """The same velocity 13 lies under a gate of 20."""
    hand = Hand(rig=Rig(gate=Gate(velocity=20))).reps(2).reps(1, velocity={3: 13}).reps(2)
    assert verdicts(middle(hand)) == "hit hit missed hit hit hit"


@pytest.mark.parametrize("gap_s", (0.028, 0.040, 0.055))
def test_the_second_of_a_double_trigger_never_counts(gap_s: float):
    """The same string and pitch again within some 60 ms, no such slot planned. X-06 (mir_eval,
    run): one hit."""
    hand = Hand().reps(2)
    begin = hand.at
    hand.reps(3)
    t = begin + 2 * hand.step
    hand.messages = [
        one
        for one in hand.messages
        if not (abs(one[0] - t - 0.9 * hand.step) < 1e-9 and one[1] == 0)
    ]
    hand.raw(t + gap_s - 0.001, 0x82, 67, 64).note(t + gap_s, 3, 67, 60, 0.06)
    rep = middle(hand)
    assert verdicts(rep) == HITS and extras(rep["extras"]) == [(3, 67, "artefact")] and rep["clean"]
    assert rep["slots"][2]["onset_s"] == pytest.approx(t, abs=1e-6)


def test_a_double_trigger_before_the_first_ones_end_leaves_the_slot_its_note():
    """Two note-ons of one key are legal and each is owed its own note-off (M-12): the first off, 33
    ms on, is the first note's, which therefore lies above the gate and answers the slot (X-06); the
    second is the artefact."""
    hand = Hand().reps(2)
    begin = hand.at
    hand.reps(1, missing=[3]).reps(2)
    t = begin + 2 * hand.step
    hand.note(t, 3, 67, 80, 0.033).note(t + 0.015, 3, 67, 70, 0.08)
    rep = middle(hand)
    assert verdicts(rep) == HITS and extras(rep["extras"]) == [(3, 67, "artefact")]


def test_a_repeated_pitch_that_is_planned_is_two_slots():
    """'With no such slot in the plan': at 18 notes a second the planned repeat comes after 55
    ms."""
    cell = make_cell("twice", [(2, 13), (2, 13), (3, 12), (3, 10)])
    told = Hand(cell, notes_per_s=18).reps(4).score()
    assert [verdicts(rep) for rep in told["reps"]] == ["hit hit hit hit"] * 4
    assert told["totals"]["artefact"] == 0


@pytest.mark.parametrize("up", (12, 19, 24))
def test_an_octave_error_held_for_the_whole_note_is_a_hit(up: int):
    """Reading 1: the finger was right."""
    rep = around(instead={3: (3, 67 + up)})
    assert verdicts(rep) == HITS and rep["clean"] and rep["slots"][2]["note"] == 67 + up


@pytest.mark.parametrize("up", (12, 19, 24))
def test_an_octave_error_that_corrects_itself_is_an_artefact_and_the_right_pitch_has_the_slot(
    up: int,
):
    """Reading 1, second half: corrected after 35 ms."""
    hand = Hand().reps(2)
    begin = hand.at
    hand.reps(1, missing=[3]).reps(2)
    t = begin + 2 * hand.step
    hand.note(t, 3, 67 + up, 80, 0.034).note(t + 0.035, 3, 67, 75, 0.07)
    rep = middle(hand)
    assert (
        verdicts(rep) == HITS
        and extras(rep["extras"]) == [(3, 67 + up, "artefact")]
        and rep["clean"]
    )
    assert rep["slots"][2]["note"] == 67


def test_anything_else_is_stray():
    """A full note on a string of the cell, between two slots, that is neither planned nor passed
    over."""
    rep = with_extra(0.5, 3, 58)
    assert (
        verdicts(rep) == HITS and extras(rep["extras"]) == [(3, 58, "stray")] and not rep["clean"]
    )


def test_an_extra_belongs_to_the_repetition_with_the_latest_start_not_after_it():
    """Just before a repetition's first slot it belongs to the one before."""
    hand = Hand().reps(1)
    begin = hand.at
    hand.reps(2).note(begin - 0.05, 4, 55, 40).note(begin + 0.05, 4, 57, 40)
    reps = hand.score()["reps"]
    assert [extras(rep["extras"]) for rep in reps] == [[(4, 55, "noise")], [(4, 57, "noise")], []]


def test_frets_count_from_the_capo():
    """Reading 6: with a capo at 2, fret 10 of string 2 sounds 59 + 2 + 10 = 71 (T-07)."""
    cell = make_cell("capo", [(2, 10), (2, 12), (3, 9)], capo=2)
    assert cell.slots[0].pitch == 71
    told = Hand(cell).reps(3).score()
    assert [verdicts(rep) for rep in told["reps"]] == ["hit hit hit"] * 3


def test_seven_strings_have_seven_channels():
    """A seventh string at B1 (T-05) on channel 7."""
    cell = make_cell("low", [(7, 1), (7, 3), (6, 2), (5, 2)], tuning=(64, 59, 55, 50, 45, 40, 35))
    told = Hand(cell, rig=Rig(channels=(1, 2, 3, 4, 5, 6, 7))).reps(3).score()
    assert [verdicts(rep) for rep in told["reps"]] == ["hit hit hit hit"] * 3
    assert told["reps"][0]["slots"][0]["string"] == 7


def test_channels_that_are_no_string_are_counted_not_judged():
    """Always: notes on channel 10 change nothing of the score, and are counted."""
    from livecheck.session import Session

    plain, disturbed = Hand().reps(3), Hand().reps(3)
    for i in range(8):
        disturbed.raw(1.01 + 0.2 * i, 0x99, 37, 90)
    assert plain.score() == disturbed.score()
    session = Session(SIX, Rig())
    session.feed_all(disturbed.records())
    assert session.foreign == 8


def test_the_cells_tuning_decides_the_pitches():
    """Always: the rig's tuning is only the default."""
    hand = Hand(SIX, rig=Rig(tuning=(62, 57, 53, 48, 43, 38))).reps(3)
    assert [verdicts(rep) for rep in hand.score()["reps"]] == [HITS] * 3


def test_the_strings_delay_is_taken_off_before_timing_is_judged():
    """C-06 (derived): two periods of each pitch added to a perfect figure leave no deviation once
    the rig knows."""
    rig = Rig(delay=Delay(fixed_ms=0.0, periods=2.0))
    hand = Hand(rig=rig)
    for _ in range(4):
        for slot in SIX.slots:
            late = rig.delay.seconds(slot.string, slot.pitch)
            hand.note(hand.at + slot.start * hand.step + late, slot.string, slot.pitch)
        hand.at += SIX.steps * hand.step
    reps = hand.score()["reps"]
    assert [verdicts(rep) for rep in reps] == [HITS] * 4
    for rep in reps:
        for slot in rep["slots"]:
            assert slot["deviation_ms"] == pytest.approx(0.0, abs=0.01)
            assert slot["expected_s"] == pytest.approx(slot["onset_s"], abs=2e-5)
