"""What a block would tell: how much doubt about a cell it takes away, and which block that is.

Chosen by expected information and by nothing else: no points, no streaks. What is to be known is
the cell's own state; the luck of a day hides it however many repetitions that day has, so a second
day tells more than a long first one (``worth``).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, hypot, log

from ..review.course import TAKE_LUCK
from ..stats import Z95
from .now import State

KNOWN = 0.04
"""A state whose 95 % interval reaches no further than this part of it to either side is known."""
AIM = 0.9 * KNOWN
"""A block aims at a little less, so that what is known stays so for a day or two."""

STRETCH, MOST = 6, 48
"""Repetitions of a stretch, which has one tempo and a rest after it, and most of a block: more tire
one movement (common practice, no source)."""

ONCE = 30
"""Getting ready for a block counts as so many repetitions (no source)."""

ASIDE = 0.6
"""A block's tempos lie so many widths of the fall, and so many standard deviations of the doubt,
below and above the likeliest break: far enough to tell the width, near enough to tell the place."""

BETWEEN = 12.0
"""Beats beside each stretch of a climb: two bars of rest and one of count-in."""
SETTING_OUT = 0.3
"""Minutes until the first beat."""


@dataclass(frozen=True, slots=True)
class Block:
    """What to play: a stretch at each of ``tempos``, a rest after each.

    kind: ``tempo`` (the cell), ``part`` (only some of its notes), ``both`` (two ways of playing by
    turns, called ``names``; ``variants`` where they are variants of the cell, "" as it is written),
    ``search`` (a climb that begins at bpm), ``rig`` (measure the conversion delay; bpm and reps are
    None). faster: than anything surely clean so far.
    """

    kind: str
    bpm: float | None
    reps: int | None
    minutes: float
    tempos: tuple[float, ...] = ()
    faster: bool = False
    notes: tuple[int, ...] = ()
    names: tuple[str, ...] = ()
    variants: tuple[str, ...] = ()


def minutes_for(beats: float, bpm: float, reps: int) -> float:
    """Minutes that repetitions of so many beats take, with a stretch to warm up and all pauses."""
    stretches = -(-reps // STRETCH) + 1
    return round(SETTING_OUT + stretches * (STRETCH * beats + BETWEEN) / bpm, 1)


def doubt_of(state: State) -> float:
    """Standard deviation of the state's log tempo, taken from its interval."""
    return log(state.own.high_bpm / state.own.low_bpm) / (2.0 * Z95)


def doubt_after(state: State, reps: int) -> float:
    """The standard deviation that is to be expected after so many repetitions today.

    What is told of today's break, told_today with the block's, tells of the state no better than
    the luck of a day allows: information 1 / (luck² + 1 / told).
    """
    sd, luck = doubt_of(state), state.luck
    before = _of_state(state.told_today, luck)
    rest = max(1.0 / sd**2 - before, 1e-3 / sd**2)
    told = state.told_today + _of_block(state, reps)
    return float((rest + _of_state(told, luck)) ** -0.5)


def _of_state(told: float, luck: float) -> float:
    return 0.0 if told <= 0.0 else 1.0 / (luck**2 + 1.0 / told)


def _of_block(state: State, reps: int) -> float:
    """Information about today's break of stretches beside it.

    One repetition at the break has 1 / (4 width²), less the further off it may be; the luck of a
    stretch hides TAKE_LUCK widths of each.
    """
    off = hypot(doubt_of(state), state.luck) / (1.6 * state.width)
    one = 0.21 / (1.0 + off**2) ** 0.5
    stretch = 1.0 / (1.0 / (STRETCH * one) + TAKE_LUCK**2) / state.width**2
    return stretch * reps / STRETCH


def gain(state: State, reps: int) -> float:
    """Doubt taken away by so many repetitions, in nats."""
    return log(doubt_of(state) / doubt_after(state, reps))


def known(state: State) -> bool:
    """Whether the state is known to KNOWN."""
    return state.own.half <= log(1.0 + KNOWN)


def reps_for(state: State) -> int:
    """The fewest repetitions of today that are expected to leave no more than AIM; where no block
    does, those that tell most for their length."""
    sizes = range(STRETCH, MOST + 1, STRETCH)
    aim = log(1.0 + AIM) / Z95
    enough = (reps for reps in sizes if doubt_after(state, reps) <= aim)
    best = max(sizes, key=lambda reps: gain(state, reps) / (reps + ONCE))
    return next(enough, best)


def tempos_for(state: State, reps: int) -> tuple[float, ...]:
    """A tempo for each stretch, slower and faster by turns, in whole beats a minute."""
    aside = hypot(ASIDE * state.width, ASIDE * doubt_of(state))
    slow, fast = (float(round(state.today.bpm * exp(at))) for at in (-aside, aside))
    return tuple(slow if at % 2 == 0 else fast for at in range(-(-reps // STRETCH)))


def within_reach(state: State) -> bool:
    """Whether the longest block of today is expected to make the state known."""
    return doubt_after(state, MOST) <= log(1.0 + KNOWN) / Z95
