"""Notes beside the cell: what a guitarist plays before, after and in pauses."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from ..core.cell import Cell
from .habits import Habits
from .sounds import Label, Pass, Sound, extra_kind


def noodle_s(habits: Habits, notes: int) -> float:
    """How long so many notes before the first repetition take."""
    return notes / min(max(habits.notes_per_s * 0.6, 2.0), 9.0) + 0.8 if notes else 0.0


def noodling(
    cell: Cell,
    habits: Habits,
    rng: Random,
    passes: list[Pass],
    velocity: Callable[[str, int], int],
) -> list[Sound]:
    """Unrelated notes before, after, and in some pauses between repetitions.

    velocity: how hard a stroke comes on a string.
    """
    noodle = _Noodle(cell, habits, rng, velocity)
    first = min(passes[0].times_s.values())
    if habits.noodle_before:
        noodle.play(
            first - noodle_s(habits, habits.noodle_before),
            habits.noodle_before,
            first - rng.uniform(0.3, 0.9),
        )
    last = max(passes[-1].due_s, max(passes[-1].times_s.values()))
    if habits.noodle_after:
        noodle.play(last + rng.uniform(0.4, 2.0), habits.noodle_after, None)
    for before, after in zip(passes, passes[1:]):
        free_s = min(after.times_s.values()) - before.due_s
        if (
            after.mended
            and not before.broken
            and free_s > 1.5
            and rng.random() < habits.noodle_between
        ):
            noodle.play(before.due_s + 0.45, rng.randint(2, 8), min(after.times_s.values()) - 0.4)
    return noodle.sounds


class _Noodle:
    def __init__(
        self, cell: Cell, habits: Habits, rng: Random, velocity: Callable[[str, int], int]
    ) -> None:
        self.sounds: list[Sound] = []
        self._cell, self._habits, self._rng = cell, habits, rng
        self._velocity = velocity
        self._places = {(slot.string, slot.pitch) for slot in cell.slots}

    def play(self, start_s: float, notes: int, until_s: float | None) -> None:
        """Scale notes with no run of the cell in them."""
        rng, cell = self._rng, self._cell
        step = 1.0 / min(max(self._habits.notes_per_s * rng.uniform(0.5, 1.0), 2.0), 9.0)
        string, fret, t_s = rng.randint(1, len(cell.tuning)), rng.randint(0, 12), start_s
        own_before = False
        for _ in range(notes):
            if until_s is not None and t_s > until_s:
                return
            string = min(max(string + rng.choice((-1, 0, 0, 1)), 1), len(cell.tuning))
            fret = min(max(fret + rng.choice((-3, -2, -1, 1, 2, 3)), 0), 17)
            pitch = cell.tuning[string - 1] + cell.capo + fret
            if not own_before and rng.random() < self._habits.noodle_own:
                slot = rng.choice(cell.slots)
                string, pitch = slot.string, slot.pitch
            own = (string, pitch) in self._places
            if own and own_before:
                pitch += 1
                own = (string, pitch) in self._places
            if not (own and own_before):
                kind = extra_kind(cell, string, None, None)
                length, velocity = (
                    step * rng.uniform(0.5, 1.0),
                    self._velocity(rng.choice(("down", "up")), string),
                )
                self.sounds.append(
                    Sound(
                        t_s,
                        t_s + length,
                        string,
                        pitch,
                        velocity,
                        "noodle",
                        Label(None, None, kind),
                    )
                )
            own_before = own
            t_s += step * rng.choice((1, 1, 1, 2)) * rng.uniform(0.9, 1.1)
