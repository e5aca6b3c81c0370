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
from math import log, pi
from typing import TYPE_CHECKING, NamedTuple

from .direction_chain import Heard, Ways, ways

if TYPE_CHECKING:
    import numpy as np

# What is usual, before anything is heard. No source; wide ranges.
_TURNS, _STAYS, _TURNS_NOTES = 0.997, 0.02, 60.0
"""Chance that a stroke turns the pick round, where it does and where it does not, and its weight."""
_SLURRED, _SLURRED_PLANNED, _SLURRED_NOTES = 0.015, 0.97, 25.0
_OTHERWISE = 7.0  # nats that a slot costs which is as a rule not as it is planned
_SLURRED_MISSED = 0.1  # of a note that was not heard
_BEND_STRUCK = 0.02
_ODD, _ODD_SCATTER = 0.04, 4.0  # share of outliers and their scatter
_LOUDNESS_SPREAD = 0.07  # SD of the repetitions' loudness
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


@dataclass(frozen=True, slots=True)
class Kind:
    """What is usual of loudness, or of lateness."""

    scatter: float  # and the least that is believed
    least: float
    strings: float  # SD of the strings' levels
    accent: float  # SD of the slots' about them
    apart: float  # SD of what the ways differ by
    own: float  # SD of a slot's own difference about that
    slur: tuple[float, float]  # of a note without a stroke: how far off its level lies, and SD


LOUD = Kind(0.09, 0.03, 0.2, 0.08, 0.25, 0.05, (-0.45, 0.2))
LATE = Kind(4.0, 1.0, 4.0, 2.0, 4.0, 0.7, (0.0, 3.0))


@dataclass(slots=True)
class Levels:
    """Levels of one kind. ``apart``: way 1 minus way 0, by slot and on the whole."""

    kind: Kind
    level: np.ndarray
    by_slot: np.ndarray
    slur: np.ndarray
    apart: float = 0.0
    apart_sd: float = 0.0
    scatter: float = 1.0
    accent: float = 1.0
    penalty: float = 0.0  # nats


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
    tried = [_run(few, state, _FIRST_ROUNDS) for state in _beginnings(few, one.flat)]
    tried.sort(key=lambda state: -state.fit)
    best = max((_run(few, state, _ROUNDS) for state in tried[:2]), key=lambda state: state.fit)
    other = _run(few, replace(best, flat=not best.flat), _ROUNDS)
    best = _without_strokes(few, max(best, other, key=lambda state: state.fit))
    one = max(
        _without_strokes(few, one), _run(few, _alike(best), _ROUNDS), key=lambda state: state.fit
    )
    gain = best.fit - one.fit
    if few is not sitting:
        best = _run(sitting, replace(best, loudness=_zeros(sitting), told=None), 2)
    return best, gain


def _alike(state: State) -> State:
    """The same as where both ways sound alike."""
    alike = [
        replace(levels, apart=0.0, by_slot=0.0 * levels.by_slot) for levels in (state.loud, state.late)
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
        *(_first_levels(values, kind, slots) for values, kind in _kinds(sitting)),
        loudness=_zeros(sitting),
        turning=np.where(sitting.turns, _TURNS, _STAYS),
        slurred=np.where(sitting.picked, _SLURRED, _SLURRED_PLANNED),
        two_ways=two_ways,
        flat=flat,
    )


def _kinds(sitting: Sitting) -> tuple[tuple[np.ndarray, Kind], tuple[np.ndarray, Kind]]:
    return (sitting.loud, LOUD), (sitting.late, LATE)


def _first_levels(values: np.ndarray, kind: Kind, slots: int) -> Levels:
    import numpy as np

    known = ~np.isnan(values)
    overall = float(np.median(values[known])) if known.any() else 0.0
    level = np.array(
        [
            np.median(values[known[:, slot], slot]) if known[:, slot].any() else overall
            for slot in range(slots)
        ]
    )
    return Levels(
        kind, level, np.zeros(slots), level + kind.slur[0], scatter=1.3 * kind.scatter,
        accent=kind.accent,
    )  # fmt: skip


def _beginnings(sitting: Sitting, flat: bool) -> list[State]:
    """Where the search begins: the plan as alternation or as repetition makes it, and what up
    strokes are like elsewhere."""
    import numpy as np

    found = []
    even = np.ones((*sitting.heard.shape, 2))
    for alternate in (1.0 - 1e-6, 1e-6):
        state = _fresh(sitting, flat=flat)
        sharp = replace(
            state,
            turning=np.where(sitting.turns, 1.0 - 1e-6, 1e-6),
            alternate=alternate,
            begin=0.999 if sitting.first else 0.001,
        )
        found.append(replace(state, told=ways(_heard_of(sitting, sharp, even, even[:, :, 0]))))
    for apart_loud, apart_late in ((-0.2, 0.0), (0.0, 5.0), (-0.15, 3.0)):
        state = _fresh(sitting, flat=flat)
        state.loud.apart, state.late.apart = apart_loud, apart_late
        found.append(state)
    return found


def _without_strokes(sitting: Sitting, best: State) -> State:
    """The same where one slot after the other is tried without a stroke though one is planned."""
    import numpy as np

    for _ in range(2):
        trials = []
        for slot in np.flatnonzero(sitting.picked & (best.slurred < 0.5)):
            slurred = best.slurred.copy()
            slurred[slot] = 0.9
            level = best.loud.level.copy()
            others = sitting.picked & (np.arange(len(slurred)) != slot)
            level[slot] = float(np.mean(best.loud.level[others])) if others.any() else level[slot]
            loud = replace(best.loud, level=level)
            if best.loud.level[slot] > level[slot] - 0.12 and best.two_ways is False:
                continue
            trials.append(_run(sitting, replace(best, slurred=slurred, loud=loud, told=None), 4))
        better = max(trials, key=lambda state: state.fit, default=best)
        if better.fit <= best.fit + 1.0:
            return best
        best = _run(sitting, better, 4)
    return best


# ------------------------------------------------------------------------------------ turn by turn


def _run(sitting: Sitting, state: State, rounds: int) -> State:
    """Levels from ways and ways from levels, by turns."""
    for _ in range(rounds):
        before = state.fit
        if state.told is not None:
            state = _levels(sitting, state, state.told)
        state = _weigh(sitting, state)
        if abs(state.fit - before) < 0.02:
            break
    return state


def _weigh(sitting: Sitting, state: State) -> State:
    import numpy as np

    late = _unlined(sitting, state)
    stroke, slur = np.zeros((*sitting.heard.shape, 2)), np.zeros(sitting.heard.shape)
    for values, levels, shift in (
        (sitting.loud, state.loud, state.loudness),
        (late, state.late, 0.0 * state.loudness),
    ):
        density = _log_flat if state.flat and levels is state.loud else _log_density
        top = sitting.top & (levels is state.loud)
        own = values - shift[:, None]
        known = ~np.isnan(own)
        for way, side in enumerate((-0.5, 0.5)):
            middle = levels.level + side * (levels.apart + levels.by_slot)
            stroke[:, :, way] += np.where(known, density(_off(own, middle, top), levels.scatter), 0.0)
        slur += np.where(known, _log_density(_off(own, levels.slur, top), 1.4 * levels.scatter), 0.0)
    stroke += np.where(sitting.bend, log(_BEND_STRUCK), 0.0)[:, :, None]
    most = np.maximum(stroke.max(axis=2), slur)
    heard = _heard_of(
        sitting, state, np.exp(stroke - most[:, :, None]), np.exp(slur - most)
    )
    told = ways(heard)
    fit = told.fit + float(most.sum()) - state.loud.penalty - state.late.penalty
    fit -= 0.5 * float(np.sum(state.loudness**2)) / _LOUDNESS_SPREAD**2
    fit -= _unusual(state.turning, sitting.turns, (_STAYS, _TURNS), _TURNS_NOTES)
    fit -= _unusual(
        state.slurred, ~sitting.picked, (_SLURRED, _SLURRED_PLANNED), _SLURRED_NOTES
    )
    return replace(state, told=told, fit=fit)


def _unusual(
    chance: np.ndarray, planned: np.ndarray, usual: tuple[float, float], weight: float
) -> float:
    """Nats that the slots' chances cost: unlike the usual ones of their plan (as so many notes
    weigh), or of the other way at a price."""
    import numpy as np

    no, yes = (
        weight * (one * np.log(one / chance) + (1.0 - one) * np.log((1.0 - one) / (1.0 - chance)))
        for one in usual
    )
    own, other = np.where(planned, yes, no), np.where(planned, no, yes)
    return float(np.minimum(own, other + _OTHERWISE).sum())


def _usual(
    counts: np.ndarray, of: np.ndarray, chance: np.ndarray, usual: tuple[float, float], weight: float
) -> np.ndarray:
    """Chances from counts, drawn to the nearer of two usual ones."""
    import numpy as np

    nearer = np.where(chance > 0.5, usual[1], usual[0])
    return np.asarray(np.clip((counts + nearer * weight) / (of + weight), 0.002, 0.998))


def _log_density(off: np.ndarray, scatter: float) -> np.ndarray:
    """Normal with a share of outliers."""
    import numpy as np

    square = (off / scatter) ** 2
    inner = (1.0 - _ODD) * np.exp(-0.5 * square)
    outer = _ODD / _ODD_SCATTER * np.exp(-0.5 * square / _ODD_SCATTER**2)
    return np.asarray(np.log(inner + outer + 1e-12) - log(scatter) - 0.5 * log(2.0 * pi))


def _off(values: np.ndarray, middle: np.ndarray, top: np.ndarray) -> np.ndarray:
    """How far values lie off a level; at the top no less than not at all."""
    import numpy as np

    off = values - middle
    return np.asarray(np.where(top & (off < 0.0), 0.0, off))


def _log_flat(off: np.ndarray, scatter: float) -> np.ndarray:
    """Nearly even within its limits, with a share of outliers."""
    import numpy as np

    square = (off / scatter) ** 2
    inner = (1.0 - _ODD) * 0.7626 * np.exp(-np.minimum((square / 3.14) ** 3, 700.0))
    outer = _ODD / _ODD_SCATTER * 0.39894 * np.exp(-0.5 * square / _ODD_SCATTER**2)
    return np.asarray(np.log(inner + outer + 1e-12) - log(scatter))


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
    reps, slots = sitting.heard.shape
    lean = state.late.apart * 0.5 * (state.told.stroke[:, :, 1] - state.told.stroke[:, :, 0])
    behind = np.append(lean[1:, 0], 0.0)
    lean = np.concatenate([lean, behind[:, None]], axis=1)
    weight = sitting.lined.astype(float)
    count = np.maximum(weight.sum(axis=1), 1.0)
    middle = (weight @ sitting.start) / count
    away = sitting.start[None, :] - middle[:, None]
    square = np.maximum((weight * away**2).sum(axis=1), 1e-9)
    level = (weight * lean).sum(axis=1) / count
    slope = (weight * away * lean).sum(axis=1) / square
    return np.asarray(sitting.late + level[:, None] + slope[:, None] * away[:, :slots])


def _levels(sitting: Sitting, state: State, told: Ways) -> State:
    import numpy as np

    struck = sitting.heard
    turned = (told.turned * struck).sum(axis=0)
    strokes = (told.stroke.sum(axis=2) * struck).sum(axis=0)
    slurs = (told.slur * struck).sum(axis=0)
    goes_on, takes_up = float(told.goes_on.sum()), float(told.takes_up.sum())
    begun = told.begin[sitting.afresh]
    loud = _fitted(sitting.loud - state.loudness[:, None], state.loud, sitting, told, state.two_ways)
    late = _fitted(_unlined(sitting, state), state.late, sitting, told, state.two_ways)
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


def _fitted(
    values: np.ndarray, levels: Levels, sitting: Sitting, told: Ways, two_ways: bool
) -> Levels:
    """Levels of one kind by least squares, each drawn to what is usual: strings, slots about their
    string's, and what the ways differ by."""
    import numpy as np

    kind, slots = levels.kind, len(levels.level)
    known = ~np.isnan(values)
    filled = np.where(known, values, 0.0)
    if kind is LOUD:  # a note at the top may have been as loud as it was to be
        lean = 0.5 * (told.stroke[:, :, 1] - told.stroke[:, :, 0])
        expected = levels.level + lean * (levels.apart + levels.by_slot)
        filled = np.where(sitting.top, np.maximum(filled, expected), filled)
    strings = int(sitting.string.max()) + 1
    size = strings + 1 + 2 * slots
    middle = float(np.mean(values[known])) if known.any() else 0.0
    matrix, right = np.zeros((size, size)), np.zeros(size)
    at_level, at_own = strings + 1 + np.arange(slots), strings + 1 + slots + np.arange(slots)
    counts, spread = 0.0, 0.0
    precision = 1.0 / levels.scatter**2
    weights = []
    for way, side in enumerate((-0.5, 0.5)):
        expected = levels.level + side * (levels.apart + levels.by_slot)
        weight = told.stroke[:, :, way] * known * _inlying(filled - expected, levels.scatter)
        weights.append(weight)
        n, y = weight.sum(axis=0) * precision, (weight * (filled - middle)).sum(axis=0) * precision
        matrix[at_level, at_level] += n
        matrix[at_own, at_own] += side**2 * n
        matrix[at_level, at_own] += side * n
        matrix[at_own, at_level] += side * n
        matrix[strings, at_level] += side * n
        matrix[at_level, strings] += side * n
        matrix[strings, at_own] += side**2 * n
        matrix[at_own, strings] += side**2 * n
        matrix[strings, strings] += float(side**2 * n.sum())
        right[at_level] += y
        right[at_own] += side * y
        right[strings] += float(side * y.sum())
    about = 1.0 / levels.accent**2
    matrix[at_level, at_level] += about
    np.add.at(matrix, (sitting.string, sitting.string), about)
    matrix[at_level, sitting.string] -= about
    matrix[sitting.string, at_level] -= about
    within = np.arange(strings)
    matrix[within, within] += 1.0 / kind.strings**2
    own, apart_sd = (kind.own, kind.apart) if two_ways else (1e-6, 1e-6)
    matrix[at_own, at_own] += 1.0 / own**2
    matrix[strings, strings] += 1.0 / apart_sd**2
    found = np.linalg.solve(matrix, right)
    level, apart, by_slot = found[at_level], float(found[strings]), found[at_own]
    residue = level - found[sitting.string]
    for weight, side in zip(weights, (-0.5, 0.5)):
        off = filled - middle - level - side * (apart + by_slot)
        counts += float(weight.sum())
        spread += float((weight * off**2).sum())
    scatter = ((spread + 6.0 * kind.scatter**2) / (counts + 6.0)) ** 0.5
    accent = ((float(np.sum(residue**2)) + 4.0 * kind.accent**2) / (slots + 4.0)) ** 0.5
    offset, offset_sd = kind.slur
    slur_weight = told.slur * known
    slur_base = level + offset if offset == 0.0 else found[sitting.string] + offset
    slur_precision = slur_weight.sum(axis=0) * precision / 1.96
    slur = (
        (slur_weight * (filled - middle)).sum(axis=0) * precision / 1.96 + slur_base / offset_sd**2
    ) / (slur_precision + 1.0 / offset_sd**2)
    penalty = (
        0.5 * float(np.sum(residue**2)) * about
        + 0.5 * float(np.sum(found[:strings] ** 2)) / kind.strings**2
        + 0.5 * float(np.sum(by_slot**2)) / own**2
        + 0.5 * apart**2 / apart_sd**2
        + 0.5 * float(np.linalg.slogdet(matrix)[1])
        + slots * log(levels.accent * own)
        + strings * log(kind.strings)
        + log(apart_sd)
        + 0.5 * float(np.sum((slur - slur_base) ** 2)) / offset_sd**2
        + 2.0 * (log(levels.accent / kind.accent)) ** 2
    )
    return replace(
        levels,
        level=level + middle,
        by_slot=by_slot,
        slur=slur + middle,
        apart=apart,
        apart_sd=float(np.linalg.inv(matrix)[strings, strings]) ** 0.5,
        scatter=max(scatter, kind.least),
        accent=max(accent, 0.25 * kind.accent),
        penalty=penalty,
    )


def _inlying(off: np.ndarray, scatter: float) -> np.ndarray:
    """How surely a note is no outlier."""
    import numpy as np

    square = np.minimum((off / scatter) ** 2, 60.0)
    inner = (1.0 - _ODD) * np.exp(-0.5 * square)
    outer = _ODD / _ODD_SCATTER * np.exp(-0.5 * square / _ODD_SCATTER**2)
    return np.asarray((inner + outer / _ODD_SCATTER**2) / (inner + outer))


def _loudness(sitting: Sitting, levels: Levels, told: Ways) -> np.ndarray:
    """How much louder each repetition is than usual, drawn to nothing."""
    import numpy as np

    known = ~np.isnan(sitting.loud)
    filled = np.where(known, sitting.loud, 0.0)
    total, over = np.zeros(len(filled)), np.zeros(len(filled))
    for way, side in enumerate((-0.5, 0.5)):
        off = filled - levels.level - side * (levels.apart + levels.by_slot)
        weight = told.stroke[:, :, way] * known * _inlying(off, levels.scatter)
        total += weight.sum(axis=1)
        over += (weight * off).sum(axis=1)
    return np.asarray(over / (total + (levels.scatter / _LOUDNESS_SPREAD) ** 2))
