"""Cells made of a cell."""

from __future__ import annotations

from random import Random

import pytest

from livecheck.core.cell import STROKES, Cell, make_cell
from livecheck.core.picking import strokes_of
from livecheck.core.vary import (
    begun_at,
    doubled,
    family_of,
    in_rhythm,
    moved_frets,
    moved_strings,
    reversed_order,
)

ODD = make_cell("odd", [(1, 8), (1, 5), (2, 8), (2, 6), (2, 5)], quiet=[3], tempo_bpm=84)


def places(cell: Cell) -> list[tuple[int, int]]:
    return [(slot.string, slot.fret) for slot in cell.slots]


def looped(cell: Cell, times: int = 3) -> list[tuple[int, int, int, int]]:
    """String, fret, start and length of every note of some repetitions."""
    return [
        (slot.string, slot.fret, slot.start + rep * cell.steps, slot.length)
        for rep in range(times)
        for slot in cell.slots
    ]


def random_cell(seed: int) -> Cell:
    rng = Random(seed)
    places: list[object] = []
    for _ in range(rng.randint(1, 9)):
        stroke = rng.choice((None, None, None, *STROKES))
        places.append((rng.randint(1, 6), rng.randint(0, 20), stroke, rng.choice((1, 1, 2, 3))))
        if rng.random() < 0.2:
            places.append(rng.randint(1, 3))
    return make_cell(f"x{seed}", places, grid=rng.choice((3, 4)))  # type: ignore[arg-type]


def test_members_know_their_family_and_say_what_they_are():
    """The name of what they were made of; a member's members are of the same family."""
    up = moved_frets(ODD, 2)
    assert (up.name, up.family, family_of(ODD)) == ("odd at fret 7", "odd", "odd")
    again = begun_at(up, 3)
    assert (again.name, again.family) == ("odd at fret 7 from note 3", "odd")
    assert len(begun_at(make_cell("n" * 80, [(1, 5), (1, 6)]), 2).name) == 80


def test_a_cell_is_moved_along_the_neck_and_over_the_strings():
    """The same movement of the hand; nothing leaves the neck; quiet strings move along."""
    assert places(moved_frets(ODD, -5)) == [(1, 3), (1, 0), (2, 3), (2, 1), (2, 0)]
    assert moved_frets(ODD, -6) is None and moved_frets(ODD, 17) is None
    low = moved_strings(ODD, 2)
    assert (low.name, low.strings, low.quiet) == ("odd on strings 3 4", (3, 4), (5,))
    assert moved_strings(ODD, -1) is None and moved_strings(ODD, 5) is None
    unused = make_cell("x", [(1, 5), (2, 5)])
    assert moved_strings(unused, 1).quiet == (1, 4, 5, 6)
    assert moved_strings(ODD, 4).quiet == ()


@pytest.mark.parametrize("seed", range(40))
def test_begun_elsewhere_the_loop_is_the_same(seed):
    """Written out, it is the old loop from another note on; a variant's strokes go along."""
    cell = random_cell(seed)
    for number in range(1, len(cell.slots) + 1):
        begun = begun_at(cell, number)
        first = cell.slots[number - 1].start
        there = [one for one in looped(cell, 4) if one[2] >= first][: 2 * len(cell.slots)]
        shifted = [(string, fret, start - first, length) for string, fret, start, length in there]
        assert looped(begun, 2) == shifted
        assert begun.steps == cell.steps
        assert begun.written == cell.written[number - 1 :] + cell.written[: number - 1]
    with pytest.raises(ValueError, match="no note 99"):
        begun_at(cell, 99)


def test_a_variant_goes_along_with_the_beginning():
    """Its strokes stay at their notes."""
    cell = make_cell("x", [(1, 5), (1, 7), (1, 8)], variants={"a": {2: "hammer"}})
    assert begun_at(cell, 2).variants == {"a": {1: "hammer"}}
    assert begun_at(cell, 3).variants == {"a": {3: "hammer"}}


@pytest.mark.parametrize("seed", range(40))
def test_reversed_twice_is_the_loop_itself(seed):
    """Notes, lengths and rests; what was hammered is pulled and the reverse."""
    cell = random_cell(seed)
    there = reversed_order(cell)
    assert places(there) == places(cell)[::-1] and there.steps == cell.steps
    back = reversed_order(there)
    assert [(s.string, s.fret, s.length) for s in back.slots] == [
        (s.string, s.fret, s.length) for s in cell.slots
    ]
    if cell.slots[0].start == 0:
        assert [s.start for s in back.slots] == [s.start for s in cell.slots]


def test_slurs_turn_round_with_the_order():
    """5 hammered to 7, then 8 picked: backwards the 7 is pulled to the 5."""
    cell = make_cell("x", [(1, 5, "down"), (1, 7, "hammer"), (1, 8, "up")])
    there = reversed_order(cell)
    assert places(there) == [(1, 8), (1, 7), (1, 5)]
    assert there.written == ("down", "up", "pull")
    free = reversed_order(make_cell("x", [(1, 5), (1, 7, "hammer"), (1, 8)]))
    assert free.written == (None, None, "pull")


def test_doubled_every_note_sounds_twice():
    """Strokes alternate where all are written; an even number, so nothing turns."""
    twice = doubled(ODD)
    assert places(twice) == [place for place in places(ODD) for _ in range(2)]
    assert strokes_of(twice, 1) == strokes_of(twice, 2) == ("down", "up") * 5
    written = doubled(make_cell("x", [(1, 5, "up"), (1, 7, "hammer"), 1]))
    assert written.written == ("up", "down", "hammer", "up") and written.steps == 6


def test_another_rhythm_has_the_same_notes():
    """Lengths over and over, rests left out."""
    dotted = in_rhythm(ODD, (3, 1))
    assert [slot.length for slot in dotted.slots] == [3, 1, 3, 1, 3]
    assert (places(dotted), dotted.steps, dotted.name) == (places(ODD), 11, "odd in 3 1")
