"""Every size of window that is drawn: nothing cut for want of room that is there, nothing denied.

``check`` looks at one frame. The quick test draws every width, every height and every cell of 2 to
16 notes, and each width with a cell; the long one draws each width at each height
for each cell.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

import pytest
from console_sample import filled, long_cell, random_reps, repetition
from rich.cells import cell_len

from livecheck.console.big import blocks, half_blocks
from livecheck.console.layout import LABEL, Layout, plan
from livecheck.console.lines import plain_text
from livecheck.console.model import Model
from livecheck.console.palette import FULL
from livecheck.console.table import longest
from livecheck.console.view import FRAME, screen_lines
from livecheck.console.words import happened, in_large
from livecheck.core.events import HIT, RepDone, UseCells
from livecheck.measures.sound import RepSound, SoundMemory
from livecheck.measures.strokes.attack import HAMMERED, PICKED, Attacks, Struck
from livecheck.measures.strokes.stroke_memory import Reading

WIDTHS, HEIGHTS, CELLS = range(40, 241), range(8, 61), range(2, 17)
LEAST_HEIGHT = 12
CELLS_A_WIDTH = 1
# in shorter wordings than any that the widest window shows
SHORT = {"Too", "small", "columns", "by", "rows", "are", "needed", "sure", "none", "surely",
         "audible", "few", "yet", "too", "unwanted", "pause", "missed", "wrong",
         "string", "strings", "NOTE", "NOTES", "MISSED", "WRONG", "earlier", "in", "the",
         "last"}  # fmt: skip


class Heard(SoundMemory):
    """What repetitions sounded like, by hand: working it out is not what is looked at here."""

    strokes = Reading()
    attacks = Attacks(
        tuple(Struck(rep, slot, PICKED, 1.0, 0.99, (PICKED, HAMMERED)[slot % 2 * (rep % 3 == 0)])
              for rep in range(1, 31) for slot in (1, 2)),
        2.0, None,
    )  # fmt: skip

    def __getitem__(self, rep: int) -> RepSound:
        touched = {4: ("brushed", "struck", "cut off")[rep % 3]} if rep % 4 == 0 else {}
        against = (Struck(rep, 2, PICKED, 0.6, 0.01, HAMMERED),) if rep % 5 == 0 else ()
        return RepSound(against, touched, (1,) if rep % 3 == 0 else ())


@cache
def practised(slots: int) -> Model:
    """Sixty repetitions with all that can happen to them, a plain one, and one under way."""
    cell = long_cell(slots)
    last = repetition(99, "hit " * (slots - 1) + "missed", cell=cell)
    model = filled([], cell)
    model.sounds = Heard()
    for rep in [*random_reps(cell, 60, seed=slots), last]:
        model.tell(RepDone(rep))
    model.current = (100, tuple([HIT] + [None] * (slots - 1)))
    return model


@cache
def unheard(slots: int) -> Model:
    """The screen before the first note."""
    model = Model()
    model.hear(UseCells(0.0, (long_cell(slots),)))
    return model


@cache
def vocabulary(slots: int) -> frozenset[str]:
    """All words that a window shows which is larger than any of these."""
    found = set(SHORT)
    for model in (practised(slots), unheard(slots)):
        for far in (False, True):
            found |= words("\n".join(drawn(model, 300, 100, far)))
    for item in practised(slots).recent:
        for one in happened(item):
            found |= words(f"{one.long} {one.short}")
    return frozenset(found)


def words(text: str) -> set[str]:
    """The words in a text, of two letters and more."""
    return set(re.findall(r"[A-Za-z]{2,}", text))


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
    log = list(model.log)
    said = longest(model, log[-max(1, height - FRAME + 2) :])
    return plan(width, len(cell.slots), len(cell.tuning), *said, len(log) > height - FRAME)


@pytest.mark.parametrize("far", [False, True])
@pytest.mark.parametrize("slots", [6, 16])
def test_stop_at_pain_stands_in_every_window_before_play(slots, far) -> None:
    """However small it is, near and far, with a long opening too; in one that is narrower than the
    words it is what is not cut."""
    cell = long_cell(slots)
    model = Model(opening="what will happen " * 30)
    model.hear(UseCells(0.0, (cell,)))
    sizes = [(width, height) for width in range(1, 200, 7) for height in (*range(1, 30, 3), 12, 60)]
    for width, height in sizes:
        text = plain_text(screen_lines(model, width, height, FULL, far))
        assert "Stop at pain"[:width].strip() in text, (width, height)


def check(slots: int, width: int, height: int) -> None:
    """One size, near and far, before the first repetition and later."""
    at = (slots, width, height)
    for far in (False, True):
        for model in (practised(slots), unheard(slots)):
            rows = drawn(model, width, height, far)
            text = "\n".join(rows)
            assert words(text) <= vocabulary(slots), (*at, words(text) - vocabulary(slots))
            assert re.search(r"^ saved\b", text, re.MULTILINE), (*at, far)
            if height < LEAST_HEIGHT:
                assert "Too small: 40 columns by 12 rows" in " ".join(text.split()), at
            if model is unheard(slots):
                assert "Stop at pain" in " ".join(text.split()), (*at, far)
            elif height >= LEAST_HEIGHT:
                (check_far if far else check_near)(model, rows, width, height)


def check_near(model: Model, rows: list[str], width: int, height: int) -> None:
    """The log: each repetition on a row of its own with all its notes, the newest said in full or
    in short; nothing is left out while a figure, a panel or a wider column has the room."""
    cell, last = model.cell, model.last
    assert cell is not None and last is not None
    slots, at = len(cell.slots), (len(cell.slots), width, height)
    layout = laid_out(model, width, height)
    assert layout.lines == 1, at
    log = [row[: layout.table].rstrip() for row in rows if re.match(r" +\d+ {1,4}[■_≠]", row)]
    told = {int(row.split()[0]): row for row in log}
    assert 99 in told and list(told) == sorted(told), at
    for number, row in told.items():
        if number != 100:
            signs = row[LABEL - 1 : LABEL + slots * layout.slot_width]
            assert sum(sign in "■_≠" for sign in signs) == slots or "broken off" in row, (*at, row)
        if row.endswith("…"):
            assert (layout.side, layout.older, layout.noise) == (0, 0, 0), (*at, row)
            assert layout.slot_width <= 2 and len(layout.columns) <= 1, (*at, row)
            assert len(row) > width - 24, (*at, row)
    assert told[99].endswith((f"note {slots} missed", f"missed {slots}")), (*at, told[99])
    head = "\n".join(rows[:3])
    large = [half_blocks(text)[1].strip() for text in in_large(last)]
    assert any(text in rows[1] for text in (*large, f"note {slots} missed", f"missed {slots}")), at
    assert "clean" not in head and half_blocks("CLEAN")[1] not in head, at
    older = [
        int(found[1])
        for row in rows
        if (found := re.search(r" (\d+) [■_≠]+  ", row[layout.table :]))
    ]
    assert older == sorted(set(older)) and not set(older) & set(told), (*at, older)


def check_far(model: Model, rows: list[str], width: int, height: int) -> None:
    """Both repetitions with their numbers, and which note failed, wherever there are two columns a
    note; the outcome large where the rows are there."""
    assert model.cell is not None and model.last is not None
    slots, at = len(model.cell.slots), (len(model.cell.slots), width, height)
    if width >= 2 * slots + 4:
        first = ["1", "2", "3"][:slots]
        assert len([row for row in rows if row.split()[:3] == first]) == 2, at
    text = "\n".join(rows)
    shown = [
        in_it
        for words_ in in_large(model.last)
        for in_it in (
            words_ in text,
            half_blocks(words_)[1].strip() in text,
            *(blocks(words_, scale)[0].rstrip() in text for scale in (1, 2, 3, 4)),
        )
    ]
    assert any(shown), at


def some_sizes() -> Iterator[tuple[int, int, int]]:
    """Cells, widths and heights so that each of them occurs, and heights go through all with each
    cell."""
    for width in WIDTHS:
        for turn in range(CELLS_A_WIDTH):
            slots = CELLS[(width * 4 + turn * 5) % len(CELLS)]
            yield slots, width, HEIGHTS[(width * 7 + slots * 11) % len(HEIGHTS)]


def test_the_sizes_that_are_looked_at_are_all_of_each() -> None:
    """No width, height or cell is left out."""
    assert [set(one) for one in zip(*some_sizes())] == [set(CELLS), set(WIDTHS), set(HEIGHTS)]


def test_nothing_is_cut_where_there_is_room_and_nothing_denied() -> None:
    """Words, rows and headline, near and far, in windows of every width and height."""
    for size in some_sizes():
        check(*size)


@pytest.mark.long
@pytest.mark.parametrize("slots", CELLS)
def test_every_width_at_every_height(slots: int) -> None:
    """The whole grid: some minutes."""
    for width in WIDTHS:
        for height in HEIGHTS:
            check(slots, width, height)


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
