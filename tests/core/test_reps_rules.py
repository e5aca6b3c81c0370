"""When a repetition ends, is complete, broken off or paused, and what belongs to none: a case for
every sentence."""

from __future__ import annotations

from math import inf

import pytest
from hand import HITS, Hand, extras, verdicts

from livecheck.core.cell import make_cell
from livecheck.core.events import RepDone
from livecheck.core.rig import Delay, Rig
from livecheck.session import Session

STEP = 0.125
RESTS = make_cell("with a final rest", [(2, 13), (2, 10), (3, 12), (3, 10), 2], quiet=[4])


def shape(told: dict) -> list[tuple[str, bool]]:
    return [(verdicts(rep), rep["complete"]) for rep in told["reps"]]


def test_a_repetition_ends_where_the_next_one_is_due_the_final_rest_included():
    """``end_s`` with a rest of two steps; ``start_s`` is the first slot's onset."""
    reps = Hand(RESTS).reps(4).score()["reps"]
    assert len(reps) == 4
    for i, rep in enumerate(reps):
        assert rep["start_s"] == pytest.approx(1.0 + i * 6 * STEP, abs=1e-6)
        assert rep["end_s"] == pytest.approx(1.0 + (i + 1) * 6 * STEP, abs=1e-4)
        assert rep["pause_s"] == 0.0


def test_tempo_and_notes_a_second():
    """Eight steps a second at four to a beat are 120 beats a minute; L-07 (derived): 8 notes/s."""
    reps = Hand().reps(4).score()["reps"]
    assert len(reps) == 4
    for rep in reps:
        assert rep["tempo_bpm"] == pytest.approx(120.0, abs=0.01)
        assert rep["notes_per_s"] == pytest.approx(8.0, abs=0.001)


def test_notes_a_second_is_tempo_times_grid_whatever_the_rests():
    """The trade's way of counting."""
    reps = Hand(RESTS).reps(4).score()["reps"]
    assert len(reps) == 4
    for rep in reps:
        assert rep["notes_per_s"] == pytest.approx(rep["tempo_bpm"] / 60 * RESTS.grid, abs=1e-3)


def test_a_missed_first_slot_starts_where_it_was_expected():
    """``start_s`` is its ``expected_s``."""
    told = Hand().reps(2).reps(1, missing=[1]).reps(2).score()
    rep = told["reps"][2]
    assert shape(told)[2] == ("missed hit hit hit hit hit", True)
    assert (
        rep["start_s"] == rep["slots"][0]["expected_s"] == pytest.approx(1.0 + 12 * STEP, abs=0.003)
    )


def test_starting_again_from_slot_1_at_another_time_breaks_the_repetition_off():
    """It lists the slots up to the last one sounded, ends at its last onset, and is not clean."""
    told = Hand().reps(2).reps(1, last=4).wait(0.43).reps(2).score()
    assert shape(told) == [
        (HITS, True),
        (HITS, True),
        ("hit hit hit hit", False),
        (HITS, True),
        (HITS, True),
    ]
    broken = told["reps"][2]
    assert broken["end_s"] == pytest.approx(1.0 + 15 * STEP, abs=1e-6)
    assert broken["accuracy"] == 1.0 and not broken["clean"]


def test_breaking_off_without_a_pause():
    """Slot 1 comes on the very next step, three steps before the figure would have come round."""
    told = Hand().reps(2).reps(1, last=3).reps(2).score()
    assert shape(told) == [
        (HITS, True),
        (HITS, True),
        ("hit hit hit", False),
        (HITS, True),
        (HITS, True),
    ]


def test_a_broken_repetition_counts_the_slots_missed_before_its_last_sound():
    """Slot 2 is left out, and the player breaks off after slot 4."""
    told = Hand().reps(2).reps(1, missing=[2], last=4).reps(2).score()
    assert shape(told)[2] == ("hit missed hit hit", False)
    assert told["reps"][2]["accuracy"] == 0.75


@pytest.mark.parametrize("pause_s", (0.0, 0.55, 1.3))
def test_going_back_to_an_earlier_slot_breaks_the_repetition_off(pause_s: float):
    """The next one is entered mid-figure: complete, the slots before the entry missed, starting at
    its first sound."""
    hand = Hand().reps(2).reps(1, last=5).wait(pause_s)
    entry = hand.at
    told = hand.reps(1, first=3).reps(2).score()
    assert shape(told)[2:4] == [
        ("hit hit hit hit hit", False),
        ("missed missed hit hit hit hit", True),
    ]
    assert told["reps"][3]["start_s"] == pytest.approx(entry, abs=1e-6)


@pytest.mark.parametrize("off", (-0.4, -0.2, 0.0, 0.2, 0.4))
@pytest.mark.parametrize("heard", (3, 4, 5))
def test_the_next_repetition_within_half_a_step_of_its_time_leaves_this_one_complete(
    heard: int, off: float
):
    """The slots not heard are missed."""
    hand = Hand().reps(3)
    begin = hand.at
    hand.reps(1, last=heard)
    hand.at = begin + (6 + off) * STEP
    told = hand.reps(3).score()
    assert shape(told)[3] == (" ".join(["hit"] * heard + ["missed"] * (6 - heard)), True)
    assert len(told["reps"]) == 7


@pytest.mark.parametrize("off", (-1.0, 0.8, 1.5))
def test_further_off_than_half_a_step_it_is_broken_off(off: float):
    """Three slots heard; slot 1 comes a step early, or 0.8 and 1.5 steps late."""
    hand = Hand().reps(3)
    begin = hand.at
    hand.reps(1, last=3)
    hand.at = begin + (6 + off) * STEP
    told = hand.reps(3).score()
    assert shape(told)[3] == ("hit hit hit", False)


@pytest.mark.parametrize("pause_s", (0.37, 0.8, 1.6))
def test_a_pause_inside_is_one_complete_repetition_without_tempo(pause_s: float):
    """``pause_s`` is the time beyond what the step would have taken; tempo and evenness are
    null."""
    told = Hand().reps(3).reps(1, last=3).wait(pause_s).reps(1, first=4).reps(2).score()
    assert shape(told) == [(HITS, True)] * 6
    rep = told["reps"][3]
    assert rep["pause_s"] == pytest.approx(pause_s, abs=0.01)
    assert rep["tempo_bpm"] is rep["notes_per_s"] is None
    assert set(rep["evenness"].values()) == {None}
    assert [one["pause_s"] for one in told["reps"] if one is not rep] == [0.0] * 5


@pytest.mark.parametrize("first", (2, 3, 4, 5))
def test_play_that_begins_mid_figure_is_a_complete_repetition(first: int):
    """Reading 4; ``start_s`` is the onset of the first slot heard."""
    told = Hand().reps(1, first=first).reps(3).score()
    want = " ".join(["missed"] * (first - 1) + ["hit"] * (7 - first))
    assert shape(told) == [(want, True)] + [(HITS, True)] * 3
    assert told["reps"][0]["start_s"] == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("notes_per_s", (4.5, 6.0, 11.0, 14.0))
def test_a_jump_of_the_tempo_at_a_repetitions_start_costs_nothing(notes_per_s: float):
    """From 8 notes a second at once to another speed."""
    hand = Hand().reps(3)
    hand.step = 1 / notes_per_s
    assert shape(hand.reps(4).score()) == [(HITS, True)] * 7


@pytest.mark.parametrize("notes_per_s", (5.0, 12.0))
def test_a_jump_of_the_tempo_in_the_middle_costs_nothing(notes_per_s: float):
    """After slot 3; the repetition's own figures may suffer, its verdicts not."""
    hand = Hand().reps(3).reps(1, last=3)
    hand.step = 1 / notes_per_s
    assert shape(hand.reps(1, first=4).reps(3).score()) == [(HITS, True)] * 7


def test_a_rest_between_repetitions_is_no_pause_inside_one():
    """The player stops after slot 6 for three seconds and begins anew."""
    told = Hand().reps(2).wait(3.07).reps(2).score()
    assert shape(told) == [(HITS, True)] * 4
    assert [rep["pause_s"] for rep in told["reps"]] == [0.0] * 4


def test_what_sounds_before_the_first_repetition_lies_outside():
    """In the same form as an extra."""
    told = Hand().note(0.2, 4, 55, 60).reps(3).score()
    assert extras(told["outside"]) == [(4, 55, "noise")]
    assert told["outside"][0].keys() == {"onset_s", "string", "note", "velocity", "kind"}
    assert (
        shape(told) == [(HITS, True)] * 3
        and told["totals"]["outside"] == 1
        and told["totals"]["noise"] == 0
    )


def test_up_to_a_beat_after_its_end_a_sound_belongs_to_the_last_repetition():
    """A beat is four steps, 0.5 s: 0.45 s after the end it is an extra, 0.56 s after it lies
    outside."""
    for after_s, inside in ((0.45, True), (0.56, False)):
        hand = Hand().reps(3)
        told = hand.note(hand.at + after_s, 4, 55, 60).score()
        assert extras(told["reps"][2]["extras"]) == ([(4, 55, "noise")] if inside else [])
        assert extras(told["outside"]) == ([] if inside else [(4, 55, "noise")])


def test_after_a_broken_one_the_beat_counts_from_its_last_slot():
    """Broken off after slot 3; the next repetition begins 2.03 s later."""
    for after_s, inside in ((0.45, True), (0.56, False)):
        hand = Hand().reps(2).reps(1, last=3)
        last_onset = hand.at - STEP
        told = hand.wait(2.03).note(last_onset + after_s, 4, 55, 60).reps(2).score()
        assert shape(told)[2] == ("hit hit hit", False)
        assert extras(told["reps"][2]["extras"]) == ([(4, 55, "noise")] if inside else [])
        assert extras(told["outside"]) == ([] if inside else [(4, 55, "noise")])


def test_clean_is_spoilt_by_noise_and_stray_and_not_by_artefacts():
    """The player made no mistake where only the converter did."""
    for string, pitch, velocity, clean in (
        (4, 55, 40, False),
        (3, 58, 80, False),
        (4, 55, 5, True),
    ):
        hand = Hand().reps(1)
        told = hand.note(hand.at + 0.5 * STEP, string, pitch, velocity).reps(2).score()
        assert [rep["clean"] for rep in told["reps"]] == [True, clean, True]


def test_a_file_with_no_notes_is_no_error():
    """Reading 7."""
    told = Hand().score()
    assert told["reps"] == told["outside"] == []
    assert set(told["totals"].values()) == {0}


def test_only_noodling_stands_outside():
    """Reading 7: notes that have nothing to do with the figure."""
    hand = Hand()
    notes = ((1, 64), (6, 45), (1, 66), (6, 47), (4, 62), (1, 69), (6, 43), (4, 60))
    for i, (string, pitch) in enumerate(notes):
        hand.note(1.0 + 0.21 * i + 0.05 * (i % 3), string, pitch)
    told = hand.score()
    assert told["reps"] == [] and len(told["outside"]) == len(notes) == told["totals"]["outside"]


def test_the_totals_are_the_sums_of_what_is_listed():
    """One of each fault, over five repetitions."""
    hand = (
        Hand()
        .note(0.2, 1, 64)
        .reps(1)
        .reps(1, missing=[2])
        .reps(1, instead={4: (3, 66)})
        .reps(1, last=4)
    )
    told = hand.wait(0.45).reps(1).score()
    slots = [slot["verdict"] for rep in told["reps"] for slot in rep["slots"]]
    kinds = [extra["kind"] for rep in told["reps"] for extra in rep["extras"]]
    want = {name: slots.count(name) for name in ("hit", "missed", "wrong")}
    want |= {name: kinds.count(name) for name in ("noise", "stray", "artefact")}
    want |= {"reps": len(told["reps"]), "outside": len(told["outside"])}
    want |= {name: sum(rep[name] for rep in told["reps"]) for name in ("complete", "clean")}
    assert told["totals"] == want
    assert (want["reps"], want["complete"], want["missed"], want["wrong"], want["outside"]) == (
        5,
        4,
        1,
        1,
        1,
    )


def test_two_slots_are_enough_for_a_cell():
    """The shortest figure, with a repetition that lacks its second note."""
    cell = make_cell("two", [(2, 13), (3, 12)])
    told = Hand(cell).reps(3).reps(1, missing=[2]).reps(3).score()
    assert shape(told) == [("hit hit", True)] * 3 + [("hit missed", True)] + [("hit hit", True)] * 3


@pytest.mark.parametrize(
    "lengths", ((4, 5, 1, 4, 1, 2), (2, 4, 2, 3, 1, 1), (1, 5, 1, 1, 1, 1), (4, 1, 5, 5, 2, 1))
)
def test_a_silence_that_is_planned_is_no_stop(lengths: tuple[int, ...]):
    """Slots of up to five steps at 4 notes a second: a second passes between neighbours, as
    written, and every note from the first one on sounds in its place."""
    frets = ((2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 9))
    cell = make_cell("slow", [(*fret, None, length) for fret, length in zip(frets, lengths)])
    told = Hand(cell, notes_per_s=4).reps(3).score()
    assert shape(told) == [(HITS, True)] * 3 and told["outside"] == []


def test_a_restart_on_a_slot_with_a_long_planned_silence_is_heard():
    """Broken off after slot 3 and begun again 0.7 s later with slot 1, which is four steps long
    (0.8 s)."""
    cell = make_cell("held", [(2, 13, None, 4), (2, 10), (3, 12), (3, 10), (5, 12), (5, 9)])
    told = Hand(cell, notes_per_s=5).reps(2).reps(1, last=3).wait(0.7).reps(2).score()
    assert shape(told) == [(HITS, True)] * 2 + [("hit hit hit", False)] + [(HITS, True)] * 2


def test_halves_that_differ_in_one_note_are_told_apart():
    """abcd abed: slot 7 alone says which half it is."""
    a, b, c, d, e = (2, 13), (2, 10), (3, 12), (3, 10), (3, 9)
    cell = make_cell("twins", [a, b, c, d, a, b, e, d])
    told = Hand(cell).reps(2).reps(1, missing=[7]).reps(1, missing=[3]).reps(2).score()
    words = ["hit"] * 8
    want = [" ".join(words)] * 2
    want += [
        " ".join(words[:6] + ["missed", "hit"]),
        " ".join(words[:2] + ["missed"] + words[:5]),
    ] + want
    assert [verdicts(rep) for rep in told["reps"]] == want


def test_the_same_pitch_on_two_strings_is_two_slots():
    """E4 on strings 2 and 3 (T-08): each answers its own slot."""
    cell = make_cell("unison", [(2, 5), (3, 9), (2, 7), (3, 7)])
    told = Hand(cell).reps(2).reps(1, missing=[2]).reps(2).score()
    assert [verdicts(rep) for rep in told["reps"]][2] == "hit missed hit hit"
    assert told["totals"]["hit"] == 19


def test_repetitions_are_counted_from_where_play_began():
    """On time it goes on, missed notes or not; after a break, a stop or a take it begins again."""
    hand = Hand().reps(2).reps(1, missing=[1, 6]).reps(1, last=4).wait(0.43).reps(2)
    hand.wait(1.0).reps(2).wait(20.0).reps(1)
    session = Session(hand.cell)
    told = session.feed_all(hand.records())
    counted = [one.repetition.since_start for one in told if isinstance(one, RepDone)]
    assert counted == [1, 2, 3, 4, 1, 2, 1, 2, 1]


def test_the_repetition_under_way_is_counted_too():
    """So that a screen can show its planned strokes; 1 where nobody plays."""
    session, seen = Session(Hand().cell), []
    assert session.since_start == 1
    for record in Hand().reps(3).wait(0.5).reps(2).records():
        session.feed(record)
        seen.append(session.since_start)
    assert list(dict.fromkeys(seen)) == [1, 2, 3] and seen[-1] == 2
    session.tick(100.0)
    assert session.since_start == 1


def owner(told: dict, onset_s: float) -> int | None:
    """The repetition that the rule gives an extra to (formats.md, extras), from the score alone."""
    own = [rep for rep in told["reps"] if rep["start_s"] <= onset_s]
    if not own or onset_s > own[-1]["end_s"] + 60.0 / own[-1]["tempo_bpm"]:
        return None
    return own[-1]["rep"]


def placed(told: dict, onset_s: float) -> int | None:
    """Where it stands."""
    return next(
        (
            rep["rep"]
            for rep in told["reps"]
            if any(extra["onset_s"] == pytest.approx(onset_s, abs=1e-6) for extra in rep["extras"])
        ),
        None,
    )


@pytest.mark.parametrize("away_ms", range(-14, 15, 2))
def test_an_extra_beside_a_missed_first_slot_is_where_its_start_says(away_ms: int):
    """Played a little late or early, repetition 3 lacks its first note, and string 4 sounds where
    it was due: the extra is of the repetition with the latest start not after it."""
    hand = Hand().reps(2)
    t_s = hand.at + away_ms / 1000.0
    hand.note(t_s, 4, 60, length=0.06)
    hand.reps(1, missing=[1], late={2: 0.012, 4: -0.009, 5: 0.011}).reps(1)
    told = hand.score()
    assert verdicts(told["reps"][2]).startswith("missed hit")
    assert placed(told, t_s) == owner(told, t_s) is not None


@pytest.mark.parametrize("away_ms", range(-24, 25, 4))
@pytest.mark.parametrize("missing", [[], [6]])
def test_a_beat_after_the_end_is_by_the_repetitions_own_tempo(away_ms: int, missing: list[int]):
    """The last repetition's final steps hurry: where its line puts the end, and a beat, decides
    what is outside, also where its last note was missed."""
    hand = Hand().reps(3).reps(1, missing=missing, late={4: -0.01, 5: -0.016, 6: -0.02})
    t_s = hand.at + 4 * hand.step + away_ms / 1000.0
    hand.note(t_s, 4, 60, length=0.06)
    told = hand.score()
    if missing:  # broken off: its end is its last note
        last = told["reps"][3]
        inside = t_s <= last["end_s"] + 60.0 / last["tempo_bpm"]
        assert placed(told, t_s) == (4 if inside else None)
    else:
        assert placed(told, t_s) == owner(told, t_s)


@pytest.mark.parametrize(("string", "pitch"), [(6, 40), (1, 84)])
@pytest.mark.parametrize("away_ms", (-4, -1, 0, 1, 4))
def test_what_sounds_as_play_begins_is_where_it_arrived(string: int, pitch: int, away_ms: int):
    """A low string arrives 18 ms later than the first note's, so that it was struck before the
    beginning where it arrives after it; a high one the other way round."""
    at_s = 1.0 + away_ms / 1e3
    hand = Hand(rig=Rig(delay=Delay(4.0, 1.8))).note(at_s, string, pitch, velocity=40)
    told = hand.reps(4).score()
    inside = [extra for rep in told["reps"] for extra in rep["extras"]]
    assert told["reps"][0]["start_s"] == 1.0
    assert (len(inside), len(told["outside"])) == ((1, 0) if away_ms >= 0 else (0, 1))


@pytest.mark.parametrize("away_ms", range(-12, 13, 2))
def test_a_missed_first_slot_of_a_repetition_with_a_stop_in_it_begins_on_the_right_side(
    away_ms: int,
):
    """There is no line to tell where it was due; the extra sounds there."""
    hand = Hand().reps(2)
    hand.note(hand.at + away_ms / 1e3, 4, 62, velocity=40)
    hand.reps(1, missing=[1], last=4, late={2: 0.009, 3: -0.006}).wait(0.9)
    hand.reps(1, first=5).reps(2)
    told = hand.score()
    for rep in told["reps"]:
        starts = [one["start_s"] for one in told["reps"] if one["rep"] == rep["rep"] + 1]
        for extra in rep["extras"]:
            assert rep["start_s"] <= extra["onset_s"] < min(starts, default=inf)


@pytest.mark.parametrize("notes_per_s", (3.0, 8.0, 13.0))
@pytest.mark.parametrize("silence_s", (3.0, 12.0, 17.0, 18.0, 25.0, 60.0, 600.0))
def test_a_silence_costs_no_note_however_long(silence_s: float, notes_per_s: float):
    """Play that is taken up again, a little faster, begins with a clean repetition."""
    hand = Hand(notes_per_s=notes_per_s).reps(3).wait(silence_s)
    hand.step *= 0.95
    told = hand.reps(3).score()
    assert shape(told) == [(HITS, True)] * 6 and told["outside"] == []


@pytest.mark.parametrize("away_ms", (-9.0, -4.0, -2.0, -1.5, -1.0, -0.5, 0.0, 1.0, 4.0, 9.0))
def test_beside_the_first_note_heard_of_a_repetition_it_is_where_the_start_says(away_ms: float):
    """The first slot of repetition 3 is missed; a high string sounds about its second, so that it
    may be struck after that one and arrive before it: the repetition has begun all the same."""
    hand = Hand(rig=Rig(delay=Delay(4.0, 1.8))).reps(2)
    t_s = hand.at + hand.step + away_ms / 1e3
    hand.note(t_s, 1, 84, velocity=40)
    told = hand.reps(1, missing=[1]).reps(2).score()
    assert placed(told, t_s) == owner(told, t_s) == 3
