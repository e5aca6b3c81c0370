"""The looped figure: its slots, their strokes, and how they lie on the grid.

A cell is a value: two cells with the same slots are equal, and nothing in it changes. Checking what
a person wrote is ``files/config.py``'s work; here the slots are already sound.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from .pitch import STANDARD_TUNING

STROKES = ("down", "up", "hammer", "pull", "slide", "tap")
PICKED = ("down", "up")
"""Strokes made with the pick; the others are legato."""
PICK = "pick"
"""In a variant alone: picked, with the stroke that alternation gives."""
ALTERNATE, REPEAT = "alternate", "repeat"
"""Over the seam from one repetition to the next, strokes left out go on alternating, or each
repetition begins with the same stroke."""
PICKINGS = (ALTERNATE, REPEAT)
AS_WRITTEN = "as written"
"""What a cell that is played in none of its variants is called beside them."""


@dataclass(frozen=True, slots=True)
class Slot:
    """One sounding place of the cell."""

    number: int  # from 1
    string: int  # 1 is the highest-sounding string
    fret: int  # counted from the capo
    stroke: str  # one of STROKES; in the first repetition (core/picking.py has the others)
    start: int  # grid steps from the cell's beginning
    length: int  # grid steps
    pitch: int  # sounding MIDI note number

    @property
    def picked(self) -> bool:
        return self.stroke in PICKED


@dataclass(frozen=True, slots=True)
class Cell:
    """A figure that is looped.

    ``slots`` are in the order played; ``steps`` is the whole length in grid steps, the final rest
    included. ``quiet`` holds the strings whose sound is noise. ``variants`` maps a name to strokes
    by slot number (``PICK``: as alternation has it); ``variant`` is the name of the one in force,
    None for the cell as written. ``picking`` and ``begin`` say how strokes that are left out go on.
    """

    name: str
    slots: tuple[Slot, ...]
    steps: int
    grid: int = 4  # grid steps a beat
    tempo_bpm: float | None = None
    tuning: tuple[int, ...] = STANDARD_TUNING
    capo: int = 0
    quiet: tuple[int, ...] = ()
    written: tuple[str | None, ...] = ()  # strokes as written, None where alternation fills in
    variants: Mapping[str, Mapping[int, str]] = field(default_factory=dict)
    variant: str | None = None
    picking: str = ALTERNATE  # one of PICKINGS
    begin: str = "down"  # stroke of the first picked note, where it is left out
    begins: Mapping[str, str] = field(default_factory=dict)  # the same for a variant, where another
    parent: str | None = None  # the cell that this is a part of
    notes: tuple[int, ...] = ()  # which of that cell's, in order
    family: str | None = None  # keeps cells together that were made of one

    @property
    def strings(self) -> tuple[int, ...]:
        """Strings that the cell sounds, lowest number first."""
        return tuple(sorted({slot.string for slot in self.slots}))

    def with_variant(self, name: str | None) -> Cell:
        """The same slots with a variant's strokes; None gives the cell as written.

        Raises KeyError for a variant that the cell does not have.
        """
        strokes = alternate(self.written_in(name), self.begins_with(name))
        slots = tuple(replace(slot, stroke=stroke) for slot, stroke in zip(self.slots, strokes))
        return replace(self, slots=slots, variant=name)

    def written_in(self, name: str | None) -> list[str | None]:
        """Strokes by slot as they are written for a variant; None where one is left out.

        Raises KeyError for a variant that the cell does not have.
        """
        over = self.variants[name] if name is not None else {}
        given = [over.get(number, stroke) for number, stroke in enumerate(self.written, 1)]
        return [None if stroke == PICK else stroke for stroke in given]

    def begins_with(self, name: str | None) -> str:
        """The stroke of a variant's first picked note, where that is left out."""
        return self.begin if name is None else self.begins.get(name, self.begin)


def alternate(written: Sequence[str | None], begin: str = "down") -> list[str]:
    """Fill in strokes that were left out, by strict alternation of the picked notes.

    Each picked note turns the direction; a hammer, pull, slide or tap does not. Where nothing was
    picked before, the first stroke is ``begin``. (Stroke-wise reading of strict alternation;
    sources.md section 7.)

    >>> alternate([None, None, "hammer", None, "down", None])
    ['down', 'up', 'hammer', 'down', 'down', 'up']
    """
    strokes: list[str] = []
    last = other_way(begin)
    for stroke in written:
        if stroke is None:
            stroke = other_way(last)
        if stroke in PICKED:
            last = stroke
        strokes.append(stroke)
    return strokes


def other_way(stroke: str) -> str:
    """Up for a down stroke, down for an up stroke."""
    return "up" if stroke == "down" else "down"


def make_cell(
    name: str,
    places: Sequence[
        tuple[int, int] | tuple[int, int, str | None] | tuple[int, int, str | None, int] | int
    ],
    *,
    grid: int = 4,
    tempo_bpm: float | None = None,
    tuning: Sequence[int] = STANDARD_TUNING,
    capo: int = 0,
    quiet: Sequence[int] | None = None,
    variants: Mapping[str, Mapping[int, str]] | None = None,
    picking: str | None = None,
    begin: str = "down",
    begins: Mapping[str, str] | None = None,
    family: str | None = None,
) -> Cell:
    """Build a cell from places: (string, fret[, stroke[, length]]), or a whole number for a rest of
    that many steps.

    picking: where left out, REPEAT if every stroke is written, else ALTERNATE.

    >>> cell = make_cell("two", [(2, 10), (3, 12, None, 2), 1])
    >>> [(slot.pitch, slot.stroke, slot.start) for slot in cell.slots], cell.steps
    ([(69, 'down', 0), (67, 'up', 1)], 4)
    """
    sounding: list[tuple[int, int, int, int]] = []
    written: list[str | None] = []
    at = 0
    for place in places:
        if isinstance(place, int):
            at += place
            continue
        string, fret = place[0], place[1]
        stroke = place[2] if len(place) > 2 else None
        length = place[3] if len(place) > 3 else 1
        sounding.append((string, fret, at, length))
        written.append(stroke)
        at += length
    slots = tuple(
        Slot(number, string, fret, stroke, start, length, tuning[string - 1] + capo + fret)
        for number, ((string, fret, start, length), stroke) in enumerate(
            zip(sounding, alternate(written, begin)), 1
        )
    )
    used = {slot.string for slot in slots}
    if quiet is None:
        quiet = [string for string in range(1, len(tuning) + 1) if string not in used]
    return Cell(
        name=name,
        slots=slots,
        steps=at,
        grid=grid,
        tempo_bpm=tempo_bpm,
        tuning=tuple(tuning),
        capo=capo,
        quiet=tuple(sorted(quiet)),
        written=tuple(written),
        variants={key: dict(value) for key, value in (variants or {}).items()},
        picking=picking or (ALTERNATE if None in written else REPEAT),
        begin=begin,
        begins=dict(begins or {}),
        family=family,
    )
