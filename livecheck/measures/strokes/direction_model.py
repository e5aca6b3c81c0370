"""Two ways of the pick in one sitting: what sets their notes apart, and which way each note went.

Loudness (log velocity) and lateness of a slot's notes have a level for each way; what the ways
differ by is shared by all slots, and by each a little in its own measure. Slots differ by accent
and by what is left of the conversion delay; how much, is learned with the rest. A note may also be
without a stroke, softer. Levels and ways are found by turns (expectation and maximisation) from
several beginnings; how much better two ways explain the sitting than one is told in nats, with the
freedom that they bring taken off (Laplace's approximation).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from .direction_chain import ways
from .direction_climb import (
    SLURRED,
    SLURRED_PLANNED,
    STAYS,
    TURNS,
    Sitting,
    State,
    climbed,
    heard_of,
)
from .direction_levels import LATE, LOUD, first_levels

if TYPE_CHECKING:
    import numpy as np

_SOFT = 0.15  # log velocity by which a slot is softer that may be no stroke
_HOPELESS = 12.0  # nats behind which no more is tried
_ROUNDS, _FIRST_ROUNDS = 10, 3
_MOST_REPS = 400  # levels are learned from so many repetitions


def learn(sitting: Sitting) -> tuple[State, float]:
    """What two ways make of a sitting, and the nats by which they explain it better than one."""
    few = _some(sitting)
    one = max(
        climbed(few, [_fresh(few, two_ways=False, flat=flat) for flat in (False, True)], _ROUNDS),
        key=lambda state: state.fit,
    )
    best = _searched(few, [_beginnings(few, _fresh(few, flat=one.flat))])[0]
    best = _without_strokes(few, best)
    if best.fit > one.fit - _HOPELESS:
        other = climbed(few, [replace(best, flat=not best.flat)], _ROUNDS)[0]
        best = max(best, other, key=lambda state: state.fit)
    if best.fit > one.fit:
        one = max(
            _without_strokes(few, one),
            climbed(few, [_alike(best)], _ROUNDS)[0],
            key=lambda state: state.fit,
        )
    gain = best.fit - one.fit
    if few is not sitting:
        best = carried(sitting, best)
    return best, gain


def carried(sitting: Sitting, state: State) -> State:
    """What was learned of some repetitions, for others of the same sitting."""
    return climbed(sitting, [replace(state, loudness=_zeros(sitting), told=None)], 2)[0]


def _searched(sitting: Sitting, beginnings: Sequence[list[State]]) -> list[State]:
    """The best that each search comes to from its several beginnings."""
    tried = climbed(sitting, [state for own in beginnings for state in own], _FIRST_ROUNDS)
    further: list[State] = []
    for own in beginnings:
        first, tried = tried[: len(own)], tried[len(own) :]
        further += sorted(first, key=lambda state: -state.fit)[:2]
    further = climbed(sitting, further, _ROUNDS)
    found = []
    for own in beginnings:
        last, further = further[: min(len(own), 2)], further[min(len(own), 2) :]
        found.append(max(last, key=lambda state: state.fit))
    return found


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
        turning=np.where(sitting.turns, TURNS, STAYS),
        slurred=np.where(sitting.picked, SLURRED, SLURRED_PLANNED),
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
        told = ways(heard_of(sitting, [sharp], even, even[:, :, 0]))
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
        trials: list[list[State]] = []
        softest = np.argsort(np.where(soft, level, np.inf), kind="stable")[
            : min(int(soft.sum()), 3)
        ]
        for slot in softest:
            fresh = _fresh(sitting, best.two_ways, best.flat)
            fresh.slurred = np.where(np.arange(len(soft)) == slot, 0.9, best.slurred)
            trials.append(_beginnings(sitting, fresh) if best.two_ways else [fresh])
        better = max(_searched(sitting, trials), key=lambda state: state.fit, default=best)
        if better.fit <= best.fit + 1.0:
            return best
        best = better
    return best
