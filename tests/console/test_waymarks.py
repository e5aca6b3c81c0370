"""Marks of ways on the screen and in plain lines."""

from __future__ import annotations

from console_sample import CELL, repetition

from livecheck.console.header import column_heads
from livecheck.console.layout import plan
from livecheck.console.model import Model
from livecheck.console.palette import FULL
from livecheck.console.plain import plain_line
from livecheck.console.table import rep_lines
from livecheck.console.waymarks import WayMarks


def text(lines) -> str:
    return "\n".join("".join(piece.text for piece in line) for line in lines)


class Always(WayMarks):
    """Repetition 41 is surely of the second way."""

    def of(self, rep: int):
        return ("B", "low wrist") if rep == 41 else None


def test_the_name_has_a_column_where_there_is_room_and_else_its_letter() -> None:
    """After the evenness; no column where no way is known, or where there is no room."""
    model, rep = Model(CELL), repetition(41)
    for width, shown in ((140, "low wrist "), (80, " B ")):
        layout = plan(width, 6, 6, way=len("low wrist"))
        row = text(rep_lines(rep, layout, FULL, way=("B", "low wrist")))
        assert shown in row and len(row) == layout.table
        heads = text(column_heads(model, layout, FULL))
        assert heads.count("way") == 1
        head = next(line for line in heads.splitlines() if "way" in line)
        assert head.index("way") in range(row.index(shown) - 3, row.index(shown) + len(shown))
        empty = text(rep_lines(rep, layout, FULL))
        assert "low wrist" not in empty and " B " not in empty and len(empty) == layout.table
    assert plan(80, 6, 6).way == 0 == plan(44, 6, 6, way=9).way


def test_the_plain_line_ends_with_the_name() -> None:
    """Only where it is sure; else the line is what it was."""
    line = plain_line(repetition(41))
    assert plain_line(repetition(41), None, Always()) == f"{line}  way low wrist"
    assert plain_line(repetition(42), None, Always()) == plain_line(repetition(42))


def test_without_known_ways_nothing_is_marked() -> None:
    """Nothing is asked, nothing is shown."""
    marks = WayMarks()
    marks.hear(repetition(41))
    assert marks.of(41) is None and marks.widest == 0
    marks = WayMarks(lambda cell: None)
    marks.hear(repetition(41))
    assert marks.of(41) is None and marks.widest == 0
