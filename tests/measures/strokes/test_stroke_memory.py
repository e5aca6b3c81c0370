"""Directions while play goes on."""

from __future__ import annotations

from random import Random

from livecheck.core.cell import make_cell
from livecheck.core.events import RepDone, Repetition
from livecheck.measures.strokes.stroke_memory import StrokeMemory
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import perform
from livecheck.session import Session

ODD = make_cell("odd", [(2, 13), (2, 10), (3, 12), (3, 10), (3, 9)])


def played(**habits: float) -> list[Repetition]:
    take = perform(
        ODD, Habits(reps=26, gallop_pct=1.0, **habits), Conversion(jitter_ms=0.4), Random("memory")
    )
    outcomes = Session(take.cell, take.rig).feed_all(take.records)
    return [one.repetition for one in outcomes if isinstance(one, RepDone)]


def test_the_next_beginning_is_told_from_how_the_hand_goes_on() -> None:
    """An odd cell that turns round: after a repetition begun down the next one begins up."""
    memory, told = StrokeMemory(), []
    for rep in played(up_softer=0.3):
        memory.hear(rep)
        told.append(memory.reading.next_begins())
    assert told[:4] == [None] * 4  # too few to learn from
    late = told[20:]
    assert all(late) and all(one != other for one, other in zip(late, late[1:]))


def test_what_is_told_does_not_depend_on_when_it_is_asked_for() -> None:
    """Asked after each repetition, or only after the last."""
    often, once = StrokeMemory(), StrokeMemory()
    reps = played(up_softer=0.3)
    for rep in reps:
        often.hear(rep)
        once.hear(rep)
        if rep.rep % 3 == 0:
            assert often.reading.told is often.reading.told
    assert often.reading.told == once.reading.told
    assert once.reading.begun(reps[-1].rep) == ("up" if len(reps) % 2 == 0 else "down")


def test_where_directions_sound_alike_no_beginning_is_told() -> None:
    """No difference, no bright strokes."""
    memory = StrokeMemory()
    for rep in played(up_softer=0.0):
        memory.hear(rep)
    assert memory.reading.next_begins() is None
