"""Climbs of the built-in player with a known truth: at each tempo each repetition fails with a
known chance.

The faults are planted in what is played, before conversion: what a review finds has gone through
messages, decoding and matching. Whether a repetition was spoilt is drawn with a luck that its take
shares.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import exp, log
from random import Random

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Midi, Record, Stop, UseCells, UseRig
from livecheck.core.rig import Gate, Rig
from livecheck.player.converter import convert
from livecheck.player.guitarist import play
from livecheck.player.habits import Conversion, Habits
from livecheck.player.sounds import Sound
from livecheck.player.takes import rig_for
from livecheck.player.wire import send

CELL: Cell = make_cell(
    "six across a skip",
    [
        (2, 13, "down"),
        (2, 10, "up"),
        (3, 12, "down"),
        (3, 10, "up"),
        (5, 12, "down"),
        (5, 10, "pull", 2),
        1,
    ],
    tempo_bpm=100.0,
    quiet=[4],
)
CONVERTER = Conversion(ghost=0.01, jitter_ms=0.6, sends_rpn=True)
RIG: Rig = rig_for(CELL, CONVERTER)
PAUSE_S = 6.0  # longer than the cell and two seconds: another take


@dataclass(frozen=True, slots=True)
class Climb:
    """Messages, and what was planted: per take its tempo, repetitions, and how many were left
    unspoilt."""

    records: list[Midi]
    takes: list[tuple[float, int, int]]

    def session(self, cell: Cell = CELL, rig: Rig = RIG) -> list[Record]:
        """What a session that records the climb holds."""
        end_s = self.records[-1].t_s + 0.5
        return [
            UseRig(0.0, rig),
            UseCells(0.0, (cell,)),
            *self.records,
            Stop(end_s, "the climb is over"),
        ]


def falling(break_bpm: float, width_bpm: float) -> Callable[[float], float]:
    """Chance that a repetition is left unspoilt: one half at the break."""
    return lambda bpm: 1.0 / (1.0 + exp((bpm - break_bpm) / width_bpm))


def climb(
    rng: Random,
    tempos: Sequence[float],
    reps: int,
    chance: Callable[[float], float],
    slot: int = 3,
    fault: str = "missed",
    luck: float = 0.4,
    cell: Cell = CELL,
    start_s: float = 1.0,
) -> Climb:
    """A take of so many repetitions at each tempo. A spoilt repetition misses the slot, or sounds a
    fret beside it (``wrong``), or a quiet string sounds after it (``noise``).
    """
    sounds: list[Sound] = []
    takes, clock = [], start_s
    for bpm in tempos:
        habits = Habits(
            notes_per_s=bpm / 60.0 * cell.grid, reps=reps, timekeeper=0.3, walk_pct=0.05
        )
        played = play(cell, habits, rng, start_s=clock)
        p = min(max(chance(bpm), 1e-9), 1 - 1e-9)
        odds = log(p / (1.0 - p)) + rng.gauss(0.0, luck)
        spoilt = {this.rep for this in played.passes if rng.random() > 1.0 / (1.0 + exp(-odds))}
        sounds += _with_faults(cell, played.sounds, spoilt, slot, fault, rng)
        takes.append((bpm, reps, reps - len(spoilt)))
        last = played.passes[-1]
        clock = max(last.due_s, max(last.times_s.values())) + PAUSE_S
    messages = send(convert(cell, sounds, CONVERTER, rng, Gate()), CONVERTER, len(cell.tuning), rng)
    return Climb([Midi(message.ready_s, message.data) for message in messages], takes)


def _with_faults(
    cell: Cell, sounds: Sequence[Sound], spoilt: set[int], slot: int, fault: str, rng: Random
) -> list[Sound]:
    out: list[Sound] = []
    for sound in sounds:
        if sound.label.rep not in spoilt or sound.label.slot != slot:
            out.append(sound)
        elif fault == "wrong":
            out.append(replace(sound, pitch=sound.pitch + rng.choice((-1, 1, 2))))
        elif fault == "noise":
            at = sound.t_s + 0.4 * (sound.end_s - sound.t_s)
            string = cell.quiet[0]
            rung = replace(
                sound, t_s=at, end_s=at + 0.06, string=string, velocity=48, stroke="brush"
            )
            out += [sound, replace(rung, pitch=cell.tuning[string - 1] + cell.capo)]
    return sorted(out, key=lambda sound: sound.t_s)
