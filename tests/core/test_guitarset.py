"""Real play, annotated string by string: what is not there is not found, and what is there is
found.

GuitarSet excerpt (Xi and others, ISMIR 2018, CC BY 4.0; sources.md G-01 to G-05), with its own
README in tests/data.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from stage_cells import a_cell

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import ExtraTold, Midi, RepDone, Repetition
from livecheck.core.pitch import STANDARD_TUNING
from livecheck.core.rig import Rig
from livecheck.files.config import load_cell
from livecheck.files.midifile import read_midi
from livecheck.session import Session

ROOT = Path(__file__).resolve().parents[2]
SOLO = ROOT / "tests" / "data" / "guitarset" / "00_BN1-129-Eb_solo.mid"
SEVEN = Rig(channels=(1, 2, 3, 4, 5, 6, 7))


@pytest.fixture(scope="module")
def records() -> list[Midi]:
    return read_midi(SOLO)


@pytest.fixture(scope="module")
def notes(records: list[Midi]) -> list[tuple[float, int, int]]:
    """(onset, string, pitch) of the 71 notes."""
    return [
        (one.t_s, (one.data[0] & 15) + 1, one.data[1])
        for one in records
        if one.data[0] >> 4 == 9 and one.data[2] > 0
    ]


def repetitions(cell: Cell, records: list[Midi]) -> list[Repetition]:
    return [o.repetition for o in Session(cell, SEVEN).feed_all(records) if isinstance(o, RepDone)]


def occurs(cell: Cell, notes: list[tuple[float, int, int]]) -> list[int]:
    """Where the cell's strings and pitches stand one after another."""
    want = [(slot.string, slot.pitch) for slot in cell.slots]
    return [i for i in range(len(notes)) if [note[1:] for note in notes[i : i + len(want)]] == want]


def well_heard(rep: Repetition) -> bool:
    """More than half of the cell's slots hit: somebody was playing this figure."""
    return sum(slot.verdict == "hit" for slot in rep.slots) * 2 > len(rep.cell.slots)


def test_the_excerpt_is_the_one_that_was_described(notes):
    """G-01, G-02 (computed): 71 notes; 6, 24, 21, 12, 7, 1 on strings 1 to 6; first and last
    onset."""
    assert len(notes) == 71
    assert [sum(note[1] == string for note in notes) for string in range(1, 7)] == [
        6,
        24,
        21,
        12,
        7,
        1,
    ]
    assert notes[0][0] == pytest.approx(0.008544, abs=0.0003) and notes[-1][0] == pytest.approx(
        20.560812, abs=0.0003
    )


@pytest.mark.parametrize(
    "path", sorted((ROOT / "configs" / "cells").glob("*.yaml")), ids=lambda path: path.stem
)
def test_no_shipped_cell_is_found_in_it(path: Path, records):
    """G-04: no looped figure. A complete repetition would be a phantom."""
    assert not [rep for rep in repetitions(load_cell(path), records) if rep.complete]


def test_none_of_three_hundred_random_cells_is_found_in_it(records, notes):
    """2 to 16 slots, any strings; a cell whose notes do stand there one after another is not
    asked."""
    rng = random.Random(20181)
    asked, phantoms = 0, []
    while asked < 300:
        cell = a_cell(rng)
        strings_and_pitches = {(slot.string, slot.pitch) for slot in cell.slots}
        there = sum((string, pitch) in strings_and_pitches for _, string, pitch in notes)
        if occurs(cell, notes) or (len(cell.slots) <= 3 and there >= 2 * len(cell.slots)):
            continue
        asked += 1
        phantoms += [
            (cell.name, [(s.string, s.pitch) for s in cell.slots], rep.start_s)
            for rep in repetitions(cell, records)
            if rep.complete
        ]
    assert not phantoms


def test_every_note_of_it_is_told_once_whatever_the_cell(records, notes):
    """G-03: gaps go down to 0.09 ms and an off may fall on the tick of the next on; nothing is lost
    there."""
    rng = random.Random(7)
    for _ in range(25):
        cell = a_cell(rng)
        outcomes = Session(cell, SEVEN).feed_all(records)
        told = [
            s.note.onset_s
            for o in outcomes
            if isinstance(o, RepDone)
            for s in o.repetition.slots
            if s.note
        ]
        told += [
            x.note.onset_s for o in outcomes if isinstance(o, RepDone) for x in o.repetition.extras
        ]
        told += [
            o.extra.note.onset_s for o in outcomes if isinstance(o, ExtraTold) and o.rep is None
        ]
        assert sorted(told) == sorted(note[0] for note in notes)


def runs(notes: list[tuple[float, int, int]]) -> list[tuple[int, Cell]]:
    """Runs of 5 to 8 notes that lie evenly enough to be written on a grid, one at a time, as
    cells."""
    found = []
    for length in (5, 6, 7, 8):
        for i in range(len(notes) - length):
            part = notes[i : i + length + 1]
            gaps = [b[0] - a[0] for a, b in zip(part, part[1:])]
            inner = gaps[:-1]
            step = sorted(inner)[len(inner) // 2]
            steps = [round(gap / step) for gap in inner]
            even = all(
                n in (1, 2, 3) and abs(gap / n / step - 1) < 0.2 for gap, n in zip(inner, steps)
            )
            before = notes[i][0] - notes[i - 1][0] if i else 1.0
            if not even or not 0.06 < step < 0.4 or before < 0.05 or gaps[-1] < 0.05:
                continue
            places = [
                (string, pitch - STANDARD_TUNING[string - 1], None, n)
                for (_, string, pitch), n in zip(part, [*steps, 1])
            ]
            cell = make_cell(f"run {i} of {length}", places)
            if len({place[:2] for place in places}) >= 3:
                found.append((i, cell))
    return found


def test_runs_of_it_are_found_where_they_occur_and_only_there(records, notes):
    """Each run taken as a cell: its own notes are hit in one repetition, and no repetition is well
    heard elsewhere."""
    asked, lost, elsewhere = 0, [], []
    for i, cell in runs(notes):
        asked += 1
        own = {note[0] for note in notes[i : i + len(cell.slots)]}
        reps = repetitions(cell, records)
        best = max(
            sum(
                slot.verdict == "hit" and slot.note is not None and slot.note.onset_s in own
                for slot in rep.slots
            )
            for rep in reps
        ) if reps else 0  # fmt: skip
        if best < len(cell.slots):
            lost.append((cell.name, best))
        places = occurs(cell, notes)
        there = {note[0] for place in places for note in notes[place : place + len(cell.slots)]}
        for rep in reps:
            heard = [
                slot.note.onset_s
                for slot in rep.slots
                if slot.verdict == "hit" and slot.note is not None
            ]
            if well_heard(rep) and not set(heard) & there:
                elsewhere.append((cell.name, rep.start_s, len(heard)))
    assert asked >= 8, f"only {asked} runs to ask about"
    assert not lost and not elsewhere
