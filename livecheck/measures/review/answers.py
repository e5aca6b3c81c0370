"""The review: every answer about one cell, put together from its tries.

Values only, in plain numbers, so that the terminal, the page and the JSON draw from the same place.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..stats import wilson
from .by_start import ByStart, by_start
from .changes import Change, find_changes
from .compare import Comparison, compare
from .even import Even, even
from .first_to_go import FirstToGo, first_to_go
from .left_out import LeftOut, left_out
from .limits import (
    BREAK,
    SECURE,
    TOO_FEW,
    Limit,
    Limits,
    Sounding,
    Standing,
    standing,
    standing_still,
    tempo_limits,
)
from .moves import Moves
from .progress import Progress, progress
from .rungs import Rungs, rungs
from .seam import Seam, seam
from .table import Tries, fewer_rows
from .valleys import Valley, find_valley
from .wear import Wear, wear

MOST_PARTS = 3000
"""More takes and tempos than this are not listed one by one."""


@dataclass(frozen=True, slots=True)
class Rung:
    """What happened at one tempo. Shares by slot and by string are None where nothing was tried."""

    bpm: float
    reps: int
    complete: int
    clean: int
    takes: int
    cv_pct: float | None
    missed: tuple[float | None, ...]  # by slot
    wrong: tuple[float | None, ...]
    broken: tuple[float | None, ...]
    noise: tuple[float | None, ...]  # by string
    # repetitions by string in which it was struck, and in which it was only brushed
    struck: tuple[int, ...] = ()
    brushed: tuple[int, ...] = ()
    unpicked: tuple[float | None, ...] = ()  # by slot, of the notes that could be told
    attack: tuple[float | None, ...] = ()  # by slot, mean; 1 is as hard as the others
    timing_ms: tuple[float | None, ...] = ()  # by slot, mean deviation; plus is late


@dataclass(frozen=True, slots=True)
class Part:
    """The repetitions behind a point: one take's at one tempo. ``rung`` is the index into
    ``by_tempo``."""

    rung: int
    day: int  # day number, 0 where unknown
    sitting: int
    take: int
    minute: float
    bpm: float
    reps: int
    clean: int


@dataclass(frozen=True, slots=True)
class Drawn:
    """The fitted curve for drawing: tempo, chance, and the ends of its 95 % band."""

    bpm: tuple[float, ...]
    chance: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class AsOf:
    """The last day of what was chosen, which ``secure`` and ``broken`` are of."""

    day: int
    sittings: int
    reps: int


@dataclass(frozen=True, slots=True)
class Earlier:
    """Where the cell stood on the first day; None where that lies beyond what was tried."""

    day: int
    secure_bpm: float | None
    break_bpm: float | None


@dataclass(frozen=True, slots=True)
class DayStand:
    """Both tempos as of one day, and how well each is known against the last day (SD, bpm)."""

    day: int
    secure_bpm: float | None
    break_bpm: float | None
    secure_sd: float
    break_sd: float


@dataclass(frozen=True, slots=True)
class Review:
    """One cell's answers. What is None has no sign, or too few repetitions to tell.

    ``secure`` and ``broken`` are of the last day, and ``by_tempo`` holds all days as they were
    played. ``awkward`` is sure, ``suspected`` looks so; never both.
    """

    cell: str
    variant: str | None
    slot_strings: tuple[int, ...]
    grid: int
    takes: int
    reps: int
    tempo_range_bpm: tuple[float, float] | None
    secure: Limit
    broken: Limit
    curve: Drawn | None
    awkward: Valley | None
    first_to_go: FirstToGo | None
    changes: tuple[Change, ...]
    by_tempo: tuple[Rung, ...]
    parts: tuple[Part, ...]  # empty where there are more than anyone would look at
    wear: Wear | None
    progress: Progress | None
    odd_even: Comparison | None  # first: odd, second: even; only where the plan's strokes swap
    suspected: Valley | None = None
    first_to_go_why: str | None = None  # why none is told
    even: Even | None = None
    as_of: AsOf | None = None
    earlier: Earlier | None = None
    by_day: tuple[DayStand, ...] = ()  # empty for a single day
    moves: Moves | None = None  # over days; None for a single day
    sounding: Sounding | None = None  # a string that was told by its own series
    # surely goes well, and nothing slower does: limits that deny it are "too_few"
    cleaner_fast: Rung | None = None
    by_start: ByStart | None = None  # down and up, as played; None where that is not told
    seam: Seam | None = None
    left_out: LeftOut | None = None  # notes planned to be picked, where that changes the seam


def make_review(
    tries: Tries | None,
    cell: str,
    grid: int = 4,
    variant: str | None = None,
    *,
    agenda: bool = False,
) -> Review:
    """The review of a table of tries; None or an empty one gives an honest 'too few'.

    agenda: only what the agenda asks of; ``parts``, ``wear``, ``progress``, ``odd_even``,
    ``by_start``, ``seam`` and ``left_out`` stay empty, whatever the tries tell.
    """
    if tries is None or tries.reps == 0:
        few = TOO_FEW
        strings = () if tries is None else tries.slot_strings
        return Review(
            cell, variant, strings, grid, 0, 0, None, few, few, None, None, None, (), (), (), None,
            None, None
        )  # fmt: skip
    every, tries = tries, fewer_rows(tries)
    stands = standing(tries)
    valley = find_valley(tries, stands)
    awkward = valley if valley is not None and valley.sure else None
    rest = tries  # what tells of the fall
    still = _still_valley(tries, stands)
    if still is not None and (valley is None or still.odds > valley.odds):
        valley = still
        awkward = still if still.sure else None
        if awkward is not None:
            outside = (tries.bpm < still.low_bpm * 0.99) | (tries.bpm > still.high_bpm * 1.01)
            rest = tries.where(outside)
            stands = standing(rest)
    limits = tempo_limits(rest, stands, True if awkward is not None and rest is tries else None)
    by_tempo = _by_tempo(every)
    fast = None
    if valley is None:  # else it says already where it goes better
        limits, fast = _without_denied(limits, by_tempo)
    span = None if awkward is None else (awkward.low_bpm, awkward.high_bpm)
    first, why = first_to_go(rest, stands, limits, span)
    changes = tuple(find_changes(tries))
    found = Review(
        cell=cell,
        variant=variant,
        slot_strings=tries.slot_strings,
        grid=grid,
        takes=every.takes,
        reps=tries.reps,
        tempo_range_bpm=(float(every.bpm.min()), float(every.bpm.max())),
        secure=limits.secure,
        broken=limits.broken,
        curve=_drawn(limits),
        awkward=awkward,
        suspected=valley if awkward is None else None,
        first_to_go=first,
        first_to_go_why=why,
        changes=changes,
        even=even(tries, grid, changes),
        by_tempo=by_tempo,
        parts=(),
        wear=None,
        progress=None,
        odd_even=None,
        as_of=_as_of(every),
        earlier=_earlier(limits),
        by_day=_by_day(limits),
        moves=limits.moves,
        sounding=limits.sounding,
        cleaner_fast=fast,
    )
    if agenda:
        return found
    odd, odd_even = tries.where(tries.parity == 1), tries.where(tries.parity == 2)
    over = seam(every)
    return replace(
        found,
        parts=_parts(every),
        wear=wear(every),
        # what begins to sound somewhere is no part of a fall that moves
        progress=None if _held(limits) else progress(every, span),
        odd_even=compare(odd, odd_even) if odd.reps and odd_even.reps else None,
        by_start=by_start(tries),
        seam=over,
        left_out=left_out(every, over),
    )


def _held(limits: Limits) -> bool:
    return limits.sounding is not None and any(limits.sounding.decides)


def _still_valley(tries: Tries, stands: Standing) -> Valley | None:
    """An awkward range that stays at its tempos while the fall moves."""
    below = standing_still(tries, stands)
    return None if below is None else find_valley(*below)


def _as_of(tries: Tries) -> AsOf | None:
    last = int(tries.day.max())
    if not last:
        return None
    rows = tries.day == last
    return AsOf(last, len(np.unique(tries.sitting[rows])), int(tries.n[rows].sum()))


def _earlier(limits: Limits) -> Earlier | None:
    """The first day, where it surely differs from the last."""
    moves = limits.moves
    if moves is None or not moves.moved:
        return None
    then = _then(limits, moves, 0)
    return None if then == (None, None) else Earlier(int(moves.day[0]), *then)


def _by_day(limits: Limits) -> tuple[DayStand, ...]:
    moves = limits.moves
    if moves is None:
        return ()
    return tuple(
        DayStand(
            int(day), *_then(limits, moves, at),
            secure_sd=float(moves.sd[at, 0]), break_sd=float(moves.sd[at, 1]),
        )
        for at, day in enumerate(moves.day)
    )  # fmt: skip


def _then(limits: Limits, moves: Moves, day: int) -> tuple[float | None, float | None]:
    """Secure and break tempo of a day, by its index."""
    secure, broken = (
        None if limit.bpm is None else limit.bpm + float(by)
        for limit, by in zip((limits.secure, limits.broken), moves.by[day])
    )
    return secure, broken


def _without_denied(limits: Limits, by_tempo: tuple[Rung, ...]) -> tuple[Limits, Rung | None]:
    """The limits without those that the counts deny: where it surely goes well at a tempo and
    surely does not at a slower one, no curve that falls fits; and that tempo."""
    if (fast := _denying(BREAK, by_tempo)) is not None:
        return Limits(TOO_FEW, TOO_FEW), fast
    if (fast := _denying(SECURE, by_tempo)) is not None:
        return replace(limits, secure=TOO_FEW), fast
    return limits, None


def _denying(level: float, by_tempo: tuple[Rung, ...]) -> Rung | None:
    """The fastest tempo at which the whole interval of the clean share lies above a level, where
    that of all slower ones together lies below it."""
    for at in range(len(by_tempo) - 1, 0, -1):
        rung, slower = by_tempo[at], by_tempo[:at]
        low, _ = wilson(rung.clean, rung.reps) or (0.0, 1.0)
        _, high = wilson(sum(one.clean for one in slower), sum(one.reps for one in slower)) or (
            0,
            1,
        )
        if low > level and high < level:
            return rung
    return None


def _drawn(limits: Limits) -> Drawn | None:
    band = limits.band
    if band is None:
        return None
    return Drawn(
        *(tuple(column.tolist()) for column in (band.bpm, band.chance, band.low, band.high))
    )


def _by_tempo(tries: Tries) -> tuple[Rung, ...]:
    steps = _rungs(tries)
    n, cv_n, heard = steps.sums(tries.n), steps.sums(tries.cv_n), steps.sums(tries.heard)
    complete, clean, cv = (
        steps.sums(tries.complete),
        steps.sums(tries.clean),
        steps.sums(tries.cv_sum),
    )
    missed, wrong = (
        _shares(steps.sums(tries.missed), heard),
        _shares(steps.sums(tries.wrong), heard),
    )
    broken = _shares(steps.sums(tries.broken), np.repeat(n[:, None], tries.broken.shape[1], axis=1))
    noise = _shares(steps.sums(tries.noise), np.repeat(n[:, None], tries.noise.shape[1], axis=1))
    unpicked = _shares(steps.sums(tries.unpicked), steps.sums(tries.stroked))
    attack = _shares(steps.sums(tries.attack_sum), steps.sums(tries.attack_n))
    timing = _shares(steps.sums(tries.timing_sum), steps.sums(tries.timing_n))
    struck, brushed = (steps.sums(column).astype(int) for column in (tries.struck, tries.brushed))
    return tuple(
        Rung(
            float(bpm), int(n[i]), int(complete[i]), int(clean[i]),
            len(np.unique(tries.take[steps.of_row == i])),
            float(cv[i] / cv_n[i]) if cv_n[i] else None,
            missed[i], wrong[i], broken[i], noise[i],
            tuple(struck[i].tolist()), tuple(brushed[i].tolist()), unpicked[i], attack[i],
            timing[i],
        )
        for i, bpm in enumerate(steps.bpm)
    )  # fmt: skip


def _rungs(tries: Tries) -> Rungs:
    """The tempos to be shown: one tried by chance, by less than a fiftieth of all, joins its
    neighbour."""
    return rungs(tries.bpm, tries.n, least=min(max(tries.reps // 50, 1), 20))


def _parts(tries: Tries) -> tuple[Part, ...]:
    """Each take's repetitions at each shown tempo; takes are numbered from 0 in their sitting."""
    steps = _rungs(tries)
    of_row = np.unique(tries.take, return_inverse=True)[1]
    code, at = np.unique(of_row * len(steps.bpm) + steps.of_row, return_inverse=True)
    if len(code) > MOST_PARTS:
        return ()
    n, clean = np.bincount(at, tries.n), np.bincount(at, tries.clean)
    minute, bpm = (np.bincount(at, column * tries.n) / n for column in (tries.minute, tries.bpm))
    take, rung = np.divmod(code, len(steps.bpm))
    first_row = np.unique(at, return_index=True)[1]
    day, sitting = tries.day[first_row], tries.sitting[first_row]
    first_take = {number: take[sitting == number].min() for number in np.unique(sitting)}
    return tuple(
        Part(
            int(rung[i]), int(day[i]), int(sitting[i]), int(take[i] - first_take[sitting[i]]),
            float(minute[i]), float(bpm[i]), int(n[i]), int(clean[i]),
        )
        for i in range(len(code))
    )  # fmt: skip


def _shares(hits: np.ndarray, of: np.ndarray) -> list[tuple[float | None, ...]]:
    """Sums by rung and column, each by its number; None where nothing was counted."""
    return [tuple(float(k / n) if n else None for k, n in zip(*row)) for row in zip(hits, of)]
