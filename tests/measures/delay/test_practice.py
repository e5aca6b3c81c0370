"""Where the picked slots of practised cells lie, by arrival."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from played import repetition

from livecheck.core.cell import make_cell
from livecheck.core.events import RepDone
from livecheck.measures.delay.practice import practised
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import perform
from livecheck.session import Session

CELL = make_cell("six", [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 10)])
LATE_MS = [4.0, -2.0, 0.0, 6.0, -3.0, 1.0]


def off_line(values: list[float]) -> np.ndarray:
    """What no tempo explains."""
    span = np.stack([np.ones(len(values)), np.arange(len(values))], axis=1)
    return np.asarray(values - span @ np.linalg.lstsq(span, np.array(values), rcond=None)[0])


def test_a_slot_lies_where_its_notes_arrive_against_the_tempo() -> None:
    """Whatever tempo each repetition has, and whatever was taken off when it was judged."""
    reps = [
        repetition(CELL, at, start_s=3.0 * at, step_s=0.12 + 0.002 * at, late_ms=LATE_MS)
        for at in range(8)
    ]
    (piece,) = practised(reps)
    assert piece.away_ms == pytest.approx(off_line(LATE_MS), abs=1e-6)
    assert piece.step_ms == pytest.approx(127.0, abs=0.5) and piece.reps == 8


def test_a_missed_slot_moves_the_others_nowhere() -> None:
    """Every repetition misses another slot."""
    reps = [repetition(CELL, at, late_ms=LATE_MS, missing=(1 + at % 6,)) for at in range(18)]
    (piece,) = practised(reps)
    assert piece.away_ms == pytest.approx(off_line(LATE_MS), abs=0.3)


def test_a_wild_repetition_is_outvoted() -> None:
    """Of each slot the median counts."""
    wild = [repetition(CELL, 9, late_ms=[60.0, 0.0, 0.0, -50.0, 0.0, 0.0])] * 2
    (piece,) = practised([*(repetition(CELL, at, late_ms=LATE_MS) for at in range(7)), *wild])
    assert piece.away_ms == pytest.approx(off_line(LATE_MS), abs=1.0)


def test_what_tells_nothing_is_left_out() -> None:
    """Few repetitions, broken-off ones, mostly missed ones, notes by bend, and cells of three
    picked slots."""
    short = make_cell("three", [(2, 13), (2, 10), (3, 12)])
    assert practised([repetition(CELL, at) for at in range(4)]) == []
    assert practised([repetition(CELL, at, upto=5) for at in range(9)]) == []
    assert practised([repetition(CELL, at, missing=(1, 2, 3)) for at in range(9)]) == []
    assert practised([repetition(CELL, at, velocities=[None] * 6) for at in range(9)]) == []
    assert practised([repetition(short, at) for at in range(9)]) == []


def test_late_up_strokes_are_no_delay_of_the_rig() -> None:
    """Of a cell that turns round the places are those of the slots, whatever its directions make of
    them, also where most repetitions began down."""
    odd = make_cell("odd", [(2, 13), (2, 10), (3, 12), (3, 10), (3, 9)])
    away = {}
    for late_ms in (0.0, 8.0):
        habits = Habits(
            reps=60, up_softer=0.25, up_late_ms=late_ms, gallop_pct=0.0, wait=0.3, scatter_pct=1.5
        )
        take = perform(odd, habits, Conversion(jitter_ms=0.3), Random("late up strokes"))
        outcomes = Session(take.cell, take.rig).feed_all(take.records)
        reps = [one.repetition for one in outcomes if isinstance(one, RepDone)]
        away[late_ms] = practised(reps)[0].away_ms
    assert abs(away[8.0] - away[0.0]).max() < 1.0
