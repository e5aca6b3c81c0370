"""Players with habits of direction, whole practices of theirs, and tables of counts with both
beginnings, each with its truth."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
from ladders import highest_at, marginal, table
from stroke_practice import Practice, falling, practice

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import RepDone, Repetition
from livecheck.measures.review.table import Tries
from livecheck.measures.stats import logit, sigmoid
from livecheck.player.cells import random_cell
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import Take, perform
from livecheck.session import Session

KINDS = ("loud", "late", "both", "none")


def player(seed: int, kind: str | None = None, softer: float | None = None) -> Take:
    """A take of 16 to 80 repetitions of a random cell of 3 to 9 notes.

    Up strokes are softer by 10 to 35 %, or later by 2 to 9 ms, or both, or neither; restarts in
    none, an eighth or a quarter of the repetitions, breaks, holes and wrong notes, accents of up to
    15 %, a seam otherwise than planned, single strokes repeated, a beginning the other way round,
    and in a fifth a note that is hammered though it is planned to be picked.
    """
    rng = Random(f"direction {seed}")
    kind = kind or rng.choice(KINDS)
    cell = random_cell(rng, least_slots=3, most_slots=9, legato=0.1)
    habits = Habits(
        notes_per_s=rng.uniform(5.0, 12.0),
        reps=rng.choice((16, 30, 50, 80)),
        scatter_pct=rng.uniform(1.5, 3.5),
        timekeeper=rng.uniform(0.2, 1.0),
        walk_pct=rng.uniform(0.05, 0.3),
        gallop_pct=rng.uniform(0.0, 2.5),
        up_softer=rng.uniform(0.10, 0.35) if kind in ("loud", "both") else 0.0,
        up_late_ms=rng.uniform(2.0, 9.0) if kind in ("late", "both") else 0.0,
        accent=rng.choice((0.0, 0.05, 0.1, 0.15)),
        wait=rng.choice((0.0, 0.125, 0.25)),
        break_off=rng.choice((0.0, 0.0, 0.1)),
        dropped=rng.choice((0.0, 0.02, 0.05)),
        wrong_fret=rng.choice((0.0, 0.01)),
        seam=rng.choice(("plan", "alternate", "repeat")),
        seam_other=rng.choice((0.0, 0.0, 0.0, 0.125)),
        restart_turned=rng.choice((0.0, 0.0, 0.1)),
        stroke_repeated=rng.choice((0.0, 0.0, 0.01)),
    )
    able = [slot.number for slot in cell.slots[1:] if slot.picked]
    if rng.random() < 0.2 and able:
        slot, share = rng.choice(able), rng.choice((1.0, 0.95))
        habits = replace(habits, hammered_slot=slot, hammered=share)
    if rng.random() < 0.1:
        habits = replace(habits, restart_turned=0.9)
    if softer is not None:
        habits = replace(habits, up_softer=softer, hammered=0.0)
    how = Conversion(ghost=0.005, jitter_ms=rng.uniform(0.2, 1.0), periods=rng.uniform(1.2, 2.2))
    return perform(cell, habits, how, rng, exact_rig=rng.random() < 0.6)


def judged(take: Take) -> list[Repetition]:
    """The take's repetitions."""
    outcomes = Session(take.cell, take.rig).feed_all(take.records)
    return [one.repetition for one in outcomes if isinstance(one, RepDone)]


def true_strokes(take: Take) -> dict[float, str]:
    """The stroke of each slot's note, by its arrival."""
    return {note.onset_s: note.stroke for note in take.truth.notes if note.stroke is not None}


def seam_played(habits: Habits, cell: Cell) -> str | None:
    """Which plan a take's seams followed; None where both are the same, or it was in between."""
    picked = [slot for slot in cell.slots if slot.picked and slot.number != habits.hammered_slot]
    if habits.hammered_slot == 0:
        picked = [slot for slot in cell.slots if slot.picked]
    if len(picked) % 2 == 0 or habits.seam_other or habits.stroke_repeated:
        return None
    if habits.seam != "plan":
        return habits.seam
    return "alternate" if cell.picking == "alternate" and cell.written[0] is None else "repeat"


# ------------------------------------------------------------------------------ counts and practice


def counts(seed: int, alike: bool = False) -> tuple[Tries, float, list[float | None]]:
    """A ladder as counts: the table, the true difference of the clean shares (weighted as it is
    told), and both breaks.

    8 to 15 tempos, one to three takes a tempo with a luck of 0.2 to 0.6 in log odds, 20 to 43
    repetitions a tempo, restarts in none, an eighth or a quarter.
    """
    rng = np.random.default_rng(seed)
    low = rng.uniform(70, 100)
    high = low * rng.uniform(1.6, 2.2)
    tempos = np.geomspace(low, high, int(rng.integers(8, 16)))
    middles = low + (high - low) * rng.uniform(0.35, 0.8, 2)
    middles[1] = middles[0] if alike else middles[1]
    widths = np.full(2, middles[0] * 0.04) if alike else middles * rng.uniform(0.02, 0.06)
    lapse, luck = rng.uniform(0, 0.05), float(rng.choice([0.2, 0.4, 0.6]))
    restart, parts = rng.choice([0, 0.125, 0.25]), int(rng.integers(1, 4))
    reps = int(rng.integers(20, 44))

    def chance(begun: int):
        return lambda bpm: (1 - lapse) * sigmoid((middles[begun] - bpm) / widths[begun])

    rows, take = [], 0
    for bpm in tempos:
        for _ in range(parts):
            moved, begun, n, k = rng.normal(0, luck), 0, [0, 0], [0, 0]
            for rep in range(max(reps // parts, 4)):
                begun = 0 if rep and rng.random() < restart else begun
                p = np.clip(chance(begun)(bpm), 1e-9, 1 - 1e-9)
                n[begun] += 1
                k[begun] += int(rng.random() < sigmoid(logit(p) + moved))
                begun = 1 - begun
            rows += [(take, bpm, n[i], k[i], i + 1) for i in (0, 1) if n[i]]
            take += 1
    takes, bpm, n, clean, begun = map(np.array, zip(*rows))
    tried = [
        np.array([n[np.isclose(bpm, at) & (begun == i)].sum() for at in tempos], float)
        for i in (1, 2)
    ]
    weight = tried[0] * tried[1] / np.maximum(tried[0] + tried[1], 1.0)
    true = [marginal(chance(i), luck, tempos) for i in (0, 1)]
    fine = np.linspace(low - 30, high + 60, 3000)
    breaks = [highest_at(marginal(chance(i), luck, fine), fine, 0.5) for i in (0, 1)]
    difference = float(weight @ (true[0] - true[1]) / weight.sum())
    return table(takes, bpm, n, clean, begun=begun), difference, breaks


CELLS = (
    make_cell("five", [(2, 13), (2, 10), (3, 12), (5, 10), (5, 9)], quiet=[1, 4, 6]),
    make_cell(
        "seven", [(1, 12), (2, 13), (2, 10), (4, 12), (4, 9), (2, 10), (2, 12)], quiet=[3, 5, 6]
    ),
    make_cell("three", [(2, 13), (4, 10), (4, 12)], quiet=[1, 3, 5, 6]),
)


def practised(
    seed: int, planted: bool
) -> tuple[Cell, Practice, tuple[int, int, str] | None, list[float]]:
    """A practice through messages: breaks of both beginnings, and where asked a string that is
    brushed at one note when that is an up stroke (else in both directions alike)."""
    rng = Random(f"practised {seed}")
    cell = rng.choice(CELLS)
    tempos = [float(bpm) for bpm in np.geomspace(85, 200, rng.randint(8, 12))]
    breaks = [rng.uniform(125, 175) for _ in range(2)]
    if rng.random() < 0.4:
        breaks[1] = breaks[0]
    chance = dict(zip(("down", "up"), (falling(middle, middle * 0.04) for middle in breaks)))
    habits = Habits(
        up_softer=rng.uniform(0.12, 0.35),
        up_late_ms=rng.choice((0.0, 3.0, 6.0)),
        wait=rng.choice((0.0, 0.125, 0.25)),
        gallop_pct=rng.uniform(0.0, 2.0),
        accent=rng.choice((0.0, 0.08)),
        brushed=0.0 if planted else 0.02,
    )
    slot = next(
        slot.number
        for slot, ahead in zip(cell.slots, cell.slots[1:])
        if abs(slot.string - ahead.string) > 1
    )
    string = (cell.slots[slot - 1].string + cell.slots[slot].string) // 2
    noise = (string, slot, "up") if planted else None
    done = practice(
        rng, cell, tempos, rng.randint(20, 30), chance, habits, noise_at=noise,
        noise_chance=rng.uniform(0.2, 0.4),
    )  # fmt: skip
    return cell, done, noise, breaks
