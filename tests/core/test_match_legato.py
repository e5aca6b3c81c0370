"""Legato that the converter reports by a bend alone, and bends that are no notes."""

from __future__ import annotations

import pytest
from hand import Hand, extras, verdicts

from livecheck.core.cell import make_cell
from livecheck.core.rig import Rig

HAMMERED = make_cell("hammered", [(2, 10), (2, 13, "hammer"), (3, 12), (3, 10, "pull")], quiet=[4])
"""Pitches 69 72 67 65."""
FOUR = "hit hit hit hit"


def bent(
    to: float = 3.0, glide: tuple[tuple[float, float], ...] = (), back_ms: float = -1.0
) -> dict:
    """Five repetitions; in each the hammered slot comes as a bend of the first, put back at the
    next note-on."""
    hand = Hand(HAMMERED)
    for _ in range(5):
        t, step = hand.at, hand.step
        hand.note(t, 2, 69, 80, 1.9 * step)
        for before_s, semitones in glide:
            hand.bend(t + step - before_s, 2, semitones)
        hand.bend(t + step, 2, to)
        hand.bend(t + 4 * step + back_ms / 1000.0, 2, 0.0)
        hand.note(t + 2 * step, 3, 67, 80, 0.9 * step).note(t + 3 * step, 3, 65, 40, 0.9 * step)
        hand.at += 4 * step
    return hand.score()


@pytest.mark.parametrize("back_ms", (-3.0, -1.0, 1.5, 3.0))
def test_a_bend_alone_answers_its_slot_and_being_put_back_is_no_note(back_ms: float):
    """``by`` bend, velocity null, note = the sounding pitch rounded; put back within a few ms of
    the next note-on."""
    told = bent(back_ms=back_ms)
    assert [verdicts(rep) for rep in told["reps"]] == [FOUR] * 5
    for rep in told["reps"]:
        slot = rep["slots"][1]
        assert (slot["by"], slot["velocity"], slot["note"], slot["string"]) == ("bend", None, 72, 2)
        assert not rep["extras"] and rep["clean"]


def test_it_counts_at_the_message_that_comes_within_half_a_semitone():
    """2.4 of 3 semitones is too far, 2.7 is within half a semitone."""
    told = bent(to=3.0, glide=((0.010, 1.2), (0.006, 2.4), (0.003, 2.7)))
    assert [verdicts(rep) for rep in told["reps"]] == [FOUR] * 5
    for i, rep in enumerate(told["reps"]):
        due = 1.0 + (4 * i + 1) * 0.125
        assert rep["slots"][1]["onset_s"] == pytest.approx(due - 0.003, abs=1e-6)


def test_semitones_passed_on_the_way_of_a_slide_are_no_notes():
    """Each under 20 ms."""
    told = bent(to=3.0, glide=((0.030, 1.0), (0.015, 2.0)))
    assert [verdicts(rep) for rep in told["reps"]] == [FOUR] * 5
    assert told["totals"]["noise"] == told["totals"]["stray"] == told["totals"]["artefact"] == 0
    assert {rep["slots"][1]["note"] for rep in told["reps"]} == {72}


def test_a_bend_to_another_pitch_than_the_slots_is_wrong():
    """Another fret of that string sounded in the slot's place, and the converter told it by a
    bend."""
    hand = Hand(HAMMERED).reps(2)
    t, step = hand.at, hand.step
    hand.note(t, 2, 69, 80, 1.9 * step).bend(t + step, 2, 2.0).bend(t + 4 * step - 0.001, 2, 0.0)
    hand.note(t + 2 * step, 3, 67).note(t + 3 * step, 3, 65)
    hand.at += 4 * step
    told = hand.reps(2).score()
    assert [verdicts(rep) for rep in told["reps"]] == [FOUR, FOUR, "hit wrong hit hit", FOUR, FOUR]
    assert (told["reps"][2]["slots"][1]["by"], told["reps"][2]["slots"][1]["note"]) == ("bend", 71)


def test_vibrato_is_no_note():
    """± 0.4 semitones around a long note, 6 times a second."""
    cell = make_cell("long", [(2, 10), (2, 13), (3, 12, None, 6)])
    hand = Hand(cell).reps(1)
    for _ in range(4):
        t = hand.at
        hand.reps(1)
        for i in range(24):
            hand.bend(
                t + 2 * hand.step + 0.1 + 0.02 * i,
                3,
                0.4 * (0, 0.7, 1, 0.7, 0, -0.7, -1, -0.7)[i % 8],
            )
        hand.bend(t + 2 * hand.step + 0.6, 3, 0.0)
    told = hand.score()
    assert [verdicts(rep) for rep in told["reps"]] == ["hit hit hit"] * 5
    assert all(rep["clean"] for rep in told["reps"])


def test_a_legato_note_on_that_overlaps_the_old_note_is_a_slot():
    """M-25 (read): on #1, on #2, off #1 on one channel; the late off is not the end of #2."""
    hand = Hand(HAMMERED)
    for _ in range(4):
        t, step = hand.at, hand.step
        hand.note(t, 2, 69, 80, step + 0.004).note(t + step, 2, 72, 40, 0.9 * step)
        hand.note(t + 2 * step, 3, 67, 80, step + 0.004).note(t + 3 * step, 3, 65, 40, 0.9 * step)
        hand.at += 4 * step
    told = hand.score()
    assert [verdicts(rep) for rep in told["reps"]] == [FOUR] * 4 and not told["totals"]["artefact"]


def test_the_late_off_of_a_bent_note_does_not_end_the_next_note_of_the_same_key():
    """69 is bent to 72, then 69 is sounded anew, then comes the first's late off (M-12: one off for
    each; M-25)."""
    cell = make_cell("there and back", [(2, 10), (2, 13, "hammer"), (2, 10, "pull"), (3, 12)])
    hand = Hand(cell)
    for _ in range(4):
        t, step = hand.at, hand.step
        hand.note(t, 2, 69, 80, 2 * step + 0.003).bend(t + step, 2, 3.0).bend(
            t + 2 * step - 0.001, 2, 0.0
        )
        hand.note(t + 2 * step, 2, 69, 50, 0.9 * step).note(t + 3 * step, 3, 67)
        hand.at += 4 * step
    told = hand.score()
    assert [verdicts(rep) for rep in told["reps"]] == ["hit hit hit hit"] * 4
    assert [extras(rep["extras"]) for rep in told["reps"]] == [[]] * 4


def test_the_bend_range_of_the_stream_is_in_force():
    """RPN 0 sets ± 24 on string 2 (M-15, M-16); a bend of 3 semitones is then half as large a
    number."""
    wide = Hand(HAMMERED, rig=Rig(bend_range=24.0))
    for _ in range(4):
        t, step = wide.at, wide.step
        wide.note(t, 2, 69, 80, 1.9 * step).bend(t + step, 2, 3.0).bend(
            t + 4 * step - 0.001, 2, 0.0
        )
        wide.note(t + 2 * step, 3, 67).note(t + 3 * step, 3, 65)
        wide.at += 4 * step
    announced = Hand(HAMMERED, rig=Rig(bend_range=12.0))
    announced.messages = list(wide.messages)
    for i, (controller, value) in enumerate(((101, 0), (100, 0), (6, 24), (38, 0))):
        announced.raw(0.1 + 0.001 * i, 0xB1, controller, value)
    assert [verdicts(rep) for rep in announced.score()["reps"]] == [FOUR] * 4


@pytest.mark.parametrize("off", ("late", "none", "velocity 0"))
def test_how_a_note_ends_changes_no_verdict(off: str):
    """Late, missing and velocity-0 note-offs (M-05, C-17)."""
    hand = Hand(HAMMERED)
    for _ in range(4):
        for slot in HAMMERED.slots:
            t = hand.at + slot.start * hand.step
            if off == "velocity 0":
                hand.note(t, slot.string, slot.pitch, off=False).raw(
                    t + 0.1, 0x90 | slot.string - 1, slot.pitch, 0
                )
            else:
                hand.note(t, slot.string, slot.pitch, 80, 0.7, off=off == "late")
        hand.at += HAMMERED.steps * hand.step
    assert [verdicts(rep) for rep in hand.score()["reps"]] == [FOUR] * 4


def test_a_chain_of_bends_is_heard_whatever_sounded_five_seconds_before():
    """One note-on, then four legato notes by bends of it, each settled for 0.1 s or more; an older
    bent note on the same string, ended by the note-on that follows it (one voice a channel, M-21),
    has nothing to do with them."""
    cell = make_cell(
        "chain",
        [(2, 10), (2, 11, "hammer"), (2, 8, "pull"), (2, 11, "hammer"), (2, 8, "pull"), (3, 12)],
    )
    hand = Hand(cell)
    hand.note(0.2, 2, 67, off=False).bend(0.3, 2, 3.0).bend(0.4, 2, 0.0).note(
        0.402, 2, 67, off=False
    ).wait(4.5)
    for _ in range(3):
        t, step = hand.at, hand.step
        hand.bend(t - 0.001, 2, 0.0).note(t, 2, 69, 80, 5 * step - 0.005)
        for i, semitones in enumerate((1.0, -2.0, 1.0, -2.0), 1):
            hand.bend(t + i * step, 2, semitones)
        hand.note(t + 5 * step, 3, 67)
        hand.at += 6 * step
    assert [verdicts(rep) for rep in hand.score()["reps"]][-3:] == ["hit hit hit hit hit hit"] * 3


EARLIER = "8.9698 93362c, 9.0725 e3714f, 9.1764 e30040, 9.1784 933635"
"""Note 54 bent up by three semitones, put back, and sounded anew."""
CHAIN = (
    "13.9436 e30040, 13.9446 933841, 14.0818 e34445, 14.3652 e35a35, 14.5116 e31245, 14.6493 "
    "e34c35, "
    "14.9329 e3304a, 15.0496 833840, 15.0769 e30040"
)
"""One note-on, then bends of it that rest at 57, 54, 57, 54, 58; slots 9 to 13 and 15 of the cell
below."""


def test_bends_five_seconds_after_an_older_bent_note_are_heard_as_without_it():
    """The older note ended with the note-on that follows it on its channel (one voice a channel,
    M-21)."""
    frets = (6, 8, 7, 6, 7, 4, 6, 7, 6, 7, 4, 7, 4, 5, 8)
    strokes = ["down", "hammer", "slide", "pull", "up", "pull", "down", "hammer", "pull", "hammer"]
    strokes += ["pull", "slide", "pull", "hammer", "hammer"]
    places: list = [(4, fret, stroke) for fret, stroke in zip(frets, strokes)]
    cell = make_cell(
        "one string", places[:10] + [1] + places[10:], tuning=(65, 60, 55, 50, 45, 40), grid=6
    )

    def bends(text: str) -> list[tuple[float, int]]:
        hand = Hand(cell)
        for one in text.split(", "):
            t, data = one.split()
            hand.raw(float(t), *bytes.fromhex(data))
        told = hand.score()
        notes = [slot for rep in told["reps"] for slot in rep["slots"] if slot["by"] == "bend"]
        notes += [
            extra for rep in told["reps"] for extra in rep["extras"] if extra["velocity"] is None
        ]
        notes += [extra for extra in told["outside"] if extra["velocity"] is None]
        return sorted((note["onset_s"], note["note"]) for note in notes if note["onset_s"] > 13)

    alone = bends(CHAIN)
    assert [note for _, note in alone][:4] == [57, 54, 57, 54]
    assert bends(f"{EARLIER}, {CHAIN}") == alone
