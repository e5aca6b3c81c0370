"""A noise gate suggested from what was heard: how soft and short slots' notes and the converter's
ghosts are.

A ghost is a short sound that answers no slot: an artefact, or any extra shorter than ``GHOST_S``
(sources.md C-13). A second trigger of a note and a corrected octave are left out: no gate tells
them from notes. The gate should stop ghosts and must not stop notes; brushed strings are the
player's and are meant to be heard, so they are counted apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from ...core.decode import OCTAVE_ERRORS, OCTAVE_HOLD_S, is_double
from ...core.events import ARTEFACT, HIT, Extra, Note, Repetition
from ...core.rig import Gate

GHOST_S = 0.030
LEAST_NOTES = 50
LEAST_GHOSTS = 5
LOST_WEIGHT = 25.0
"""A stopped note is as bad as so many ghosts that pass, both as shares. No source: a lost note
makes a lost slot."""

LONGEST_S = 0.060  # a gate beyond this would swallow fast notes
SOFTEST = 40
_STEP_S = 0.001


class Heard(NamedTuple):
    """Velocity and length of one sound."""

    velocity: int
    length_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GateAdvice:
    """What was heard and what follows. ``gate`` is None where ``why`` says why; shares are of notes
    and ghosts."""

    notes: tuple[Heard, ...]
    ghosts: tuple[Heard, ...]
    others: tuple[Heard, ...]  # longer unwanted sounds: the player's
    gate: Gate | None = None
    notes_stopped: float | None = None
    ghosts_passed: float | None = None
    others_stopped: float | None = None
    why: str | None = None


def advise_gate(reps: Sequence[Repetition], outside: Sequence[Extra] = ()) -> GateAdvice:
    """The gate that stops most ghosts and next to no notes.

    Best judged with the gate wide open (velocity 1, length 0), or sounds under the gate in force
    are known only as far as they were kept. outside: extras that belong to no repetition.
    """
    notes, ghosts, others = _sorted(reps, outside)
    advice = GateAdvice(notes=notes, ghosts=ghosts, others=others)
    if len(notes) < LEAST_NOTES:
        return _because(advice, f"too few notes ({len(notes)}; {LEAST_NOTES} say something)")
    if len(ghosts) < LEAST_GHOSTS:
        return _because(
            advice,
            f"too few converter faults ({len(ghosts)}; {LEAST_GHOSTS} say something), so the gate "
            "stays as it is",
        )
    velocity, length_s = _best(notes, ghosts, others)
    gate = Gate(velocity, round(1000.0 * length_s, 1))
    return GateAdvice(
        notes=notes,
        ghosts=ghosts,
        others=others,
        gate=gate,
        notes_stopped=_share_under(notes, velocity, length_s),
        ghosts_passed=1.0 - _share_under(ghosts, velocity, length_s),
        others_stopped=_share_under(others, velocity, length_s) if others else None,
    )


def _because(advice: GateAdvice, why: str) -> GateAdvice:
    return GateAdvice(notes=advice.notes, ghosts=advice.ghosts, others=advice.others, why=why)


def _share_under(sounds: Sequence[Heard], velocity: int, length_s: float) -> float:
    return sum(one.velocity < velocity or one.length_s < length_s for one in sounds) / len(sounds)


def _best(
    notes: Sequence[Heard], ghosts: Sequence[Heard], others: Sequence[Heard]
) -> tuple[int, float]:
    """The cheapest pair of limits; where several are equally cheap, one a third of the way from
    ghosts to notes."""
    import numpy as np

    velocities = np.arange(1, SOFTEST + 1)
    lengths_s = np.arange(0.0, LONGEST_S + _STEP_S / 2, _STEP_S)

    def under(sounds: Sequence[Heard]) -> np.ndarray:
        """Share under each pair of limits, (velocities, lengths)."""
        soft = np.array([one.velocity for one in sounds])[None, :] < velocities[:, None]
        short = np.array([one.length_s for one in sounds])[None, :] < lengths_s[:, None] - 1e-9
        kept = (~soft).astype(float) @ (~short).astype(float).T
        return np.asarray(1.0 - kept / len(sounds))

    cost = LOST_WEIGHT * under(notes) + 1.0 - under(ghosts) + (under(others) if others else 0.0)
    cheapest = np.argwhere(cost <= cost.min() + 1e-9)
    wanted = np.quantile(cheapest, 1.0 / 3.0, axis=0)
    row, column = min(
        cheapest.tolist(), key=lambda pair: abs(pair[0] - wanted[0]) + abs(pair[1] - wanted[1])
    )
    return int(velocities[row]), float(lengths_s[column])


# ------------------------------------------------------------------------------------------ sorting


def _sorted(
    reps: Sequence[Repetition], outside: Sequence[Extra]
) -> tuple[tuple[Heard, ...], tuple[Heard, ...], tuple[Heard, ...]]:
    """Notes, ghosts and other sounds; one that has not ended, or came by bend, is left out."""
    slots = [
        one.note for rep in reps for one in rep.slots if one.verdict == HIT and one.note is not None
    ]
    extras = [*(extra for rep in reps for extra in rep.extras), *outside]
    before = _neighbours([*slots, *(extra.note for extra in extras)])
    ghosts: list[Heard] = []
    others: list[Heard] = []
    for extra in extras:
        heard = _heard(extra.note)
        if heard is None or _is_second(extra.note, before.get(id(extra.note))):
            continue
        (ghosts if extra.kind == ARTEFACT or heard.length_s < GHOST_S else others).append(heard)
    notes = tuple(heard for note in slots if (heard := _heard(note)) is not None)
    return notes, tuple(ghosts), tuple(others)


def _heard(note: Note) -> Heard | None:
    if note.end_s is None or note.velocity is None:
        return None
    return Heard(note.velocity, note.end_s - note.onset_s)


def _neighbours(notes: Sequence[Note]) -> dict[int, tuple[Note, Note | None]]:
    """For each note the last one before it and the first one after it on its string."""
    by_string: dict[int, list[Note]] = {}
    for note in sorted(notes, key=lambda note: note.onset_s):
        by_string.setdefault(note.string, []).append(note)
    found: dict[int, tuple[Note, Note | None]] = {}
    for own in by_string.values():
        for at, note in enumerate(own):
            found[id(note)] = (
                own[at - 1] if at else note,
                own[at + 1] if at + 1 < len(own) else None,
            )
    return found


def _is_second(note: Note, around: tuple[Note, Note | None] | None) -> bool:
    """A note triggered twice, or an octave that was put right at once."""
    if around is None:
        return False
    before, after = around
    again = before is not note and is_double(before, note)
    corrected = (
        after is not None
        and note.pitch - after.pitch in OCTAVE_ERRORS
        and after.onset_s - note.onset_s <= OCTAVE_HOLD_S
    )
    return again or corrected
