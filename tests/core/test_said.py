"""What the player says of a take's first stroke: by marks, and by a note picked alone."""

from __future__ import annotations

from random import Random

import pytest

from livecheck.core.cell import make_cell
from livecheck.core.events import Mark, Midi, Record, RepDone
from livecheck.core.pitch import STANDARD_TUNING
from livecheck.core.rig import Rig
from livecheck.core.said import Said
from livecheck.session import Session

CELL = make_cell("odd", [(2, 13), (2, 10), (3, 12), (3, 10), (3, 9)])
OWN = {(slot.string, slot.pitch) for slot in CELL.slots}
Note = tuple[float, int, int, float, int]  # time, string, fret, length, velocity


def messages(notes: list[Note]) -> list[tuple[float, bytes]]:
    found = []
    for t_s, string, fret, length_s, velocity in notes:
        key = STANDARD_TUNING[string - 1] + fret
        found += [
            (t_s, bytes((0x90 | string - 1, key, velocity))),
            (t_s + length_s, bytes((0x80 | string - 1, key, 64))),
        ]
    return sorted(found)


def word(notes: list[Note], start_s: float, asked: bool = True) -> str | None:
    said = Said()
    said.use(Rig(), OWN)
    if asked:
        said.mark(Mark(0.0, "Lone pick"))
    for t_s, data in messages(notes):
        said.message(t_s, data)
    return said.word(start_s)


def take_at(t_s: float, reps: int = 5) -> list[Note]:
    return [
        (t_s + 0.15 * (5 * rep + at), slot.string, slot.fret, 0.12, 90)
        for rep in range(reps)
        for at, slot in enumerate(CELL.slots)
    ]


LONE: list[Note] = [(2.0, 5, 0, 1.2, 90)]


@pytest.mark.parametrize(
    "notes, meant",
    [
        (LONE, "down"),
        ([(2.0, 5, 0, 0.4, 90), (2.5, 5, 0, 1.0, 84)], "up"),
        ([*LONE, (2.03, 5, 0, 1.1, 60)], "down"),  # the converter gives it twice
        ([*LONE, (2.01, 4, 0, 0.1, 30)], "down"),  # a string sounds along
        ([(1.5, 4, 2, 0.3, 90), *LONE], None),  # no silence before
        ([*LONE, (3.1, 4, 2, 0.3, 90)], None),  # something else was played last
        ([(2.0, 5, 0, 0.3, 90)], None),  # it did not ring
        ([(2.0, 2, 13, 1.2, 90)], None),  # the cell's first note: a beginning broken off
        ([(2.0, 5, 0, 0.4, 90), (2.5, 5, 0, 0.4, 90), (3.0, 5, 0, 1.0, 84)], None),  # thrice
        ([(2.0, 5, 0, 0.4, 90), (2.5, 5, 3, 1.0, 84)], None),  # two notes
    ],
    ids=str,
)
def test_a_lone_pick_says_how_the_take_begins(notes: list[Note], meant: str | None) -> None:
    """One note, none of the cell's, alone in a second of silence on both sides: down; twice: up."""
    assert word([*notes, *take_at(5.0)], 5.0) == meant


def test_a_lone_pick_says_nothing_unasked_too_soon_or_long_before() -> None:
    """It has to be asked for, to leave a second, and to be the last thing before the take."""
    assert word([*LONE, *take_at(5.0)], 5.0, asked=False) is None
    assert word([*LONE, *take_at(2.9)], 2.9) is None
    assert word([*LONE, *take_at(14.0)], 14.0) is None
    assert word([*LONE, *take_at(5.0), *take_at(11.0)], 11.0) is None  # it counts once


def test_noodling_before_a_take_is_taken_for_no_word() -> None:
    """Six hundred takes after phrases with pauses, notes that ring, single damped notes and the
    cell's own beginning broken off: no word in any."""
    rng, fired = Random(3), 0
    first = CELL.slots[0]
    for _ in range(600):
        notes: list[Note] = []
        t_s = 1.0
        for _ in range(rng.randint(1, 12)):
            single, gap = rng.random() < 0.2, rng.uniform(0.1, 0.5)
            for _ in range(1 if single else 3 + int(rng.expovariate(0.1))):
                place = (first.string, first.fret) if single and rng.random() < 0.5 else None
                string, fret = place or (rng.randint(1, 6), rng.randint(0, 14))
                long_s = rng.uniform(0.1, 0.6) if single and not place else rng.uniform(0.1, 2.0)
                notes.append((t_s, string, fret, long_s, rng.randint(50, 110)))
                t_s += gap
            t_s += rng.expovariate(0.5)
        fired += word([*notes, *take_at(t_s + 1.1)], t_s + 1.1) is not None
    assert fired == 0


def test_the_word_is_the_repetitions_and_the_same_in_any_split() -> None:
    """A session with a lone pick: the first repetition carries the word, with ticks between and
    without; a mark counts as before."""
    records: list[Record] = [Mark(0.1, "lone pick")]
    picks: list[Note] = [(2.0, 5, 0, 0.4, 90), (2.5, 5, 0, 1.0, 90)]
    records += [Midi(t_s, data) for t_s, data in messages([*picks, *take_at(5.0)])]
    whole = Session(CELL).feed_all(records)
    ticked = Session(CELL)
    outcomes = []
    for record in records:
        outcomes += ticked.tick(record.t_s - 1e-4)
        outcomes += ticked.feed(record)
    outcomes += ticked.finish()
    assert list(map(repr, outcomes)) == list(map(repr, whole))
    begins = [one.repetition.begins for one in whole if isinstance(one, RepDone)]
    assert begins[0] == "up" and set(begins[1:]) == {None}
    marked = Session(CELL).feed_all([Mark(0.1, "down"), *records[1:]])
    assert next(one.repetition.begins for one in marked if isinstance(one, RepDone)) == "down"
