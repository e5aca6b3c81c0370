"""A second, independent simulation of picked and hammered notes, and what perfect knowledge could
tell of them.

Other families than in ``sound_attack.py``: strengths are gamma or lognormal with outliers, slots
have accents, the player tires, a converter's curve presses velocities together, stretches them,
sends them in steps, or sends one. Slots are played as planned, always the other way, or now so, now
so; some sittings are a few repetitions long.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, lgamma, log
from random import Random

from sound_attack import repetition
from sound_rings import curve

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import HIT, Note, Repetition, SlotResult

Key = tuple[int, int]  # repetition, slot


@dataclass(slots=True)
class Stroked:
    """Repetitions; which (repetition, slot) were picked; and the chance of it with all
    distributions known."""

    reps: list[Repetition]
    picked: dict[Key, bool]
    chances: dict[Key, float]


def stroked(seed: int, wide: int = 0) -> Stroked:
    """One sitting at one cell."""
    rng = Random(f"strokes {seed} {wide}")
    cell = _cell(rng)
    to_velocity = curve(rng)
    one_velocity = to_velocity(0.3) == to_velocity(1.0)
    low = rng.uniform(0.3 - 0.05 * wide, 0.7 + 0.06 * wide)
    hard, soft = _kind(rng, 1.0, wide), _kind(rng, low, wide)
    gain = {string: exp(rng.gauss(0.0, 0.12 + 0.07 * wide)) for string in cell.strings}
    accent = {slot.number: exp(rng.gauss(0.0, 0.08)) for slot in cell.slots}
    up = rng.uniform(0.85, 1.05)
    share = {slot.number: _share(rng, slot.picked, wide) for slot in cell.slots}
    reps = rng.randint(5 - wide, 12) if rng.random() < 0.3 else rng.randint(10, 80)
    tires, loud = rng.gauss(0.0, 0.1), 0.0
    later_ms, motor_ms = rng.choice((0.0, rng.gauss(0.0, 5.0))), rng.uniform(2.0, 8.0)
    by_bend = rng.choice((0.0, 0.0, rng.uniform(0.2, 1.0)))
    told = Stroked([], {}, {})
    for rep in range(1, reps + 1):
        loud = 0.7 * loud + rng.gauss(0.0, 0.04)
        level = exp(loud + tires * rep / reps)
        results = []
        for slot in cell.slots:
            is_picked = rng.random() < share[slot.number]
            scale = (
                gain[slot.string]
                * accent[slot.number]
                * level
                * (up if is_picked and slot.stroke == "up" else 1.0)
            )
            strength = (hard if is_picked else soft).draw(rng)
            bent = not is_picked and not slot.picked and rng.random() < by_bend
            velocity = None if bent else to_velocity(strength * scale)
            late = rng.gauss(0.0 if is_picked else later_ms, motor_ms)
            note = Note(
                rep * 2.0,
                slot.string,
                slot.pitch,
                slot.pitch,
                velocity,
                by="bend" if bent else "note",
            )
            results.append(SlotResult(slot.number, HIT, note, None, late))
            key = (rep, slot.number)
            told.picked[key] = is_picked
            a, b = (
                hard.density(strength * (up if slot.stroke == "up" else 1.0)),
                soft.density(strength),
            )
            known = share[slot.number] if one_velocity else share[slot.number] * a
            other = 1 - share[slot.number] if one_velocity else (1 - share[slot.number]) * b
            told.chances[key] = 0.0 if bent else known / max(known + other, 1e-300)
        told.reps.append(repetition(cell, rep, results))
    return told


@dataclass(slots=True)
class _Kind:
    """Strengths of one kind of note: a density, and draws from it."""

    draw: Callable[[Random], float]
    density: Callable[[float], float]


def _kind(rng: Random, mean: float, wide: int) -> _Kind:
    spread = rng.uniform(0.08, 0.22 + 0.03 * wide)
    odd = 0.02
    if rng.random() < 0.5:
        shape = 1.0 / spread**2

        def gamma(value: float, shape: float = shape, mean: float = mean) -> float:
            rate = shape / mean
            return exp(shape * log(rate) + (shape - 1) * log(value) - rate * value - lgamma(shape))

        return _Kind(
            lambda own: own.gammavariate(shape / 6, 6 * mean / shape) if own.random() < odd
            else own.gammavariate(shape, mean / shape),
            lambda value: (1 - odd) * gamma(value) + odd * gamma(value, shape / 6),
        )  # fmt: skip

    def lognormal(value: float, sd: float) -> float:
        return exp(-0.5 * (log(value / mean) / sd) ** 2) / (value * sd * 2.506628)

    return _Kind(
        lambda own: mean * exp(own.gauss(0.0, 2.5 * spread if own.random() < odd else spread)),
        lambda value: (1 - odd) * lognormal(value, spread) + odd * lognormal(value, 2.5 * spread),
    )


def _share(rng: Random, planned: bool, wide: int) -> float:
    """The chance that a slot is picked."""
    drawn = rng.random() * (1.0 - 0.2 * wide)
    if drawn < 0.06:
        return 0.0 if planned else 1.0
    if drawn < 0.12:
        return 0.5
    if drawn < 0.18:
        return rng.uniform(0.05, 0.95)
    slip = rng.choice((0.0, rng.uniform(0.0, 0.08)))
    return 1.0 - slip if planned else slip


def _cell(rng: Random) -> Cell:
    """Runs of one to four notes a string; within a run some are hammered or pulled."""
    count, legato = rng.randint(3, 12), rng.choice((0.0, 0.3, 0.5, 0.8))
    places: list[tuple[int, int, str | None]] = []
    string = rng.randint(1, 6)
    while len(places) < count:
        frets = rng.sample(range(3, 12), rng.choice((1, 2, 2, 3, 4)))
        for at, fret in enumerate(frets):
            hammered = at > 0 and rng.random() < legato
            places.append(
                (string, fret, ("hammer" if fret > frets[at - 1] else "pull") if hammered else None)
            )
        string = min(max(string + rng.choice((-2, -1, 1, 2)), 1), 6)
    return make_cell("strokes", places[:count])
