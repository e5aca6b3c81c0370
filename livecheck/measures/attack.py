"""How hard each slot was struck, and whether it was picked or hammered.

*Attack* is measures.md's: velocity over the string's usual, over the repetition's usual. Picked and hammered (any slot
that sounds without the pick: hammer, pull, slide, tap) are told apart by two levels learned from the sitting itself.
The plan is only where the search begins: a slot that the plan calls picked and that comes at the other level, note
after note, is told as hammered.

The model of a log velocity: the string's own level, the repetition's loudness, the kind's level, and scatter. Each
slot has its own chance of being picked. Onset lateness helps where, within slots, the softer notes come later or
earlier; a slot that is always late says nothing. A note that came by bend alone had no stroke.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from ..core.events import HIT, Repetition

if TYPE_CHECKING:
    import numpy as np

PICKED, HAMMERED = "picked", "hammered"

TOLD = 0.9
"""A note is told when one kind is this probable; between there it cannot be said."""

# Where the search begins, and what holds it in few notes. No source; a wide range around the usual.
_USUAL_DROP = -0.45  # log velocity of a hammered note against a picked one
_DROP_WEIGHT = 3.0  # notes that this is worth
_SMALLEST_DROP = -0.15
_STRING_SPREAD = 0.2  # SD of the strings' levels, log velocity
_REP_SPREAD = 0.08  # SD of the repetitions' loudness
_SCATTER, _SCATTER_WEIGHT, _LEAST_SCATTER = 0.15, 4.0, 0.05
_PLAN = 0.95  # chance that a slot is played as planned, before anything is heard
_PLAN_WEIGHT = 8.0  # notes of a slot that this is worth: with 2, up strokes were taken for hammered ones
_BY_BEND = 0.02  # chance that a note which came as a bend alone had a stroke all the same

_WILD = 0.015  # share of notes that come at the other kind's level all the same

LEAST_NOTES = 12
LEAST_APART = 1.3
"""Distance of the two levels in scatters below which nothing is told by velocity."""
_LEAST_DROP = -0.35  # log velocity: down and up strokes and accents differ by less
_CLEAR_DROP, _CLEAR_APART = -0.4, 2.0  # the same where the plan has no hammered slot at all
_LEAST_GAIN = 4.0  # nats by which two levels must explain the velocities better than one
_MOST_ROUNDS = 80


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
    """What the velocities of a sitting say. ``why`` is None, or why nothing can be told by velocity."""

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


def relative_attacks(rep: Repetition, usual: dict[int, float]) -> dict[int, float]:
    """Attack of each hit slot: velocity over its string's usual one, over the repetition's median of that.

    usual: ``usual_velocities`` of the sitting. Source: measures.md, attack.
    """
    over_string = {
        result.slot: result.note.velocity / usual[result.note.string]
        for result in rep.slots
        if result.verdict == HIT and result.note is not None and result.note.velocity and result.note.string in usual
    }
    middle = median(over_string.values()) if over_string else 1.0
    return {slot: value / middle for slot, value in over_string.items()}


def read_attacks(reps: Sequence[Repetition]) -> Attacks:
    """Picked or hammered for every hit slot of one sitting's repetitions of a cell (its variants may change)."""
    usual = usual_velocities(reps)
    notes = [
        _Heard(rep, result.slot, relative.get(result.slot))
        for rep in reps
        for relative in [relative_attacks(rep, usual)]
        for result in rep.slots
        if result.verdict == HIT and result.note is not None and result.slot <= len(rep.cell.slots)
    ]
    loud = [one for one in notes if one.velocity]
    why = _too_little(loud)
    fitted = None if why else _fit(loud)
    if fitted is not None and not fitted.tells:
        why = "the velocities show no two levels"
    chances = dict(zip(map(id, loud), fitted.chances)) if fitted is not None and fitted.tells else {}
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
    if len({one.velocity for one in loud}) < 3:
        return "the converter gives every note the same velocity"
    return None


class _Heard:
    """One hit slot as the model sees it."""

    __slots__ = ("attack", "deviation_ms", "key", "planned", "rep", "slot", "string", "take_rep", "velocity")

    def __init__(self, rep: Repetition, slot: int, attack: float | None) -> None:
        result = rep.slots[slot - 1]
        assert result.note is not None
        self.rep = rep.rep
        self.slot = slot
        self.planned = PICKED if rep.cell.slots[slot - 1].picked else HAMMERED
        self.key = (slot, self.planned)
        self.string = result.note.string
        self.velocity = result.note.velocity
        self.deviation_ms = result.deviation_ms
        self.attack = attack


class _Fitted(NamedTuple):
    chances: list[float]
    apart: float
    tells: bool


# ------------------------------------------------------------------------------------------------------ the two levels


def _numbered(values: Sequence[object]) -> tuple[np.ndarray, int]:
    import numpy as np

    numbers = {value: at for at, value in enumerate(dict.fromkeys(values))}
    return np.array([numbers[value] for value in values]), len(numbers)


def _fit(notes: Sequence[_Heard]) -> _Fitted:
    """Expectation and maximisation from the plan; each step is held by priors, so that no level can run away."""
    import numpy as np

    x = np.log([float(one.velocity or 1) for one in notes])
    string, strings = _numbered([one.string for one in notes])
    rep, reps = _numbered([one.rep for one in notes])
    slot, slots = _numbered([one.key for one in notes])
    plan = np.array([_PLAN if one.planned == PICKED else 1.0 - _PLAN for one in notes])
    late = np.array([np.nan if one.deviation_ms is None else one.deviation_ms for one in notes])

    level, loudness = _one_level(x, string, strings, rep, reps)
    one_scatter = max(float(np.std(x - level[string] - loudness[rep])), _LEAST_SCATTER)
    drop, scatter = _USUAL_DROP, _SCATTER
    picked = plan
    if np.all(plan > 0.5):  # no contrast in the plan: begin from the velocities
        level = level - 0.5 * _USUAL_DROP * 0.2
        picked = _sigmoid(_kind_logit(x - level[string], drop, scatter) + 2.0)
    lateness = np.zeros(len(x))
    for _ in range(_MOST_ROUNDS):
        level = _levels(x - loudness[rep] - drop * (1 - picked), string, strings, scatter)
        rest = x - level[string]
        loudness = _shrunk(rest - drop * (1 - picked), rep, reps, scatter, _REP_SPREAD)
        rest = rest - loudness[rep]
        weight = 1 - picked
        drop = (float(np.sum(weight * rest)) + _DROP_WEIGHT * _USUAL_DROP) / (float(weight.sum()) + _DROP_WEIGHT)
        drop = min(max(drop, -2.0), _SMALLEST_DROP)
        squares = picked * rest**2 + weight * (rest - drop) ** 2
        scatter = max(
            float(np.sqrt((squares.sum() + _SCATTER_WEIGHT * _SCATTER**2) / (len(x) + _SCATTER_WEIGHT))), _LEAST_SCATTER
        )
        chance = _slot_chances(picked, plan, slot, slots)[slot]
        lateness = _lateness(late, picked, slot, slots)
        logit = np.log(chance / (1 - chance)) + np.clip(_kind_logit(rest, drop, scatter), -7, 7) + lateness
        before, picked = picked, _sigmoid(logit)
        if float(np.max(np.abs(picked - before))) < 1e-4:
            break
    two = _sum_log(chance, rest, drop, scatter)
    one = float(np.sum(-0.5 * ((x - _flat(x, string, strings, rep, reps)) / one_scatter) ** 2 - np.log(one_scatter)))
    apart = -drop / scatter
    both = min(float(picked.sum()), float((1 - picked).sum())) >= 3.0
    clear = bool(np.any(plan < 0.5)) or (drop <= _CLEAR_DROP and apart >= _CLEAR_APART)
    tells = apart >= LEAST_APART and drop <= _LEAST_DROP and both and clear and two - one >= _LEAST_GAIN
    chances = _with_doubt(picked, level, drop, string, strings, plan)
    return _Fitted([float(value) for value in chances], apart, tells)


def _sigmoid(logit: np.ndarray) -> np.ndarray:
    import numpy as np

    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(logit, -30, 30))))


def _kind_logit(rest: np.ndarray, drop: float, scatter: float) -> np.ndarray:
    """Log odds of picked against hammered by the velocity alone. Equal scatter keeps it rising with the velocity."""
    return ((rest - drop) ** 2 - rest**2) / (2 * scatter**2)


def _sums(values: np.ndarray, group: np.ndarray, groups: int) -> np.ndarray:
    import numpy as np

    return np.bincount(group, weights=values, minlength=groups)


def _shrunk(values: np.ndarray, group: np.ndarray, groups: int, scatter: float, spread: float) -> np.ndarray:
    """Mean of each group, drawn to 0 as far as its few notes leave it open."""
    import numpy as np

    counts = np.bincount(group, minlength=groups)
    return np.asarray(_sums(values, group, groups) / (counts + (scatter / spread) ** 2))


def _levels(values: np.ndarray, string: np.ndarray, strings: int, scatter: float) -> np.ndarray:
    """Level of each string, drawn to their mean."""
    middle = float(values.mean())
    return middle + _shrunk(values - middle, string, strings, scatter, _STRING_SPREAD)


def _one_level(
    x: np.ndarray, string: np.ndarray, strings: int, rep: np.ndarray, reps: int
) -> tuple[np.ndarray, np.ndarray]:
    level = _levels(x, string, strings, _SCATTER)
    return level, _shrunk(x - level[string], rep, reps, _SCATTER, _REP_SPREAD)


def _flat(x: np.ndarray, string: np.ndarray, strings: int, rep: np.ndarray, reps: int) -> np.ndarray:
    """What strings and repetitions alone make of the velocities."""
    level, loudness = _one_level(x, string, strings, rep, reps)
    return level[string] + loudness[rep]


def _slot_chances(picked: np.ndarray, plan: np.ndarray, slot: np.ndarray, slots: int) -> np.ndarray:
    """Each slot's chance of being picked: what was heard of it, and the plan for a few notes' worth."""
    import numpy as np

    counts = np.bincount(slot, minlength=slots)
    planned = _sums(plan, slot, slots) / counts
    return np.asarray((_sums(picked, slot, slots) + _PLAN_WEIGHT * planned) / (counts + _PLAN_WEIGHT))


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
    logit[known] = np.clip(((value - base - later) ** 2 - (value - base) ** 2) / (2 * spread**2), -4, 4)
    return logit


def _sum_log(chance: np.ndarray, rest: np.ndarray, drop: float, scatter: float) -> float:
    import numpy as np

    as_picked = np.log(chance) - 0.5 * (rest / scatter) ** 2
    as_hammered = np.log(1 - chance) - 0.5 * ((rest - drop) / scatter) ** 2
    return float(np.sum(np.logaddexp(as_picked, as_hammered) - np.log(scatter)))


def _with_doubt(
    picked: np.ndarray, level: np.ndarray, drop: float, string: np.ndarray, strings: int, plan: np.ndarray
) -> np.ndarray:
    """A string all of whose notes are of one kind may as well be of the other, at another level of the string.

    How likely that is follows from how far that level would lie from the other strings'.
    """
    import numpy as np

    result = picked.copy()
    for number in range(strings):
        if strings == 1:
            break
        own = string == number
        middle = float(np.mean(np.delete(level, number)))
        share = float(picked[own].mean())
        if 0.1 < share < 0.9:
            continue
        other = level[number] - (drop if share >= 0.9 else -drop)
        odds = ((level[number] - middle) ** 2 - (other - middle) ** 2) / (2 * _STRING_SPREAD**2)
        agrees = (float(plan[own].mean()) > 0.5) == (share > 0.5)
        odds += np.log((1 - _PLAN) / _PLAN) * (1 if agrees else -1)
        flipped = float(_sigmoid(np.array(odds)))
        result[own] = (1 - flipped) * picked[own] + flipped * (1 - picked[own])
    return np.asarray(_WILD + (1 - 2 * _WILD) * result)
