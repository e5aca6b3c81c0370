"""Random cells of every shape that people practise.

Owns what a cell can look like: number of strings, repeated notes, unisons, near-identical halves,
rests, long slots, legato, tunings and capo. Knows nothing of how a cell is played.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from ..core import tunings
from ..core.cell import Cell, make_cell
from ..core.pitch import STANDARD_TUNING

_NAMED = (
    "drop D",
    "double drop D",
    "D A D G A D",
    "open G",
    "all fourths",
    "strings 3 to 6 an octave up",  # not in order of pitch
)
TUNINGS: tuple[tuple[int, ...], ...] = (
    *(tuple(pitch - down for pitch in STANDARD_TUNING) for down in (1, 2)),
    *(tunings.TUNINGS[name] for name in _NAMED),
)
"""Open strings other than standard, string 1 first."""

SEVEN_TUNINGS = (tunings.usual_tuning(7), (*STANDARD_TUNING, 33))

LAST_FRET = 22
Place = tuple[int, int]  # string, fret


def random_cell(
    rng: Random, *, least_slots: int = 2, most_slots: int = 16, legato: float = 0.25
) -> Cell:
    """A cell drawn at random.

    legato: the chance that a slot is hammered, pulled, slid or tapped where the one before it on
    the same string allows it. No cell is its own rotation: where it begins can always be heard.
    """
    while True:
        tuning = _tuning(rng)
        capo = rng.choice((1, 2, 3, 5)) if rng.random() < 0.12 else 0
        count = min(max(least_slots, _slot_count(rng)), most_slots)
        shapes = _SHAPES if legato < 0.4 else _SHAPES[:3]
        places = rng.choice(shapes)(rng, count, tuning, capo)
        cell = _dressed(rng, places, tuning, capo, legato)
        if not is_its_own_rotation(cell):
            return cell


def _tuning(rng: Random) -> tuple[int, ...]:
    drawn = rng.random()
    if drawn < 0.55:
        return STANDARD_TUNING
    return rng.choice(TUNINGS if drawn < 0.85 else SEVEN_TUNINGS)


def _slot_count(rng: Random) -> int:
    return rng.choice((2, 3, 4, 4, 5, 6, 6, 7, 8, 8, 9, 10, 11, 12, 13, 14, 15, 16))


# ------------------------------------------------------------------------------------------- shapes


def _near(rng: Random, base: int, span: int = 4) -> int:
    return base + rng.randint(0, span)


def _position(rng: Random) -> int:
    return rng.choice((0, rng.randint(1, 7), rng.randint(5, 14)))


def _one_string(rng: Random, count: int, tuning: tuple[int, ...], capo: int) -> list[Place]:
    string, base = rng.randint(1, len(tuning)), _position(rng)
    return [(string, _near(rng, base, 5)) for _ in range(count)]


def _neighbours(rng: Random, count: int, tuning: tuple[int, ...], capo: int) -> list[Place]:
    width = rng.choice((2, 2, 3))
    first, base = rng.randint(1, len(tuning) - width + 1), _position(rng)
    return [(first + rng.randrange(width), _near(rng, base)) for _ in range(count)]


def _skip(rng: Random, count: int, tuning: tuple[int, ...], capo: int) -> list[Place]:
    """Pairs and threes on strings that lie apart."""
    gap = rng.randint(2, min(4, len(tuning) - 1))
    first, base = rng.randint(1, len(tuning) - gap), _position(rng)
    strings = [first, first + gap] + ([first + 1] if rng.random() < 0.3 else [])
    places: list[Place] = []
    while len(places) < count:
        string = rng.choice(strings)
        places += [(string, _near(rng, base)) for _ in range(rng.choice((1, 2, 2, 3)))]
    return places[:count]


def _wide(rng: Random, count: int, tuning: tuple[int, ...], capo: int) -> list[Place]:
    """Over all strings, up or down or back and forth."""
    base, way = _position(rng), rng.choice((-1, 1))
    string = 1 if way == 1 else len(tuning)
    places: list[Place] = []
    for _ in range(count):
        places.append((string, _near(rng, base)))
        if rng.random() < 0.7:
            string += way
        if not 1 <= string <= len(tuning):
            way = -way
            string += 2 * way
    return places


def _halves(rng: Random, count: int, tuning: tuple[int, ...], capo: int) -> list[Place]:
    """Two halves alike but for one note."""
    count = max(4, count // 2 * 2)
    half = rng.choice((_neighbours, _skip, _one_string))(rng, count // 2, tuning, capo)
    other = list(half)
    where = rng.randrange(len(half))
    string, fret = other[where]
    other[where] = (
        string,
        fret + rng.choice((1, 2, 3)) if fret < 3 else fret + rng.choice((-2, -1, 1, 2, 3)),
    )
    return half + other


def _repeats(rng: Random, count: int, tuning: tuple[int, ...], capo: int) -> list[Place]:
    """The same slot twice in a row or again later (a pedal note)."""
    places = _neighbours(rng, count, tuning, capo)
    pedal = places[0]
    for at in range(1, len(places)):
        drawn = rng.random()
        if drawn < 0.3:
            places[at] = places[at - 1]
        elif drawn < 0.5:
            places[at] = pedal
    return places


def _unison(rng: Random, count: int, tuning: tuple[int, ...], capo: int) -> list[Place]:
    """The same pitch on two strings."""
    places = _neighbours(rng, count, tuning, capo)
    for at in range(1, len(places)):
        if rng.random() < 0.4:
            string, fret = places[rng.randrange(at)]
            twins = same_pitch_places(tuning, string, fret, LAST_FRET - capo)
            if twins:
                places[at] = rng.choice(twins)
    return places


_SHAPES: tuple[Callable[[Random, int, tuple[int, ...], int], list[Place]], ...] = (
    _one_string, _neighbours, _neighbours, _skip, _skip, _wide, _halves, _repeats, _unison,
)  # fmt: skip


def same_pitch_places(
    tuning: tuple[int, ...], string: int, fret: int, last_fret: int = LAST_FRET
) -> list[Place]:
    """The other places on the neck that give the same pitch."""
    pitch = tuning[string - 1] + fret
    return [
        (other, pitch - open_pitch)
        for other, open_pitch in enumerate(tuning, 1)
        if other != string and 0 <= pitch - open_pitch <= last_fret
    ]


# -------------------------------------------------------------------------- strokes, rests, lengths


def _dressed(
    rng: Random, places: list[Place], tuning: tuple[int, ...], capo: int, legato: float
) -> Cell:
    """Strokes, lengths, rests and quiet strings for bare places."""
    rests, longs = rng.random() < 0.3, rng.random() < 0.3
    written_down = rng.random() < 0.5
    out: list[tuple[int, int, str | None, int] | int] = []
    before: Place | None = None
    last = "up"
    for string, fret in places:
        stroke = _legato_stroke(rng, before, (string, fret)) if rng.random() < legato else None
        if stroke is None and written_down:
            stroke = last = "down" if last == "up" else "up"
        length = rng.choice((2, 2, 3)) if longs and rng.random() < 0.2 else 1
        out.append((string, fret, stroke, length))
        before = (string, fret)
        if rests and rng.random() < 0.15:
            out.append(rng.choice((1, 1, 2)))
            before = None
    if rests and rng.random() < 0.4 and not isinstance(out[-1], int):
        out.append(rng.choice((1, 1, 2, 3)))
    used = {string for string, _ in places}
    unused = [string for string in range(1, len(tuning) + 1) if string not in used]
    quiet = None
    if rng.random() < 0.35:
        quiet = [string for string in unused if rng.random() < 0.6]
    return make_cell(
        "drawn", out, grid=rng.choice((2, 3, 4, 4, 4, 6)), tuning=tuning, capo=capo, quiet=quiet
    )


def _legato_stroke(rng: Random, before: Place | None, here: Place) -> str | None:
    """A legato stroke that the hand can make from the slot before; None where there is none."""
    if before is None or before[0] != here[0] or before[1] == here[1]:
        return None
    up, distance = here[1] > before[1], abs(here[1] - before[1])
    if distance > 7:
        return None
    if before[1] > 0 and here[1] > 0 and (distance > 4 or rng.random() < 0.2):
        return "slide"
    if distance > 5:
        return None
    if up:
        return "tap" if rng.random() < 0.1 else "hammer"
    return "pull"


# ------------------------------------------------------------------------------------ telling apart


def is_its_own_rotation(cell: Cell) -> bool:
    """True where the cell begun at another slot gives the same music, so that its beginning cannot
    be heard."""
    count = len(cell.slots)
    gaps = [
        (cell.slots[(at + 1) % count].start - slot.start) % cell.steps or cell.steps
        for at, slot in enumerate(cell.slots)
    ]
    music = [(slot.string, slot.pitch, gap) for slot, gap in zip(cell.slots, gaps)]
    return any(music[by:] + music[:by] == music for by in range(1, count))


def unlike(cell: Cell, first: int, other: int, within: int = 4) -> int:
    """How many of the next slots differ when play goes on from slot ``first`` and not from
    ``other`` (both from 1)."""
    count = len(cell.slots)
    pairs = (
        (cell.slots[(first - 1 + by) % count], cell.slots[(other - 1 + by) % count])
        for by in range(min(within, count))
    )
    return sum((one.string, one.pitch) != (two.string, two.pitch) for one, two in pairs)
