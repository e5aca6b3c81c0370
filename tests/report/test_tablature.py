"""The picture of a cell, and the facts told under it."""

from __future__ import annotations

from math import gcd
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.core.cell import PICKED, STROKES, Cell, make_cell
from livecheck.core.picking import turns_round
from livecheck.core.plan import reps_to_all, reps_to_beat
from livecheck.files.config import load_cell
from livecheck.report.tablature import (
    Crossings,
    crossings,
    tab_lines,
)

CELLS = sorted((Path(__file__).parents[2] / "configs" / "cells").glob("*.yaml"))


def run(slots: int, grid: int = 4) -> Cell:
    """So many slots on one string, strokes left out."""
    return make_cell("run", [(1, 5 + at % 4) for at in range(slots)], grid=grid)


def strokes(*places: tuple[int, str]) -> Cell:
    """One slot for each (string, stroke)."""
    return make_cell("s", [(string, 5, stroke) for string, stroke in places])


def facts(cell: Cell) -> str:
    return "\n".join(tab_lines(cell, width=200))


# -------------------------------------------------------------------------------------- the picture


def test_a_cell_is_drawn_as_it_is_played():
    """Every row at once: beats, note numbers, six strings, held note, rest, quiet string, strokes,
    facts, legend."""
    cell = make_cell(
        "long and short",
        [(2, 13, "down"), (2, 10, "pull"), (3, 12, None, 2), 1, (5, 7)],
        tempo_bpm=90,
        capo=1,
        quiet=[4],
        variants={"picked": {2: "up"}},
    )
    assert tab_lines(cell) == [
        "long and short",
        "tuning E4 B3 G3 D3 A2 E2, capo 1 (frets count from it), from 90 bpm",
        "",
        "beat      1   .   .   .   2   .",
        "note      1   2   3       r   4",
        "E4    1 |------------------------|",
        "B3    2 |-13--10-----------------|",
        "G3    3 |---------12====---------|",
        "D3    4 |------------------------| quiet",
        "A2    5 |---------------------7--|",
        "E2    6 |------------------------|",
        "stroke    ⊓   p   ∨           ⊓",
        "",
        "4 notes on 6 grid steps, 4 to the beat",
        "3 picked strokes, odd: strict picking would turn round each repetition; as",
        "  written it begins down again",
        "comes back to the beat after 2 repetitions (3 beats)",
        "3 string crossings, 2 of them skipping a string or more",
        "the pick crosses: 1 outside, 1 inside, 1 with the same stroke",
        "variant picked: 2 up (4 picked strokes)",
        "",
        "⊓ down, ∨ up, p pull, = held, r rest, quiet: must not sound",
    ]


def test_sixteen_steps_fit_into_eighty_columns():
    """One system of sixteen steps, with quiet strings, is exactly as wide as the screen."""
    lines = tab_lines(run(16))
    assert max(map(len, lines)) == 80 and sum(line.startswith("beat") for line in lines) == 1


def test_longer_figures_wrap_at_a_beat():
    """Twenty steps at four to the beat: sixteen and four; beats and notes are counted on."""
    lines = tab_lines(run(20))
    beats = [line.split() for line in lines if line.startswith("beat")]
    slots = [line.split() for line in lines if line.startswith("note")]
    assert [row[1::4] for row in beats] == [["1", "2", "3", "4"], ["5"]]
    assert slots[1] == ["note", "17", "18", "19", "20"]
    at_three = [line.split() for line in tab_lines(run(20, grid=3)) if line.startswith("beat")]
    assert [len(row) - 1 for row in at_three] == [15, 5]


def test_a_held_note_goes_on_in_the_next_system():
    """A note that is held over the line's end is drawn on to its own end."""
    cell = make_cell("held", [*[(1, 5)] * 15, (2, 5, None, 4)])
    rows = [line for line in tab_lines(cell) if line.startswith("B3")]
    assert rows[0].endswith("-5==|") and rows[1].startswith("B3    2 |===========-|")


def test_the_picture_can_keep_to_ascii():
    """Without the sign for the downstroke, for terminals that lack it."""
    lines = tab_lines(run(4), ascii_only=True)
    assert all(line.isascii() for line in lines)
    assert "stroke    D   U   D   U" in lines and "stroke    ⊓   ∨   ⊓   ∨" in tab_lines(run(4))


def test_a_cell_that_turns_round_shows_the_strokes_of_its_second_time():
    """Two rows of strokes where they differ, one where they are the same."""
    lines = tab_lines(run(3))
    assert "stroke    ⊓   ∨   ⊓" in lines and "2nd time  ∨   ⊓   ∨" in lines
    assert not any(line.startswith("2nd") for line in tab_lines(run(4)))
    assert "∨ up" in tab_lines(run(1))[-1]


def test_a_variant_in_force_is_named_and_drawn():
    """Its strokes stand in the stroke row, its name beside the cell's."""
    cell = make_cell("x", [(1, 5), (1, 8)], variants={"slurred": {2: "hammer"}}).with_variant(
        "slurred"
    )
    lines = tab_lines(cell)
    assert lines[0] == "x, variant slurred" and "stroke    ⊓   h" in lines


@pytest.mark.parametrize("path", CELLS, ids=lambda path: path.stem)
@pytest.mark.parametrize("width", [60, 80, 140])
def test_every_shipped_cell_fits(path, width):
    """No line is wider than asked, every string has a row, and each note's fret stands under its
    number."""
    cell = load_cell(path)
    for variant in (None, *cell.variants):
        lines = tab_lines(cell.with_variant(variant), width)
        assert max(map(len, lines)) <= width and all(line == line.rstrip() for line in lines)
        assert_frets_stand_under_their_numbers(cell, lines)


def assert_frets_stand_under_their_numbers(cell: Cell, lines: list[str]) -> None:
    """Read the drawn systems back: (note number, string, fret) of every slot."""
    read = set()
    for top, line in enumerate(lines):
        if not line.startswith("note  "):
            continue
        for at in range(10, len(line), 4):
            if line[at : at + 3].strip().isdigit():
                for string in range(1, len(cell.tuning) + 1):
                    fret = lines[top + string][at : at + 2].strip("-=|")
                    read |= {(int(line[at : at + 3]), string, int(fret))} if fret else set()
    assert read == {(slot.number, slot.string, slot.fret) for slot in cell.slots}


@settings(max_examples=100, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(1, 6),
            st.integers(0, 36),
            st.sampled_from((None, *STROKES)),
            st.integers(1, 7),
        )
        | st.integers(1, 5),
        min_size=1,
        max_size=40,
    ).filter(lambda places: any(not isinstance(place, int) for place in places)),
    st.integers(1, 16),
    st.integers(60, 120),
)
def test_any_cell_can_be_read_back_from_its_picture(places, grid, width):
    """Whatever the lengths, rests and grid: within the width, nothing lost, nothing misplaced."""
    cell = make_cell("any", places, grid=grid)
    lines = tab_lines(cell, width)
    assert max(map(len, lines)) <= width
    assert_frets_stand_under_their_numbers(cell, lines)


# ---------------------------------------------------------------------------------------- the facts


@pytest.mark.parametrize(
    ("steps", "grid", "reps", "beats"),
    [
        (5, 4, 4, 5),
        (6, 4, 2, 3),
        (7, 4, 4, 7),
        (8, 4, 1, 2),
        (9, 4, 4, 9),
        (10, 4, 2, 5),
        (5, 3, 3, 5),
        (8, 3, 3, 8),
    ],
)
def test_a_figure_meets_the_beat_again(steps, grid, reps, beats):
    """sources.md L-04 (derived): after g / gcd(s, g) repetitions, s / gcd(s, g) beats."""
    cell = run(steps, grid)
    assert reps_to_beat(cell) == reps
    told = f"comes back to the beat after {reps} repetitions ({beats} beats)"
    assert told in facts(
        cell
    ) or f"comes back to the beat every repetition ({beats} beats)" in facts(cell)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 64), st.integers(1, 16))
def test_the_beat_comes_back_and_not_before(steps, grid):
    """Counted step by step instead of by the formula (sources.md L-04)."""
    cell = make_cell("one", [(1, 0, None, steps)], grid=grid)
    reps = reps_to_beat(cell)
    assert [rep for rep in range(1, reps + 1) if rep * steps % grid == 0] == [reps]
    assert reps * steps // grid == steps // gcd(steps, grid)


def test_an_odd_number_of_strokes_turns_round():
    """sources.md L-01 (derived): odd swaps each repetition, even does not, slurred notes do not
    count."""
    assert [turns_round(run(count)) for count in (1, 2, 5, 8)] == [True, False, True, False]
    assert "5 picked strokes, odd: the picking turns round each repetition" in facts(run(5))
    assert "8 picked strokes, even: every repetition begins with the same stroke" in facts(run(8))
    slurred = make_cell("x", [(1, 5), (1, 7, "hammer"), (1, 8)])
    assert not turns_round(slurred) and "2 picked strokes, even" in facts(slurred)
    assert "no picked strokes" in facts(strokes((1, "tap"), (1, "pull")))


def test_odd_strokes_swap_when_alternation_simply_goes_on():
    """sources.md L-01 by brute force: the same figure written twice, its strokes left out."""
    for count in range(1, 10):
        once, twice = run(count), run(2 * count)
        second = [slot.stroke for slot in twice.slots[count:]]
        assert (second != [slot.stroke for slot in once.slots]) == turns_round(once)


def test_a_written_stroke_keeps_its_direction():
    """Written strokes begin each repetition as written, so nothing turns; a variant's strokes are
    written too."""
    written = make_cell("x", [(1, 5, "up"), (1, 7), (1, 8)], variants={"a": {1: "hammer"}})
    assert not turns_round(written)
    assert (
        "odd: strict picking would turn round each repetition; as written it begins up again"
        in facts(written)
    )
    free = make_cell(
        "x", [(1, 5), (1, 7), (1, 8)], variants={"a": {1: "up"}, "b": {1: "hammer", 2: "hammer"}}
    )
    assert (
        turns_round(free)
        and not turns_round(free.with_variant("a"))
        and turns_round(free.with_variant("b"))
    )


def test_stroke_and_beat_agree_after_both_came_round():
    """sources.md L-05 (derived): five strokes on five steps, after 4 repetitions at four a beat,
    after 6 at three."""
    assert reps_to_all(run(5, 4)) == 4
    assert reps_to_all(run(5, 3)) == 6
    assert reps_to_all(run(7, 7)) == 2
    assert "after 3 repetitions (5 beats); beat and stroke agree after 6" in facts(run(5, 3))


def test_strokes_out_of_turn_are_told():
    """Two strokes alike in a row are no strict alternation, so odd or even says nothing."""
    assert "3 picked strokes, not in strict turn" in facts(
        strokes((2, "down"), (1, "down"), (1, "up"))
    )


@pytest.mark.parametrize(
    ("lower", "higher", "outside"), [("down", "up", True), ("up", "down", False)]
)
def test_outside_and_inside(lower, higher, outside):
    """sources.md section 7 (common practice): down on the lower string, up on the higher goes round
    the outside.

    Both ways of the pair are of the same kind, so going there and back counts two.
    """
    there_and_back = crossings(strokes((4, lower), (3, higher)))
    assert there_and_back == Crossings(2, 0, 2 * outside, 2 * (not outside), 0)


def test_skips_and_repeated_strokes_are_counted():
    """A skip passes over a string or more; a sweep keeps its stroke; the way back to the first slot
    counts."""
    assert crossings(strokes((5, "down"), (3, "down"), (2, "down"))) == Crossings(3, 2, 0, 0, 3)
    assert crossings(strokes((1, "down"), (1, "up"))) == Crossings(0, 0, 0, 0, 0)
    assert "3 string crossings, 2 of them skipping a string or more" in facts(
        strokes((5, "down"), (3, "down"), (2, "down"))
    )
    assert "no string crossings" in facts(run(4))


def test_slurred_notes_leave_the_pick_where_it_was():
    """A hammer-on that starts a string changes strings without the pick; the pick's own way is from
    picked note to picked note."""
    cell = strokes((3, "down"), (2, "hammer"), (1, "up"))
    assert crossings(cell) == Crossings(changes=3, skips=1, outside=2, inside=0, same=0)
    assert crossings(strokes((3, "tap"), (2, "tap"))) == Crossings(2, 0, 0, 0, 0)


def test_in_an_odd_figure_outside_and_inside_change_places():
    """sources.md L-06 (derived), by brute force: the crossings of both repetitions written out one
    after the other."""
    places = [(1, 8), (1, 5), (2, 8), (2, 6), (3, 5)]
    once, both = make_cell("odd", places), make_cell("odd twice", places * 2)
    turned = make_cell("other", places, variants={"up": {1: "up"}}).with_variant("up")
    first, whole = crossings(once), crossings(both)
    assert turns_round(once) and (whole.outside, whole.inside) == (whole.inside, whole.outside)
    assert (first.outside + first.inside, first.outside + first.inside) == (
        whole.outside,
        whole.inside,
    )
    second = [(slot.string, slot.stroke) for slot in both.slots[5:]]
    assert second == [(slot.string, slot.stroke) for slot in turned.slots]
    assert "outside and inside change places each repetition" in facts(once)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 6), st.sampled_from(STROKES)), min_size=1, max_size=12))
def test_every_change_is_of_one_kind(places):
    """The kinds add up, and turning every stroke over swaps outside and inside."""
    found = crossings(strokes(*places))
    picked = [string for string, stroke in places if stroke in PICKED]
    ways = sum(a != b for a, b in zip(picked, picked[1:] + picked[:1], strict=True))
    assert found.outside + found.inside + found.same == ways
    other = {"down": "up", "up": "down"}
    swapped = crossings(
        strokes(*((string, other.get(stroke, stroke)) for string, stroke in places))
    )
    assert (swapped.outside, swapped.inside, swapped.same) == (
        found.inside,
        found.outside,
        found.same,
    )
