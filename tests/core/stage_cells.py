"""Random cells and rigs for the stage: what is played, and through what.

Owns the shape of the figures. A figure that repeats itself inside (abab) is never given, since
nobody could say which half is heard; one whose halves differ in a single note is.
"""

from __future__ import annotations

import random

from livecheck.core.cell import Cell, make_cell
from livecheck.core.rig import Delay, Gate, Rig

TUNINGS = (
    (64, 59, 55, 50, 45, 40),
    (64, 59, 55, 50, 45, 38),
    (63, 58, 54, 49, 44, 39),
    (62, 57, 55, 50, 45, 38),
    (65, 60, 55, 50, 45, 40),
    (64, 59, 67, 62, 57, 52),
    (64, 59, 55, 50, 45, 40, 35),
)
KINDS = ("run", "skip", "one string", "twin", "repeats", "same pitch", "wide", "rests")


def letters(cell: Cell) -> list[tuple[int, int]]:
    """(string, pitch) of each slot."""
    return [(slot.string, slot.pitch) for slot in cell.slots]


def periodic(cell: Cell) -> bool:
    """Does the figure consist of a shorter one played several times over?"""
    whole = [(slot.string, slot.pitch, slot.start) for slot in cell.slots]
    n = len(whole)
    for parts in range(2, n + 1):
        if n % parts or cell.steps % parts:
            continue
        by, steps = n // parts, cell.steps // parts
        if all(
            whole[(i + by) % n][:2] == whole[i][:2]
            and (whole[(i + by) % n][2] - whole[i][2] - steps) % cell.steps == 0
            for i in range(n)
        ):
            return True
    return False


def telling(cell: Cell, at: int) -> bool:
    """Do the three slots from ``at`` stand nowhere else in the loop, so that a listener knows the
    place by them?"""
    places = letters(cell)
    n = len(places)
    here = [places[(at + i) % n] for i in range(3)]
    return all(
        [places[(other + i) % n] for i in range(3)] != here for other in range(n) if other != at
    )


def a_cell(rng: random.Random, kind: str | None = None, longest: int = 16) -> Cell:
    """One figure of a kind (any when None), of 2 to ``longest`` slots."""
    kind = kind or rng.choice(KINDS)
    while True:
        cell = _try(rng, kind, longest)
        if len(cell.slots) >= 2 and not periodic(cell):
            return cell


def _try(rng: random.Random, kind: str, longest: int) -> Cell:
    tuning = rng.choice(TUNINGS)
    strings = len(tuning)
    capo = rng.choice((0, 0, 0, 2, 4))
    n = rng.randint(2, longest)
    hand = rng.randint(0, 12)

    def fret() -> int:
        return hand + rng.randint(0, 4) if rng.random() < 0.93 else 0

    here = rng.randint(1, strings)
    places: list[tuple[int, int]] = []
    while len(places) < n:
        if kind == "one string":
            pass
        elif kind == "wide":
            here = rng.randint(1, strings)
        elif kind == "skip":
            if rng.random() < 0.6:
                here = (here - 1 + rng.choice((2, 3, strings - 2))) % strings + 1
        elif rng.random() < 0.4:
            here = min(strings, max(1, here + rng.choice((-1, 1))))
        place = (here, fret())
        if places and place == places[-1] and kind != "repeats":
            continue
        places.append(place)
        if kind == "repeats" and rng.random() < 0.4:
            places.extend([place] * rng.randint(1, 2))
    places = places[:n]
    if kind == "twin" and n >= 4:
        half = places[: n // 2]
        other = list(half)
        at = rng.randrange(len(half))
        other[at] = (half[at][0], half[at][1] + rng.choice((1, 2, 3)))
        places = half + other
    if kind == "same pitch":
        at = rng.randrange(len(places))
        string, of = places[at]
        other_string = string + 1 if string < strings else string - 1
        moved = tuning[string - 1] + of - tuning[other_string - 1]
        if 0 <= moved <= 22:
            places.insert(at + 1, (other_string, moved))
            places = places[:longest]
    legato = rng.choice((0.0, 0.0, 0.25, 0.7))
    written: list[tuple[int, int, str | None, int] | int] = []
    for i, (string, of) in enumerate(places):
        stroke = None
        before = places[i - 1]
        if i and before[0] == string and before[1] != of and rng.random() < legato:
            stroke = "slide" if rng.random() < 0.2 else ("hammer" if of > before[1] else "pull")
        long = rng.random() < (0.35 if kind == "rests" else 0.06)
        written.append((string, of, stroke, rng.choice((2, 2, 3, 4)) if long else 1))
        if rng.random() < (0.25 if kind == "rests" else 0.03):
            written.append(rng.choice((1, 1, 2)))
    used = {string for string, _ in places}
    quiet = [string for string in range(1, strings + 1) if string not in used]
    if rng.random() < 0.2:
        quiet = [string for string in quiet if rng.random() < 0.5]
    return make_cell(
        kind, written, grid=rng.choice((2, 3, 4, 4, 4, 6)), tuning=tuning, capo=capo, quiet=quiet
    )


def a_rig(rng: random.Random, cell: Cell, wild: bool) -> tuple[Rig, Delay]:
    """A rig and the delay that its converter really has; ``wild``: the rig may not know the delay
    at all."""
    true = Delay(fixed_ms=rng.uniform(1, 6), periods=rng.uniform(1.0, 2.5))
    known: Delay = true
    doubt = rng.random()
    if doubt < (0.3 if wild else 0.12):
        known = Delay()
    elif doubt < 0.5:
        known = Delay(
            fixed_ms=true.fixed_ms + rng.uniform(-1, 1),
            periods=true.periods * rng.uniform(0.9, 1.1),
        )
    first = rng.choice((1, 1, 1, 11, 5))
    first = min(first, 17 - len(cell.tuning))
    gate = Gate(
        velocity=rng.choice((8, 12, 12, 16)), length_ms=rng.choice((20.0, 25.0, 25.0, 30.0))
    )
    rig = Rig(
        channels=tuple(range(first, first + len(cell.tuning))),
        bend_range=rng.choice((12.0, 12.0, 24.0)),
        delay=known,
        gate=gate,
    )
    return rig, true
