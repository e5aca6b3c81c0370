"""A string that sounds where it should be silent, told by its own series of tempos.

It may begin to sound at some tempo, and stay there while the fall of everything else moves; it may
move with the fall; or sound as often at any tempo. The forms of the fall are then of the other
repetitions, and both are put together (``limits``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..stats import wilson
from .chains import carried, gathered
from .course import Course
from .forms import SPREADS, Drawn, counts, weigh
from .rungs import Rungs, rungs
from .table import Tries

FEWEST_SOUNDS = 8
"""Repetitions in which a string sounds before its own series is asked (common practice, no
source)."""

ALWAYS = 0.15
"""A string that sounds in more than this of all repetitions, slow ones too, is asked by itself."""

ALIKE = 0.15
"""In fast repetitions it sounds no more than this oftener than in slow ones (common practice, no
source)."""

SLOWEST = 24
"""So many of the slowest repetitions tell whether it sounds there too (common practice, no
source)."""

_MOST_RUNGS, _NEAR, _WIDE = 40, 0.012, 0.02


def framed(bpm: np.ndarray, n: np.ndarray) -> Rungs:
    """Tempos sorted into the steps on which forms are weighed."""
    return rungs(bpm, n, most=_MOST_RUNGS, near=_NEAR, widest=_WIDE)


@dataclass(frozen=True, slots=True)
class Beside:
    """The forms of the sounding string; ``still``: the tempos as they were played, where they stay
    at these while the fall moves, else None."""

    forms: Drawn
    still: Rungs | None


def as_often(tries: Tries, silent: np.ndarray, rng: np.random.Generator, draws: int) -> Beside:
    """A string that sounds as often at any tempo: its share over all takes, drawn take by take."""
    take = np.unique(tries.take, return_inverse=True)[1]
    weight = rng.exponential(size=(draws, int(take.max()) + 1))
    share = (weight @ np.bincount(take, silent)) / (weight @ np.bincount(take, tries.n))
    nowhere, none = np.full(draws, -1), np.zeros(draws)
    forms = Drawn(
        middle=np.full(draws, np.inf), width=np.ones(draws), lapse=1.0 - share,
        spread=np.full(draws, SPREADS[0]), step_at=np.full(draws, np.inf), step=none,
        dip_from=nowhere, dip_to=nowhere,
    )  # fmt: skip
    return Beside(forms, None)


def sounding_string(tries: Tries) -> tuple[int, bool] | None:
    """The string that spoils most repetitions by sounding, more so fast than slow, more so than in
    the slowest ones, or so often that no fall explains it; and whether it does as often at any
    tempo."""
    often = tries.noise.sum(axis=0)
    string = int(often.argmax()) + 1
    if often[string - 1] < FEWEST_SOUNDS:
        return None
    share = tries.noise[:, string - 1] / tries.n
    middle = np.average(tries.bpm, weights=tries.n)
    fast = tries.bpm > middle
    if not fast.any() or fast.all():
        return None
    order = np.argsort(tries.bpm, kind="stable")
    slowest = order[: int(np.searchsorted(np.cumsum(tries.n[order]), SLOWEST)) + 1]
    first, slow, quick = (
        float(np.average(share[part], weights=tries.n[part])) for part in (slowest, ~fast, fast)
    )
    low, high = wilson(first * tries.n[slowest].sum(), tries.n[slowest].sum()) or (0.0, 1.0)
    if min(slow, quick, 2.0 * low) > ALWAYS and quick - slow < ALIKE and first > slow / 2.0:
        return string, True
    return (string, False) if quick > slow or high < quick else None


def beginning(
    tries: Tries,
    silent: np.ndarray,
    steps: Rungs,
    bpm: np.ndarray,
    over_days: Course | None,
    rng: np.random.Generator,
    draws: int,
) -> Beside:
    """The forms of the repetitions in which a string stays silent: moving with the fall, or staying
    where they were, whichever makes the counts likelier."""
    frames = [(steps, bpm)]
    if over_days is not None and np.ptp(over_days.move) > _NEAR * over_days.usual_bpm:
        still = framed(tries.bpm, tries.n)
        frames.append((still, tries.bpm))
    ways = [
        weigh(
            counts(np.log(one.bpm), tries.take, one.of_row, silent, tries.n), rng, draws, dips=False
        )
        for one, _ in frames
    ]
    best = max(range(len(ways)), key=lambda at: ways[at].evidence)
    frame, at_bpm = frames[best]
    day = np.zeros(len(bpm), int)
    rows = gathered(tries.take, at_bpm, day, frame.of_row, silent, tries.n)
    return Beside(carried(rows, ways[best].plain, None, rng).forms, frame if best else None)
