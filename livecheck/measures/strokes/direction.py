"""Down or up: the direction of each stroke as it was played.

A pure function of a sitting's repetitions. Two ways of the pick are told apart by what they differ
by in loudness and lateness, learned from the sitting itself, and by the way the hand goes on
(``direction_model.py``, ``direction_climb.py``, ``direction_chain.py``). Which of the two is *down*
follows from how the plan begins, from the player's word before a take, and from up strokes being
softer and later as a rule; where these do not agree, the ways stay without a name. Where two ways
explain the sitting no better than one, nothing is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log
from typing import TYPE_CHECKING, NamedTuple

from ...core.cell import PICKED, Cell
from ...core.events import HIT, Repetition
from ...core.picking import first_stroke, strokes_of
from ..stats import Z95
from .direction_climb import Sitting, State, lined_up
from .direction_model import carried, learn

if TYPE_CHECKING:
    import numpy as np

DOWN, UP = "down", "up"
OTHER = {DOWN: UP, UP: DOWN}

TOLD = 0.9
"""A stroke is told when one direction is this probable; of a slot that is planned not to be picked,
only where it is picked all the same as a rule."""

_WIDER = 1.2
"""Intervals of the habits of a direction are wider than those of known directions by so much (from
simulated sittings)."""

LEAST_REPS, LEAST_NOTES = 4, 24
"""Fewer repetitions and notes than this say nothing (common practice, no source)."""

_AS_PLANNED, _ALWAYS_TURNED = 0.9, 0.07
"""Chance that a beginning is the planned one, and that a player always begins the other way round
(no source)."""
_WORD = 0.985  # that a player's word of the first stroke is right
_SOFTER, _LATER = log(4.0), log(3.0)
"""Log odds that the softer, and the later strokes are the up strokes (no source)."""
_UNLIKELY = 1.5
"""Nats by which two ways have to explain a sitting better than one to be as likely (from simulated
sittings with a difference and without any)."""
_MOST = 0.999  # nothing is more certain than this


class Played(NamedTuple):
    """The stroke of one slot's note. ``played`` None: not picked, or it cannot be told."""

    rep: int
    slot: int
    played: str | None
    chance: float | None  # of ``played``


class Habit(NamedTuple):
    """What up strokes are like beside down strokes, with a 95 % interval."""

    value: float
    low: float
    high: float


class Seam(NamedTuple):
    """How a repetition that followed on began: whether the picking went on alternating, or took up
    the stroke that the one before it began with. None where both are the same, or it cannot be
    told."""

    rep: int
    goes_on: bool | None


@dataclass(frozen=True, slots=True)
class Directions:
    """The strokes of one sitting's repetitions of a cell. ``why``: None, or why none can be told.

    softer: share by which up strokes are softer; later: ms by which they come later (minus: harder,
    earlier); None where they cannot be told. ``owed``: of a note's log velocity and deviation_ms,
    what its direction makes of them, against the middle of both; nothing where ``softer`` or
    ``later`` may as well be nothing.
    """

    strokes: tuple[Played, ...]
    begun: dict[int, str]  # by repetition, the direction that slot 1's stroke has or would have
    seams: tuple[Seam, ...]
    not_picked: tuple[int, ...]  # slots planned to be picked that are not, as a rule
    softer: Habit | None
    later: Habit | None
    owed: dict[tuple[int, int], tuple[float, float]]
    gain: float
    why: str | None


class Learned(NamedTuple):
    """What was learned of a sitting: levels, the nats by which two ways explain it better than one,
    and the chance that way 0 is the down stroke."""

    state: State
    gain: float
    named: float


def learn_directions(reps: Sequence[Repetition]) -> Learned | None:
    """What two ways make of one sitting's repetitions of one way to play a cell; None where they
    are too few."""
    if not _enough(reps):
        return None
    sitting = _sitting(reps[0].cell, reps)
    state, gain = learn(sitting)
    return Learned(state, gain, _named(sitting, state, reps))


def read_directions(reps: Sequence[Repetition], learned: Learned | None = None) -> Directions:
    """Down or up for every picked note of one sitting's repetitions of one way to play a cell.

    reps: in order, all of cells with the same slots. learned: from earlier repetitions of the
    sitting, taken as it is; from these where left out.
    """
    if learned is None:
        learned = learn_directions(reps)
        if learned is None:
            return _silent(reps, "too few picked notes")
        sitting, state = _sitting(reps[0].cell, reps), learned.state
    else:
        sitting = _sitting(reps[0].cell, reps)
        state = carried(sitting, learned.state)
    _, gain, named = learned
    told = state.told
    assert told is not None
    cell = reps[0].cell
    picked = [slot for slot in cell.slots if slot.picked]
    differs = 1.0 / (1.0 + exp(min(max(_UNLIKELY - gain, -50.0), 50.0)))
    if differs < 0.5 or not _apart(state):
        return _silent(reps, "both directions sound alike", gain)
    # chances of down and up with the doubt of the name and of there being a difference at all
    down_first = named * told.stroke + (1.0 - named) * told.stroke[:, :, ::-1]
    by_way = differs * down_first + (1.0 - differs) * 0.5 * told.stroke.sum(axis=2)[:, :, None]
    begin = differs * (named * told.begin + (1.0 - named) * told.begin[:, ::-1])
    strokes, begun = [], {}
    for row, rep in enumerate(reps):
        for result in rep.slots:
            at = result.slot - 1
            down, ups = float(by_way[row, at, 0]), float(by_way[row, at, 1])
            chance = min(max(down, ups), _MOST)
            heard = bool(sitting.heard[row, at])
            rule = cell.slots[at].picked or state.slurred[at] < 1.0 - TOLD
            known = heard and rule and chance >= TOLD
            played = (DOWN if down > ups else UP) if known else None
            strokes.append(Played(rep.rep, result.slot, played, chance if known else None))
        # the way before the first stroke is the other one
        if max(begin[row]) >= TOLD:
            begun[rep.rep] = DOWN if begin[row, 1] > begin[row, 0] else UP
    sign = 1.0 if named >= 0.5 else -1.0
    sure = max(named, 1.0 - named) >= TOLD
    return Directions(
        tuple(strokes),
        begun,
        _seams(sitting, state, reps, differs),
        tuple(slot.number for slot in picked if state.slurred[slot.number - 1] > 0.8),
        _softer(state, sign) if sure else None,
        _later(state, sign) if sure else None,
        _owed(sitting, state, reps),
        gain,
        None if sure else "the two directions differ, but which is down cannot be told",
    )


def by_way(reps: Sequence[Repetition]) -> list[list[Repetition]]:
    """The repetitions of each cell and each way to play it by themselves, in order."""
    groups: dict[tuple[object, ...], list[Repetition]] = {}
    for rep in reps:
        cell = rep.cell
        key = (cell.name, cell.variant, cell.slots, cell.steps, cell.picking)
        groups.setdefault(key, []).append(rep)
    return list(groups.values())


def strokes_played(reps: Sequence[Repetition]) -> dict[tuple[int, int], Played]:
    """The stroke of every slot of a sitting's repetitions, by repetition and slot."""
    told = [read_directions(own) for own in by_way(reps)]
    return {(one.rep, one.slot): one for found in told for one in found.strokes}


def _enough(reps: Sequence[Repetition]) -> bool:
    """Whether there are notes enough to learn from, with a velocity or a place."""
    if len(reps) < LEAST_REPS or sum(slot.picked for slot in reps[0].cell.slots) < 2:
        return False
    notes = [
        result
        for rep in reps
        for result in rep.slots
        if result.note is not None and rep.cell.slots[result.slot - 1].picked
    ]
    told = any(one.deviation_ms is not None or (one.note and one.note.velocity) for one in notes)
    return len(notes) >= LEAST_NOTES and told


def _silent(reps: Sequence[Repetition], why: str, gain: float = 0.0) -> Directions:
    strokes = tuple(
        Played(rep.rep, result.slot, None, None) for rep in reps for result in rep.slots
    )
    return Directions(strokes, {}, (), (), None, None, {}, gain, why)


def _sitting(cell: Cell, reps: Sequence[Repetition]) -> Sitting:
    import numpy as np

    shape = len(reps), len(cell.slots)
    loud, late = np.full(shape, np.nan), np.full(shape, np.nan)
    top, heard, bend = (np.zeros(shape, bool) for _ in range(3))
    lined = np.zeros((shape[0], shape[1] + 1), bool)
    afresh = begins_anew(reps)
    for row, rep in enumerate(reps):
        for result in rep.slots:
            note, at = result.note, result.slot - 1
            if note is None:
                continue
            heard[row, at], bend[row, at] = True, not note.velocity
            lined[row, at] = result.verdict == HIT and rep.tempo_bpm is not None
            if note.velocity:
                loud[row, at], top[row, at] = log(note.velocity), note.velocity >= 127
            if result.deviation_ms is not None:
                late[row, at] = result.deviation_ms
        follower = reps[row + 1].slots[0] if row + 1 < len(reps) and not afresh[row + 1] else None
        lined[row, -1] = follower is not None and follower.verdict == HIT
    strings = {string: at for at, string in enumerate(dict.fromkeys(s.string for s in cell.slots))}
    turns, last = [], None
    for stroke in strokes_of(cell, 1):
        turns.append(stroke not in PICKED or stroke != last)
        last = stroke if stroke in PICKED else last
    first = first_stroke(cell, 1)
    assert first is not None
    return Sitting(
        loud,
        late,
        top,
        heard,
        bend,
        lined,
        np.array([float(slot.start) for slot in cell.slots] + [float(cell.steps)]),
        np.array([strings[slot.string] for slot in cell.slots]),
        np.array([slot.picked for slot in cell.slots]),
        np.array(turns),
        PICKED.index(first),
        afresh,
    )


def begins_anew(reps: Sequence[Repetition]) -> np.ndarray:
    """(R,) whether each repetition begins anew: play began or began again there, or what went
    before is not among them."""
    import numpy as np

    following = (
        before.rep + 1 == rep.rep and rep.since_start > 1 for before, rep in zip(reps, reps[1:])
    )
    return np.array([True, *(not one for one in following)])


def _named(sitting: Sitting, state: State, reps: Sequence[Repetition]) -> float:
    """Chance that way 0 is the down stroke and way 1 the up stroke."""
    told = state.told
    assert told is not None
    both = []  # log likelihoods, as told and the other way round
    for swapped in (False, True):
        usual, other = log(1.0 - _ALWAYS_TURNED), log(_ALWAYS_TURNED)
        for row, rep in enumerate(reps):
            if rep.since_start > 1 and rep.begins is None:
                continue
            # the way before the first stroke is the other one
            said = rep.begins
            first = sitting.first if said is None else PICKED.index(said)
            planned = float(told.begin[row, 1 - first])
            planned = 1.0 - planned if swapped else planned
            if said is not None:
                sure = log(_WORD * planned + (1.0 - _WORD) * (1.0 - planned))
                usual, other = usual + sure, other + sure
                continue
            usual += log(_AS_PLANNED * planned + (1.0 - _AS_PLANNED) * (1.0 - planned))
            other += log(_AS_PLANNED * (1.0 - planned) + (1.0 - _AS_PLANNED) * planned)
        most = max(usual, other)
        both.append(most + log(exp(usual - most) + exp(other - most)))
    odds = both[0] - both[1]
    for levels, softer, weight in ((state.loud, -1.0, _SOFTER), (state.late, 1.0, _LATER)):
        sure = softer * levels.apart / max(levels.apart_sd, 1e-9)
        odds += weight * min(max(sure / 3.0, -1.0), 1.0)
    return 1.0 / (1.0 + exp(min(max(-odds, -50.0), 50.0)))


def _owed(
    sitting: Sitting, state: State, reps: Sequence[Repetition]
) -> dict[tuple[int, int], tuple[float, float]]:
    """By repetition and slot, whatever the two ways are called."""
    told, found = state.told, {}
    assert told is not None
    lean = 0.5 * (told.stroke[:, :, 1] - told.stroke[:, :, 0])
    loud, late = (
        lean * (levels.apart + levels.by_slot)
        if abs(levels.apart) > Z95 * levels.apart_sd
        else 0.0 * lean
        for levels in (state.loud, state.late)
    )
    late = late - lined_up(sitting, late)
    for row, rep in enumerate(reps):
        for result in rep.slots:
            at = row, result.slot - 1
            if sitting.heard[at]:
                found[rep.rep, result.slot] = float(loud[at]), float(late[at])
    return found


def _apart(state: State) -> bool:
    """Whether the ways surely differ in loudness or lateness: what else two ways may explain, as
    notes left out, is no direction."""
    return any(
        abs(levels.apart) > Z95 * _WIDER * levels.apart_sd for levels in (state.loud, state.late)
    )


def _softer(state: State, sign: float) -> Habit:
    value, reach = sign * state.loud.apart, Z95 * _WIDER * state.loud.apart_sd
    return Habit(*(1.0 - exp(end) for end in (value, value + reach, value - reach)))


def _later(state: State, sign: float) -> Habit:
    value, reach = sign * state.late.apart, Z95 * _WIDER * state.late.apart_sd
    return Habit(value, value - reach, value + reach)


def _seams(
    sitting: Sitting, state: State, reps: Sequence[Repetition], differs: float
) -> tuple[Seam, ...]:
    """differs: the chance that there is a difference by which they were heard."""
    told = state.told
    assert told is not None
    found = []
    for row, rep in enumerate(reps):
        if sitting.afresh[row]:
            continue
        on, up = (differs * float(one[row]) for one in (told.goes_on, told.takes_up))
        found.append(Seam(rep.rep, True if on >= TOLD else False if up >= TOLD else None))
    return tuple(found)
