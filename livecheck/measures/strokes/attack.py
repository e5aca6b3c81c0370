"""How hard each slot was struck, and whether it was picked or hammered.

*Attack* is measures.md's: velocity over the string's usual, over the repetition's usual. Picked and
hammered (any slot that sounds without the pick: hammer, pull, slide, tap) are told apart by two
levels learned from the sitting itself. The plan is only where the search begins: a slot that the
plan calls picked and that comes at the other level, note after note, is told as hammered.

The model of velocity is ``velocity_levels.py``. Onset lateness helps where, within slots, the
softer notes come later or earlier; a slot that is always late says nothing. A note that came by
bend alone had no stroke. Where the velocities show no two levels, because the converter evens them
out or because nothing was hammered, nothing is told.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from ...core.events import HIT, Repetition
from ...core.picking import strokes_of
from ..stats import sigmoid
from .direction import Directions, by_way, read_directions
from .velocity_levels import Notes, two_levels

if TYPE_CHECKING:
    import numpy as np

PICKED, HAMMERED = "picked", "hammered"

TOLD = 0.9
"""A note is told when one kind is this probable; between there it cannot be said."""

# share of its log odds that a fitted model is trusted with: chosen on simulated sittings
_TRUST = 0.85
_WILD = 0.004  # nothing is more certain than this
_BY_BEND = 0.02  # chance that a note which came as a bend alone had a stroke all the same

LEAST_NOTES = 12
LEAST_APART = 1.3
"""Distance of the two levels in scatters below which nothing is told by velocity."""
LEAST_GAIN, LEAST_GAIN_UNPLANNED = -1.0, 2.0
"""Nats by which two levels must explain the velocities better than one. Where the plan has both
kinds they are likely beforehand, and one slot that always comes softer may be a little less well
explained by them than by its accent."""


LEAST_DROP_UNPLANNED = 0.18
"""Log velocity by which notes have to come softer that are called hammered where none is planned to
be: strokes that scatter evenly within their limits look like two levels a tenth apart (from
simulated sittings; hammered notes there come softer by a quarter and more)."""


class Struck(NamedTuple):
    """How one hit slot was struck."""

    rep: int
    slot: int
    planned: str  # PICKED or HAMMERED
    attack: float | None  # None for a bend, which has no velocity
    chance_picked: float | None  # None where it cannot be said
    told: str | None  # PICKED, HAMMERED or None

    @property
    def against_plan(self) -> bool:
        return self.told is not None and self.told != self.planned


@dataclass(frozen=True, slots=True)
class Attacks:
    """What the velocities of a sitting say. ``why`` is None, or why nothing can be told by
    velocity."""

    struck: tuple[Struck, ...]
    apart: float | None  # distance of the two levels in scatters
    why: str | None

    def against_plan(self, rep: int) -> tuple[Struck, ...]:
        """The slots of a repetition that were told to be played otherwise than planned."""
        return tuple(one for one in self.struck if one.rep == rep and one.against_plan)


def usual_velocities(reps: Sequence[Repetition]) -> dict[int, float]:
    """The median velocity of each string's hit slots. Source: measures.md, attack."""
    velocities: dict[int, list[int]] = {}
    for rep in reps:
        for result in rep.slots:
            if result.verdict == HIT and result.note is not None and result.note.velocity:
                velocities.setdefault(result.note.string, []).append(result.note.velocity)
    return {string: float(median(values)) for string, values in velocities.items()}


def relative_attacks(
    rep: Repetition, usual: dict[int, float], owed: Mapping[int, tuple[float, float]] | None = None
) -> dict[int, float]:
    """Attack of each hit slot: velocity over its string's usual one, over the repetition's median
    of that.

    usual: ``usual_velocities`` of the sitting; owed: by slot, what its log velocity (and its onset
    in ms) owes to the direction of its stroke, taken off where it is told. Source: measures.md,
    attack.
    """
    owed = owed or {}
    over_string = {
        result.slot: result.note.velocity
        / math.exp(owed.get(result.slot, (0.0, 0.0))[0])
        / usual[result.note.string]
        for result in rep.slots
        if result.verdict == HIT
        and result.note is not None
        and result.note.velocity
        and result.note.string in usual
    }
    middle = median(over_string.values()) if over_string else 1.0
    return {slot: value / middle for slot, value in over_string.items()}


def read_attacks(
    reps: Sequence[Repetition], strokes: Sequence[Directions] | None = None
) -> Attacks:
    """Picked or hammered for every hit slot of one sitting's repetitions of a cell (its variants
    may change).

    strokes: the directions told of them, each way to play it by itself; worked out where left out.
    """
    usual = usual_velocities(reps)
    notes = [
        _Heard(rep, result.slot, strokes, relative.get(result.slot))
        for rep in reps
        for relative in [relative_attacks(rep, usual)]
        for strokes in [strokes_of(rep.cell, rep.since_start)]
        for result in rep.slots
        if result.verdict == HIT and result.note is not None and result.slot <= len(rep.cell.slots)
    ]
    loud = [one for one in notes if one.velocity]
    why = _too_little(loud)
    if not why and strokes is None:
        strokes = [read_directions(own) for own in by_way(reps)]
    fitted = None if why else _fit(loud, _softer(loud, strokes or ()))
    if fitted is not None and not fitted.tells:
        why = "the velocities show no two levels"
    chances = (
        dict(zip(map(id, loud), fitted.chances)) if fitted is not None and fitted.tells else {}
    )
    struck = []
    for one in notes:
        chance = chances.get(id(one)) if one.velocity else _BY_BEND
        struck.append(Struck(one.rep, one.slot, one.planned, one.attack, chance, _told(chance)))
    return Attacks(tuple(struck), fitted.apart if fitted is not None else None, why)


def _told(chance: float | None) -> str | None:
    if chance is None or 1.0 - TOLD < chance < TOLD:
        return None
    return PICKED if chance >= TOLD else HAMMERED


def _too_little(loud: Sequence[_Heard]) -> str | None:
    if len(loud) < LEAST_NOTES:
        return f"too few notes ({len(loud)})"
    if len({one.velocity for one in loud}) < 2:
        return "the converter gives every note the same velocity"
    return None


class _Heard:
    """One hit slot as the model sees it."""

    __slots__ = (
        "attack",
        "deviation_ms",
        "key",
        "planned",
        "rep",
        "slot",
        "string",
        "up",
        "velocity",
    )

    def __init__(
        self, rep: Repetition, slot: int, strokes: Sequence[str], attack: float | None
    ) -> None:
        result = rep.slots[slot - 1]
        assert result.note is not None
        self.rep = rep.rep
        self.slot = slot
        self.planned = PICKED if rep.cell.slots[slot - 1].picked else HAMMERED
        self.up = strokes[slot - 1] == "up"
        self.key = (slot, self.planned)
        self.string = result.note.string
        self.velocity = result.note.velocity
        self.deviation_ms = result.deviation_ms
        self.attack = attack


class _Fitted(NamedTuple):
    chances: list[float]
    apart: float
    tells: bool


def _softer(notes: Sequence[_Heard], strokes: Sequence[Directions]) -> np.ndarray:
    """Of each note, by how much its log velocity lies off the middle of both directions for its
    direction alone; NaN where directions are not told apart."""
    import numpy as np

    found = np.full(len(notes), np.nan)
    for told in strokes:
        for at, one in enumerate(notes):
            if (owed := told.owed.get((one.rep, one.slot))) is not None:
                found[at] = owed[0]
    return found


def _fit(notes: Sequence[_Heard], softer: np.ndarray) -> _Fitted:
    """Chances by velocity, sharpened by lateness where that goes with it.

    softer: what a note owes to its direction. Where that is not told, up strokes are taken to be
    where they are planned, and how much softer they come is estimated.
    """
    import numpy as np

    x = np.log([float(one.velocity or 1) for one in notes]) - np.nan_to_num(softer)
    slot, slots = _numbered([one.key for one in notes])
    string, _ = _numbered([one.string for one in notes])
    rep, _ = _numbered([one.rep for one in notes])
    planned = np.array([one.planned == PICKED for one in notes])
    up = np.array([one.up for one in notes]) & np.isnan(softer)
    levels = two_levels(
        Notes(x, string, rep, slot, planned, up, _widths([one.velocity or 1 for one in notes]))
    )
    apart = levels.drop / levels.scatter
    late = np.array([np.nan if one.deviation_ms is None else one.deviation_ms for one in notes])
    picked = np.clip(levels.chances, 1e-6, 1 - 1e-6)
    logit = _TRUST * (np.log(picked / (1 - picked)) + _lateness(late, picked, slot, slots))
    chances = _WILD + (1 - 2 * _WILD) * sigmoid(logit)
    both = np.unique(planned).size > 1
    tells = apart >= LEAST_APART and levels.gain >= (LEAST_GAIN if both else LEAST_GAIN_UNPLANNED)
    tells = tells and (both or levels.drop >= LEAST_DROP_UNPLANNED)
    return _Fitted([float(value) for value in chances], float(apart), tells)


def _widths(velocities: Sequence[int]) -> np.ndarray:
    """How much of the log scale each velocity stands for: more where a converter sends few steps;
    the top is open."""
    import numpy as np

    values = np.array(velocities, dtype=float)
    steps = np.diff(np.unique(values))
    step = float(np.median(steps)) if len(steps) and float(steps.min()) >= 3.0 else 1.0
    widths = np.log((values + 0.5 * step) / np.maximum(values - 0.5 * step, 0.5))
    return np.where(values >= 127, np.inf, widths if step > 1.0 else 0.0)


def _numbered(values: Sequence[object]) -> tuple[np.ndarray, int]:
    import numpy as np

    numbers = {value: at for at, value in enumerate(dict.fromkeys(values))}
    return np.array([numbers[value] for value in values]), len(numbers)


def _sums(values: np.ndarray, group: np.ndarray, groups: int) -> np.ndarray:
    import numpy as np

    return np.bincount(group, weights=values, minlength=groups)


def _lateness(late: np.ndarray, picked: np.ndarray, slot: np.ndarray, slots: int) -> np.ndarray:
    """Log odds of picked by the onset, from what differs within slots alone."""
    import numpy as np

    known = ~np.isnan(late)
    if int(known.sum()) < LEAST_NOTES:
        return np.zeros(len(late))
    value, place = late[known], slot[known]
    hammered = 1 - picked[known]
    counts = np.maximum(np.bincount(place, minlength=slots), 1)
    off = value - (_sums(value, place, slots) / counts)[place]
    kind = hammered - (_sums(hammered, place, slots) / counts)[place]
    mixed = float(np.sum(kind**2))
    if mixed < 4.0:
        return np.zeros(len(late))
    later = float(np.sum(off * kind)) / mixed
    spread = float(np.std(off - later * kind))
    if spread <= 0.0 or abs(later) < 3.0 * spread / mixed**0.5:
        return np.zeros(len(late))
    base = (_sums(value - later * hammered, place, slots) / counts)[place]
    logit = np.zeros(len(late))
    logit[known] = np.clip(
        ((value - base - later) ** 2 - (value - base) ** 2) / (2 * spread**2), -4, 4
    )
    return logit
