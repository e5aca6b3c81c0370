"""Which columns a screen of a given width has room for.

Columns are added in the order of their use to the player until the width is used up: the notes
themselves, what happened in words, tempo, sounds by string, evenness, and so on; what the rows have
to say in words goes before the panels at the side. Then the notes stand farther apart, so that
early and late can be seen in their places. A cell too long for one line is wrapped.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from ..measures.columns import RATE, RIGHT, SCREEN, TEMPO, UNEVEN, Column

LABEL = 8  # margin, row label or repetition number, gap
WORDS_LEAST, WORDS_FULL, WORDS_STEP = 12, 20, 4
SIDE_LEAST, SIDE_MOST = 38, 60
OLDER_LEAST, OLDER_MOST = 26, 50  # beside the notes of a row without figures
STRING = 2  # columns a string
PLACED = (3, 4, 5, 7)
"""Columns a note in which early and late have places of their own: one on each side of the middle
in 3 and 4, two in 5, three in 7."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Widths in columns; 0 for a column that is left out."""

    width: int
    slots: int
    strings: int
    slot_width: int
    per_line: int  # slots on a line
    words: int
    columns: tuple[Column, ...] = ()  # figures, in the order in which they stand
    noise: int = 0
    way: int = 0  # the way that a repetition was played in
    older: int = 0  # earlier repetitions beside the table
    side: int = 0  # panel beside the table

    @property
    def lines(self) -> int:
        """Lines that a repetition takes."""
        return max(1, -(-self.slots // self.per_line))

    @property
    def table(self) -> int:
        """Width of the table without the panels."""
        return self.width - self.side - self.older

    @property
    def gap(self) -> int:
        """Columns between the notes and the figures, where nothing else stands there."""
        return int(bool(self.columns) and not self.noise)


@lru_cache(maxsize=64)
def plan(
    width: int,
    slots: int,
    strings: int,
    short: int = 0,
    full: int = 0,
    older: bool = False,
    way: int = 0,
) -> Layout:
    """Fit the columns into a width for a cell of so many slots on so many strings.

    short, full: columns of the longest outcome among the rows that are shown, in its shorter and
    its full wording. The shorter goes before figures, the full one before the panels. older:
    repetitions wait that the rows have no room for. way: columns of the longest name of a way, 0
    where none is known; where the name has no room, its letter may have.
    """
    short, full = (
        max(WORDS_FULL, -(-(most + 2) // WORDS_STEP) * WORDS_STEP) for most in (short, full)
    )
    columns = [TEMPO]
    room = width - LABEL - WORDS_LEAST - TEMPO.width - 1
    if slots > room:  # a row of one line is worth more than the tempo, which stands above, too
        columns, room = [], room + TEMPO.width + 1
    slot_width = 2 if slots * 2 <= room else 1
    per_line = max(1, min(slots, room // slot_width))
    left = room - per_line * slot_width
    chosen = {"slot_width": slot_width, "words": WORDS_LEAST}

    def take(name: str, cost: int, value: int) -> None:
        nonlocal left
        if 0 <= cost <= left:
            left -= cost
            chosen[name] = value

    def words(most: int) -> None:
        nonlocal left
        more = max(0, min(left, most - chosen["words"]))
        left -= more
        chosen["words"] += more

    def figure(column: Column) -> None:
        nonlocal left
        if column.width <= left:
            left -= column.width
            columns.append(column)

    def apart(most: int) -> None:
        """The notes farther apart, up to so many columns each."""
        for wide in PLACED:
            if chosen["slot_width"] < wide <= most:
                take("slot_width", slots * (wide - chosen["slot_width"]), wide)

    by_string = strings * STRING + 2 - bool(columns)  # in the place of the gap
    if left - by_string >= short - WORDS_LEAST:  # else the words say which string
        take("noise", by_string, strings * STRING + 2)
    words(short)
    if chosen["words"] == short:
        figure(UNEVEN)
        if slot_width == 2:
            apart(3)
        for wide in (way, 1):
            if way and "way" not in chosen:
                take("way", wide + 2, wide + 2)
        figure(RATE)
        figure(RIGHT)
        words(full)
        if left >= SIDE_LEAST:
            take("side", SIDE_LEAST, SIDE_LEAST)
        if chosen["slot_width"] >= 3:
            apart(5)
        if "side" in chosen:
            need = OLDER_LEAST + slots
            if older:
                take("older", need, need)
            more = min(left, SIDE_MOST - SIDE_LEAST)
            take("side", more, SIDE_LEAST + more)
            if "older" in chosen:
                more = min(left, OLDER_MOST - OLDER_LEAST)
                take("older", more, need + more)
            apart(7)
    words(chosen["words"] + left)  # what is left over is no use elsewhere
    placed = tuple(column for column in SCREEN if column in columns)
    return Layout(
        width=width,
        slots=slots,
        strings=strings,
        per_line=per_line,
        columns=placed,
        **chosen,
    )
