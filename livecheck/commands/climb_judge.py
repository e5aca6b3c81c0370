"""What was heard of a block: its records judged by themselves, as soon as it is over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from statistics import median

from ..core.cell import Cell
from ..core.click import beats_of
from ..core.climb import Heard
from ..core.events import MISSED, NOISE, WRONG, Midi, RepDone, Repetition
from ..core.rig import Rig
from ..session import Session


def heard_in(
    cell: Cell,
    rig: Rig | None,
    before: Iterable[bytes],
    messages: Sequence[Midi],
    bpm: float,
    reps: int,
    from_s: float,
) -> Heard:
    """What was heard of a block that begins at ``from_s``. before: the settings and bends in force.

    messages: from its count-in on, in order.
    """
    if not messages:
        return Heard(0, 0)
    session = Session(cell, rig)
    begun_s = messages[0].t_s
    outcomes = session.feed_all([*(Midi(begun_s, data) for data in before), *messages])
    found = [one.repetition for one in outcomes if isinstance(one, RepDone)]
    own = in_block(found, cell, bpm, reps, from_s)
    return _heard(own, cell, bpm, reps, from_s)


def in_block(
    repetitions: Iterable[Repetition], cell: Cell, bpm: float, reps: int, from_s: float
) -> list[Repetition]:
    """Those that belong to a block: begun near its first beat or later, and not near its end."""
    length_s = beats_of(cell, 1) * 60.0 / bpm
    first_s, last_s = from_s - length_s / 2.0, from_s + (reps - 0.5) * length_s
    return [one for one in repetitions if first_s <= one.start_s < last_s]


def clean_in(own: Sequence[Repetition], reps: int) -> int:
    """How many repetitions of a block were clean."""
    return min(sum(one.clean for one in own), reps)


def _heard(own: Sequence[Repetition], cell: Cell, bpm: float, reps: int, from_s: float) -> Heard:
    if not own:
        return Heard(0, 0)
    length_s = beats_of(cell, 1) * 60.0 / bpm
    until_s = from_s + reps * length_s
    failed: Counter[int] = Counter()
    noise: Counter[int] = Counter()
    lags, tempos = [], []
    for one in own:
        failed.update(slot.slot for slot in one.slots if slot.verdict in (MISSED, WRONG))
        noise.update({extra.note.string for extra in one.extras if extra.kind == NOISE})
        if one.slots and one.slots[0].note is not None:
            onset_s = one.slots[0].note.onset_s
            due_s = from_s + round((onset_s - from_s) / length_s) * length_s
            lags.append(onset_s - due_s)
        if one.tempo_bpm is not None:
            tempos.append(one.tempo_bpm)
    end = own[-1]
    last = (
        end.start_s > until_s - 1.5 * length_s
        and len(end.slots) == len(cell.slots)
        and end.slots[-1].note is not None
    )
    return Heard(
        min(len(own), reps),
        clean_in(own, reps),
        last,
        round(1e9 * median(lags[-3:])) if lags else None,
        median(tempos) if tempos else None,
        failed,
        noise,
    )
