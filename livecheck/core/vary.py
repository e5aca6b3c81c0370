"""Cells made of a cell: moved, begun elsewhere, turned round, doubled, in another rhythm.

Each is a cell of its own with a name that says what it is, and of the same *family* as the first,
so that they can be compared. Strokes that are left out stay so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from .cell import PICKED, REPEAT, Cell, make_cell, other_way
from .plain_text import LONGEST_NAME
from .plan import strings_between

HIGHEST_FRET = 24

_Place = tuple[int, int, str | None, int]


def family_of(cell: Cell) -> str:
    """What keeps the members of a family together: its own family's name, else its own."""
    return cell.family or cell.name


def moved_frets(cell: Cell, by: int) -> Cell | None:
    """The same strings, so many frets up the neck (down where ``by`` is below 0); None where that
    leaves the neck."""
    if not all(0 <= slot.fret + by <= HIGHEST_FRET for slot in cell.slots):
        return None
    lowest = min(slot.fret for slot in cell.slots) + by
    places = [(slot.string, slot.fret + by) for slot in cell.slots]
    return _moved(cell, places, f"at fret {lowest}", cell.quiet)


def moved_strings(cell: Cell, by: int) -> Cell | None:
    """The same frets, so many strings lower (higher where ``by`` is below 0); None where there are
    none."""
    strings = range(1, len(cell.tuning) + 1)
    if not all(slot.string + by in strings for slot in cell.slots):
        return None
    places = [(slot.string + by, slot.fret) for slot in cell.slots]
    now = " ".join(str(string + by) for string in cell.strings)
    unused = set(strings) - set(cell.strings)
    used = {string + by for string in cell.strings}
    if set(cell.quiet) == unused:
        quiet = set(strings) - used
    else:
        quiet = {string + by for string in cell.quiet if string + by in strings} - used
    word = "string" if len(cell.strings) == 1 else "strings"
    return _moved(cell, places, f"on {word} {now}", sorted(quiet))


def begun_at(cell: Cell, number: int) -> Cell:
    """The same loop, begun at another note; raises ValueError where there is no such note."""
    if not 1 <= number <= len(cell.slots):
        raise ValueError(f"there is no note {number}")
    shift = number - 1
    count, start = len(cell.slots), cell.slots[shift].start
    order = [(shift + at) % count for at in range(count)]
    places = [((cell.slots[at].start - start) % cell.steps, *_place(cell, at)) for at in order]
    variants = {
        name: {(slot - 1 - shift) % count + 1: stroke for slot, stroke in over.items()}
        for name, over in cell.variants.items()
    }
    return _made(
        cell,
        _with_rests(places, cell.steps),
        f"from note {number}",
        cell.quiet,
        variants=variants,
    )


def reversed_order(cell: Cell) -> Cell:
    """The notes in the other order, each as long as it was, rests where they are then.

    What was hammered from a note is pulled to it, and the reverse; where every stroke is written,
    those of the pick alternate from the first one on.
    """
    count = len(cell.slots)
    first = cell.steps - cell.slots[-1].start - cell.slots[-1].length
    off = first if cell.slots[0].start == 0 else 0  # begins with a note where the cell does
    hand = next((stroke for stroke in cell.written if stroke in PICKED), "down")
    places: list[tuple[int, int, int, str | None, int]] = []
    for at in reversed(range(count)):
        slot = cell.slots[at]
        led_to = cell.written[(at + 1) % count] or ""
        stroke = {"hammer": "pull", "pull": "hammer", "slide": "slide"}.get(led_to)
        stroke = "tap" if stroke is None and cell.written[at] == "tap" else stroke
        if stroke is None and None not in cell.written:
            stroke, hand = hand, other_way(hand)
        start = cell.steps - slot.start - slot.length - off
        places.append((start, slot.string, slot.fret, stroke, slot.length))
    return _made(cell, _with_rests(places, cell.steps), "reversed", cell.quiet)


def doubled(cell: Cell) -> Cell:
    """Every note played twice, picked both times; slurs stay at the first of the two."""
    places: list[_Place | int] = []
    at = 0
    hand = next((stroke for stroke in cell.written if stroke in PICKED), "down")
    everything = None not in cell.written
    for index, slot in enumerate(cell.slots):
        places += [2 * (slot.start - at)] if slot.start > at else []
        at = slot.start + slot.length
        stroke = cell.written[index]
        for again in (False, True):
            own = stroke if stroke not in PICKED and not again else None
            if everything and own is None:
                own, hand = hand, other_way(hand)
            places.append((slot.string, slot.fret, own, slot.length))
    places += [2 * (cell.steps - at)] if cell.steps > at else []
    return _made(cell, places, "doubled", cell.quiet)


def in_rhythm(cell: Cell, lengths: Sequence[int]) -> Cell:
    """The same notes with other lengths, in grid steps, over and over; rests are left out."""
    places: list[_Place | int] = [
        (*_place(cell, at)[:3], lengths[at % len(lengths)]) for at in range(len(cell.slots))
    ]
    rhythm = " ".join(map(str, lengths))
    return _made(cell, places, f"in {rhythm}", cell.quiet, variants=cell.variants)


def skips(cell: Cell) -> int:
    """The most strings that lie in the way of a string change."""
    pairs = zip(cell.slots, cell.slots[1:] + cell.slots[:1])
    return max(len(strings_between(one.string, other.string)) for one, other in pairs)


# ----------------------------------------------------------------------------------------- making


def _place(cell: Cell, at: int) -> _Place:
    slot = cell.slots[at]
    return slot.string, slot.fret, cell.written[at], slot.length


def _moved(cell: Cell, places: Sequence[tuple[int, int]], how: str, quiet: Sequence[int]) -> Cell:
    slots = [
        (slot.start, *place, stroke, slot.length)
        for slot, place, stroke in zip(cell.slots, places, cell.written)
    ]
    return _made(cell, _with_rests(slots, cell.steps), how, quiet, variants=cell.variants)


def _with_rests(
    places: Sequence[tuple[int, int, int, str | None, int]], steps: int
) -> list[_Place | int]:
    """Places with their starts, in order, as make_cell takes them."""
    made: list[_Place | int] = []
    at = 0
    for start, string, fret, stroke, length in places:
        if start > at:
            made.append(start - at)
        made.append((string, fret, stroke, length))
        at = start + length
    return [*made, steps - at] if steps > at else made


def _made(
    cell: Cell,
    places: Sequence[_Place | int],
    how: str,
    quiet: Sequence[int],
    variants: Mapping[str, Mapping[int, str]] | None = None,
) -> Cell:
    name = f"{cell.name[: LONGEST_NAME - len(how) - 1]} {how}"
    return make_cell(
        name,
        places,
        grid=cell.grid,
        tempo_bpm=cell.tempo_bpm,
        tuning=cell.tuning,
        capo=cell.capo,
        quiet=quiet,
        variants=variants,
        picking=cell.picking if None in cell.written else REPEAT,
        begin=cell.begin,
        begins=cell.begins if variants else None,
        family=family_of(cell),
    )
