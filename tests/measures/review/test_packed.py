"""Tables as bytes: nothing is lost on the way but what 32-bit floats cannot hold."""

from __future__ import annotations

import numpy as np
import pytest
from ladders import figure, layout

from livecheck.measures.review.answers import make_review
from livecheck.measures.review.packed import checked, joined, pack
from livecheck.measures.review.table import ROW_COLUMNS, together


def a_table(seed: int):
    rng = np.random.default_rng(seed)
    rows = layout(rng, np.linspace(90, 170, 9), 12, "many")
    return figure(rng, rows, [("missed", 5, lambda bpm: 1 / (1 + np.exp(-(bpm - 140) / 5)))])


def test_a_table_comes_back_as_it_was():
    """Counts exactly, sums to seven digits; sitting and day are given anew."""
    table = a_table(1)
    back = joined([pack(table)], [7], [739_000])
    assert back.slot_strings == table.slot_strings
    for name in ROW_COLUMNS:
        if name not in ("sitting", "day"):
            np.testing.assert_allclose(
                getattr(back, name), getattr(table, name), rtol=1e-6, atol=1e-6, err_msg=name
            )
    np.testing.assert_array_equal(back.noise_at, table.noise_at)
    assert set(back.sitting) == {7} and set(back.day) == {739_000}


def test_joined_tables_are_tables_put_together():
    """Takes of different tables stay different takes, and the review is the same."""
    tables = [a_table(seed) for seed in (1, 2, 3)]
    one = joined([pack(table) for table in tables], [0, 1, 2], [739_000] * 3)
    other = together(tables)
    assert one.takes == other.takes == sum(table.takes for table in tables)
    assert one.reps == other.reps
    first, second = make_review(one, "six"), make_review(other, "six")
    assert first.broken.bpm == pytest.approx(second.broken.bpm, rel=1e-3)
    assert first.first_to_go.slot == second.first_to_go.slot == 5


def test_large_counts_keep_their_size():
    """More than 65,535 of anything."""
    from ladders import simple

    table = simple([(100.0, 70_000, 80_000), (120.0, 300, 400)])
    assert joined([pack(table)], [0], [0]).n.tolist() == [80_000, 400]


def test_what_is_no_table_is_refused():
    """Bytes too few or too many, other columns, other kinds."""
    packed = pack(a_table(1))
    given = (packed.layout, packed.data, packed.slot_strings, packed.rows)
    assert checked(*given) == packed
    first, *others = packed.layout
    for layout_, data, strings, rows in (
        (packed.layout, packed.data[:-1], *given[2:]),
        (packed.layout, packed.data + b"x", *given[2:]),
        (packed.layout[1:], *given[1:]),
        (((first[0], "<f8", first[2]), *others), *given[1:]),
        (((first[0], first[1], (-1,)), *others), *given[1:]),
        (packed.layout, packed.data, (), packed.rows),
        (packed.layout, packed.data, packed.slot_strings, packed.rows + 1),
    ):
        with pytest.raises(ValueError):
            checked(layout_, data, strings, rows)
    with pytest.raises(ValueError, match="no tables"):
        joined([], [], [])
