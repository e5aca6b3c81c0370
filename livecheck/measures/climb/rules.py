"""The rules of a climb: which tempo the next block has, and why.

Each is a function of the blocks so far. All begin below what is known to be secure, raise by
degrees, and put an easy block in after two that went badly. Tempos are what a click is given
(``core.click.whole_bpm``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...core.click import HIGHEST_BPM, LOWEST_BPM, whole_bpm
from .belief import NOTHING, PLACES, Belief, Known, Tried
from .up_down import next_level, reversals

RULES = ("steps", "search", "bursts", "free")
WARM_UP, TRY, EASY, BURST, LEAP = "warm-up", "try", "easy", "burst", "leap"

BELOW = 0.85
"""A warm-up or an easy block has this share of the secure tempo (no source)."""
RAISE, RAISE_LITTLE = 1.2, 1.1
"""Most by which one block may be faster than the fastest that held: where that was clean
throughout, or nearly (no source)."""
HELD, FAILED = 0.75, 0.5
"""Shares of clean repetitions from which a block held, and below which it went badly."""
LEAP_LEAST, LEAP_MOST, LEAPS = 1.05, 1.35, 3
LEAP_SPREADS, LEAP_AFTER = (0.035, 0.02, 0.012), (4, 7, 11)
"""How well the edge must be known before the first leap and each further one; or how many blocks
ago the fastest tempo that held was first reached (no source)."""
ENOUGH = 0.015
"""The question is answered when the break is known to so much: a standard deviation, as a share of
the tempo."""
STEPS = (1.12, 1.06, 1.03)
"""Of the rule *steps*: until the first reversal, until the second, and after it."""
IN_A_ROW = 2
"""Blocks in a row that must hold before *steps* goes faster (after the first reversal)."""
BURST_RAISE, BURST_PART = 1.15, 3
"""A burst is so much faster than its base, and has this part of the repetitions: a third, two at
least (no source)."""
EASY_AFTER = 2
"""So many blocks in a row that went badly call for an easy one (no source)."""
BELOW_BREAK = 0.7
"""A warm-up, where only the break is known, as a share of it (no source)."""
UNKNOWN_BPM = 80.0
"""Where somebody begins of whom nothing is known and who names no tempo (no source)."""
EASY_LEAST, EASY_UNKNOWN = 0.7, 0.8
"""An easy block is no slower than this share of the first; of the slowest tried, where nothing held
and nothing is known to be secure (no source)."""
LEAST_BLOCKS = 4
"""Blocks before a search may be over (no source)."""
NO_LEAP = 0.02
"""Below this chance of an awkward range a leap is not worth it (no source)."""
THROUGHOUT = 0.95
"""Share of clean repetitions from which a block counts as clean throughout."""
CAP_FAILED, CAP_SECURE, LOWEST = 0.95, 1.05, 0.8
"""Of a search: the fastest tempo where none held, of the slowest tried; what may always be tried,
of the secure tempo; and the slowest, of the fastest that held (no source)."""
ALIKE = 0.02
"""Among tempos that are worth as much to within so many nats one is drawn (no source)."""
APART, GRAIN, MOST_TEMPOS = 0.025, 0.013, 30
"""In logarithms of tempo: how far a leap lies from what was tried, and how far tempos to choose
from lie apart; most of them (no source)."""
SAME_TEMPO = 0.98
"""A block held at the fastest tempo that held from this share of it on."""
STOOD_STILL = 2
"""Blocks that got no further, at least, before a leap (no source)."""
_ABOVE_COST = 0.8
"""What a block surely above the break costs, in nats of what it tells (no source)."""


@dataclass(frozen=True, slots=True)
class Played(Tried):
    """A block that was played, and what it was for."""

    kind: str = TRY

    @property
    def share(self) -> float:
        return self.clean / self.reps if self.reps else 0.0


@dataclass(frozen=True, slots=True)
class Next:
    """The block to come. ``bursts`` has fewer repetitions in its bursts: ``reps``."""

    bpm: float
    reps: int
    kind: str


def next_block(
    rule: str,
    played: Sequence[Played],
    reps: int,
    start: float | None,
    known: Known = NOTHING,
    seed: int = 0,
) -> Next:
    """The block after those played. start: where to begin, None for what is known. Raises
    ValueError for a rule that is none."""
    if rule not in RULES:
        raise ValueError(f"there is no rule {rule!r}")
    first = first_tempo(start, known)
    if not played:
        return Next(first, reps, WARM_UP)
    if rule == "free":
        return Next(played[-1].bpm, reps, TRY)
    if _badly(played):
        return Next(whole_bpm(easy_tempo(played, first, known)), reps, EASY)
    if rule == "steps":
        return _steps(played, reps)
    if rule == "bursts":
        return _bursts(played, reps)
    return _search(played, reps, first, known, seed)


def listed(
    tempos: Sequence[float], played: Sequence[Played], reps: int, known: Known = NOTHING
) -> Next | None:
    """A warm-up, then a block at each tempo that was asked for, in their order; None after the
    last. An easy block comes after two that went badly."""
    first = first_tempo(min(tempos), known)
    if not played:
        return Next(min(first, whole_bpm(min(tempos))), reps, WARM_UP)
    done = sum(one.kind == TRY for one in played)
    if done >= len(tempos):
        return None
    if _badly(played):
        return Next(whole_bpm(easy_tempo(played, first, known)), reps, EASY)
    return Next(whole_bpm(tempos[done]), reps, TRY)


def first_tempo(start: float | None, known: Known) -> float:
    """Where a climb begins: at ``start``, but never above the warm-up of what is known to be
    secure."""
    below = None
    if known.secure is not None:
        below = BELOW * known.secure
    elif known.break_bpm is not None:
        below = BELOW_BREAK * known.break_bpm
    if start is None:
        return whole_bpm(below if below is not None else UNKNOWN_BPM)
    return whole_bpm(start if below is None else min(start, known.secure or below))


def easy_tempo(played: Sequence[Played], first: float, known: Known) -> float:
    """A tempo that surely goes well: below the fastest that held, and below what is secure."""
    held = [one.bpm for one in played if one.share >= HELD]
    sure = [bpm for bpm in (BELOW * max(held) if held else None, known.secure) if bpm is not None]
    if sure:
        return max(min(sure), EASY_LEAST * first)
    return EASY_UNKNOWN * min(one.bpm for one in played)


def answered(played: Sequence[Played], known: Known, start: float | None) -> bool:
    """Whether *search* has found what it looked for: the break is known well enough, and whether it
    goes better beyond was tried, or is not worth a try."""
    if len(played) < LEAST_BLOCKS:
        return False
    belief = Belief(played, known, first_tempo(start, known))
    tried = sum(one.kind == LEAP for one in played)
    return belief.spread() <= ENOUGH and (tried > 0 or belief.awkward_chance < NO_LEAP)


def _badly(played: Sequence[Played]) -> bool:
    """Whether so many blocks in a row went badly that an easy one is due."""
    last = played[-EASY_AFTER:]
    return len(last) == EASY_AFTER and all(one.share < FAILED and one.kind != EASY for one in last)


def _steps(played: Sequence[Played], reps: int) -> Next:
    """Faster after blocks in a row that held, slower after one that did not (S-16; for tempo,
    harder is faster: S-19). Easy blocks stand aside."""
    own = [one for one in played if one.kind != EASY]
    right = [one.share >= HELD for one in own]
    turns = len(reversals(right, IN_A_ROW))
    step = STEPS[min(turns, len(STEPS) - 1)]
    move = next_level(right, IN_A_ROW)
    return Next(whole_bpm(own[-1].bpm * step**move), reps, TRY)


def _bursts(played: Sequence[Played], reps: int) -> Next:
    """A short spell well above, then back to a base that goes up as long as the bursts hold."""
    last = played[-1]
    base = [one for one in played if one.kind in (WARM_UP, TRY)]
    here = base[-1]
    if last.kind in (WARM_UP, TRY):
        if here.share >= HELD:
            return Next(whole_bpm(here.bpm * BURST_RAISE), max(2, reps // BURST_PART), BURST)
        return Next(whole_bpm(here.bpm / STEPS[1]), reps, TRY)
    burst = next((one for one in reversed(played) if one.kind == BURST), last)
    step = STEPS[1] if burst.share >= FAILED else 1.0
    return Next(whole_bpm(here.bpm * step), reps, TRY)


def _search(played: Sequence[Played], reps: int, first: float, known: Known, seed: int) -> Next:
    """The tempo that tells most of the break for what it costs; a leap over what went badly where
    that is worth it."""
    belief = Belief(played, known, first)
    held = [one for one in played if one.share >= HELD]
    fastest = max((one.bpm for one in held), default=0.0)
    best = max((one.share for one in held if one.bpm == fastest), default=0.0)
    if not held:
        cap = min(one.bpm for one in played) * CAP_FAILED
    else:
        cap = fastest * (RAISE if best >= THROUGHOUT else RAISE_LITTLE)
        if known.secure is not None:
            cap = max(cap, CAP_SECURE * known.secure)
    lowest = LOWEST * min(fastest or math.inf, math.exp(float(belief.places @ PLACES)))
    tempos = _tempos(max(lowest, LOWEST_BPM), min(cap, HIGHEST_BPM))
    beyond = _beyond(played, fastest)
    if beyond and _leap_due(played, belief):
        gains = belief.gains(beyond, reps)
        return Next(beyond[int(gains.argmax())], reps, LEAP)
    worth = belief.gains(tempos, reps)
    worth = worth - _ABOVE_COST * np.array([belief.above(bpm) for bpm in tempos])
    values = dict(zip(tempos, worth.tolist()))
    top = max(values.values())
    near = sorted(bpm for bpm, value in values.items() if value >= top - ALIKE)
    bpm = near[int(np.random.default_rng([seed, len(played)]).integers(len(near)))]
    return Next(bpm, reps, TRY)


def _beyond(played: Sequence[Played], fastest: float) -> list[float]:
    """Tempos above those that went badly at which it may go better again, and nothing was tried."""
    leaps = [one for one in played if one.kind == LEAP]
    over = [
        one.bpm for one in played if one.share < HELD and one.bpm > fastest and one.kind != LEAP
    ]
    if not over or len(leaps) >= LEAPS or played[-1].kind == LEAP:
        return []
    low, high = LEAP_LEAST * max(over), LEAP_MOST * max(fastest, min(over))
    tempos = _tempos(low, min(high, HIGHEST_BPM))
    return [bpm for bpm in tempos if all(abs(math.log(bpm / one.bpm)) > APART for one in played)]


def _leap_due(played: Sequence[Played], belief: Belief) -> bool:
    """Whether to see on purpose if it goes better beyond: the edge is known, or the climb has stood
    still for long, and this was not tried yet, or once."""
    leaps = sum(one.kind == LEAP for one in played)
    if leaps >= len(LEAP_SPREADS):
        return False
    held = [at for at, one in enumerate(played) if one.share >= HELD]
    best = max((played[at].bpm for at in held), default=0.0)
    since = next((at for at in held if played[at].bpm >= SAME_TEMPO * best), 0)
    stood = len(played) - 1 - since
    return stood >= LEAP_AFTER[leaps] or (
        stood >= STOOD_STILL and belief.spread_below() <= LEAP_SPREADS[leaps]
    )


def _tempos(low: float, high: float) -> list[float]:
    """Tempos to choose from, a good per cent apart."""
    if high < low:
        return [whole_bpm(high)]
    count = max(2, min(MOST_TEMPOS, int(math.log(high / low) / GRAIN) + 1))
    return sorted({whole_bpm(float(bpm)) for bpm in np.geomspace(low, high, count)})
