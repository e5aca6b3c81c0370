"""Ordinary practice of several cells by the built-in player, judged by the real session."""

from __future__ import annotations

from dataclasses import replace
from random import Random

from livecheck.core.cell import Cell
from livecheck.core.events import RepDone, Repetition
from livecheck.core.rig import Delay, Rig
from livecheck.player.cells import random_cell
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import Take, perform
from livecheck.session import Session


def practice(seed: int, cells: int = 8, reps: int = 40, **habits: float) -> list[Take]:
    """Takes of one player through one converter; each cell with its own habits of early and late
    slots."""
    rng = Random(f"practice {seed}")
    how = Conversion(
        fixed_ms=rng.uniform(2.0, 6.0), periods=rng.uniform(1.0, 2.4), ghost=0.01, double=0.005
    )
    takes = []
    for _ in range(cells):
        hands = Habits(  # type: ignore[arg-type]
            notes_per_s=rng.uniform(4.5, 9.0), reps=reps, dropped=0.005, **habits
        )
        takes.append(perform(_wide_cell(rng), hands, how, rng))
    return takes


def _wide_cell(rng: Random) -> Cell:
    """Picked, on three or more strings of standard tuning."""
    while True:
        cell = random_cell(rng, least_slots=6, legato=0.0)
        if len(cell.strings) >= 3 and cell.tuning == (64, 59, 55, 50, 45, 40):
            return cell


def judged(take: Take, delay: Delay | None = None) -> list[Repetition]:
    """The take's repetitions, with another delay than its rig's where one is given."""
    rig: Rig = take.rig if delay is None else replace(take.rig, delay=delay)
    return [
        one.repetition
        for one in Session(take.cell, rig).feed_all(take.records)
        if isinstance(one, RepDone)
    ]
