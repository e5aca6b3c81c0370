"""Two ways of the pick in one sitting: what sets their notes apart, and which way each note went.

Loudness (log velocity) and lateness of a slot's notes have a level for each way; what the ways
differ by is shared by all slots, and by each a little in its own measure. Slots differ by accent
and by what is left of the conversion delay; how much, is learned with the rest. A note may also be
without a stroke, softer. Levels and ways are found by turns (expectation and maximisation) from
several beginnings; how much better two ways explain the sitting than one is told in nats, with the
freedom that they bring taken off (Laplace's approximation).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import inf, log
from typing import TYPE_CHECKING, NamedTuple

from .direction_chain import Heard, Ways, ways
from .direction_levels import (
    LATE,
    LOUD,
    Levels,
    first_levels,
    fitted,
    inlying,
    log_density,
    log_flat,
    off,
)

if TYPE_CHECKING:
    import numpy as np

# What is usual, before anything is heard. No source; wide ranges.
_TURNS, _STAYS, _TURNS_NOTES = 0.997, 0.02, 60.0
"""Chance that a stroke turns the pick round, where it does and where it does not, and its
weight."""
_SLURRED, _SLURRED_PLANNED, _SLURRED_NOTES = 0.015, 0.97, 25.0
_NOW_SO = 5.0  # nats that a slot costs which is now picked, now not
_OTHERWISE = 10.0  # nats that a slot costs which is as a rule not as it is planned
_SLURRED_MISSED = 0.1  # of a note that was not heard
_BEND_STRUCK = 0.02
_LOUDNESS_SPREAD = 0.07  # SD of the repetitions' loudness
_SLUR_SCATTER = 1.1  # of notes without a stroke, over that of strokes
_SOFT = 0.15  # log velocity by which a slot is softer that may be no stroke
_HOPELESS = 12.0  # nats behind which no more is tried
_ROUNDS, _FIRST_ROUNDS = 10, 3
_MOST_REPS = 400  # levels are learned from so many repetitions


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


def learn(sitting: Sitting) -> tuple[State, float]:
    """What two ways make of a sitting, and the nats by which they explain it better than one."""
    few = _some(sitting)
    one = max(
        (_run(few, _fresh(few, two_ways=False, flat=flat), _ROUNDS) for flat in (False, True)),
        key=lambda state: state.fit,
    )
    best = _searched(few, _beginnings(few, _fresh(few, flat=one.flat)))
    best = _without_strokes(few, best)
    if best.fit > one.fit - _HOPELESS:
        other = _run(few, replace(best, flat=not best.flat), _ROUNDS)
        best = max(best, other, key=lambda state: state.fit)
    if best.fit > one.fit:
        one = max(
            _without_strokes(few, one),
            _run(few, _alike(best), _ROUNDS),
            key=lambda state: state.fit,
        )
    gain = best.fit - one.fit
    if few is not sitting:
        best = carried(sitting, best)
    return best, gain


def carried(sitting: Sitting, state: State) -> State:
    """What was learned of some repetitions, for others of the same sitting."""
    return _run(sitting, replace(state, loudness=_zeros(sitting), told=None), 2)


def _searched(sitting: Sitting, beginnings: list[State]) -> State:
    """The best that is come to from several beginnings."""
    tried = [_run(sitting, state, _FIRST_ROUNDS) for state in beginnings]
    tried.sort(key=lambda state: -state.fit)
    return max((_run(sitting, state, _ROUNDS) for state in tried[:2]), key=lambda state: state.fit)


def _alike(state: State) -> State:
    """The same as where both ways sound alike."""
    alike = [
        replace(levels, apart=0.0, by_slot=0.0 * levels.by_slot)
        for levels in (state.loud, state.late)
    ]
    return replace(state, loud=alike[0], late=alike[1], two_ways=False)


def _some(sitting: Sitting) -> Sitting:
    """The sitting, or blocks of it where it is long."""
    import numpy as np

    reps = len(sitting.afresh)
    if reps <= _MOST_REPS:
        return sitting
    blocks = 4
    each = _MOST_REPS // blocks
    starts = np.linspace(0, reps - each, blocks).astype(int)
    rows = np.concatenate([np.arange(start, start + each) for start in starts])
    afresh = sitting.afresh.copy()
    afresh[starts] = True
    by_rep = ("loud", "late", "top", "heard", "bend", "lined")
    return sitting._replace(
        afresh=afresh[rows], **{name: getattr(sitting, name)[rows] for name in by_rep}
    )


def _zeros(sitting: Sitting) -> np.ndarray:
    import numpy as np

    return np.zeros(len(sitting.afresh))


def _fresh(sitting: Sitting, two_ways: bool = True, flat: bool = False) -> State:
    import numpy as np

    slots = len(sitting.picked)
    return State(
        loud=first_levels(sitting.loud, LOUD, slots),
        late=first_levels(sitting.late, LATE, slots),
        loudness=_zeros(sitting),
        turning=np.where(sitting.turns, _TURNS, _STAYS),
        slurred=np.where(sitting.picked, _SLURRED, _SLURRED_PLANNED),
        two_ways=two_ways,
        flat=flat,
    )


def _beginnings(sitting: Sitting, fresh: State) -> list[State]:
    """Where the search begins: the plan as alternation or as repetition makes it, and what up
    strokes are like elsewhere."""
    import numpy as np

    found = []
    even = np.ones((*sitting.heard.shape, 2))
    for alternate in (1.0 - 1e-6, 1e-6):
        sharp = replace(
            fresh,
            turning=np.where(sitting.turns, 1.0 - 1e-6, 1e-6),
            slurred=np.where(fresh.slurred > 0.5, 1.0 - 1e-6, 1e-6),
            alternate=alternate,
            begin=0.999 if sitting.first else 0.001,
        )
        told = ways(_heard_of(sitting, sharp, even, even[:, :, 0]))
        # wholly one way or the other: a trace of the other one in a slot that keeps its direction
        # would say that both sound alike there
        of = told.stroke.sum(axis=2, keepdims=True)
        found.append(replace(fresh, told=told._replace(stroke=of * (told.stroke > 0.5 * of))))
    for apart_loud, apart_late in ((-0.2, 0.0), (0.0, 5.0), (-0.15, 3.0)):
        loud, late = replace(fresh.loud, apart=apart_loud), replace(fresh.late, apart=apart_late)
        found.append(replace(fresh, loud=loud, late=late))
    return found


def _without_strokes(sitting: Sitting, best: State) -> State:
    """The same where slots that come softer than the others are tried without a stroke, one after
    the other, though one is planned."""
    import numpy as np

    for _ in range(2):
        stroke = sitting.picked & (best.slurred < 0.5)
        heard = first_levels(sitting.loud, LOUD, len(stroke)).level
        level = np.minimum(
            best.loud.level - np.median(best.loud.level[stroke]), heard - np.median(heard[stroke])
        )
        soft = stroke & (level < -_SOFT)
        trials = []
        softest = np.argsort(np.where(soft, level, np.inf))[: min(int(soft.sum()), 3)]
        for slot in softest:
            fresh = _fresh(sitting, best.two_ways, best.flat)
            fresh.slurred = np.where(np.arange(len(soft)) == slot, 0.9, best.slurred)
            beginnings = _beginnings(sitting, fresh) if best.two_ways else [fresh]
            trials.append(_searched(sitting, beginnings))
        better = max(trials, key=lambda state: state.fit, default=best)
        if better.fit <= best.fit + 1.0:
            return best
        best = better
    return best


# ------------------------------------------------------------------------------------ turn by turn


def _run(sitting: Sitting, state: State, rounds: int) -> State:
    """Levels from ways and ways from levels, by turns."""
    for _ in range(rounds):
        before = state.fit
        if state.told is not None:
            state = _levels(sitting, state, state.told)
        state = _weigh(sitting, state)
        if abs(state.fit - before) < 0.05:
            break
    return state


def _weigh(sitting: Sitting, state: State) -> State:
    import numpy as np

    late = _unlined(sitting, state)
    free = _free(sitting)
    stroke, slur = np.zeros((*sitting.heard.shape, 2)), np.zeros(sitting.heard.shape)
    for values, levels, shift in (
        (sitting.loud, state.loud, state.loudness),
        (late, state.late, 0.0 * state.loudness),
    ):
        density = log_flat if state.flat and levels is state.loud else log_density
        top = sitting.top & (levels is state.loud)
        count = 1.0 if levels is state.loud else free[:, None]
        own = values - shift[:, None]
        known = ~np.isnan(own)
        for way, side in enumerate((-0.5, 0.5)):
            middle = levels.level + side * (levels.apart + levels.by_slot)
            found = density(off(own, middle, top), levels.scatter)
            stroke[:, :, way] += np.where(known, count * found, 0.0)
        found = density(off(own, levels.slur, top), _SLUR_SCATTER * levels.scatter)
        slur += np.where(known, count * found, 0.0)
    stroke += np.where(sitting.bend, log(_BEND_STRUCK), 0.0)[:, :, None]
    most = np.maximum(stroke.max(axis=2), slur)
    heard = _heard_of(sitting, state, np.exp(stroke - most[:, :, None]), np.exp(slur - most))
    told = ways(heard)
    fit = told.fit + float(most.sum()) - state.loud.penalty - state.late.penalty
    fit -= 0.5 * float(np.sum(state.loudness**2)) / _LOUDNESS_SPREAD**2
    fit -= _unusual(state.turning, sitting.turns, (_STAYS, _TURNS), _TURNS_NOTES)
    fit -= _unusual(
        state.slurred, ~sitting.picked, (_SLURRED, _SLURRED_PLANNED), _SLURRED_NOTES, _NOW_SO
    )
    return replace(state, told=told, fit=fit)


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
) -> float:
    """Nats that the slots' chances cost: unlike the usual ones of their plan (as so many notes
    weigh), or of the other way at a price; or, of slots not so planned, now so, now so, at the
    price ``mixed``."""
    import numpy as np

    no, yes = (
        weight * (one * np.log(one / chance) + (1.0 - one) * np.log((1.0 - one) / (1.0 - chance)))
        for one in usual
    )
    own, other = np.where(planned, yes, no), np.where(planned, no, yes)
    both = np.where(planned, inf, mixed)
    return float(np.minimum(np.minimum(own, other + _OTHERWISE), both).sum())


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


def _heard_of(sitting: Sitting, state: State, stroke: np.ndarray, slur: np.ndarray) -> Heard:
    import numpy as np

    shape, reps = sitting.heard.shape, len(sitting.afresh)
    slurred = np.broadcast_to(state.slurred, shape)
    slurred = np.where(
        sitting.heard, slurred, np.where(sitting.picked, _SLURRED_MISSED, _SLURRED_PLANNED)
    )
    return Heard(
        stroke,
        slur,
        slurred,
        np.broadcast_to(state.turning, shape),
        np.full(reps, state.alternate),
        sitting.afresh,
        np.full(reps, state.begin),
    )


def _unlined(sitting: Sitting, state: State) -> np.ndarray:
    """Lateness with what the ways made of the repetitions' lines taken off again: a line goes
    through its own notes."""
    import numpy as np

    if state.told is None or state.late.apart == 0.0:
        return sitting.late
    lean = state.late.apart * 0.5 * (state.told.stroke[:, :, 1] - state.told.stroke[:, :, 0])
    return np.asarray(sitting.late + lined_up(sitting, lean))


def lined_up(sitting: Sitting, late: np.ndarray) -> np.ndarray:
    """(R, S) what each repetition's own line takes up of its notes' lateness (R, S)."""
    import numpy as np

    slots = late.shape[1]
    behind = np.append(late[1:, 0], 0.0)
    points = np.concatenate([late, behind[:, None]], axis=1)
    weight = sitting.lined.astype(float)
    count = np.maximum(weight.sum(axis=1), 1.0)
    middle = (weight @ sitting.start) / count
    away = sitting.start[None, :] - middle[:, None]
    square = np.maximum((weight * away**2).sum(axis=1), 1e-9)
    level = (weight * points).sum(axis=1) / count
    slope = (weight * away * points).sum(axis=1) / square
    return np.asarray(level[:, None] + slope[:, None] * away[:, :slots])


def _levels(sitting: Sitting, state: State, told: Ways) -> State:
    struck = sitting.heard
    turned = (told.turned * struck).sum(axis=0)
    strokes = (told.stroke.sum(axis=2) * struck).sum(axis=0)
    slurs = (told.slur * struck).sum(axis=0)
    goes_on, takes_up = float(told.goes_on.sum()), float(told.takes_up.sum())
    begun = told.begin[sitting.afresh]
    of = sitting.string, told.stroke, told.slur
    loud = fitted(
        sitting.loud - state.loudness[:, None], state.loud, *of, sitting.top, state.two_ways
    )
    late = fitted(_unlined(sitting, state), state.late, *of, None, state.two_ways)
    return replace(
        state,
        loud=loud,
        late=late,
        loudness=_loudness(sitting, loud, told),
        turning=_usual(turned, strokes, state.turning, (_STAYS, _TURNS), _TURNS_NOTES),
        slurred=_usual(
            slurs, struck.sum(axis=0), state.slurred, (_SLURRED, _SLURRED_PLANNED), _SLURRED_NOTES
        ),
        alternate=(goes_on + 0.5) / (goes_on + takes_up + 1.0),
        begin=(float(begun[:, 0].sum()) + 0.5) / (len(begun) + 1.0),
    )


def _loudness(sitting: Sitting, levels: Levels, told: Ways) -> np.ndarray:
    """How much louder each repetition is than usual, drawn to nothing."""
    import numpy as np

    known = ~np.isnan(sitting.loud)
    filled = np.where(known, sitting.loud, 0.0)
    total, over = np.zeros(len(filled)), np.zeros(len(filled))
    for way, side in enumerate((-0.5, 0.5)):
        over_level = filled - levels.level - side * (levels.apart + levels.by_slot)
        weight = told.stroke[:, :, way] * known * inlying(over_level, levels.scatter)
        total += weight.sum(axis=1)
        over += (weight * over_level).sum(axis=1)
    return np.asarray(over / (total + (levels.scatter / _LOUDNESS_SPREAD) ** 2))
