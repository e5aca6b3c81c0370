"""Whole takes: a cell, a guitarist and a converter, their messages, and the truth about every
note."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from random import Random

from ..core.cell import Cell
from ..core.events import Midi
from ..core.pitch import period_s
from ..core.rig import Delay, Gate, Rig
from .cells import random_cell
from .converter import convert
from .guitarist import Performance, play
from .habits import Conversion, Habits
from .mixes import MIXES, draw
from .truth import Truth, tell
from .wire import send

__all__ = ["MIXES", "Take", "make_take", "perform", "rig_for", "take_of", "write_take"]


@dataclass(frozen=True, slots=True)
class Take:
    """Records as they reach the computer, what they were played on and through, and what is true of
    them."""

    records: list[Midi]
    cell: Cell
    rig: Rig
    truth: Truth
    habits: Habits
    conversion: Conversion


def make_take(seed: int, mix: str = "everything", *, wide: bool = False) -> Take:
    """A take of a named mix (``MIXES``) on a cell that is drawn. The same seed, mix and width
    always give the same take."""
    rng = Random(f"{mix} {seed} {'wide' if wide else 'usual'}")
    habits, how, wishes = draw(mix, rng, wide)
    cell = random_cell(rng, **wishes)  # type: ignore[arg-type]
    gate = Gate()
    if rng.random() < 0.2:
        gate = Gate(rng.randint(6, 18), rng.uniform(15.0, 28.0))
    return perform(cell, habits, how, rng, gate=gate, exact_rig=not wide and rng.random() < 0.5)


def perform(
    cell: Cell,
    habits: Habits,
    how: Conversion,
    rng: Random,
    *,
    gate: Gate | None = None,
    exact_rig: bool = True,
) -> Take:
    """Play a cell with given habits through a given converter."""
    rig = _rig(cell, how, gate or Gate(), rng, exact_rig)
    return take_of(cell, rig, habits, how, play(cell, habits, rng, rig.gate), rng)


def take_of(
    cell: Cell, rig: Rig, habits: Habits, how: Conversion, performance: Performance, rng: Random
) -> Take:
    """A performance through a converter, with its truth."""
    messages = send(
        convert(cell, performance.sounds, how, rng, rig.gate), how, len(cell.tuning), rng
    )
    truth = tell(cell, rig, how, performance.passes, messages)
    return Take(
        [Midi(message.ready_s, message.data) for message in messages], cell, rig, truth, habits, how
    )


def rig_for(cell: Cell, how: Conversion, gate: Gate | None = None) -> Rig:
    """The rig that describes a converter rightly."""
    channels = tuple(range(how.first_channel, how.first_channel + len(cell.tuning)))
    delay = Delay(how.fixed_ms, how.periods)
    return Rig(
        "built-in player",
        channels=channels,
        bend_range=float(how.bend_range),
        delay=delay,
        gate=gate or Gate(),
    )


def _rig(cell: Cell, how: Conversion, gate: Gate, rng: Random, exact: bool) -> Rig:
    """The rig as its owner believes it to be: right, a little wrong, or with a constant for each
    string."""
    drawn = rng.random()
    fixed_ms, periods = how.fixed_ms, how.periods
    if not exact and drawn < 0.75:
        fixed_ms = max(0.0, fixed_ms + rng.uniform(-2.0, 2.0))
        periods = periods * rng.uniform(0.85, 1.15)
    delay = Delay(fixed_ms, periods)
    if not exact and drawn >= 0.75:
        middle = sum(slot.fret for slot in cell.slots) / len(cell.slots) + cell.capo
        delay = Delay(
            per_string_ms=tuple(
                round(fixed_ms + periods * 1000 * period_s(pitch + middle), 1)
                for pitch in cell.tuning
            )
        )
    if not exact and drawn < 0.08:
        delay = Delay()  # never measured
    bend_range = float(how.bend_range if not how.sends_rpn else rng.choice((how.bend_range, 12, 2)))
    return replace(rig_for(cell, how, gate), bend_range=bend_range, delay=delay)


def write_take(take: Take, folder: Path) -> None:
    """Write ``take.mid``, ``cell.yaml``, ``rig.yaml`` and ``truth.json`` into a folder, which is
    made if need be."""
    from ..files.config import dump_cell, dump_rig
    from ..files.midifile import write_midi

    folder.mkdir(parents=True, exist_ok=True)
    write_midi(folder / "take.mid", take.records)
    (folder / "cell.yaml").write_text(dump_cell(take.cell), encoding="utf-8")
    (folder / "rig.yaml").write_text(dump_rig(take.rig), encoding="utf-8")
    truth = {
        "format": "livecheck-truth/1",
        "notes": [asdict(note) for note in take.truth.notes],
        "reps": [
            {**asdict(rep), "unsure_slots": sorted(rep.unsure_slots)} for rep in take.truth.reps
        ],
    }
    (folder / "truth.json").write_text(json.dumps(truth, indent=1), encoding="utf-8")
