"""What can be said of a cell before the hands find out: is it playable, what does it ask of the
fretting hand, what watches which string, do tempo and grid make sense.

*Facts* describe; *remarks* point at what is probably not meant. Pure: a cell goes in, lines come
out. The bounds are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import gcd

from ..core.cell import Cell, Slot
from ..core.picking import strokes_of
from ..core.plain_text import joined, times
from ..core.plan import strings_between

USUAL_FRETS = 24
HAND = 3
"""Frets between the lowest and the highest that four fingers cover without a stretch."""
STRETCH = 4
"""The same with a stretch; beyond it the hand shifts."""
MOST_SHIFTS = 4
"""More are only counted."""
FAST, SLOW = 14.0, 1.0
"""Notes a second at the cell's own tempo: faster than hands, slower than a cell is practised."""


def facts(cell: Cell) -> list[str]:
    """What the cell asks for and what is listened to."""
    return [*_hand(cell), *_watched(cell), *_speed(cell)]


def remarks(cell: Cell) -> list[str]:
    """What is probably a slip, or cannot be played as it is written."""
    return [*slurs_from_nothing(cell), *_frets(cell), *_tempo(cell), *_grid(cell), *_variants(cell)]


# ------------------------------------------------------------------------------------------- facts


def _hand(cell: Cell) -> Iterator[str]:
    """Shifts and stretches of the fretting hand over one round, tapped notes and open strings left
    out."""
    fretted = [slot for slot in cell.slots if slot.fret and slot.stroke != "tap"]
    if not fretted:
        return
    ways = [_runs(fretted[at:] + fretted[:at]) for at in range(len(fretted))]
    runs = min(ways, key=len)
    if len(runs) == 1:
        yield from _in_one_place(fretted)
        return
    spans = [(min(s.fret for s in run), max(s.fret for s in run)) for run in runs]
    shifts = [
        f"after note {run[-1].number} ({_frets_of(here)} to {_frets_of(there)})"
        for run, here, there in zip(runs, spans, spans[1:] + spans[:1])
    ]
    more = ", …" if len(shifts) > MOST_SHIFTS else ""
    yield (
        f"the fretting hand shifts {times(len(shifts))} each repetition: "
        f"{', '.join(shifts[:MOST_SHIFTS])}{more}"
    )
    wide = next(((run, span) for run, span in zip(runs, spans) if span[1] - span[0] > HAND), None)
    if wide is not None:
        yield _stretch(*wide)


def _in_one_place(fretted: list[Slot]) -> Iterator[str]:
    low, high = min(slot.fret for slot in fretted), max(slot.fret for slot in fretted)
    if high - low > HAND:
        yield _stretch(fretted, (low, high))
    else:
        yield f"the fretting hand stays in one place, {_frets_of((low, high))}"


def _stretch(run: list[Slot], span: tuple[int, int]) -> str:
    low = next(slot for slot in run if slot.fret == span[0])
    high = next(slot for slot in run if slot.fret == span[1])
    one, other = sorted((low.number, high.number))
    return (
        f"a stretch over {span[1] - span[0] + 1} frets: notes {one} and {other}, {_frets_of(span)}"
    )


def _runs(slots: list[Slot]) -> list[list[Slot]]:
    """Notes in a row that one place of the hand reaches."""
    runs: list[list[Slot]] = []
    for slot in slots:
        frets = [one.fret for one in runs[-1]] if runs else []
        if frets and max([*frets, slot.fret]) - min([*frets, slot.fret]) <= STRETCH:
            runs[-1].append(slot)
        else:
            runs.append([slot])
    return runs


def _frets_of(span: tuple[int, int]) -> str:
    return f"fret {span[0]}" if span[0] == span[1] else f"frets {span[0]}-{span[1]}"


def _watched(cell: Cell) -> Iterator[str]:
    """Where a sound would be unwanted, and where it would be no slip."""
    passed: dict[int, tuple[int, int]] = {}
    for slot, ahead in zip(cell.slots, cell.slots[1:] + cell.slots[:1]):
        for string in strings_between(slot.string, ahead.string):
            passed.setdefault(string, (slot.number, ahead.number))
    if cell.quiet:
        word = "string" if len(cell.quiet) == 1 else "strings"
        yield f"{word} {joined(cell.quiet)} must not sound"
    for string, (before, after) in passed.items():
        if string in cell.strings:
            yield f"string {string} is played, and passed over between notes {before} and {after}"
    others = set(range(1, len(cell.tuning) + 1)) - set(cell.quiet) - set(cell.strings)
    others -= passed.keys()
    if others:
        word = "string" if len(others) == 1 else "strings"
        yield f"{word} {joined(sorted(others))}: neither played nor quiet, nor passed over"


def _speed(cell: Cell) -> Iterator[str]:
    if cell.tempo_bpm is not None:
        rate = cell.tempo_bpm * cell.grid / 60.0
        yield f"at {cell.tempo_bpm:g} bpm a note every step is {rate:.3g} notes a second"


# ----------------------------------------------------------------------------------------- remarks


def slurs_from_nothing(cell: Cell) -> list[str]:
    """Pulls and hammers, in any variant, whose string does not sound higher or lower before them as
    the cell loops.

    >>> from livecheck.core.cell import make_cell
    >>> slurs_from_nothing(make_cell("two", [(2, 10, "pull"), (2, 12, "hammer"), (3, 9)]))
    []
    >>> slurs_from_nothing(make_cell("two", [(2, 12, "pull"), (2, 10)]))
    ['note 1: nothing higher sounds before it on string 2 to pull off from']
    """
    found: list[str] = []
    seen: set[tuple[int, str]] = set()
    for variant in (None, *cell.variants):
        slots = cell.with_variant(variant).slots
        for at, slot in enumerate(slots):
            if slot.stroke not in ("pull", "hammer") or (slot.number, slot.stroke) in seen:
                continue
            seen.add((slot.number, slot.stroke))
            before = next(
                one
                for one in [*reversed(slots[:at]), *reversed(slots[at:])]
                if one.string == slot.string
            )
            pulled = slot.stroke == "pull"
            if before.fret > slot.fret if pulled else before.fret < slot.fret:
                continue
            where = f"note {slot.number}" + (
                f", variant {variant!r}" if variant is not None else ""
            )
            way, how = ("higher", "pull off from") if pulled else ("lower", "hammer on from")
            found.append(
                f"{where}: nothing {way} sounds before it on string {slot.string} to {how}"
            )
    return found


def _frets(cell: Cell) -> Iterator[str]:
    for slot in cell.slots:
        if slot.fret + cell.capo > USUAL_FRETS:
            behind = f" (with the capo {slot.fret + cell.capo})" if cell.capo else ""
            yield (
                f"note {slot.number}: fret {slot.fret}{behind} lies beyond the {USUAL_FRETS} of "
                "most guitars"
            )
        if slot.fret == 0 and slot.stroke in ("tap", "hammer"):
            yield (
                f"note {slot.number}: an open string cannot be "
                f"{'tapped' if slot.stroke == 'tap' else 'hammered'}"
            )
    for slot, before in zip(cell.slots, cell.slots[-1:] + cell.slots[:-1]):
        if slot.stroke == "slide" and (slot.string != before.string or slot.fret == before.fret):
            yield f"note {slot.number}: a slide comes from another fret of its string"


def _tempo(cell: Cell) -> Iterator[str]:
    if cell.tempo_bpm is None:
        return
    step_s = 60.0 / (cell.tempo_bpm * cell.grid)
    rate = len(cell.slots) / (cell.steps * step_s)
    if rate > FAST:
        yield (
            f"at {cell.tempo_bpm:g} bpm it is {rate:.0f} notes a second, faster than hands; "
            "check tempo and grid"
        )
    if rate < SLOW:
        yield f"at {cell.tempo_bpm:g} bpm it is a note in {1 / rate:.1f} s; check tempo and grid"


def _grid(cell: Cell) -> Iterator[str]:
    """A grid finer than anything that is written on it."""
    common = gcd(
        cell.steps, *(number for slot in cell.slots for number in (slot.start, slot.length))
    )
    if common > 1:
        yield (
            f"all starts and lengths are multiples of {common} grid steps; a note every step "
            "would say the same"
        )


def _variants(cell: Cell) -> Iterator[str]:
    known = {tuple(strokes_of(cell.with_variant(None), rep) for rep in (1, 2)): "as written"}
    for name in cell.variants:
        strokes = tuple(strokes_of(cell.with_variant(name), rep) for rep in (1, 2))
        if strokes in known:
            yield f"variant {name!r} has the strokes of {known[strokes]!r}"
        known.setdefault(strokes, name)
