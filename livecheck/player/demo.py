"""A practice hour in a minute: the scenario that ``livecheck demo`` plays.

Warm-up well below tempo, then steps upward with faults growing as they do; a stumble and a fresh
start on the way, and a last quiet round. The cell is one of our own unless another is given.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import ceil
from pathlib import Path
from random import Random

from ..core.cell import Cell, make_cell
from ..core.events import Midi
from ..core.rig import Rig
from .guitarist import Performance, play
from .habits import Conversion, Habits
from .takes import Take, rig_for, take_of

_CONVERTER = Conversion(
    ghost=0.02,
    double=0.012,
    octave_corrected=0.006,
    bend_legato=0.5,
    jitter_ms=0.6,
    sensing=True,
    vibrato=0.2,
)
_STEPS: tuple[tuple[float, float, float, str], ...] = (
    # share of the time, tempo as a share of the cell's, faults as a share of the worst, what
    # happens
    (0.18, 0.75, 0.05, "warm up"),
    (0.16, 0.90, 0.10, ""),
    (0.16, 1.00, 0.20, "stumble"),
    (0.14, 1.15, 0.35, ""),
    (0.14, 1.30, 0.60, "break off"),
    (0.12, 1.45, 1.00, "break off"),
    (0.10, 0.95, 0.10, ""),
)
_PAUSE_S = 1.2  # between two steps
_START_S = 0.8
LONGEST_ROUND_S = 120.0
"""To make a take so long takes a tenth of a second, to make a longer one its square."""


CELL: Cell = make_cell(
    "seven across a skip",
    [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 10), (3, 12)],
    tempo_bpm=100.0,
    quiet=[4],
)
"""The figure that the demo plays when none is given: of an odd number of notes, so that the picking
turns round."""


def demo_rig(cell: Cell) -> Rig:
    """The rig that describes the demo's converter."""
    return rig_for(cell, _CONVERTER)


def feed_command(
    seconds: float,
    seed: int = 1,
    speed: float = 1.0,
    cell: Path | None = None,
    variant: str | None = None,
) -> list[str]:
    """The command that plays the scenario in real time, in the place of a MIDI input
    (``feed.py``)."""
    asked = ["--seconds", f"{seconds:g}", "--seed", str(seed), "--speed", f"{speed:g}"]
    asked += [f"--cell={cell}"] if cell is not None else []
    asked += [f"--variant={variant}"] if variant is not None else []
    return [sys.executable, "-m", "livecheck.player.feed", *asked]


def demo_take(cell: Cell | None = None, seconds: float = 60.0, seed: int = 1) -> Take:
    """The scenario as a take of about so many seconds, with its truth. The same arguments give the
    same take."""
    cell = cell or CELL
    rng = Random(f"demo {seed}")
    whole = Performance([], [])
    bpm = cell.tempo_bpm or 100.0
    clock = _START_S
    steps = _STEPS if seconds >= 25.0 else _STEPS[::3] if seconds >= 10.0 else _STEPS[2:3]
    total = sum(step[0] for step in steps)
    for share, tempo, faults, event in steps:
        until = clock + share / total * max(2.0, seconds - _START_S)
        notes_per_s = min(max(bpm * tempo / 60.0 * cell.grid, 2.5), 20.0)
        reps = max(1, int((until - clock - _PAUSE_S) * notes_per_s / cell.steps))
        habits = _habits(notes_per_s, reps, faults, event)
        _append(whole, play(cell, habits, rng, start_s=clock))
        last = whole.passes[-1]
        clock = max(last.due_s, max(last.times_s.values())) + _PAUSE_S
    return take_of(
        cell, demo_rig(cell), _habits(bpm / 60.0 * cell.grid, 1, 0.0, ""), _CONVERTER, whole, rng
    )


def demo_rounds(
    cell: Cell | None = None, seconds: float = 60.0, seed: int = 1
) -> Iterator[Sequence[Midi]]:
    """What the demo plays in about so many seconds, however many: a long one goes through the
    scenario again and again, each time another take, which is made when the one before is over."""
    count = max(1, ceil(seconds / LONGEST_ROUND_S))
    for number in range(count):
        yield demo_take(cell, seconds / count, seed + number).records


def _habits(notes_per_s: float, reps: int, faults: float, event: str) -> Habits:
    return Habits(
        notes_per_s=notes_per_s,
        reps=reps,
        scatter_pct=2.0 + 1.5 * faults,
        gallop_pct=1.0 + 2.0 * faults,
        up_softer=0.2,
        dropped=0.05 * faults,
        wrong_fret=0.02 * faults,
        misplaced=0.01 * faults,
        soft=0.04 * faults,
        clipped=0.30 * faults,
        brushed=0.03 * faults,
        stumble=0.3 if event == "stumble" else 0.0,
        break_off=0.2 if event == "break off" else 0.0,
        break_pause=0.7,
        break_earlier=0.0,
    )


def _append(whole: Performance, part: Performance) -> None:
    """Add a later performance; its repetitions count on."""
    by = len(whole.passes)
    for this in part.passes:
        this.rep += by
    for sound in part.sounds:
        label = sound.label
        if label.rep is not None:
            sound = replace(sound, label=label._replace(rep=label.rep + by))
        whole.sounds.append(sound)
    whole.passes += part.passes
