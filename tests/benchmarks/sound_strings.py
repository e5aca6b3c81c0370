"""Simulated crossings in which it is known what happened on each string that was passed over.

Messages go through the real session, so that a passage can also be lost to a wrong verdict. The
kinds overlap: soft strokes, hard brushes, short strokes damped by the next finger, note-offs that
come late by different amounts.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from livecheck.core.cell import Cell
from livecheck.core.events import Midi, RepDone, Repetition
from livecheck.core.pitch import period_s
from livecheck.core.rig import Delay, Rig
from livecheck.measures.noise.crossings import crossings
from livecheck.measures.noise.passed_over import BRUSHED, CUT_OFF, SILENT, STRUCK
from livecheck.player.cells import random_cell
from livecheck.session import Session

FIXED_S, PERIODS = 0.004, 1.6


@dataclass(slots=True)
class Crossed:
    """What was judged, and the truth by (repetition, slot before, string)."""

    reps: list[Repetition]
    truth: dict[tuple[int, int, int], str]


@dataclass(slots=True)
class _Ring:
    on_s: float
    key: int
    velocity: int
    off_s: float
    planned: bool = False


def crossed(seed: int, wide: int = 0) -> Crossed:
    """One take whose crossings pass over strings."""
    rng = Random(f"strings {seed} {wide}")
    cell = _cell(rng)
    step = 1.0 / rng.uniform(4.0, 10.0 + 3.0 * wide)
    off = {
        string: rng.uniform(0.0, 0.025 + 0.01 * wide) for string in range(1, len(cell.tuning) + 1)
    }  # usual lag of a note-off
    chance = {
        BRUSHED: rng.uniform(0.03, 0.2 + 0.03 * wide),
        STRUCK: rng.uniform(0.03, 0.2),
        CUT_OFF: rng.uniform(0.1, 0.4 + 0.1 * wide),
    }
    ring_on = rng.uniform(0.05, 0.35 + 0.15 * wide)
    gain = {string: rng.uniform(0.8, 1.15) for string in off}
    rings: dict[int, list[_Ring]] = {string: [] for string in off}
    truth: dict[tuple[int, int, int], str] = {}
    ways = {way.before: way for way in crossings(cell)}
    reps = rng.randint(20, 40)
    clock = 1.0
    for rep in range(1, reps + 1):
        for slot in cell.slots:
            at = clock + slot.start * step + rng.gauss(0.0, 0.03 * step)
            later = cell.slots[slot.number % len(cell.slots)]
            gap = ((later.start - slot.start - 1) % cell.steps + 1) * step
            velocity = rng.gauss(90 * gain[slot.string], 9)
            own = rings[slot.string]
            _end_before(own, at)
            damp = at + gap * rng.uniform(0.75, 1.0) if later.string != slot.string else at + gap
            own.append(_Ring(at, slot.pitch, _velocity(velocity), damp, planned=True))
            if later.string != slot.string and rng.random() < ring_on:
                own[-1].off_s = at + gap * rng.uniform(2.0, 8.0)
            last = rep == reps and slot.number == len(cell.slots)
            for string in ways[slot.number].over if slot.number in ways and not last else ():
                truth[rep, slot.number, string] = _pass(
                    rng, cell, rings[string], string, at, gap, chance, gain[string]
                )
        clock += cell.steps * step
    records = _send(rng, rings, off)
    rig = Rig(channels=tuple(range(1, len(cell.tuning) + 1)), delay=Delay(1000 * FIXED_S, PERIODS))
    told = [
        one.repetition for one in Session(cell, rig).feed_all(records) if isinstance(one, RepDone)
    ]
    return Crossed(told, truth)


def _cell(rng: Random) -> Cell:
    while True:
        cell = random_cell(rng, least_slots=3, legato=0.0)
        if any(way.over for way in crossings(cell)) and all(
            slot.length == 1 for slot in cell.slots
        ):
            return cell


def _velocity(value: float) -> int:
    return max(13, min(127, round(value)))


def _end_before(own: list[_Ring], at: float) -> None:
    for ring in own:
        ring.off_s = min(ring.off_s, at - 0.001)


def _pass(
    rng: Random,
    cell: Cell,
    own: list[_Ring],
    string: int,
    at: float,
    gap: float,
    chance: dict[str, float],
    gain: float,
) -> str:
    """Let the hand pass over a string and say what happened."""
    when = at + gap * rng.uniform(0.2, 0.9)
    ringing = (
        bool(own) and own[-1].off_s > at + 0.055 and (own[-1].planned or own[-1].on_s < at - 0.12)
    )
    drawn = rng.random()
    if drawn < chance[BRUSHED] + chance[STRUCK]:
        full = drawn >= chance[BRUSHED]
        _end_before(own, when)
        level = rng.lognormvariate(-0.22, 0.28) if full else rng.lognormvariate(-1.25, 0.32)
        length = rng.lognormvariate(-1.9, 0.5) if full else rng.lognormvariate(-3.0, 0.35)
        pitch = cell.tuning[string - 1] + cell.capo + rng.choice((0, 0, 3, 5, 7))
        own.append(_Ring(when, pitch, _velocity(90 * gain * level), when + max(length, 0.028)))
        return STRUCK if full else BRUSHED
    if ringing and rng.random() < chance[CUT_OFF] / (1 - chance[BRUSHED] - chance[STRUCK]):
        cut = max(when, at + 0.055)
        if cut < at + gap and own[-1].off_s > cut:
            own[-1].off_s = cut
            return CUT_OFF
    if ringing and at < own[-1].off_s <= at + gap + 0.02:
        # rings through: a string that dies by itself just here cannot be told
        own[-1].off_s = at + gap + 0.15
    return SILENT


def _send(rng: Random, rings: dict[int, list[_Ring]], off: dict[int, float]) -> list[Midi]:
    records = []
    for string, own in rings.items():
        for ring, later in zip(own, [*own[1:], None]):
            on_s = ring.on_s + FIXED_S + PERIODS * period_s(ring.key) + rng.gauss(0.0, 0.0008)
            off_s = max(on_s + 0.027, ring.off_s + off[string] + rng.uniform(0.0, 0.008))
            if later is not None:
                off_s = min(off_s, later.on_s + FIXED_S + PERIODS * period_s(later.key) - 0.0025)
            records.append(Midi(on_s, bytes((0x90 | string - 1, ring.key, ring.velocity))))
            records.append(Midi(off_s, bytes((0x80 | string - 1, ring.key, 64))))
    return sorted(records)
