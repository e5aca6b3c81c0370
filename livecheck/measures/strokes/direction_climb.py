"""The climb from a beginning: levels from ways and ways from levels, by turns, several at once.

Climbs through the same sitting share their arrays, the repetitions of each after those of the one
before: what takes time is the number of steps, not of figures.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import inf, log
from typing import TYPE_CHECKING, NamedTuple

from .direction_chain import Heard, Ways, ways
from .direction_levels import Levels, fitted, inlying, log_density, log_flat, off

if TYPE_CHECKING:
    import numpy as np

# What is usual, before anything is heard. No source; wide ranges.
TURNS, STAYS, _TURNS_NOTES = 0.997, 0.02, 60.0
"""Chance that a stroke turns the pick round, where it does and where it does not; its weight."""
SLURRED, SLURRED_PLANNED, _SLURRED_NOTES = 0.015, 0.97, 25.0
_NOW_SO = 5.0  # nats that a slot costs which is now picked, now not
_OTHERWISE = 10.0  # nats that a slot costs which is as a rule not as it is planned
_SLURRED_MISSED = 0.1  # of a note that was not heard
_BEND_STRUCK = 0.02
_LOUDNESS_SPREAD = 0.07  # SD of the repetitions' loudness
_SLUR_SCATTER = 1.1  # of notes without a stroke, over that of strokes
_ENOUGH = 0.05  # nats: a turn that brings less is the last one


class Sitting(NamedTuple):
    """R repetitions of S slots in order. NaN: not heard, or no figure."""

    loud: np.ndarray  # (R, S) log velocity
    late: np.ndarray  # (R, S) ms against the repetition's own line
    top: np.ndarray  # (R, S) so loud, or louder
    heard: np.ndarray  # (R, S)
    bend: np.ndarray  # (R, S) came as a bend alone
    lined: np.ndarray  # (R, S + 1) what the line went through: hit slots, and the next one's first
    start: np.ndarray  # (S + 1,) grid position of each, and of the next one's first slot
    string: np.ndarray  # (S,) from 0 without gaps
    picked: np.ndarray  # (S,) planned so
    turns: np.ndarray  # (S,) planned to turn the pick round
    first: int  # planned way of the first stroke of a new beginning, 0 or 1
    afresh: np.ndarray  # (R,) begins anew


@dataclass(slots=True)
class State:
    """All that is learned of a sitting. flat: loudness scatters within limits, without tails."""

    loud: Levels
    late: Levels
    loudness: np.ndarray  # (R,) of the repetitions
    turning: np.ndarray  # (S,)
    slurred: np.ndarray  # (S,)
    alternate: float = 0.5
    begin: float = 0.5  # chance that a new beginning comes from way 0
    two_ways: bool = True
    flat: bool = False
    told: Ways | None = None
    fit: float = field(default=float("-inf"))  # nats, freedom taken off


def climbed(sitting: Sitting, states: Sequence[State], rounds: int) -> list[State]:
    """Where each climb comes to in so many turns, or when a turn brings no more."""
    found = list(states)
    going = list(range(len(found)))
    for _ in range(rounds):
        if not going:
            break
        known = [at for at in going if found[at].told is not None]
        if known:
            for at, state in zip(known, _levels(sitting, [found[at] for at in known])):
                found[at] = state
        left = []
        for at, state in zip(going, _weigh(sitting, [found[at] for at in going])):
            if not abs(state.fit - found[at].fit) < _ENOUGH:
                left.append(at)
            found[at] = state
        going = left
    return found


def _stacked(states: Sequence[State], of: Callable[[State], object]) -> np.ndarray:
    """(K, ...) one thing of each climb."""
    import numpy as np

    return np.array([of(state) for state in states])


def _weigh(sitting: Sitting, states: Sequence[State]) -> list[State]:
    import numpy as np

    reps = len(sitting.afresh)
    shape = len(states), *sitting.heard.shape
    flat = _stacked(states, lambda state: state.flat)
    none = np.zeros(len(states), bool)
    likely = np.zeros((3, *shape))  # log, as a stroke one way or the other, and without one
    loudness = _stacked(states, lambda state: state.loudness)
    for own, kind, even, top, count in (
        (sitting.loud - loudness[:, :, None], "loud", flat, sitting.top, 1.0),
        (_unlined(sitting, states), "late", none, None, _free(sitting)[:, None]),
    ):
        levels: list[Levels] = [getattr(state, kind) for state in states]
        scatter = np.array([one.scatter for one in levels])[:, None, None]
        middle = [
            [one.level - 0.5 * (one.apart + one.by_slot) for one in levels],
            [one.level + 0.5 * (one.apart + one.by_slot) for one in levels],
            [one.slur for one in levels],
        ]
        scatter = np.stack([scatter, scatter, _SLUR_SCATTER * scatter])
        found = _density(off(own, np.array(middle)[:, :, None], top), scatter, even)
        likely += np.where(np.isnan(own), 0.0, count * found)
    likely[:2] += np.where(sitting.bend, log(_BEND_STRUCK), 0.0)
    most = likely.max(axis=0)
    scaled = np.exp(likely - most)
    told = ways(heard_of(sitting, states, np.moveaxis(scaled[:2], 0, 3), scaled[2]))
    turning = _stacked(states, lambda state: state.turning)
    slurred = _stacked(states, lambda state: state.slurred)
    fit = told.fit.reshape(len(states), reps).sum(axis=1) + most.sum(axis=(1, 2))
    fit -= _stacked(states, lambda state: state.loud.penalty + state.late.penalty)
    fit -= 0.5 * (loudness**2).sum(axis=1) / _LOUDNESS_SPREAD**2
    fit -= _unusual(turning, sitting.turns, (STAYS, TURNS), _TURNS_NOTES)
    fit -= _unusual(slurred, ~sitting.picked, (SLURRED, SLURRED_PLANNED), _SLURRED_NOTES, _NOW_SO)
    own_ways = (
        Ways(*(column[at : at + reps] for column in told)) for at in range(0, len(told.slur), reps)
    )
    return [
        replace(state, told=own, fit=float(one)) for state, own, one in zip(states, own_ways, fit)
    ]


def _density(away: np.ndarray, scatter: np.ndarray, flat: np.ndarray) -> np.ndarray:
    """(..., K, R, S) by the climb's own kind of scatter."""
    import numpy as np

    if flat.all():
        return log_flat(away, scatter)
    found = log_density(away, scatter)
    if flat.any():
        found = np.where(flat[:, None, None], log_flat(away, scatter), found)
    return found


def _free(sitting: Sitting) -> np.ndarray:
    """(R,) the share of what its line leaves free in a repetition's places: a line takes two."""
    import numpy as np

    lined = sitting.lined.sum(axis=1)
    return np.asarray(np.maximum(lined - 2.0, 0.0) / np.maximum(lined, 1.0))


def _unusual(
    chance: np.ndarray,
    planned: np.ndarray,
    usual: tuple[float, float],
    weight: float,
    mixed: float = inf,
) -> np.ndarray:
    """(K,) nats that the slots' chances cost: unlike the usual ones of their plan (as so many notes
    weigh), or of the other way at a price; or, of slots not so planned, now so, now so, at the
    price ``mixed``."""
    import numpy as np

    no, yes = (
        weight * (one * np.log(one / chance) + (1.0 - one) * np.log((1.0 - one) / (1.0 - chance)))
        for one in usual
    )
    own, other = np.where(planned, yes, no), np.where(planned, no, yes)
    both = np.where(planned, inf, mixed)
    return np.asarray(np.minimum(np.minimum(own, other + _OTHERWISE), both).sum(axis=1))


def _usual(
    counts: np.ndarray,
    of: np.ndarray,
    chance: np.ndarray,
    usual: tuple[float, float],
    weight: float,
) -> np.ndarray:
    """Chances from counts, drawn to the nearer of two usual ones."""
    import numpy as np

    nearer = np.where(chance > 0.5, usual[1], usual[0])
    return np.asarray(np.clip((counts + nearer * weight) / (of + weight), 0.002, 0.998))


def heard_of(
    sitting: Sitting, states: Sequence[State], stroke: np.ndarray, slur: np.ndarray
) -> Heard:
    """What speaks for each way in every climb, one after the other. stroke: (K, R, S, 2); slur:
    (K, R, S)."""
    import numpy as np

    reps, slots = sitting.heard.shape
    slurred = np.where(
        sitting.heard,
        _stacked(states, lambda state: state.slurred)[:, None],
        np.where(sitting.picked, _SLURRED_MISSED, SLURRED_PLANNED),
    )
    turning = np.repeat(_stacked(states, lambda state: state.turning), reps, axis=0)
    return Heard(
        stroke.reshape(-1, slots, 2),
        slur.reshape(-1, slots),
        slurred.reshape(-1, slots),
        turning,
        np.repeat(_stacked(states, lambda state: state.alternate), reps),
        np.tile(sitting.afresh, len(states)),
        np.repeat(_stacked(states, lambda state: state.begin), reps),
    )


def _unlined(sitting: Sitting, states: Sequence[State]) -> np.ndarray:
    """(K, R, S) lateness with what the ways made of the repetitions' lines taken off again: a line
    goes through its own notes."""
    import numpy as np

    nothing = np.zeros(sitting.heard.shape)
    lean = [
        nothing
        if state.told is None
        else state.late.apart * 0.5 * (state.told.stroke[:, :, 1] - state.told.stroke[:, :, 0])
        for state in states
    ]
    return np.asarray(sitting.late + lined_up(sitting, np.array(lean)))


def lined_up(sitting: Sitting, late: np.ndarray) -> np.ndarray:
    """(..., R, S) what each repetition's own line takes up of its notes' lateness (..., R, S)."""
    import numpy as np

    slots = late.shape[-1]
    behind = np.zeros_like(late[..., :1])
    behind[..., :-1, 0] = late[..., 1:, 0]
    points = np.concatenate([late, behind], axis=-1)
    weight = sitting.lined.astype(float)
    count = np.maximum(weight.sum(axis=1), 1.0)
    middle = (weight @ sitting.start) / count
    away = sitting.start[None, :] - middle[:, None]
    square = np.maximum((weight * away**2).sum(axis=1), 1e-9)
    level = (weight * points).sum(axis=-1) / count
    slope = (weight * away * points).sum(axis=-1) / square
    return np.asarray(level[..., None] + slope[..., None] * away[:, :slots])


def _levels(sitting: Sitting, states: Sequence[State]) -> list[State]:
    import numpy as np

    told = [state.told for state in states if state.told is not None]
    struck = sitting.heard
    stroke, slur = (np.array([getattr(one, name) for one in told]) for name in ("stroke", "slur"))
    turned = (np.array([one.turned for one in told]) * struck).sum(axis=1)
    turning = _usual(
        turned,
        (stroke.sum(axis=3) * struck).sum(axis=1),
        _stacked(states, lambda state: state.turning),
        (STAYS, TURNS),
        _TURNS_NOTES,
    )
    slurred = _usual(
        (slur * struck).sum(axis=1),
        struck.sum(axis=0),
        _stacked(states, lambda state: state.slurred),
        (SLURRED, SLURRED_PLANNED),
        _SLURRED_NOTES,
    )
    loudness = _stacked(states, lambda state: state.loudness)
    two_ways = _stacked(states, lambda state: state.two_ways)
    of = sitting.string, stroke, slur
    quiet = sitting.loud - loudness[:, :, None]
    loud = fitted(quiet, [state.loud for state in states], *of, sitting.top, two_ways)
    unlined = _unlined(sitting, states)
    late = fitted(unlined, [state.late for state in states], *of, None, two_ways)
    loudness = _loudness(sitting, loud, stroke)
    found = []
    for at, (state, one) in enumerate(zip(states, told)):
        goes_on, takes_up = float(one.goes_on.sum()), float(one.takes_up.sum())
        begun = one.begin[sitting.afresh]
        found.append(
            replace(
                state,
                loud=loud[at],
                late=late[at],
                loudness=loudness[at],
                turning=turning[at],
                slurred=slurred[at],
                alternate=(goes_on + 0.5) / (goes_on + takes_up + 1.0),
                begin=(float(begun[:, 0].sum()) + 0.5) / (len(begun) + 1.0),
            )
        )
    return found


def _loudness(sitting: Sitting, levels: Sequence[Levels], stroke: np.ndarray) -> np.ndarray:
    """(K, R) how much louder each repetition is than usual, drawn to nothing."""
    import numpy as np

    known = ~np.isnan(sitting.loud)
    filled = np.where(known, sitting.loud, 0.0)
    scatter = np.array([one.scatter for one in levels])
    total, over = np.zeros(stroke.shape[:2]), np.zeros(stroke.shape[:2])
    for way, side in enumerate((-0.5, 0.5)):
        middle = np.array([one.level + side * (one.apart + one.by_slot) for one in levels])
        over_level = filled - middle[:, None]
        weight = stroke[..., way] * known * inlying(over_level, scatter[:, None, None])
        total += weight.sum(axis=2)
        over += (weight * over_level).sum(axis=2)
    return np.asarray(over / (total + (scatter[:, None] / _LOUDNESS_SPREAD) ** 2))
