"""A session with several cells in force: which one is told, and that nothing is lost or told
twice."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import (
    CellTold,
    ExtraTold,
    Midi,
    Outcome,
    RepDone,
    SlotTold,
    UseCells,
    UseRig,
)
from livecheck.core.rig import Rig
from livecheck.files.config import load_cell
from livecheck.files.midifile import read_midi
from livecheck.player.takes import Take, make_take
from livecheck.session import Session

ROOT = Path(__file__).resolve().parents[1]
SIX = make_cell("six", [(2, 10), (2, 12), (3, 12), (3, 10), (4, 12), (3, 10)])
TWIN = make_cell("twin", [(2, 10), (2, 12), (3, 12), (3, 9), (4, 12), (3, 10)])
FAR = make_cell("far", [(5, 3), (6, 5), (5, 2), (6, 3)])
CELLS = (SIX, TWIN, FAR)
FEW = settings(max_examples=20, derandomize=True, deadline=None, database=None)


def messages(cell: Cell, reps: int, start_s: float, step_s: float = 0.11) -> list[Midi]:
    """A cell played exactly in time, channel 1 for string 1 and so on."""
    found = []
    for rep in range(reps):
        for slot in cell.slots:
            t_s = start_s + (rep * cell.steps + slot.start) * step_s
            found.append(Midi(t_s, bytes((0x90 | slot.string - 1, slot.pitch, 90))))
            found.append(Midi(t_s + 0.09, bytes((0x80 | slot.string - 1, slot.pitch, 64))))
    return sorted(found)


def noodle(count: int, start_s: float, seed: int = 1) -> list[Midi]:
    """Unrelated notes, quietly wandering."""
    rng, found, t_s, pitch = random.Random(seed), [], start_s, 70
    for _ in range(count):
        pitch = min(max(pitch + rng.choice((-5, -3, -2, 1, 2, 4)), 60), 80)
        found += [Midi(t_s, bytes((0x90, pitch, 80))), Midi(t_s + 0.1, bytes((0x80, pitch, 64)))]
        t_s += rng.uniform(0.15, 0.4)
    return found


def judged(
    records: list[Midi], cells: tuple[Cell, ...] = CELLS, rig: Rig | None = None
) -> tuple[Session, list[Outcome]]:
    session = Session(None, rig)
    session.feed(UseCells(0.0, cells))
    return session, session.feed_all(records)


def cells_told(outcomes: list[Outcome]) -> list[str | None]:
    return [
        one.cell.name if one.cell is not None else None
        for one in outcomes
        if isinstance(one, CellTold)
    ]


def reps_of(outcomes: list[Outcome]) -> list[str]:
    return [one.repetition.cell.name for one in outcomes if isinstance(one, RepDone)]


def told_notes(outcomes: list[Outcome]) -> Counter[tuple[float, int]]:
    found = [one.note for one in outcomes if isinstance(one, SlotTold) and one.note is not None]
    found += [one.extra.note for one in outcomes if isinstance(one, ExtraTold)]
    return Counter((note.onset_s, note.string) for note in found if note.by == "note")


@pytest.mark.parametrize("cell", CELLS, ids=lambda cell: cell.name)
def test_the_cell_played_is_told_and_all_its_repetitions_are_its_own(cell):
    """From the first note on: what was held back is handed out."""
    session, outcomes = judged(messages(cell, 8, 1.0))
    assert cells_told(outcomes) == [cell.name]
    assert reps_of(outcomes) == [cell.name] * 8
    assert (
        session.counts["clean"] == session.counts["complete"] == 8
        and session.counts["outside"] == 0
    )


def test_it_is_told_within_three_repetitions():
    """A twin that differs in one slot has to be ruled out meanwhile."""
    session = Session()
    session.feed(UseCells(0.0, CELLS))
    for record in messages(TWIN, 3, 1.0):
        session.feed(record)
    assert session.cell is TWIN


def test_the_cell_changes_after_a_pause_and_numbers_go_on():
    """Three takes of three cells."""
    records = messages(SIX, 6, 1.0) + messages(TWIN, 6, 10.0) + messages(FAR, 6, 20.0)
    session, outcomes = judged(records)
    assert cells_told(outcomes) == ["six", "twin", "far"]
    assert reps_of(outcomes) == ["six"] * 6 + ["twin"] * 6 + ["far"] * 6
    reps = [one.repetition for one in outcomes if isinstance(one, RepDone)]
    assert [rep.rep for rep in reps] == list(range(1, 19))
    assert [rep.take for rep in reps] == [1] * 6 + [2] * 6 + [3] * 6
    assert session.take == 3


def test_the_cell_changes_without_a_pause():
    """The first repetition of the other one may be told of the one before, no more."""
    _, outcomes = judged(messages(SIX, 8, 1.0) + messages(FAR, 8, 1.0 + 48 * 0.11))
    assert cells_told(outcomes) == ["six", "far"]
    assert reps_of(outcomes).count("far") >= 7 and reps_of(outcomes).count("six") <= 9


def test_the_same_cell_after_a_pause_is_not_told_again():
    """It goes on as with one cell in force: a new take after a long pause."""
    _, outcomes = judged(messages(SIX, 4, 1.0) + messages(SIX, 4, 10.0))
    assert cells_told(outcomes) == ["six"]
    assert [one.repetition.take for one in outcomes if isinstance(one, RepDone)] == [1] * 4 + [
        2
    ] * 4


def test_unrelated_playing_is_no_cell():
    """Before, and after a cell was played."""
    session, outcomes = judged(noodle(60, 1.0))
    assert cells_told(outcomes) == [] and session.cell is None and session.counts["outside"] == 60
    _, outcomes = judged(messages(SIX, 6, 1.0) + noodle(40, 6.0))
    assert cells_told(outcomes) == ["six", None]


def test_the_open_recording_holds_none_of_the_shipped_cells():
    """GuitarSet excerpt (sources.md G-04: no looped figure): every note outside, each once."""
    cells = tuple(load_cell(path) for path in sorted((ROOT / "configs" / "cells").glob("*.yaml")))
    records = read_midi(ROOT / "tests" / "data" / "guitarset" / "00_BN1-129-Eb_solo.mid")
    session, outcomes = judged(records, cells, Rig(channels=(1, 2, 3, 4, 5, 6, 7)))
    assert cells_told(outcomes) == [] and session.counts["outside"] == 71


def test_what_is_held_is_told_when_playing_stops():
    """Three notes and silence: they lie outside, two seconds later, without another record."""
    session = Session()
    session.feed(UseCells(0.0, CELLS))
    for record in messages(SIX, 1, 1.0)[:6]:
        session.feed(record)
    outcomes = session.tick(10.0)
    assert sum(told_notes(outcomes).values()) == 3 and session.cell is None


def test_one_cell_again_is_one_cell():
    """From several to one and to none; a new rig begins anew with several."""
    session = Session()
    session.feed(UseCells(0.0, CELLS))
    outcomes = [one for record in messages(SIX, 4, 1.0) for one in session.feed(record)]
    outcomes += session.feed(UseRig(6.0, Rig("other")))
    assert reps_of(outcomes) == ["six"] * 4 and session.cell is None
    session.feed(UseCells(7.0, (FAR,)))
    assert session.cell is FAR
    session.feed(UseCells(8.0, ()))
    assert session.cell is None


def sitting(seed: int) -> tuple[tuple[Cell, ...], Rig, list[Midi]]:
    """A take of the built-in player, faults and all, with others in force beside its cell."""
    take: Take = make_take(seed, "everything")
    cell = take.cell
    others = tuple(make_take(seed + by, "clean").cell for by in (1, 2))
    lower = make_cell(
        "lower",
        [(slot.string, slot.fret + 1) for slot in cell.slots],
        tuning=cell.tuning,
        capo=cell.capo,
    )
    return (lower, cell, *others), take.rig, take.records


@FEW
@given(st.integers(1, 10_000), st.integers(0, 10**6))
def test_any_split_and_any_ticks_give_the_same_outcomes(seed, order):
    """Time passing between two notes is no event of its own."""
    cells, rig, records = sitting(seed)
    rng = random.Random(order)
    _, whole = judged(records, cells, rig)
    session, outcomes, now = Session(None, rig), [], 0.0
    session.feed(UseCells(0.0, cells))
    for record in records:
        for tick in sorted(rng.uniform(now, record.t_s) for _ in range(rng.choice((0, 0, 1, 4)))):
            outcomes += session.tick(tick)
        outcomes += session.feed(record)
        now = record.t_s
    for wait in (0.01, 0.3, 1.0, 5.0, 60.0)[: rng.randint(0, 5)]:
        outcomes += session.tick(now + wait)
    outcomes += session.finish()
    assert [repr(one) for one in outcomes] == [repr(one) for one in whole]


@FEW
@given(st.integers(1, 10_000))
def test_every_note_is_told_exactly_once(seed):
    """As a slot's note, an extra, or outside."""
    cells, rig, records = sitting(seed)
    _, outcomes = judged(records, cells, rig)
    sent = Counter(
        (record.t_s, rig.string_of((record.data[0] & 15) + 1))
        for record in records
        if record.data[0] >> 4 == 9
        and record.data[2]
        and rig.string_of((record.data[0] & 15) + 1) is not None
    )
    assert told_notes(outcomes) == sent
    reps = [one.repetition for one in outcomes if isinstance(one, RepDone)]
    assert [rep.rep for rep in reps] == list(range(1, len(reps) + 1))
