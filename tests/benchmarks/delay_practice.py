"""Ordinary practice of many cells, made apart from the built-in player: repetitions with the
arrival of each note."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from random import Random

from delay_players import DelayMs, jitter_ms

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from played import repetition

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Repetition


@dataclass(frozen=True)
class Practice:
    """slot_pct: SD of a slot's early or late, in a hundredth of the step; wild: share of slots four
    times as far."""

    cells: int = 8
    reps: int = 30
    slot_pct: float = 1.5
    wild: float = 0.0
    string_ms: float = 0.0
    way_ms: float = 1.0
    missed: float = 0.02


def random_cell(rng: Random, name: str) -> Cell:
    """Six to ten picked notes that wander over the strings within four frets of a position."""
    position, string = rng.choice((0, 2, 3, 5, 7, 9, 12)), rng.randint(1, 6)
    slots: list[tuple[int, int]] = []
    count = rng.randint(6, 10)
    while len(slots) < count:
        place = (string, position + rng.randint(0, 3))
        if not slots or place != slots[-1]:
            slots.append(place)
        string = min(6, max(1, string + rng.choice((-2, -1, -1, 0, 1, 1, 2))))
    return make_cell(name, slots)


def practise(
    how: Practice, delay_ms: DelayMs, rng: Random
) -> tuple[list[Repetition], dict[int, float]]:
    """Repetitions, and the mean delay of each string over the slots, against the mean of the
    strings."""
    strings = [rng.gauss(0.0, how.string_ms) for _ in range(6)]
    ways = {way: rng.gauss(0.0, how.way_ms) for way in (-1, 0, 1)}
    delays: dict[int, list[float]] = {}
    reps: list[Repetition] = []
    for number in range(how.cells):
        cell = random_cell(rng, f"cell {number}")
        slots = cell.slots
        for slot in slots:
            delays.setdefault(slot.string, []).append(delay_ms(slot.string, slot.fret))
        notes_per_s = rng.uniform(4.5, 10.0)
        own = [
            rng.gauss(0.0, 10.0 * how.slot_pct / notes_per_s)
            * (4.0 if rng.random() < how.wild else 1.0)
            + strings[slot.string - 1]
            + ways[(slot.string > before.string) - (slot.string < before.string)]
            for slot, before in zip(slots, (slots[-1], *slots[:-1]))
        ]
        motor_ms = max(3.0, 10.0 * rng.uniform(1.5, 3.0) / notes_per_s)
        for rep in range(how.reps):
            clock_ms, late = 0.0, []
            for slot, habit in zip(slots, own):
                clock_ms += rng.gauss(0.0, 0.6 * motor_ms)
                delay = delay_ms(slot.string, slot.fret) + jitter_ms(rng, slot.string, slot.fret)
                late.append(clock_ms + rng.gauss(0.0, motor_ms) + habit + max(0.5, delay))
            missing = [slot.number for slot in slots if rng.random() < how.missed]
            step_s = 1.0 / (notes_per_s * rng.uniform(0.97, 1.03))
            reps.append(
                repetition(
                    cell, rep, start_s=rep * 4.0, step_s=step_s, late_ms=late, missing=missing
                )
            )
    mean = {string: sum(found) / len(found) for string, found in delays.items()}
    middle = sum(mean.values()) / len(mean)
    return reps, {string: ms - middle for string, ms in mean.items()}
