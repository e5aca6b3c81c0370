"""Plain lines, to the letter, and the summary's sentences."""

from __future__ import annotations

from console_sample import CELL, filled, repetition

from livecheck.console.model import Entry, Model
from livecheck.console.palette import FULL, PLAIN
from livecheck.console.plain import plain_line, summary_lines
from livecheck.core.events import Gap, Midi, RepDone


def test_a_clean_repetition() -> None:
    """Number, time, signs, tempo, notes a second, unevenness, share, outcome."""
    assert (
        plain_line(repetition(41, start_s=725.3, bpm=100.4))
        == "rep 41  0:12:05  ######  100.4 bpm  6.7 notes/s  uneven 4.1 %  right 100 %  clean"
    )


def test_the_plain_signs_say_by_shape_what_the_screens_say() -> None:
    """A full sign is a hit and a ring is missed, there and here."""
    of = [(signs.hit, signs.missed, signs.wrong, signs.pending) for signs in (FULL, PLAIN)]
    assert of == [("■", "_", "≠", "·"), ("#", "_", "!", ".")]


def test_every_fault_is_on_the_line() -> None:
    """Missed and wrong slots by number, unwanted sounds by string, and whether the unevenness can
    be heard."""
    rep = repetition(
        2,
        "hit wrong missed hit missed hit",
        strings=[4, 4, 1],
        cv_pct=9.26,
        audible=True,
        pause_s=0.8,
    )
    assert plain_line(rep) == (
        "rep 2  0:00:01  #!_#_#  100.0 bpm  6.7 notes/s  uneven 9.3 % audible  right 50 %  "
        "missed 3, 5, wrong 2, pause 0.8 s, string 1 sounded, string 4 sounded x2"
    )


def test_what_cannot_be_said_is_a_dash() -> None:
    """A broken-off repetition lists the slots that were reached; figures that it cannot give are
    dashes."""
    rep = repetition(3, "hit hit", complete=False, bpm=None, cv_pct=None, audible=None)
    assert (
        plain_line(rep) == "rep 3  0:00:02  ##  - bpm  - notes/s  uneven - %  right - %  broken off"
    )


def test_other_lines_begin_with_their_kind() -> None:
    """Marks, takes, the link and the rest have their time after the kind."""
    assert plain_line(Entry(65.0, "mark", "thumb lower")) == "mark 0:01:05 thumb lower"
    assert plain_line(Entry(65.0, "take", "take 2 at 0:01:05")) == "take 0:01:05 2"
    assert plain_line(Entry(3.0, "port", "port lost: gone")) == "port 0:00:03 lost: gone"
    assert plain_line(Entry(3.0, "port", "listening to Hex")) == "port 0:00:03 listening to Hex"


def test_a_few_repetitions_are_told_by_counts_alone() -> None:
    """Under ten repetitions there is no percentage and no advice that rests on them."""
    lines = summary_lines(
        filled([repetition(1), repetition(2, "hit hit missed hit hit hit", bpm=96.0)])
    )
    assert lines == [
        "2 repetitions in 1 take, 0:00:02 played.",
        "Clean 1 of 2, tempo 96 to 100 bpm.",
        "Missed: note 3 (string 3, fret 12), 1 of 2.",
        "Next: too few repetitions to go by; 10 or more at one tempo tell something.",
    ]


def test_the_worst_slot_and_string_are_named() -> None:
    """With enough repetitions shares have percentages, and what to play next, to know more, follows
    from the worst."""
    reps = [repetition(rep) for rep in range(1, 8)]
    reps += [repetition(rep, "hit hit hit hit missed hit") for rep in range(8, 11)]
    reps += [repetition(11, strings=[4]), repetition(12, "hit hit hit", complete=False, bpm=None)]
    assert summary_lines(filled(reps)) == [
        "12 repetitions in 1 take, 0:00:14 played.",
        "Clean 7 of 12 (58 %), broken off 1, tempo 100 bpm.",
        "Most often missed: note 5 (string 5, fret 12), 3 of 12 (25 %).",
        "Unwanted sounds: string 4, 1 of 12 (8 %).",
        "Next: 10 repetitions at a slower tempo, to see whether note 5 holds there.",
    ]


def test_a_draw_is_told_as_a_draw() -> None:
    """Slots or strings that failed equally often are all named; one that leads is told to."""
    reps = [
        repetition(1, "missed hit missed hit hit hit", strings=[1, 4]),
        repetition(2, strings=[4]),
    ]
    told = summary_lines(filled(reps))
    assert told[2:4] == [
        "Missed: notes 1 and 3, each once in 2.",
        "Unwanted sounds: string 4 most, 2 of 2.",
    ]
    assert (
        summary_lines(filled([repetition(1, strings=[1, 4])]))[2]
        == "Unwanted sounds: strings 1 and 4, each once."
    )


def test_noise_and_clean_play_have_advice_of_their_own() -> None:
    """Where a string sounds oftener than a note fails it is about the string; where nearly all is
    clean, go faster."""
    noisy = [repetition(rep, strings=[4] if rep % 2 else []) for rep in range(1, 13)]
    slower = "Next: 10 repetitions at a slower tempo, to see whether string 4 keeps silent there."
    assert summary_lines(filled(noisy))[-1] == slower
    faster = "Next: 10 repetitions at a faster tempo than 100 bpm, to see whether it holds there."
    assert summary_lines(filled(repetition(rep) for rep in range(1, 13)))[-1] == faster


def test_over_many_tempos_nothing_is_said_of_the_same_tempo() -> None:
    """From 66 to 132 bpm there is no one tempo: a review tells them apart."""
    noisy = [
        repetition(rep, strings=[4] if rep % 2 else [], bpm=60.0 + 6 * rep) for rep in range(1, 13)
    ]
    assert summary_lines(filled(noisy))[-1] == (
        "Next: a review, which says up to which of these tempos string 4 keeps silent."
    )


def test_cells_are_told_apart() -> None:
    """Each cell and variant has its own sentences, under its own name."""
    model = filled([repetition(1)])
    model.tell(RepDone(repetition(2, cell=CELL.with_variant("hammered"))))
    lines = summary_lines(model)
    assert "six across a skip: clean 1 of 1, tempo 100 bpm." in lines
    assert "six across a skip, hammered: clean 1 of 1, tempo 100 bpm." in lines


def test_nothing_played_says_why() -> None:
    """Silence, sounds without the cell, and sounds on channels that are no string are told
    apart."""
    model = Model()
    assert summary_lines(model) == ["No repetition: nothing was heard."]
    model.hear(Midi(0.1, b"\x90\x3c\x40"))
    model.foreign = 3
    model.hear(Gap(0.2, 2, "disk full"))
    assert summary_lines(model) == [
        "No repetition: notes came, but no repetition of the cell was found.",
        "3 messages came on channels that are no string: check the rig.",
        "2 messages could not be saved.",
    ]
