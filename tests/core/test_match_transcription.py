"""The matching rows of the published transcription measure (mir_eval; sources.md section 5), as
cells.

Each row is asked twice: mir_eval itself on the plain notes, and the program on the same notes
played as one repetition of a looped cell. Where the program must differ by its own contract,
because it uses order and not a window, the case says so.
"""

from __future__ import annotations

import numpy as np
import pytest
from hand import Hand, extras, verdicts

from livecheck.core.cell import make_cell

mir_eval = pytest.importorskip("mir_eval", reason="mir_eval is not installed")

A = make_cell("A", [(2, 10), (3, 12), (4, 14), (4, 10)], tuning=(64, 59, 55, 50, 45, 40))
"""Notes 69 67 64 60 at 0, .125, .25, .375 s."""
ONSETS, NOTES = (0.0, 0.125, 0.25, 0.375), (69, 67, 64, 60)
FOUR = "hit hit hit hit"


def measured(ref, played, **how) -> tuple[float, float, float]:
    """mir_eval's precision, recall and F of (onset, note[, length]) lists, without offsets."""

    def arrays(notes):
        spans = np.array(
            [(note[0], note[0] + (note[2] if len(note) > 2 else 0.1)) for note in notes]
        )
        return spans, np.array([440.0 * 2 ** ((note[1] - 69) / 12) for note in notes])

    p, r, f, _ = mir_eval.transcription.precision_recall_f1_overlap(
        *arrays(ref), *arrays(played), offset_ratio=None, **how
    )
    return p, r, f


def third(played: list[tuple[float, int, int]], stretch: float = 1.0, count: int = 5) -> dict:
    """These (time, string, note) as the third of five repetitions, everything multiplied by
    ``stretch``."""
    hand = Hand(A, notes_per_s=8 / stretch)
    for rep in range(count):
        if rep == 2:
            for t, string, note in played:
                hand.note(hand.at + t * stretch, string, note, 80, 0.02 * stretch + 0.03)
            hand.at += 4 * hand.step
        else:
            hand.reps(1)
    told = hand.score()
    assert [verdicts(rep) for i, rep in enumerate(told["reps"]) if i != 2] == [FOUR] * (count - 1)
    return told["reps"][2]


WHOLE = list(zip(ONSETS, (2, 3, 4, 4), NOTES))
REF = list(zip(ONSETS, NOTES))


@pytest.mark.parametrize("late", ((0.010, 0.020, 0.030, 0.040),))
def test_x01_four_growing_delays_are_four_hits(late):
    """X-01: late by 10, 20, 30, 40 ms; P, R, F = 1. X-02: half of them at 20 ms; the program has no
    window."""
    played = [(t + by, note) for (t, note), by in zip(REF, late)]
    assert measured(REF, played) == (1.0, 1.0, 1.0)
    assert measured(REF, played, onset_tolerance=0.02) == (0.5, 0.5, 0.5)
    rep = third([(t + by, string, note) for (t, string, note), by in zip(WHOLE, late)])
    assert verdicts(rep) == FOUR and not rep["extras"]


@pytest.mark.parametrize("stretch", (1.0, 1.05, 0.95))
def test_x03_one_missed_and_one_extra(stretch):
    """X-03: A without its second note, plus note 52 at .30: P, R, F = .75, pairs 0-0, 2-1, 3-3; a
    tempo 5 % slower changes nothing."""
    played = [(0.0, 69), (0.25, 64), (0.30, 52), (0.375, 60)]
    assert measured(REF, played) == (0.75, 0.75, 0.75)
    rep = third([(0.0, 2, 69), (0.25, 4, 64), (0.30, 5, 52), (0.375, 4, 60)], stretch)
    assert verdicts(rep) == "hit missed hit hit"
    assert extras(rep["extras"]) == [(5, 52, "noise")]
    hits = sum(slot["verdict"] == "hit" for slot in rep["slots"])
    assert (hits / 4, hits / (hits + len(rep["extras"]))) == (0.75, 0.75)


def test_x04_the_window_of_a_transcription_is_not_a_players():
    """X-04: 50.0 ms late still counts there, 51 ms does not. By order both are hits here, at 8
    notes a second."""
    assert measured([(0.0, 69), (1.0, 67)], [(0.05, 69), (1.051, 67)]) == (0.5, 0.5, 0.5)
    for by in (0.050, 0.051):
        rep = third([(0.0, 2, 69), (0.125 + by, 3, 67), (0.25, 4, 64), (0.375, 4, 60)])
        assert verdicts(rep) == FOUR and rep["slots"][1]["deviation_ms"] > 20


@pytest.mark.parametrize("cents, within", ((49, True), (51, False)))
def test_x05_half_a_semitone_divides_a_pitch_from_the_next(cents, within):
    """X-05: 49 cents off counts, 51 cents off do not. A bend of so much before the note-on makes
    the pitch."""
    p, _, _ = measured([(0.0, 69)], [(0.0, 69 + cents / 100)])
    assert (p == 1.0) is within
    hand = Hand(A).reps(2)
    t = hand.at + hand.step
    hand.bend(t - 0.002, 3, cents / 100).bend(t + 0.2, 3, 0.0)
    rep = hand.reps(3).score()["reps"][2]
    assert verdicts(rep) == ("hit hit hit hit" if within else "hit wrong hit hit")


def test_x06_of_a_note_played_twice_the_second_never_counts():
    """X-06: played at 0 and at .03: P .5, R 1, F .6667."""
    p, r, f = measured([(0.0, 69)], [(0.0, 69), (0.03, 69)])
    assert (p, r, round(f, 4)) == (0.5, 1.0, 0.6667)
    hand = Hand(A).reps(2)
    t = hand.at
    hand.reps(3)
    hand.messages = [
        one for one in hand.messages if not (t < one[0] < t + 0.12 and one[2][0] == 0x81)
    ]
    hand.raw(t + 0.029, 0x81, 69, 64).note(t + 0.03, 2, 69, 70, 0.07)
    rep = hand.score()["reps"][2]
    assert verdicts(rep) == FOUR and rep["slots"][0]["onset_s"] == pytest.approx(t, abs=1e-6)
    assert extras(rep["extras"]) == [(2, 69, "artefact")]


def test_x07_x08_when_a_note_ends_decides_nothing():
    """X-07, X-08: without offsets P, R, F = 1 whatever the lengths; with them one of two fails.
    C-17: the end of a note is where tracking gave up."""
    ref = [(0.0, 69, 0.1), (1.0, 67, 1.0)]
    for lengths in ((0.16, 1.19), (0.149, 1.21)):
        assert measured(ref, [(0.0, 69, lengths[0]), (1.0, 67, lengths[1])]) == (1.0, 1.0, 1.0)
        cell = make_cell("two lengths", [(2, 10), 9, (3, 12, None, 10)])
        hand = Hand(cell, notes_per_s=10)
        for _ in range(3):
            hand.note(hand.at, 2, 69, 80, lengths[0]).note(
                hand.at + 1.0, 3, 67, 80, min(0.99, lengths[1])
            )
            hand.at += 2.0
        assert [verdicts(rep) for rep in hand.score()["reps"]] == ["hit hit"] * 3


def test_x09_of_two_pairings_the_larger_is_taken():
    """X-09: the same note due at 0 and .06, played at .045 and .10: nearest first would find one
    pair, there are two. The later slots catch up by degrees, so that a listener hears a late
    beginning and not a lost note."""
    assert measured([(0.0, 69), (0.06, 69)], [(0.045, 69), (0.10, 69)]) == (1.0, 1.0, 1.0)
    cell = make_cell("repeated", [(2, 10), (2, 10), (3, 12), (3, 10), (4, 10), (4, 12)])
    hand = Hand(cell, notes_per_s=1 / 0.06).reps(3)
    begin = hand.at
    hand.reps(1, late={1: 0.045, 2: 0.04, 3: 0.035, 4: 0.03, 5: 0.02, 6: 0.01}).reps(3)
    rep = hand.score()["reps"][3]
    assert verdicts(rep) == "hit hit hit hit hit hit" and not rep["extras"]
    assert rep["slots"][0]["onset_s"] == pytest.approx(begin + 0.045, abs=1e-6)
