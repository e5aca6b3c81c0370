"""A cell as readable text: tablature rows, strokes, grid and what follows from its length.

Owns the layout of `livecheck cell show` and the facts told under it. Pure: a cell goes in, lines of
text come out. Every grid step has the same room, so that rests and held notes look as long as they
are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from textwrap import wrap

from ..core.cell import STROKES, Cell, Slot
from ..core.picking import second_repetition, strokes_of, turns_round
from ..core.pitch import name_of
from ..core.plain_text import counted
from ..core.plan import OUTSIDE, direction, reps_to_all, reps_to_beat, side_of

SYMBOLS = {"down": "⊓", "up": "∨", "hammer": "h", "pull": "p", "slide": "s", "tap": "t"}
"""⊓ and ∨ are the trade's signs for the two strokes of the pick; the letters are initials."""
ASCII_SYMBOLS = {**SYMBOLS, "down": "D", "up": "U"}

STEP = 4
"""Columns of a grid step."""
_LABEL = 9  # columns before the first step
_END = 7  # columns after the last: "| quiet"


@dataclass(frozen=True, slots=True)
class Crossings:
    """How a cell changes strings, the way from its last slot back to its first included.

    ``changes`` counts neighbouring slots on different strings, ``skips`` those of them with a
    string or more between. The others count the ways of the pick from one string to another: round
    the ``outside`` of the pair, between the two (``inside``), or with the ``same`` stroke again.
    """

    changes: int
    skips: int
    outside: int
    inside: int
    same: int


def crossings(cell: Cell) -> Crossings:
    """Count the string changes by kind, those of the first repetition and of the way into the
    second.

    Here the way of the pick is meant, from one picked note to the next.
    """
    changed = [(a, b) for a, b in _neighbours(cell.slots) if a.string != b.string]
    picked, second = _picked(cell), strokes_of(cell, 2)
    outside = inside = same = 0
    for before, after in _neighbours(picked):
        if before.string == after.string:
            continue
        to = second[after.number - 1] if after is picked[0] else after.stroke
        side = side_of(before.stroke, to, direction(cell, before.string, after.string))
        same += side is None
        outside += side == OUTSIDE
        inside += side not in (None, OUTSIDE)
    return Crossings(
        len(changed), sum(abs(a.string - b.string) > 1 for a, b in changed), outside, inside, same
    )


def tab_lines(cell: Cell, width: int = 80, ascii_only: bool = False) -> list[str]:
    """The cell as lines of text of at most ``width`` columns (60 or more).

    What is longer is wrapped into systems, at a beat where that is possible. ``ascii_only`` shows
    the strokes of the pick as D and U.
    """
    symbols = ASCII_SYMBOLS if ascii_only else SYMBOLS
    rows = [
        *string_rows(cell),
        *(
            stroke_row(cell, label, strokes_of(cell, repetition), symbols)
            for repetition, label in _stroke_labels(cell)
        ),
    ]
    lines = [*title_lines(cell, width), "", *drawn(cell, rows, width)]
    facts = (*size_facts(cell), *_crossing_facts(cell))
    for fact in (*facts, *(_variant(cell, name) for name in cell.variants)):
        lines += wrap(fact, width, subsequent_indent="  ")
    return [*lines, "", *wrap(_legend(cell, symbols), width)]


# -------------------------------------------------------------------------------------- the picture


Row = tuple[str, str, str]
"""A line of the drawing: its label, ``STEP`` columns for each grid step, and what ends it."""


def drawn(cell: Cell, rows: list[Row], width: int) -> list[str]:
    """Rows under one another, in as many systems as the width asks for, an empty line after
    each."""
    lines = []
    for first, last in _systems(cell, width):
        for label, row, end in rows:
            lines.append(f"{label:<{_LABEL}}{row[first * STEP : last * STEP]}{end}".rstrip())
        lines.append("")
    return lines


def title_lines(cell: Cell, width: int) -> list[str]:
    parts = [f"tuning {' '.join(name_of(pitch) for pitch in cell.tuning)}"]
    if cell.capo:
        parts.append(f"capo {cell.capo} (frets count from it)")
    if cell.tempo_bpm is not None:
        parts.append(f"from {cell.tempo_bpm:g} bpm")
    name = cell.name if cell.variant is None else f"{cell.name}, variant {cell.variant}"
    return [*wrap(name, width), *wrap(", ".join(parts), width)]


def string_rows(cell: Cell) -> list[Row]:
    """Beats, slot numbers and strings, top to bottom."""
    beats = [
        str(step // cell.grid + 1) if step % cell.grid == 0 else "." for step in range(cell.steps)
    ]
    numbers = ["r"] * cell.steps
    for slot in cell.slots:
        numbers[slot.start : slot.start + slot.length] = [str(slot.number)] + [""] * (
            slot.length - 1
        )
    strings = [
        (
            f"{name_of(pitch):<4}{string:>3} |",
            _string_row(cell, string),
            "| quiet" if string in cell.quiet else "|",
        )
        for string, pitch in enumerate(cell.tuning, 1)
    ]
    return [
        ("beat", _spread(beats), ""),
        ("note", _spread(numbers), ""),
        *strings,
    ]


def _stroke_labels(cell: Cell) -> list[tuple[int, str]]:
    """The repetitions whose strokes are drawn, each with its label; the second where it differs."""
    if strokes_of(cell, 1) == strokes_of(cell, 2):
        return [(1, "stroke")]
    return [(1, "stroke"), (2, "2nd time")]


def stroke_row(cell: Cell, label: str, strokes: tuple[str, ...], symbols: dict[str, str]) -> Row:
    """One repetition's strokes under their notes."""
    row = [""] * cell.steps
    for slot, stroke in zip(cell.slots, strokes):
        row[slot.start] = symbols[stroke]
    return label, _spread(row), ""


def _spread(marks: list[str]) -> str:
    """One mark a step, under the place where the fret number begins."""
    return "".join(f" {mark:<{STEP - 1}}" for mark in marks)


def _string_row(cell: Cell, string: int) -> str:
    """A string's line with its frets; ``=`` while a note is held over further steps."""
    row = ["-" * STEP] * cell.steps
    for slot in cell.slots:
        if slot.string == string:
            held = "=" if slot.length > 1 else "-"
            row[slot.start] = f"-{slot.fret}".ljust(STEP, held)
            for step in range(slot.start + 1, slot.start + slot.length):
                row[step] = (
                    "=" * STEP if step < slot.start + slot.length - 1 else "=" * (STEP - 1) + "-"
                )
    return "".join(row)


def _systems(cell: Cell, width: int) -> Iterator[tuple[int, int]]:
    """First and last step (exclusive) of each system."""
    room = max(1, (width - _LABEL - _END) // STEP)
    if cell.steps > room >= cell.grid:
        room -= room % cell.grid
    for first in range(0, cell.steps, room):
        yield first, min(first + room, cell.steps)


def _legend(cell: Cell, symbols: dict[str, str]) -> str:
    used = {stroke for repetition in (1, 2) for stroke in strokes_of(cell, repetition)}
    signs = [f"{symbols[stroke]} {stroke}" for stroke in STROKES if stroke in used]
    if any(slot.length > 1 for slot in cell.slots):
        signs.append("= held")
    if cell.steps > sum(slot.length for slot in cell.slots):
        signs.append("r rest")
    if cell.quiet:
        signs.append("quiet: must not sound")
    return ", ".join(signs)


# ---------------------------------------------------------------------------------------- the facts


def size_facts(cell: Cell) -> list[str]:
    """How long the cell is, and how strokes and beats come round."""
    size = (
        f"{counted(len(cell.slots), 'note')} on {counted(cell.steps, 'grid step')}, {cell.grid} to "
        "the beat"
    )
    return [size, _strokes_fact(cell), _beat_fact(cell)]


def _strokes_fact(cell: Cell) -> str:
    picked = [slot.stroke for slot in _picked(cell)]
    count = counted(len(picked), "picked stroke")
    if not picked:
        return "no picked strokes"
    if turns_round(cell):
        return f"{count}, odd: the picking turns round each repetition"
    if any(a == b for a, b in pairwise(picked)):
        return f"{count}, not in strict turn"
    if strokes_of(cell, 1) != strokes_of(cell, 2):
        return f"{count}; {second_repetition(cell)}"
    if len(picked) % 2 == 0:
        return f"{count}, even: every repetition begins with the same stroke"
    return (
        f"{count}, odd: strict picking would turn round each repetition; as written it begins "
        f"{picked[0]} again"
    )


def _beat_fact(cell: Cell) -> str:
    reps = reps_to_beat(cell)
    beats = counted(cell.steps * reps // cell.grid, "beat")
    if reps == 1 and not turns_round(cell):
        return f"comes back to the beat every repetition ({beats})"
    fact = f"comes back to the beat after {counted(reps, 'repetition')} ({beats})"
    if turns_round(cell):
        fact += f"; beat and stroke agree after {reps_to_all(cell)}"
    return fact


def _crossing_facts(cell: Cell) -> list[str]:
    found = crossings(cell)
    if not found.changes:
        return ["no string crossings"]
    skips = f", {found.skips} of them skipping a string or more" if found.skips else ""
    facts = [counted(found.changes, "string crossing") + skips]
    kinds = [
        ("outside", found.outside),
        ("inside", found.inside),
        ("with the same stroke", found.same),
    ]
    told = [f"{count} {kind}" for kind, count in kinds if count]
    if told:
        turned = "; outside and inside change places each repetition" if turns_round(cell) else ""
        facts.append(f"the pick crosses: {', '.join(told)}{turned}")
    return facts


def _variant(cell: Cell, name: str) -> str:
    begin = [f"begins {cell.begins[name]}"] if name in cell.begins else []
    changes = [f"{slot} {stroke}" for slot, stroke in cell.variants[name].items()]
    strokes = ", ".join(begin + changes)
    return (
        f"variant {name}: {strokes} "
        f"({counted(len(_picked(cell.with_variant(name))), 'picked stroke')})"
    )


def _picked(cell: Cell) -> tuple[Slot, ...]:
    return tuple(slot for slot in cell.slots if slot.picked)


def _neighbours(slots: tuple[Slot, ...]) -> Iterator[tuple[Slot, Slot]]:
    """Each slot with the one after it, the last with the first."""
    return zip(slots, slots[1:] + slots[:1], strict=True)
