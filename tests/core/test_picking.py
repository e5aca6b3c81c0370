"""The planned strokes, repetition by repetition."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.core.cell import ALTERNATE, PICKED, REPEAT, STROKES, Cell, make_cell
from livecheck.core.picking import (
    first_stroke,
    round_of,
    second_repetition,
    strokes_of,
    turns_round,
)


def cell_of(*strokes: str | None, **how: object) -> Cell:
    """One slot for each stroke, None where it is left out."""
    return make_cell("x", [(1, 5 + at, stroke) for at, stroke in enumerate(strokes)], **how)


def short(strokes: tuple[str, ...]) -> str:
    return " ".join(stroke[0] for stroke in strokes)


def written_out(strokes: list[str | None], begin: str, times: int) -> list[str]:
    """The figure so many times one after the other, and whoever plays it simply goes on."""
    hand, played = begin, []
    for stroke in strokes * times:
        played.append(stroke or hand)
        if played[-1] in PICKED:
            hand = "up" if played[-1] == "down" else "down"
    return played


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.sampled_from((None, None, *STROKES)), min_size=1, max_size=9),
    st.sampled_from(PICKED),
)
def test_strokes_left_out_go_on_over_the_seam(strokes, begin):
    """sources.md L-01 (derived), by brute force: seven repetitions written out, and played
    along."""
    cell = cell_of(*strokes, begin=begin)
    played = written_out(strokes, begin, 7)
    for rep in range(1, 8):
        assert list(strokes_of(cell, rep)) == played[(rep - 1) * len(strokes) : rep * len(strokes)]


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.sampled_from((None, None, *STROKES)), min_size=1, max_size=9),
    st.sampled_from(PICKED),
    st.sampled_from((None, REPEAT)),
)
def test_the_round_is_the_shortest_that_comes_again(strokes, begin, picking):
    """From its first repetition on the strokes come again with it and with nothing shorter; what
    stands before it never returns."""
    cell = cell_of(*strokes, begin=begin, picking=picking)
    found = round_of(cell)
    reps = {rep: strokes_of(cell, rep) for rep in range(1, 12)}
    assert all(reps[rep] == reps[rep + len(found)] for rep in range(found.start, 8))
    assert len({reps[rep] for rep in found}) == len(found)
    assert all(reps[rep] not in {reps[at] for at in found} for rep in range(1, found.start))
    assert turns_round(cell) == (len(found) == 2)


def test_an_odd_number_turns_round_and_an_even_one_does_not():
    """sources.md L-01: slurred notes do not count."""
    assert [short(strokes_of(cell_of(None, None, None), rep)) for rep in (1, 2, 3)] == [
        "d u d",
        "u d u",
        "d u d",
    ]
    assert short(strokes_of(cell_of(None, None), 2)) == "d u"
    assert short(strokes_of(cell_of(None, "hammer", None), 2)) == "d h u"
    assert not turns_round(cell_of("tap", "pull"))


def test_a_cell_may_begin_up_and_may_repeat():
    """Up and on; or the same stroke in each repetition, which makes two alike over the seam."""
    up = cell_of(None, None, None, begin="up")
    assert [short(strokes_of(up, rep)) for rep in (1, 2)] == ["u d u", "d u d"]
    again = cell_of(None, None, None, begin="up", picking=REPEAT)
    assert [short(strokes_of(again, rep)) for rep in (1, 2)] == ["u d u", "u d u"]
    hammered = cell_of("hammer", None, None, begin="up")
    assert short(strokes_of(hammered, 1)) == "h u d" and first_stroke(hammered, 1) == "up"


def test_strokes_written_in_part():
    """A written first stroke begins every repetition; one in the middle sets the others right from
    the second repetition on."""
    first = cell_of("up", None, None)
    assert [short(strokes_of(first, rep)) for rep in (1, 2)] == ["u d u", "u d u"]
    middle = cell_of(None, None, "up", None)
    assert [short(strokes_of(middle, rep)) for rep in (1, 2, 3)] == [
        "d u u d",
        "u d u d",
        "u d u d",
    ]
    assert round_of(middle) == range(2, 3)
    repeated = cell_of(None, None, "up", None, picking=REPEAT)
    assert short(strokes_of(repeated, 2)) == "d u u d"
    assert middle.picking == ALTERNATE and cell_of("up", "hammer").picking == REPEAT


def test_a_variant_turns_round_by_its_own_strokes():
    """A hammered note makes five out of six; a variant may begin up; `pick` takes a written stroke
    back."""
    cell = make_cell(
        "x",
        [(1, 5), (1, 7, "hammer"), (1, 8), (1, 9, "down")],
        variants={"up": {}, "free": {2: "pick", 4: "pick"}, "hammered": {4: "hammer"}},
        begins={"up": "up"},
    )
    assert short(strokes_of(cell, 1)) == "d h u d"
    assert short(strokes_of(cell.with_variant("up"), 1)) == "u h d d"
    assert short(strokes_of(cell.with_variant("free"), 1)) == "d u d u"
    hammered = cell.with_variant("hammered")
    assert [short(strokes_of(hammered, rep)) for rep in (1, 2)] == ["d h u h", "d h u h"]
    assert hammered.with_variant(None) == cell


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        (cell_of(None, None), "begins with a down stroke again, as all do"),
        (cell_of(None, None, None), "begins with an up stroke: 3 notes are picked, an odd number"),
        (
            cell_of("up", "down", "up"),
            "begins with an up stroke again: two up strokes in a row over the seam",
        ),
        (
            cell_of(None, None, "up", None),
            "begins with an up stroke; from then on the other way: notes 1, 2",
        ),
        (cell_of("tap", "pull"), "no note is picked, so every repetition is alike"),
    ],
)
def test_what_follows_for_the_second_repetition_is_one_sentence(cell, said):
    """Of each kind of plan."""
    assert said in second_repetition(cell)
