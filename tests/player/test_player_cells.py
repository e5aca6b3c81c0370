"""Random cells: sound, playable, and of every shape."""

from __future__ import annotations

from random import Random

import pytest

from livecheck.core.cell import alternate, make_cell
from livecheck.player.cells import (
    LAST_FRET,
    is_its_own_rotation,
    random_cell,
    same_pitch_places,
    unlike,
)

CELLS = [random_cell(Random(seed), legato=(seed % 4) / 4) for seed in range(400)]


def test_the_same_seed_gives_the_same_cell():
    """A drawn cell depends on its seed alone."""
    assert all(
        random_cell(Random(seed), legato=(seed % 4) / 4) == CELLS[seed] for seed in range(50)
    )


def test_slots_lie_on_the_neck_and_on_the_grid():
    """Strings exist, frets are playable, pitches follow from the tuning, slots do not overlap."""
    for cell in CELLS:
        at = 0
        for slot in cell.slots:
            assert 1 <= slot.string <= len(cell.tuning)
            assert 0 <= slot.fret <= LAST_FRET + 2
            assert slot.pitch == cell.tuning[slot.string - 1] + cell.capo + slot.fret
            assert slot.start >= at
            at = slot.start + slot.length
        assert at <= cell.steps


def test_legato_follows_a_slot_on_the_same_string_in_the_right_direction():
    """A hammer or tap goes up, a pull down, a slide anywhere but to the same fret."""
    seen = set()
    for cell in CELLS:
        for before, slot in zip(cell.slots, cell.slots[1:]):
            if slot.picked:
                continue
            seen.add(slot.stroke)
            assert before.string == slot.string
            way = slot.fret - before.fret
            assert (
                way > 0
                if slot.stroke in ("hammer", "tap")
                else way < 0
                if slot.stroke == "pull"
                else way != 0
            )
        assert cell.slots[0].picked
    assert seen == {"hammer", "pull", "slide", "tap"}


@pytest.mark.parametrize(
    ("shape", "found"),
    [
        ("two slots", lambda cell: len(cell.slots) == 2),
        ("sixteen slots", lambda cell: len(cell.slots) == 16),
        ("one string", lambda cell: len(cell.strings) == 1),
        ("four strings and more", lambda cell: len(cell.strings) >= 4),
        ("seven strings", lambda cell: len(cell.tuning) == 7),
        ("a capo", lambda cell: cell.capo > 0),
        ("another tuning", lambda cell: cell.tuning[0] != 64),
        ("a final rest", lambda cell: cell.slots[-1].start + cell.slots[-1].length < cell.steps),
        ("an inner rest", lambda cell: any(
            a.start + a.length < b.start for a, b in zip(cell.slots, cell.slots[1:]))),
        ("a long slot", lambda cell: any(slot.length > 1 for slot in cell.slots)),
        ("twice the same", lambda cell: 0 in (
            unlike(cell, at, at + 1, 1) for at in range(1, len(cell.slots)))),
        ("a pitch on two strings", lambda cell: len({slot.pitch for slot in cell.slots})
         < len({(slot.string, slot.pitch) for slot in cell.slots})),
        ("quiet strings named", lambda cell:
         len(cell.quiet) + len(cell.strings) < len(cell.tuning)),
        ("halves that differ in one slot", lambda cell:
         len(cell.slots) >= 4 and len(cell.slots) % 2 == 0
         and unlike(cell, 1, len(cell.slots) // 2 + 1, len(cell.slots) // 2) == 1),
    ],
)  # fmt: skip
def test_every_shape_is_drawn(shape, found):
    """Among a few hundred cells each kind of shape occurs more than once."""
    assert sum(map(found, CELLS)) > 1, shape


def test_no_drawn_cell_is_its_own_rotation():
    """Where a cell begins can always be heard."""
    assert not any(map(is_its_own_rotation, CELLS))
    assert is_its_own_rotation(make_cell("twice", [(1, 5), (1, 7), (1, 5), (1, 7)]))
    assert not is_its_own_rotation(make_cell("rest", [(1, 5), (1, 7), (1, 5), (1, 7), 1]))


def test_the_same_pitch_lies_five_frets_up_except_between_strings_two_and_three():
    """Note 64 is at 1/0, 2/5, 3/9, 4/14, 5/19 and 6/24 (sources.md T-08)."""
    assert same_pitch_places((64, 59, 55, 50, 45, 40), 1, 0, 24) == [
        (2, 5),
        (3, 9),
        (4, 14),
        (5, 19),
        (6, 24),
    ]


def test_strokes_come_round_at_once_or_after_two_repetitions():
    """An even number of picked notes gives each slot its stroke again, an odd one only every second
    time (L-01)."""
    even, odd = [None, None, "hammer", None, None], [None, None, "hammer", None]
    assert alternate(even * 2)[:5] == alternate(even * 2)[5:]
    twice = alternate(odd * 3)
    assert twice[:4] != twice[4:8]
    assert twice[:4] == twice[8:]
