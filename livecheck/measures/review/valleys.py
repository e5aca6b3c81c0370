"""The awkward range: a span of tempos that is worse than faster ones.

A movement may be clumsy slow and smooth fast, so nothing here takes it that faster is worse. Forms
of fall with a dip are weighed against forms without one (``forms``). A dip is *told* where it is
sure, *suspected* where it looks so but a few more repetitions would tell.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..stats import sigmoid
from .forms import Weighed
from .limits import Standing
from .table import Tries

TOLD, SUSPECTED = 3.5, 0.8
"""Log odds of a dip against none from which it is told, and suspected: chosen on drawn practices
without one, of which so few are told (2 in 100) or suspected (8 in 100)."""

LEAST_DEPTH = 0.15
"""A dip is not worth speaking of where the share inside is less below the faster ones."""

BESIDE = 0.13
"""How far beside a range its neighbours are counted, in log tempo."""

REPS_TO_KNOW = 10


@dataclass(frozen=True, slots=True)
class Valley:
    """An awkward range, told or suspected. ``from_slowest``: it begins at the slowest tempo tried,
    so nothing slower is known. ``below`` and ``above``: clean repetitions, and of how many, at the
    neighbouring tempos.
    """

    low_bpm: float
    high_bpm: float
    odds: float  # log odds of it against none, both as likely beforehand
    from_slowest: bool
    clean: int
    reps: int
    below: tuple[int, int]
    above: tuple[int, int]
    ask_bpm: tuple[float, ...]  # where a few repetitions each would tell

    @property
    def reps_to_know(self) -> int:
        """How many more repetitions would tell: ten at each of the tempos asked for."""
        return REPS_TO_KNOW * len(self.ask_bpm)

    @property
    def share(self) -> float:
        return self.clean / max(self.reps, 1)

    @property
    def sure(self) -> bool:
        return self.odds >= TOLD

    @property
    def p(self) -> float:
        """The chance that there is none."""
        return sigmoid(-self.odds)


def find_valley(tries: Tries, stands: Standing) -> Valley | None:
    """The awkward range of a table of tries, told (``sure``) or suspected; None where there is no
    sign of one."""
    weighed, steps = stands.weighed, stands.rungs
    if weighed is None or weighed.dipped is None or weighed.dip_odds < SUSPECTED:
        return None
    i, j = _span(weighed, len(steps.bpm))
    k, n = steps.sums(tries.clean), steps.sums(tries.n)
    if stands.string is not None:
        n = n - steps.sums(tries.noise[:, stands.string - 1])
    at = np.log(steps.bpm)
    below = (at < at[i]) & (at >= at[i] - BESIDE)
    if i > 0:
        below[i - 1] = True
    above = (at > at[j]) & (at <= at[j] + BESIDE)
    above[j + 1] = True
    inside = (at >= at[i]) & (at <= at[j])
    counted = [(round(k[part].sum()), round(n[part].sum())) for part in (inside, below, above)]
    share, _, share_above = (hits / max(of, 1) for hits, of in counted)
    if share_above - share < LEAST_DEPTH:
        return None
    return Valley(
        low_bpm=float(steps.bpm[i]),
        high_bpm=float(steps.bpm[j]),
        odds=weighed.dip_odds,
        from_slowest=i == 0,
        clean=counted[0][0],
        reps=counted[0][1],
        below=counted[1],
        above=counted[2],
        ask_bpm=_ask(steps.bpm, i, j),
    )


def _span(weighed: Weighed, rungs: int) -> tuple[int, int]:
    """The rungs about the likeliest one that are likelier inside than not, none of them the
    fastest."""
    drawn = weighed.dipped
    assert drawn is not None
    at = np.arange(rungs - 1)[None, :]
    inside = np.mean((at >= drawn.dip_from[:, None]) & (at <= drawn.dip_to[:, None]), axis=0)
    i = j = int(inside.argmax())
    while i > 0 and inside[i - 1] > 0.5:
        i -= 1
    while j + 1 < len(inside) and inside[j + 1] > 0.5:
        j += 1
    return i, j


def _ask(bpm: np.ndarray, i: int, j: int) -> tuple[float, ...]:
    """Tempos below, inside and above."""
    middle = math.sqrt(bpm[i] * bpm[j])
    below = [float(bpm[i - 1])] if i else []
    return (*below, middle, float(bpm[j + 1]))
