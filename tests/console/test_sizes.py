"""Every size of window that is drawn: nothing cut for want of room that is there, nothing denied."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from console_sample import filled, long_cell, random_reps, repetition
from rich.cells import cell_len

from livecheck.console.layout import Layout, plan
from livecheck.console.lines import plain_text
from livecheck.console.model import Model
from livecheck.console.palette import FULL
from livecheck.console.table import longest
from livecheck.console.view import screen_lines
from livecheck.console.words import happened, in_large
from livecheck.core.events import HIT, UseCells

WIDTHS, HEIGHTS = range(40, 241), range(8, 61)
OTHER_HEIGHTS, OTHER_WIDTHS = (24, 40), (40, 80, 120, 200)


def practised(slots: int) -> Model:
    """Twenty repetitions with all that can happen to them, a plain one, and one under way."""
    cell = long_cell(slots)
    last = repetition(99, "hit " * (slots - 1) + "missed", cell=cell)
    model = filled([*random_reps(cell, 20, seed=slots), last], cell)
    model.current = (100, tuple([HIT] + [None] * (slots - 1)))
    return model


def sizes(slots: int) -> Iterator[tuple[int, int]]:
    """Every width at some heights and every height at some widths, shared out among the cells so
    that together they meet each of them."""
    yield from ((width, OTHER_HEIGHTS[width % 2]) for width in WIDTHS if width % 5 == slots % 5)
    yield from (
        (width, height) for height in HEIGHTS for width in OTHER_WIDTHS if height % 5 == slots % 5
    )


def drawn(model: Model, width: int, height: int, far: bool = False) -> list[str]:
    """The rows of a frame, which has exactly that size."""
    lines = screen_lines(model, width, height, FULL, far)
    assert len(lines) == height
    assert {sum(cell_len(part.text) for part in line) for line in lines} == {width}
    return plain_text(lines).split("\n") + [""] * (height - len(plain_text(lines).split("\n")))


def laid_out(model: Model, width: int, height: int) -> Layout:
    """The columns of such a frame."""
    cell = model.cell
    assert cell is not None
    said = longest(list(model.log)[-height:], FULL, model.sounds)
    return plan(width, len(cell.slots), len(cell.tuning), *said)


@pytest.mark.parametrize("slots", range(2, 17))
def test_no_word_is_cut_where_there_is_room(slots) -> None:
    """Where an outcome is cut, no figure, panel or wider column has taken the room; every repetition
    stands on one row with all its notes; the newest is there, said in full or in short."""
    model = practised(slots)
    for width, height in sizes(slots):
        if height < 12:
            continue
        rows, layout = drawn(model, width, height), laid_out(model, width, height)
        assert layout.lines == 1, (width, height)
        log = [row[: layout.table].rstrip() for row in rows if re.match(r" +\d+ {1,4}[■_≠]", row)]
        assert [row for row in log if row.split()[0] == "99"], (width, height)
        for row in log:
            number = row.split()[0]
            if number != "100":
                signs = row[8 : 8 + slots * layout.slot_width]
                assert sum(sign in "■_≠" for sign in signs) == slots or "broken off" in row
            if row.endswith("…"):
                assert (layout.side, layout.slot_width <= 2) == (0, True), (width, height, row)
                assert len(layout.columns) <= 1 and len(row) > width - 24, (width, height, row)
        newest = next(row for row in log if row.split()[0] == "99")
        assert newest.endswith((f"note {slots} missed", f"missed {slots}")), (width, newest)


@pytest.mark.parametrize("slots", range(2, 17))
def test_saved_and_the_caution_can_be_read_in_every_size(slots) -> None:
    """Before the first repetition and later, near and far; a window that is too small says what is
    needed."""
    first, later = Model(), practised(slots)
    first.hear(UseCells(0.0, (long_cell(slots),)))
    for width, height in sizes(slots):
        for far in (False, True):
            for model in (first, later):
                text = "\n".join(drawn(model, width, height, far))
                assert re.search(r"^ saved\b", text, re.MULTILINE), (width, height, far)
                small = " ".join(text.split())
                if height < 12:
                    assert "Too small: 40 columns by 12 rows" in small, (width, height)
                if model is first and not far:
                    assert "Stop at pain" in small, (width, height)


@pytest.mark.parametrize("slots", [2, 5, 9, 16])
def test_the_far_view_numbers_its_notes(slots) -> None:
    """Under the last repetition and under the one that is under way, where two rows and two columns
    a note are there."""
    model = practised(slots)
    for width, height in sizes(slots):
        rows = drawn(model, width, height, far=True)
        if height >= 20 and width >= 2 * slots + 4:
            numbered = [row for row in rows if row.split()[:3] == ["1", "2", "3"][:slots]]
            assert len(numbered) == 2, (width, height)


def test_the_headline_says_what_the_row_says() -> None:
    """The gravest thing of the row, whatever happened; never clean where it is not."""
    cell = long_cell(6)
    for rep in [*random_reps(cell, 400, seed=7), repetition(1, "hit " * 6, cell=cell)]:
        large, said = in_large(rep)[0].lower(), [one.long for one in happened(rep)]
        assert (large == "clean") == rep.clean == (said[0] == "clean")
        numbers = re.findall(r"\d+", large)
        if "note" in large and "notes" not in large:
            assert large in said
        elif "notes" in large:
            what = large.rsplit(" ", 1)[1]
            (told,) = [
                text for text in said if text.startswith(("notes", numbers[0])) and what in text
            ]
            named = re.findall(r"\d+", told)
            assert len(named) == int(numbers[0]) or named == numbers
        elif large.startswith("string"):
            (told,) = [text for text in said if text.startswith("string")]
            assert numbers[0] in re.findall(r"(?<!×)\b\d+", told.replace("x", "×"))
        elif large == "pause":
            assert any(text.startswith("pause") for text in said)
        else:
            assert large in said
