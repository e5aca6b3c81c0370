"""The view model: what it keeps, what it lets go."""

from __future__ import annotations

import sys
import tracemalloc
from dataclasses import replace

import pytest
from console_sample import CELL, filled, long_cell, repetition

from livecheck.console.model import KEPT, REST_AFTER_S, WINDOW, Entry, Model
from livecheck.console.plain import summary_lines
from livecheck.core.events import (
    NOISE,
    Extra,
    ExtraTold,
    Gap,
    Link,
    Mark,
    Midi,
    Note,
    RepDone,
    Repetition,
    Stop,
    UseCells,
)


def test_totals_follow_the_repetitions() -> None:
    """Counts, tempo and time played are those of the repetitions told."""
    model = filled(
        [repetition(1), repetition(2, "hit hit missed hit hit hit", bpm=104.0, pause_s=0.2)]
    )
    assert (model.reps, model.clean, model.take, model.tempo_bpm) == (2, 1, 1, 104.0)
    assert model.played_s == pytest.approx(2.2)
    tally = model.tallies[("six across a skip", None)]
    assert (tally.reps, tally.clean, dict(tally.missed)) == (2, 1, {3: 1})
    assert (tally.slowest_bpm, tally.fastest_bpm) == (100.0, 104.0)


def test_a_repetition_without_a_tempo_keeps_the_last_one() -> None:
    """The large figure does not vanish because one repetition was broken by a pause."""
    model = filled([repetition(1, bpm=120.0), repetition(2, bpm=None)])
    assert model.tempo_bpm == 120.0


def test_the_window_looks_back_over_one_cell_only() -> None:
    """With another cell or variant the tallies of the window start anew; totals are kept apart for
    each."""
    model = filled([repetition(rep, "hit hit missed hit hit hit") for rep in range(1, 4)])
    assert model.faults_by_slot() == {3: 3}
    other = CELL.with_variant("hammered")
    model.hear(UseCells(9.0, (other,)))
    assert model.faults_by_slot() == {} and model.means == ()
    model.tell(RepDone(repetition(4, cell=other)))
    assert {key: tally.reps for key, tally in model.tallies.items()} == {
        ("six across a skip", None): 3,
        ("six across a skip", "hammered"): 1,
    }


def test_an_equal_cell_chosen_again_keeps_the_window() -> None:
    """Choosing the same cell again is no change."""
    model = filled([repetition(1, "hit wrong hit hit hit hit")])
    model.hear(UseCells(9.0, (CELL.with_variant(None),)))
    assert model.faults_by_slot() == {2: 1}


def test_noise_counts_repetitions_not_sounds() -> None:
    """A string that sounds three times in one repetition was noisy in one."""
    model = filled([repetition(1, strings=[4, 4, 4, 1]), repetition(2, strings=[4])])
    assert model.noise_by_string() == {1: 1, 4: 2}


def test_records_become_lines_of_the_log() -> None:
    """Link, marks, gaps, cells and the end are told in words; notes only move the time of the last
    sound."""
    model = Model()
    given = [
        *model.hear(UseCells(0.0, (CELL,))),
        *model.hear(Link(0.1, True, "Hex")),
        *model.hear(Midi(0.2, b"\x90\x3c\x40")),
        *model.hear(Mark(0.3, "")),
        *model.hear(Link(0.4, False, "gone")),
        *model.hear(Gap(0.5, 1, "disk full")),
        *model.hear(Stop(0.6, "asked to")),
    ]
    assert [(entry.kind, entry.text) for entry in given] == [
        ("cell", "six across a skip"),
        ("port", "listening to Hex"),
        ("mark", "mark 1"),
        ("port", "port lost: gone"),
        ("gap", "1 message not saved: disk full"),
        ("stop", "stopped: asked to"),
    ]
    assert model.heard_s == 0.2 and model.stopped == "asked to" and model.dropped == 1


def test_a_new_take_is_announced_before_its_first_repetition() -> None:
    """The take's line comes first, then the repetition."""
    model = filled([repetition(1)])
    take, rep = model.tell(RepDone(repetition(2, take=2, start_s=65.0)))
    assert (
        isinstance(take, Entry) and take.text == "take 2 at 0:01:05" and isinstance(rep, Repetition)
    )


def test_sound_outside_all_repetitions_is_counted() -> None:
    """Noodling before the first repetition is no one's extra."""
    model = Model()
    model.tell(ExtraTold(None, Extra(Note(0.1, 1, 64, 64, 80), NOISE)))
    assert model.outside == 1


def test_a_rest_is_called_for_after_long_play_and_forgotten_after_it() -> None:
    """After 25 minutes of play without five minutes' rest (sources.md H-03) there is a reminder,
    told once, at a repetition's end; a pause is no play, a rest takes the reminder away."""
    model, rep, at = filled([]), 0, 0.0

    def play(seconds: float) -> list[str]:
        nonlocal rep, at
        told = []
        for _ in range(int(seconds / 4)):
            at, rep = at + 4.0, rep + 1
            model.hear(Midi(at, b"\x90\x3c\x40"))
            told += [
                item.kind
                for item in model.tell(RepDone(repetition(rep, start_s=at)))
                if isinstance(item, Entry)
            ]
        return told

    assert play(REST_AFTER_S / 2) == ["take"]
    at += 290.0  # no rest yet, and no play
    assert play(REST_AFTER_S / 2) == [] and model.reminder is None
    assert play(120) == ["rest"]
    assert model.reminder is not None and "minutes played without a rest" in model.reminder
    model.pass_time(at + 299.0)
    assert model.reminder is not None
    model.pass_time(at + 301.0)
    assert model.reminder is None
    at += 301.0
    assert play(REST_AFTER_S - 60) == [] and model.reminder is None


def test_a_rest_may_be_called_for_earlier_or_never() -> None:
    """As it was asked for; and never where an old session is looked at again."""
    for model, wanted in (
        (Model(rest_after_s=60.0), "1 minute played"),
        (Model(rest_after_s=None), None),
        (Model(practising=False, rest_after_s=60.0), None),
    ):
        for second in range(62):
            model.hear(Midi(float(second), b"\x90\x3c\x40"))
        model.tell(RepDone(repetition(1, start_s=60.0)))
        assert (model.reminder or "").partition(" without")[0] == (wanted or "")


def test_time_played_today_goes_on_from_what_was_before() -> None:
    """By notes, pauses left out; unknown where nobody says what was before."""
    model = Model(earlier_s=600.0)
    for t_s in (1.0, 2.0, 4.5, 100.0, 101.0):
        model.hear(Midi(t_s, b"\x90\x3c\x40"))
    assert model.today_s == 604.5 and Model().today_s is None
    assert "Played today: 0:10:04." in summary_lines(model)


def test_the_version_changes_only_with_what_can_be_seen() -> None:
    """A struck note stands there at once; a moment within the same second asks for no new frame,
    the next second does."""
    model = filled([])
    before = model.version
    model.hear(Midi(0.2, b"\x90\x3c\x40"))
    assert model.version == before + 1
    before = model.version
    model.pass_time(0.9)
    assert model.version == before
    model.pass_time(1.0)
    assert model.version == before + 1


def test_it_stays_bounded_however_long_one_plays() -> None:
    """2,500 repetitions keep no more lines than 1,000 do, and no more memory to speak of."""
    faulty = "hit hit missed hit hit hit"
    made = [repetition(rep, faulty, strings=[4], deviations_ms=[1.0] * 6) for rep in range(1, 101)]
    model = filled([])

    def play(first: int, last: int) -> None:
        for number in range(first, last + 1):
            model.tell(RepDone(replace(made[number % 100], rep=number)))

    tracemalloc.start()
    play(1, 1000)
    before = tracemalloc.get_traced_memory()[0]
    play(1001, 2500)
    after = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    assert model.reps == 2500
    assert len(model.log) == KEPT and len(model.recent) == WINDOW and len(model.tallies) == 1
    assert after - before < 200_000, (
        f"{after - before} bytes more, {sys.getsizeof(model.log)} in the log"
    )


def test_a_repetition_of_an_unannounced_cell_is_taken_as_it_comes() -> None:
    """Where several cells are offered the repetition itself says which one was played."""
    other = long_cell(4)
    model = Model()
    model.hear(UseCells(0.0, (CELL, other)))
    model.tell(RepDone(repetition(1, "hit hit hit hit", cell=other)))
    assert model.cell is other and model.reps == 1
