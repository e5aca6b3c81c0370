"""A cell's plan as readable text: a drawing under the tablature, every string change in words, and
the other plans that can be played.

Pure: a cell and its plans go in, lines of text come out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from textwrap import wrap

from ..core.cell import PICKED, STROKES, Cell
from ..core.picking import round_of, strokes_of
from ..core.plan import INSIDE, OUTSIDE, StringChange, starts, string_changes
from ..core.plans import Plan
from .tablature import (
    ASCII_SYMBOLS,
    STEP,
    SYMBOLS,
    Row,
    drawn,
    size_facts,
    string_rows,
    stroke_row,
    title_lines,
)

MOST_CHANGES = 40
MOST_STARTS = 12
MOST_NOTES = 6
"""What is longer is told in part, and counted."""

_MARKS = {OUTSIDE: "out", INSIDE: "in"}


def plan_lines(cell: Cell, width: int = 80, ascii_only: bool = False) -> list[str]:
    """What the plan asks of the hand, over as many repetitions as it takes until all comes
    round."""
    symbols = ASCII_SYMBOLS if ascii_only else SYMBOLS
    changes = string_changes(cell)
    lines = [*title_lines(cell, width), "", *drawn(cell, _rows(cell, changes, symbols), width)]
    for fact in (*size_facts(cell), _starts(cell, symbols)):
        lines += wrap(fact, width, subsequent_indent="  ")
    lines.append("")
    told = [_change(cell, change, symbols) for change in changes[:MOST_CHANGES]]
    for text in told or ["no string changes"]:
        lines += wrap(text, width, subsequent_indent="  ")
    if len(changes) > MOST_CHANGES:
        lines.append(f"and {len(changes) - MOST_CHANGES} more string changes")
    return [*lines, "", *wrap(_legend(cell, symbols, changes), width)]


def _rows(cell: Cell, changes: Sequence[StringChange], symbols: dict[str, str]) -> list[Row]:
    """The tablature, and for each repetition its strokes and, between them, the ways of the
    pick."""
    rows = string_rows(cell)
    for number, repetition in enumerate(round_of(cell), 1):
        rows.append(stroke_row(cell, _nth(number), strokes_of(cell, repetition), symbols))
        way = [" "] * (STEP * cell.steps)
        for change in changes:
            if change.rep == number:
                mark = _mark(change)
                at = STEP * cell.slots[change.from_slot - 1].start + 2
                at = min(at, len(way) - len(mark))
                way[at : at + len(mark)] = mark
        if "".join(way).strip():
            rows.append(("change", "".join(way), ""))
    return rows


def _nth(number: int) -> str:
    return "stroke" if number == 1 else "2nd time"


def _mark(change: StringChange) -> str:
    if change.side is not None:
        return _MARKS[change.side]
    return "=" if change.before == change.after and change.before in PICKED else "~"


def _starts(cell: Cell, symbols: dict[str, str]) -> str:
    """Where each repetition begins against the beat, until stroke and beat agree again."""
    told = []
    for number, stroke, beat, step in starts(cell):
        if number > MOST_STARTS:
            told.append("…")
            break
        sign = f" {symbols[stroke]}" if stroke is not None else ""
        late = f" + {step} of {cell.grid}" if step else ""
        told.append(f"{number}.{sign} on beat {beat}{late}")
    return (
        f"repetitions begin: {'; '.join(told)}; then as the first"
        if len(told) > 1
        else ("every repetition begins on a beat with the same stroke")
    )


def _change(cell: Cell, change: StringChange, symbols: dict[str, str]) -> str:
    here, there = cell.slots[change.from_slot - 1].string, cell.slots[change.to_slot - 1].string
    strings = f"string {here} to {there}, the {change.toward}"
    if change.skipped:
        strings += f", over {' and '.join(map(str, change.skipped))}"
    strokes = f"{symbols[change.before]} then {symbols[change.after]}"
    told = [f"{strokes}, {change.side}" if change.side else strokes]
    if change.leaves is not None:
        told.append(f"leaves after {symbols[change.leaves]}")
    turn = f"{change.rep}. " if len(round_of(cell)) > 1 else ""
    return f"{turn}note {change.from_slot} to {change.to_slot} ({strings}): {'; '.join(told)}"


def _legend(cell: Cell, symbols: dict[str, str], changes: Sequence[StringChange]) -> str:
    used = {stroke for repetition in round_of(cell) for stroke in strokes_of(cell, repetition)}
    signs = [f"{symbols[stroke]} {stroke}" for stroke in STROKES if stroke in used]
    marks = {_mark(change) for change in changes}
    words = {
        "out": "out: the pick passes round the outside of the pair",
        "in": "in: between the two strings",
        "=": "= the same stroke again",
        "~": "~ one of the two is not picked",
    }
    return ", ".join([*signs, *(text for mark, text in words.items() if mark in marks)])


def plans_lines(
    cell: Cell, plans: Sequence[Plan], count: int, filtered: bool, ascii_only: bool = False
) -> list[str]:
    """The plans that are told, one a line, and how many there are. ``filtered``: others could be
    played, too."""
    symbols = ASCII_SYMBOLS if ascii_only else SYMBOLS
    if not count:
        return ["no plan is like that; ask for less"]
    head = ["", "strokes", "slurs", "next time", "leaves after", "other than today"]
    table = [head]
    for number, plan in enumerate(plans, 1):
        differs = "today's plan" if not plan.differs else _notes(plan.differs, cell)
        strokes = " ".join(symbols[stroke] for stroke in plan.strokes)
        first = next((symbols[one] for one in plan.strokes if one in PICKED), "")
        again = f"{first} again".strip() if plan.same_start else "turns round"
        table.append(
            [str(number), strokes, str(plan.slurs), again, _leaves(plan, symbols), differs]
        )
    widths = [max(map(len, column)) for column in zip(*table)]
    lines = [
        "  ".join(text.ljust(width) for text, width in zip(row, widths)).rstrip() for row in table
    ]
    plural = "plan" if count == 1 else "plans"
    like = " like that" if filtered else ""
    lines.insert(0, f"{count:,} {plural} can be played{like}:")
    if count > len(plans):
        lines.append(f"and {count - len(plans):,} more; filters choose among them (--help)")
    return lines


def _leaves(plan: Plan, symbols: dict[str, str]) -> str:
    counted = Counter(plan.leaves)
    return " ".join(f"{counted[one]} {symbols[one]}" for one in PICKED if counted[one]) or "-"


def _notes(numbers: Sequence[int], cell: Cell) -> str:
    if len(numbers) == len(cell.slots) > 1:
        return "every note"
    if len(numbers) > MOST_NOTES:
        return f"{len(numbers)} notes"
    return f"note{'' if len(numbers) == 1 else 's'} {' '.join(map(str, numbers))}"
