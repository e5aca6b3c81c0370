"""Gestures are commands and never judged, whatever the cell is made of, and however the session is
cut."""

from __future__ import annotations

from random import Random

import pytest

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Midi, Record, RepDone, UseCells, UseGestures, UseRig
from livecheck.core.rig import Rig
from livecheck.session import Session

LOW = make_cell("low", [(6, 0), (6, 3), (5, 0), (5, 2)], tempo_bpm=100)
GESTURES = UseGestures(0.0, ((None, 0, 2, "again"), (None, 0, 3, "up")))


def note(t_s: float, string: int, pitch: int, length_s: float) -> list[Midi]:
    on = Midi(t_s, bytes((0x90 | string - 1, pitch, 90)))
    return [on, Midi(t_s + length_s, bytes((0x80 | string - 1, pitch, 0)))]


def loops(cell: Cell, at_s: float, times: int, step_s: float = 0.15) -> list[Midi]:
    return [
        one
        for rep in range(times)
        for slot in cell.slots
        for one in note(
            at_s + (rep * cell.steps + slot.start) * step_s, slot.string, slot.pitch, 0.9 * step_s
        )
    ]


def picks(at_s: float, count: int) -> list[Midi]:
    return [
        one
        for pick in range(count)
        for one in note(at_s + 0.4 * pick, 6, 40, 0.35 if pick < count - 1 else 1.1)
    ]


def sitting(gestures: bool) -> list[Record]:
    """Two loops that begin on the open low string, with commands between them."""
    played = [*loops(LOW, 1.0, 6), *picks(7.0, 3), *loops(LOW, 11.0, 6), *picks(17.0, 2)]
    head: list[Record] = [UseRig(0.0, Rig()), UseCells(0.0, (LOW,))]
    head += [GESTURES] if gestures else []
    return [*head, *sorted(played, key=lambda one: one.t_s)]


def told(session: Session) -> dict[str, int]:
    return session.counts


def test_no_note_of_a_gesture_is_judged() -> None:
    """Though the cell begins with the same note; without the record they are."""
    with_, without = Session(), Session()
    reps = [one for one in with_.feed_all(sitting(True)) if isinstance(one, RepDone)]
    without.feed_all(sitting(False))
    assert [one.repetition.clean for one in reps] == [True] * 12
    assert with_.counts["outside"] == 0 and with_.counts["reps"] == 12
    assert without.counts["reps"] > 12 or without.counts["outside"] > 0


@pytest.mark.parametrize("seed", range(5))
def test_ticks_change_nothing(seed: int) -> None:
    """Whenever time is said to have passed, the outcomes are the same."""
    rng, records = Random(seed), sitting(True)
    whole = Session().feed_all(records)
    session, outcomes = Session(), []
    for before, record in zip([records[0], *records], records):
        for _ in range(rng.randrange(3)):
            outcomes += session.tick(rng.uniform(before.t_s, record.t_s))
        outcomes += session.feed(record)
    outcomes += session.tick(records[-1].t_s + rng.uniform(0.0, 5.0))
    assert repr([*outcomes, *session.finish()]) == repr(whole)


def test_what_only_begins_like_a_gesture_is_judged() -> None:
    """A loop of the open low string and another note at its time, told a little later."""
    slow = make_cell("slow", [(6, 0), (6, 2)], grid=2, tempo_bpm=60)
    records = [UseRig(0.0, Rig()), UseCells(0.0, (slow,)), GESTURES, *loops(slow, 2.0, 5, 0.5)]
    session = Session()
    session.feed_all(sorted(records, key=lambda one: one.t_s))
    assert session.counts["clean"] == 5 and session.counts["outside"] == 0
