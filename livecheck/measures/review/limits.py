"""Secure and break tempo: how fast it holds, and where it breaks.

The chance of a clean repetition is fitted as a falling curve with a floor and a lapse. The *secure*
tempo is where it falls through nine in ten, the *break* tempo where it falls through one half, both
as plain probabilities (measures.md). Intervals come from drawing whole takes again. A tempo that
the tries do not reach is never extrapolated.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..stats import wilson
from .curve import Curve, fit_curve, separation
from .draws import DRAWS, expanded_tails, seeded, sigmoid, take_weights
from .table import Rungs, Tries, rungs

SECURE, BREAK = 0.9, 0.5

FEWEST_TRIES = 6
"""Fewer repetitions than this say nothing about a curve (common practice, no source)."""

FEWEST_TAKES = 4
"""With fewer takes, a take's repetitions at one tempo are what is drawn again; what a whole take
shares is then not in the interval, and the review says so (common practice, no source)."""

_FINEST = 60  # tempos told apart in a fit


@dataclass(frozen=True, slots=True)
class Limit:
    """A tempo at which the chance falls through a level, with its 95 % interval.

    ``bpm`` is None unless ``found``. ``above_range``: low_bpm is the fastest tempo tried;
    ``below_range``: high_bpm is the slowest. An interval stops at the tempos tried; ``open_low``
    and ``open_high`` tell that it would go on.
    ``gap``: everything below it was clean and everything above was not; no tempo inside is likelier
    than another.
    """

    status: str  # "found", "above_range", "below_range" or "too_few"
    bpm: float | None = None
    low_bpm: float | None = None
    high_bpm: float | None = None
    open_low: bool = False
    open_high: bool = False
    gap: tuple[float, float] | None = None


TOO_FEW = Limit("too_few")


@dataclass(frozen=True, slots=True)
class Band:
    """The fitted curve for drawing: chance at tempos with the middle 95 % of the curves of drawn
    takes."""

    bpm: np.ndarray
    chance: np.ndarray
    low: np.ndarray
    high: np.ndarray


@dataclass(frozen=True, slots=True)
class Limits:
    """Both tempos and the curve that they were read from; curve and band are None where nothing
    could be fitted."""

    secure: Limit
    broken: Limit
    curve: Curve | None = None
    band: Band | None = None


def tempo_limits(
    tries: Tries, leave_out: tuple[float, float] | None = None, draws: int = DRAWS
) -> Limits:
    """Secure and break tempo of a table of tries.

    leave_out: an awkward range; its tries say nothing about where speed breaks, and a break is only
    looked for above it when the range begins at the slowest tempo.
    """
    if leave_out is not None:
        tries = tries.where((tries.bpm < leave_out[0] - 1e-9) | (tries.bpm > leave_out[1] + 1e-9))
    if tries.reps < FEWEST_TRIES:
        return Limits(TOO_FEW, TOO_FEW)
    steps = rungs(tries.bpm, tries.n, most=_FINEST, near=0.005)
    hits, of = steps.sums(tries.clean), steps.sums(tries.n)
    if len(steps.bpm) < 2:
        secure, broken = (
            _one_tempo(float(steps.bpm[0]), hits[0], of[0], level) for level in (SECURE, BREAK)
        )
        return Limits(secure, broken)
    curve, likelihood = fit_curve(steps.bpm, hits, of)
    family = _Family(steps.bpm)
    drawn, units = family.draw(tries, steps, draws)
    tails = expanded_tails(units)
    gap = separation(steps.bpm, hits, of)
    if gap is not None and hits[0] == 0:  # the wrong way round: all broken slow, all clean fast
        gap = None
    likely = family.likely(hits, of, likelihood)
    found = []
    for level in (SECURE, BREAK):
        at = family.x_at(level)
        found.append(_limit(curve, level, steps.bpm, at[drawn], tails, gap, at[likely]))
    return Limits(found[0], found[1], curve, _band(curve, family, drawn, steps.bpm))


def _one_tempo(bpm: float, hits: float, of: float, level: float) -> Limit:
    """All tries at one tempo: above or below it only where the interval of the share is clear of
    the level."""
    low, high = wilson(hits, of) or (0.0, 1.0)
    if low >= level or hits == of:
        return Limit("above_range", low_bpm=bpm)
    return Limit("below_range", high_bpm=bpm) if high < level else TOO_FEW


def _limit(
    curve: Curve,
    level: float,
    bpm: np.ndarray,
    drawn: np.ndarray,
    tails: tuple[float, float],
    gap: tuple[float, float] | None,
    likely: np.ndarray,
) -> Limit:
    """One level's tempo. drawn: where the curves of drawn takes fall through it; likely: where the
    likely curves do."""
    slowest, fastest = float(bpm[0]), float(bpm[-1])
    if curve.chance(fastest) >= level:
        return Limit("above_range", low_bpm=fastest)
    at = curve.x_at(level)
    if at is None or at < slowest:
        return Limit("below_range", high_bpm=slowest)
    if gap is None:
        low, high = np.quantile(drawn, tails, method="inverted_cdf")
    else:  # drawn takes cannot tell what lies inside the gap; the likelihood can
        low, high = min(likely.min(), gap[0]), max(likely.max(), gap[1])
        at = (gap[0] + gap[1]) / 2.0
    low, high = min(low, at), max(high, at)
    return Limit(
        "found",
        at,
        float(np.clip(low, slowest, fastest)),
        float(np.clip(high, slowest, fastest)),
        open_low=bool(low < slowest),
        open_high=bool(high > fastest),
        gap=gap,
    )


def _band(curve: Curve, family: _Family, drawn: np.ndarray, bpm: np.ndarray) -> Band:
    at = np.linspace(bpm[0], bpm[-1], 61)
    z = (at[None, :] - family.middle[drawn, None]) / family.width[drawn, None]
    rise = 1.0 - family.floor[drawn, None] - family.lapse[drawn, None]
    chances = family.floor[drawn, None] + rise * sigmoid(-z)
    low, high = np.quantile(chances, [0.025, 0.975], axis=0)
    fitted = curve.chance(at)
    return Band(at, fitted, np.minimum(low, fitted), np.maximum(high, fitted))


class _Family:
    """Many falling curves on a grid: the likeliest for a draw of takes is looked up, not climbed
    to.

    A grid has no trouble with perfect separation: where many curves are as good as each other, any
    of them is taken.
    """

    def __init__(self, bpm: np.ndarray) -> None:
        span = float(np.ptp(bpm))
        middles = np.linspace(bpm[0] - 0.6 * span, bpm[-1] + 0.6 * span, 121)
        narrow = max(min(float(np.min(np.diff(bpm))) / 8.0, span / 60.0), span / 400.0)
        widths = np.geomspace(narrow, 1.5 * span, 13)
        lapses = np.array([0.0, 0.01, 0.025, 0.05, 0.075, 0.1, 0.15, 0.22, 0.3, 0.4])
        floors = np.array([0.0, 0.1])
        mesh = np.meshgrid(middles, widths, floors, lapses, indexing="ij")
        self.middle, self.width, self.floor, self.lapse = (axis.ravel() for axis in mesh)
        z = (bpm[None, :] - self.middle[:, None]) / self.width[:, None]
        p = self.floor[:, None] + (1.0 - self.floor - self.lapse)[:, None] * sigmoid(-z)
        p = np.clip(p, 1e-9, 1.0 - 1e-9)
        self._logs = np.concatenate([np.log(p), np.log1p(-p)], axis=1).T  # (2 K, G)

    def x_at(self, level: float) -> np.ndarray:
        """Where each curve falls through a level; minus infinity where it never is so high, plus
        where never so low."""
        inner = (level - self.floor) / (1.0 - self.floor - self.lapse)
        told = (inner > 0.0) & (inner < 1.0)
        safe = np.where(told, inner, 0.5)
        at = self.middle - self.width * np.log(safe / (1.0 - safe))
        return np.where(told, at, np.where(inner >= 1.0, -np.inf, np.inf))

    def likely(self, hits: np.ndarray, of: np.ndarray, best: float) -> np.ndarray:
        """The curves that a likelihood-ratio test at 95 % does not refuse."""
        likelihood = np.concatenate([hits, of - hits]) @ self._logs
        return np.flatnonzero(2.0 * (max(best, float(likelihood.max())) - likelihood) <= 3.841)

    def draw(self, tries: Tries, steps: Rungs, draws: int) -> tuple[np.ndarray, int]:
        """The likeliest curve for each of many draws of takes, as indices into the grid, and the
        number of takes."""
        unit = tries.take
        if tries.takes < FEWEST_TAKES:
            unit = np.unique(np.stack([tries.take, steps.of_row]), axis=1, return_inverse=True)[
                1
            ].ravel()
        rng = seeded(tries.bpm, tries.n, tries.clean, unit)
        best = []
        for start in range(0, draws, 50):
            weights = take_weights(unit, rng, min(50, draws - start))
            hits = _by_rung(weights * tries.clean, steps)
            of = _by_rung(weights * tries.n, steps)
            likelihood = np.concatenate([hits, of - hits], axis=1) @ self._logs
            likelihood += rng.random(likelihood.shape[1]) * 0.02  # among equals, any
            best.append(likelihood.argmax(axis=1))
        return np.concatenate(best), len(np.unique(unit))


def _by_rung(rows: np.ndarray, steps: Rungs) -> np.ndarray:
    """(draws, rows) added up to (draws, rungs)."""
    order = np.argsort(steps.of_row, kind="stable")
    starts = np.searchsorted(steps.of_row[order], np.arange(len(steps.bpm)))
    return np.add.reduceat(rows[:, order], starts, axis=1)
