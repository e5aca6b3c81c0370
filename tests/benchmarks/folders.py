"""Folders of cells that are hard to tell apart, for the benchmark of recognition.

A drawn cell and others made from it: a slot or two changed, other lengths, another place on the
neck, a part of it, more at its end, slots exchanged, begun elsewhere; and a few strangers. No two
of a folder give the same music, but for rotations, which are asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

from livecheck.core.candidate import music
from livecheck.core.cell import Cell, make_cell
from livecheck.files.config import load_cell
from livecheck.player.cells import LAST_FRET, is_its_own_rotation, random_cell

ROOT = Path(__file__).resolve().parents[2]
Place = "tuple[int, int, str | None, int] | int"
Places = list["tuple[int, int, str | None, int] | int"]


def places_of(cell: Cell) -> Places:
    """What ``make_cell`` is given to make this cell."""
    places: Places = []
    at = 0
    for slot in cell.slots:
        if slot.start > at:
            places.append(slot.start - at)
        places.append((slot.string, slot.fret, slot.stroke, slot.length))
        at = slot.start + slot.length
    return [*places, cell.steps - at] if cell.steps > at else places


def remade(cell: Cell, name: str, places: Places) -> Cell:
    return make_cell(name, places, grid=cell.grid, tuning=cell.tuning, capo=cell.capo)


# ---------------------------------------------------------------------------- one cell from another


def changed(cell: Cell, rng: Random) -> Cell:
    """Another cell that shares notes with this one."""
    places = places_of(cell)
    sounding = [at for at, place in enumerate(places) if not isinstance(place, int)]
    way = rng.choice(("one slot", "one slot", "two slots", "rhythm", "moved", "half", "longer"))
    if way in ("one slot", "two slots"):
        for at in rng.sample(sounding, min(len(sounding), 1 if way == "one slot" else 2)):
            string, fret, _, length = places[at]  # type: ignore[misc]
            fret += rng.choice((-3, -2, -1, 1, 2, 3))
            places[at] = (string, min(max(fret, 0), LAST_FRET - cell.capo), "down", length)
    elif way == "rhythm":
        at = rng.choice(sounding)
        string, fret, stroke, length = places[at]  # type: ignore[misc]
        places[at] = (string, fret, stroke, length + 1)
    elif way == "moved":
        by = rng.choice((-2, -1, 1, 2))
        places = [
            place if isinstance(place, int) else (place[0], max(place[1] + by, 0), *place[2:])
            for place in places
        ]
    elif way == "half" and len(sounding) >= 4:
        places = places[: sounding[len(sounding) // 2]]
    else:
        places = [*places, *(places[at] for at in rng.sample(sounding, min(len(sounding), 2)))]
    return remade(cell, way, places)


def relengthened(cell: Cell, rng: Random) -> Cell:
    """The same notes, other lengths or rests."""
    places = [place for place in places_of(cell) if not isinstance(place, int)]
    way = rng.choice(("one longer", "lengths", "rest"))
    if way == "one longer":
        at = rng.randrange(len(places))
        string, fret, stroke, length = places[at]  # type: ignore[misc]
        places[at] = (string, fret, stroke, length + rng.choice((1, 1, 2)))
    elif way == "lengths":
        places = [
            (*place[:3], rng.choice((1, 1, 1, 2, 2, 3)))  # type: ignore[index]
            for place in places
        ]
    else:
        places.insert(rng.randint(1, len(places)), rng.choice((1, 1, 2)))  # type: ignore[arg-type]
    return remade(cell, way, list(places))


def part(cell: Cell, rng: Random) -> Cell:
    """Some slots in a row, or the whole with one left out, doubled, or a row of its own added."""
    places = [place for place in places_of(cell) if not isinstance(place, int)]
    way = rng.choice(("part", "part", "without", "doubled", "twice"))
    count = len(places)
    if way == "part" and count >= 4:
        long = rng.randint(2, count - 1)
        first = rng.randint(0, count - long)
        places = places[first : first + long]
    elif way == "without" and count >= 4:
        del places[rng.randrange(count)]
    elif way == "doubled":
        at = rng.randrange(count)
        places.insert(at, places[at])
    else:
        long = rng.randint(1, max(1, count // 2))
        first = rng.randint(0, count - long)
        places = [*places, *places[first : first + long]]
    return remade(cell, way, list(places))


def exchanged(cell: Cell, rng: Random) -> Cell:
    """Two neighbouring slots in the other order, or the whole backwards."""
    places = [place for place in places_of(cell) if not isinstance(place, int)]
    way = rng.choice(("exchanged", "exchanged", "backwards"))
    if way == "exchanged":
        at = rng.randrange(len(places) - 1)
        places[at], places[at + 1] = places[at + 1], places[at]
    else:
        places.reverse()
    return remade(cell, way, list(places))


def turned(cell: Cell, rng: Random) -> Cell:
    """The same music, begun at another slot."""
    places = places_of(cell)
    starts = [at for at, place in enumerate(places) if at and not isinstance(place, int)]
    at = rng.choice(starts)
    return remade(cell, "turned", [*places[at:], *places[:at]])


# ------------------------------------------------------------------------------------------ folders


def grown(
    folder: list[Cell], count: int, ways: tuple[Callable[[Cell, Random], Cell], ...], rng: Random
) -> None:
    """Add cells made from those that are there, up to so many; fewer where a small cell has no more
    neighbours."""
    heard = {music(cell) for cell in folder}
    for _ in range(40 * count):
        if len(folder) >= count:
            return
        one = rng.choice(ways)(rng.choice(folder), rng)
        if 2 <= len(one.slots) <= 16 and not is_its_own_rotation(one) and music(one) not in heard:
            heard.add(music(one))
            folder.append(one)


def with_strangers(folder: list[Cell], count: int, rng: Random, **wishes: float) -> list[Cell]:
    """Add cells of their own, up to so many, and number them all."""
    heard = {music(cell) for cell in folder}
    while len(folder) < count:
        one = random_cell(rng, **wishes)  # type: ignore[arg-type]
        if len(one.tuning) == len(folder[0].tuning) and music(one) not in heard:
            heard.add(music(one))
            folder.append(one)
    return [replace(one, name=f"{number} {one.name}") for number, one in enumerate(folder)]


def family(rng: Random, **wishes: float) -> tuple[list[Cell], int]:
    """Six relatives and three strangers: (folder, how many of it are relatives)."""
    folder = [random_cell(rng, **wishes)]  # type: ignore[arg-type]
    heard = {music(folder[0])}
    while len(folder) < 6:
        one = changed(rng.choice(folder), rng)
        if len(one.slots) >= 2 and not is_its_own_rotation(one) and music(one) not in heard:
            heard.add(music(one))
            folder.append(one)
    return with_strangers(folder, 9, rng, **wishes), 6


def crowd(rng: Random, **wishes: float) -> tuple[list[Cell], int]:
    """2 to 30 cells of 2 to 12 slots, most of them relatives of every kind."""
    count = rng.choice((2, 3, 4, 6, 9, 12, 16, 20, 25, 30))
    folder = [random_cell(rng, most_slots=12, **wishes)]  # type: ignore[arg-type]
    relatives = max(2, round(count * rng.uniform(0.4, 1.0)))
    grown(folder, relatives, (changed, changed, relengthened, part, exchanged), rng)
    relatives = len(folder)
    return with_strangers(folder, max(count, 2), rng, **wishes), relatives


def rhythms(rng: Random, **wishes: float) -> tuple[list[Cell], int]:
    """2 to 8 cells that differ only in their lengths."""
    folder = [random_cell(rng, most_slots=12, **wishes)]  # type: ignore[arg-type]
    grown(folder, rng.randint(2, 8), (relengthened,), rng)
    relatives = len(folder)
    return with_strangers(folder, relatives + 1, rng, **wishes), relatives


def parts(rng: Random, **wishes: float) -> tuple[list[Cell], int]:
    """3 to 10 cells that are parts of one another."""
    folder = [random_cell(rng, least_slots=4, most_slots=12, **wishes)]  # type: ignore[arg-type]
    grown(folder, rng.randint(3, 10), (part,), rng)
    relatives = len(folder)
    return with_strangers(folder, relatives + 1, rng, **wishes), relatives


def rotations(rng: Random, **wishes: float) -> tuple[list[Cell], int]:
    """A cell, two to four of its rotations and a few relatives: told apart by where they begin."""
    cell = random_cell(rng, least_slots=3, most_slots=12, **wishes)  # type: ignore[arg-type]
    folder = [cell]
    for _ in range(rng.randint(2, 4)):
        one = turned(cell, rng)
        if all(one.slots != other.slots for other in folder):
            folder.append(one)
    relatives = len(folder)
    grown(folder, relatives + 3, (changed,), rng)
    return with_strangers(folder, len(folder) + 2, rng, **wishes), relatives


@cache
def _shipped() -> tuple[Cell, ...]:
    return tuple(load_cell(path) for path in sorted((ROOT / "configs" / "cells").glob("*.yaml")))


def shipped(rng: Random, **wishes: float) -> tuple[list[Cell], int]:
    """The cells that come with the program."""
    return list(_shipped()), len(_shipped())


FOLDERS: dict[str, Callable[..., tuple[list[Cell], int]]] = {
    "family": family,
    "shipped": shipped,
    "crowd": crowd,
    "rhythms": rhythms,
    "parts": parts,
    "rotations": rotations,
}
