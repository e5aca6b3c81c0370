"""Simulated sittings in which it is known which notes were picked: velocities that overlap, habits
against the plan."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log
from random import Random

from livecheck.core.cell import Cell
from livecheck.core.events import HIT, Evenness, Note, Repetition, SlotResult
from livecheck.player.cells import random_cell

NOTHING = Evenness(None, None, None, None)


@dataclass(frozen=True, slots=True)
class Sitting:
    """Repetitions, and which (repetition, slot) were picked."""

    reps: list[Repetition]
    picked: dict[tuple[int, int], bool]


def sitting(seed: int, wide: int = 0) -> Sitting:
    """One sitting at one cell. The two kinds' velocities overlap by 1.5 to 4 scatters' distance."""
    rng = Random(f"attack {seed} {wide}")
    cell = random_cell(rng, least_slots=4, legato=rng.uniform(0.1, 0.6))
    drop, scatter = rng.uniform(0.3 - 0.03 * wide, 0.75), rng.uniform(0.1, 0.2 + 0.04 * wide)
    gain = {string: exp(rng.gauss(0.0, 0.13 + 0.02 * wide)) for string in cell.strings}
    up = rng.uniform(0.85, 1.05)
    slip = rng.uniform(0.0, 0.12 + 0.03 * wide)
    habit = {slot.number: rng.random() < 0.12 + 0.03 * wide for slot in cell.slots}
    later_ms, motor_ms = rng.choice((0.0, 0.0, rng.uniform(1.0, 6.0))), rng.uniform(3.0, 6.0)
    reps, picked = [], {}
    for rep in range(1, rng.randint(20 - 6 * wide, 90) + 1):
        loud = exp(rng.gauss(0.0, 0.06))
        results = []
        for slot in cell.slots:
            is_picked = slot.picked != (rng.random() < (0.8 if habit[slot.number] else slip))
            level = log(90.0 * gain[slot.string] * loud) + (0.0 if is_picked else -drop)
            if is_picked and slot.stroke == "up":
                level += log(up)
            wild = rng.random() < 0.02
            velocity = exp(
                rng.gauss(level, scatter * (2.5 if wild else 1.0) * (1.0 if is_picked else 1.15))
            )
            late = rng.gauss(0.0 if is_picked else later_ms, motor_ms)
            results.append(_hit(slot.number, slot.string, slot.pitch, velocity, late, rep * 2.0))
            picked[rep, slot.number] = is_picked
        reps.append(repetition(cell, rep, results))
    return Sitting(reps, picked)


def _hit(
    slot: int, string: int, pitch: int, velocity: float, late_ms: float, t_s: float
) -> SlotResult:
    note = Note(t_s, string, pitch, pitch, min(127, max(13, round(velocity))))
    return SlotResult(slot, HIT, note, None, late_ms)


def repetition(cell: Cell, rep: int, results: list[SlotResult]) -> Repetition:
    """A complete repetition of nothing but these slots."""
    return Repetition(
        rep=rep,
        take=1,
        cell=cell,
        start_s=rep * 2.0,
        end_s=rep * 2.0 + 1.0,
        complete=True,
        pause_s=0.0,
        tempo_bpm=100.0,
        notes_per_s=6.67,
        slots=tuple(results),
        extras=(),
        accuracy=1.0,
        clean=True,
        evenness=NOTHING,
    )
