"""Repetitions built note by note, for tests of what they sounded like."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from livecheck.core.cell import Cell
from livecheck.core.events import HIT, MISSED, NOISE, Evenness, Extra, Note, Repetition, SlotResult

NOTHING = Evenness(None, None, None, None)


def note(
    onset_s: float,
    string: int,
    pitch: int,
    velocity: int | None = 80,
    length_s: float | None = 0.1,
    by: str = "note",
) -> Note:
    """One note; ``length_s`` None: it has not ended yet."""
    end_s = None if length_s is None else onset_s + length_s
    return Note(onset_s, string, pitch, pitch, velocity, by=by, end_s=end_s)


def repetition(
    cell: Cell,
    rep: int = 1,
    *,
    start_s: float = 0.0,
    step_s: float = 0.125,
    velocities: Sequence[int | None] | None = None,
    late_ms: Sequence[float] | None = None,
    lengths_s: Mapping[int, float | None] | None = None,
    missing: Sequence[int] = (),
    extras: Sequence[Note] = (),
    kind: str = NOISE,
    delay_s: Mapping[int, float] | None = None,
    upto: int | None = None,
) -> Repetition:
    """A repetition on the grid; without a velocity a slot came by bend. ``upto``: broken off behind
    this slot.

    delay_s: by string, added to the onsets and not taken off again.
    """
    results = []
    for slot in cell.slots[:upto]:
        at = slot.number - 1
        onset = start_s + slot.start * step_s + (late_ms[at] / 1000.0 if late_ms else 0.0)
        onset += (delay_s or {}).get(slot.string, 0.0)
        if slot.number in missing:
            results.append(SlotResult(slot.number, MISSED, None, onset, None))
            continue
        velocity = velocities[at] if velocities else 80
        length = (lengths_s or {}).get(slot.number, 0.9 * step_s)
        sounded = note(
            onset, slot.string, slot.pitch, velocity, length, "bend" if velocity is None else "note"
        )
        results.append(
            SlotResult(slot.number, HIT, sounded, onset, late_ms[at] if late_ms else 0.0)
        )
    return Repetition(
        rep=rep,
        take=1,
        cell=cell,
        start_s=start_s,
        end_s=start_s + cell.steps * step_s,
        complete=upto is None,
        pause_s=0.0,
        tempo_bpm=60.0 / (step_s * cell.grid),
        notes_per_s=1.0 / step_s,
        slots=tuple(results),
        extras=tuple(Extra(one, kind) for one in extras),
        accuracy=1.0,
        clean=not extras,
        evenness=NOTHING,
    )
