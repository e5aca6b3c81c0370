"""Where each slot lies against the tempo line, and how hard it is struck, over many repetitions
(measures.md)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from ..core.cell import Cell
from ..core.events import Repetition
from .stats import student_t
from .strokes.attack import HAMMERED, PICKED, Attacks
from .strokes.direction import Directions
from .timing import just_noticeable_ms

LEAST_COUNT = 5
"""Deviations of a slot below which nothing is said of its mean. No source."""


@dataclass(frozen=True, slots=True)
class SlotMean:
    """A slot's mean deviation with its 95 % interval; None where there are too few."""

    slot: int
    count: int
    mean_ms: float | None
    low_ms: float | None
    high_ms: float | None
    noticeable_ms: float
    lean: str | None  # "early" or "late" where the whole interval lies beyond what is just noticed


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotAttack:
    """A slot's mean attack with its 95 % interval (None where there are too few), and how its
    strokes were told."""

    slot: int
    planned: str  # PICKED or HAMMERED
    count: int
    mean: float | None
    low: float | None
    high: float | None
    picked: int
    hammered: int
    chance_picked: float | None = None  # mean over its notes; None where nothing can be said of any

    @property
    def against_plan(self) -> bool:
        """More strokes were told against the plan than with it."""
        with_plan, against = self.picked, self.hammered
        if self.planned == HAMMERED:
            with_plan, against = against, with_plan
        return against > with_plan


def slot_profile(
    reps: Sequence[Repetition], strokes: Sequence[Directions] = ()
) -> tuple[SlotMean, ...]:
    """Each slot's mean deviation_ms over repetitions of one cell, first slot first; empty without
    repetitions.

    strokes: what is told of their directions; what a note's direction makes of its place is taken
    off, so that late up strokes are no late slots.

    The just-noticeable figure is that of the interval before the slot, at the mean tempo of the
    repetitions.
    """
    if not reps:
        return ()
    cell = reps[-1].cell
    owed = {at: late for told in strokes for at, (_, late) in told.owed.items()}
    deviations: dict[int, list[float]] = {slot.number: [] for slot in cell.slots}
    for rep in reps:
        for result in rep.slots:
            if result.deviation_ms is not None:
                own = owed.get((rep.rep, result.slot), 0.0)
                deviations[result.slot].append(result.deviation_ms - own)
    tempos = [rep.tempo_bpm for rep in reps if rep.tempo_bpm is not None]
    step_s = 60.0 * len(tempos) / sum(tempos) / cell.grid if tempos else 0.0
    before = steps_before(cell)
    return tuple(
        _slot_mean(slot.number, deviations[slot.number], just_noticeable_ms(before[index] * step_s))
        for index, slot in enumerate(cell.slots)
    )


def attack_profile(attacks: Attacks) -> tuple[SlotAttack, ...]:
    """Each slot's attack, lowest slot first, by how it was planned. Source: measures.md, attack and
    slot profile."""
    found = []
    for slot, planned in sorted({(one.slot, one.planned) for one in attacks.struck}):
        own = [one for one in attacks.struck if (one.slot, one.planned) == (slot, planned)]
        told = [one.told for one in own]
        mean, low, high = _interval([one.attack for one in own if one.attack is not None])
        chances = [one.chance_picked for one in own if one.chance_picked is not None]
        chance = sum(chances) / len(chances) if chances else None
        found.append(
            SlotAttack(
                slot=slot,
                planned=planned,
                count=len(own),
                mean=mean,
                low=low,
                high=high,
                picked=told.count(PICKED),
                hammered=told.count(HAMMERED),
                chance_picked=chance,
            )
        )
    return tuple(found)


def noticed(rep: Repetition) -> tuple[int, ...]:
    """By how many times what is just noticed each slot of a repetition was early (minus) or late,
    cut to whole times; 0 where nothing is noticed or its place is not known.

    The just-noticeable figure is that of the interval before the slot, at the repetition's tempo.
    """
    if rep.tempo_bpm is None:
        return (0,) * len(rep.slots)
    step_s = 60.0 / rep.tempo_bpm / rep.cell.grid
    return tuple(
        0
        if result.deviation_ms is None
        else int(result.deviation_ms / just_noticeable_ms(before * step_s))
        for result, before in zip(rep.slots, steps_before(rep.cell))
    )


def steps_before(cell: Cell) -> list[int]:
    """Grid steps from the slot before to each slot, the first from the last of the repetition
    before."""
    starts = [slot.start for slot in cell.slots]
    previous = [starts[-1] - cell.steps, *starts[:-1]]
    return [start - last for start, last in zip(starts, previous, strict=True)]


def _interval(values: Sequence[float]) -> tuple[float, float, float] | tuple[None, None, None]:
    """(mean, low, high) with 95 % by Student's t; None below ``LEAST_COUNT`` values."""
    count = len(values)
    if count < LEAST_COUNT:
        return None, None, None
    mean = sum(values) / count
    half = student_t(count - 1.0) * sqrt(
        sum((value - mean) ** 2 for value in values) / (count - 1) / count
    )
    return mean, mean - half, mean + half


def _slot_mean(slot: int, deviations: Sequence[float], noticeable_ms: float) -> SlotMean:
    mean, low, high = _interval(deviations)
    if low is None or high is None:
        return SlotMean(slot, len(deviations), None, None, None, noticeable_ms, None)
    lean = "early" if high < -noticeable_ms else "late" if low > noticeable_ms else None
    return SlotMean(slot, len(deviations), mean, low, high, noticeable_ms, lean)
