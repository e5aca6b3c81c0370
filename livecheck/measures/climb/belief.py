"""What is believed of a player's break after some blocks: a Bayesian estimate on a grid.

The chance that a repetition is clean falls along the logarithm of tempo as an S-shaped curve:
through one half at the *break*, with a width, under a lapse (what goes wrong however slow). A block
has a luck of its own, a shift of the log odds that all its repetitions share. Beside the plain
players stand those with an awkward range: from one tempo to another they are clean less often by a
share, and above it as the curve says. Break and range are weighed together, so that a block that
goes badly tells of both. Grid and prior: no source; the model is that of psychometric functions
with overdispersed blocks (sources.md S-20 to S-22).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..review.limits import BREAK, SECURE
from ..stats import Z95, sigmoid

STEP = 0.0125
"""Of the grid along the logarithm of tempo: one and a quarter per cent."""
PLACES = np.arange(math.log(20.0), math.log(480.0), STEP)
WIDTHS = np.array([0.012, 0.025, 0.05, 0.1])
LAPSES = np.array([0.005, 0.03, 0.08, 0.18])
LUCKS = np.array([0.15, 0.5, 1.0])
"""Standard deviation of a block's luck in log odds."""
_LAPSE_PRIOR = np.array([0.35, 0.35, 0.2, 0.1])

AWKWARD = 0.15
"""How likely an awkward range is beforehand (no source)."""
_VALLEY_WIDTHS = np.array([0.05, 0.1, 0.16, 0.24])
_VALLEY_STEP = 0.03
_DEPTHS = np.array([0.4, 0.75])
_VALLEY_PLACES = PLACES[::2]
_VALLEY_CURVES = WIDTHS[1:3]
_VALLEY_LAPSE, _VALLEY_LUCK = 0.03, 0.5

_OF_START, _OF_START_SD = 1.35, 0.4
"""Where the break of somebody of whom nothing is known lies, by the start, and the standard
deviation of its logarithm (no source)."""
_OF_SECURE, _OF_SECURE_SD = 1.15, 0.2
"""The same where only the secure tempo is known (no source)."""
_NO_INTERVAL = 0.08
"""A break that is known without an interval is known to so much either way (no source)."""
_LEAST_INTERVAL, _DAY_SD = 0.02, 0.04
"""An interval is no narrower than this (in logarithms of tempo); and how far a day may lie from the
review's, a standard deviation (no source)."""
_BELL, _BELL_KNOWN = 0.85, 0.9
"""Share of the chance that lies about there, and where the break is known; the rest is spread over
all tempos (no source)."""
_VALLEY_LOWEST, _VALLEY_HIGHEST = 40.0, 300.0
"""Tempos between which an awkward range begins."""
_VALLEY_ELSEWHERE, _VALLEY_THERE, _VALLEY_NEAR = 0.1, 20.0, 0.06
"""Weights of a range that a review has seen, elsewhere and there, and how near in the logarithms of
its ends is there (no source)."""
_AWKWARD_KNOWN = 0.5
"""How likely a range is where a review has seen one (no source)."""

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(7)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True, slots=True)
class Tried:
    """A block that was played: its tempo, how many repetitions it had, how many were clean."""

    bpm: float
    reps: int
    clean: int


@dataclass(frozen=True, slots=True)
class Known:
    """What a review knows before: tempos in beats a minute. ``low``, ``high``: the 95 % interval of
    the break."""

    secure: float | None = None
    break_bpm: float | None = None
    low: float | None = None
    high: float | None = None
    awkward: tuple[float, float] | None = None


NOTHING = Known()


def chances(z: np.ndarray, lapse: np.ndarray, luck: np.ndarray) -> np.ndarray:
    """The chance of a clean repetition for each node of a block's luck, on a last axis.

    z: distance below the break in widths; the arguments are broadcast against each other.
    """
    inner = BREAK / (1.0 - lapse)
    shift = np.log(inner / (1.0 - inner))
    logit = (z + shift)[..., None] + luck[..., None] * _NODES
    return np.asarray((1.0 - lapse)[..., None] * sigmoid(logit))


def _likely(p: np.ndarray, reps: int, clean: int) -> np.ndarray:
    """The likelihood of so many clean ones, the luck (last axis of p) averaged over."""
    p = np.clip(p, 1e-6, 1.0 - 1e-6)
    return np.asarray((math.comb(reps, clean) * p**clean * (1.0 - p) ** (reps - clean)) @ _WEIGHTS)


@lru_cache(maxsize=8)
def _table(reps: int) -> np.ndarray:
    """(distances, curves, 1 + reps): chances of each outcome of a block by distance below the break
    in grid steps, from -(places - 1) on."""
    z = np.arange(-len(PLACES) + 1, len(PLACES)) * STEP
    width, lapse, luck = (
        axis.ravel() for axis in np.meshgrid(WIDTHS, LAPSES, LUCKS, indexing="ij")
    )
    p = chances(z[:, None] / width, lapse[None, :], luck[None, :])
    return np.stack([_likely(p, reps, clean) for clean in range(reps + 1)], axis=-1)


@lru_cache(maxsize=8)
def _valley_table(reps: int) -> np.ndarray:
    """(distances, curves, 1 + depths, 1 + reps) as ``_table``, for the players with a range: as the
    curve says, and at each depth."""
    z = np.arange(-len(PLACES) + 1, len(PLACES)) * STEP
    lapse, luck = np.array([_VALLEY_LAPSE]), np.array([_VALLEY_LUCK])
    p = chances(z[:, None] / _VALLEY_CURVES, lapse, luck)
    every = np.stack([p, *(p * (1.0 - depth) for depth in _DEPTHS)], axis=2)
    return np.stack([_likely(every, reps, clean) for clean in range(reps + 1)], axis=-1)


@dataclass(frozen=True, slots=True)
class Estimate:
    """A tempo with its 95 % interval, all in beats a minute; minus and plus infinity are
    possible."""

    bpm: float
    low: float
    high: float


class Belief:
    """The weights of all players on the grid after some blocks."""

    def __init__(
        self, tried: Sequence[Tried], known: Known = NOTHING, start: float = 100.0
    ) -> None:
        """start: the tempo at which somebody of whom nothing is known begins."""
        places, valley_prior = _prior(known, start), _valley_prior(known)
        odds = _AWKWARD_KNOWN if known.awkward is not None else AWKWARD
        curves = len(WIDTHS) * len(LAPSES) * len(LUCKS)
        shape = np.repeat(_LAPSE_PRIOR, len(LUCKS)) / len(LUCKS)
        shape = np.tile(shape, len(WIDTHS)) / len(WIDTHS)
        plain = np.log(places)[:, None] + np.log(shape)[None, :]
        assert plain.shape == (len(PLACES), curves)
        lows, widths = _valleys()
        some = places[::2] / places[::2].sum()
        below = (lows + widths)[None, :] < _VALLEY_PLACES[:, None]  # the range lies below the break
        valley = (
            np.log(some)[:, None, None, None]
            - math.log(len(_VALLEY_CURVES) * len(_DEPTHS))
            + np.log(np.where(below, valley_prior[None, :], 1e-12))[:, None, None, :]
        ) + np.zeros((1, len(_VALLEY_CURVES), len(_DEPTHS), 1))
        valley -= np.log(np.exp(valley).sum())
        for one in tried:
            if one.reps:
                plain = plain + _plain_fit(one)
        if tried:
            valley = valley + _valley_fit([one for one in tried if one.reps])
        top = max(plain.max(), valley.max())
        self.plain = np.exp(plain - top) * (1.0 - odds)
        self.valley = np.exp(valley - top) * odds
        total = self.plain.sum() + self.valley.sum()
        self.plain /= total
        self.valley /= total
        self.places = self.plain.sum(axis=1)
        self.places[::2] += self.valley.sum(axis=(1, 2, 3))

    @property
    def awkward_chance(self) -> float:
        """How likely it is that there is an awkward range."""
        return float(self.valley.sum())

    def awkward(self) -> tuple[float, float]:
        """The likeliest range, low and high, if there is one."""
        lows, widths = _valleys()
        at = int(self.valley.sum(axis=(0, 1, 2)).argmax())
        return math.exp(lows[at]), math.exp(lows[at] + widths[at])

    def break_tempo(self) -> Estimate:
        """The break."""
        return _estimate(PLACES, self.places)

    def secure_tempo(self) -> Estimate:
        """Where the chance falls through nine in ten; minus infinity where it never is so high."""
        width, offset = _secure_offsets()
        at = PLACES[:, None] - width * offset
        plain = np.where(np.isfinite(offset), at, -np.inf)
        valley_at = _VALLEY_PLACES[:, None] - _VALLEY_CURVES * _valley_offset()
        weights = np.concatenate([self.plain.ravel(), self.valley.sum(axis=(2, 3)).ravel()])
        return _estimate(np.concatenate([plain.ravel(), valley_at.ravel()]), weights)

    def spread(self) -> float:
        """Standard deviation of the logarithm of the break: some share of it."""
        mean = float(self.places @ PLACES)
        return math.sqrt(max(float(self.places @ (PLACES - mean) ** 2), 0.0))

    def spread_below(self) -> float:
        """As ``spread``, if there is no awkward range."""
        places = self.plain.sum(axis=1)
        places = places / max(float(places.sum()), 1e-300)
        mean = float(places @ PLACES)
        return math.sqrt(max(float(places @ (PLACES - mean) ** 2), 0.0))

    def above(self, bpm: float) -> float:
        """How likely it is that a tempo lies above the break."""
        return float(self.places[math.log(bpm) > PLACES].sum())

    def gains(self, tempos: Sequence[float], reps: int) -> np.ndarray:
        """How much a block at each tempo is expected to tell of the break, in nats.

        Lapse and luck are taken as likely as they are over all places of the break: what is told is
        for choosing a tempo, and is soon done.
        """
        joint = self._outcomes(np.log(np.asarray(tempos, float)), reps)
        outcome = joint.sum(axis=1)
        after = _entropy(joint / np.maximum(outcome[:, None, :], 1e-12), 1)
        return np.asarray(_entropy(self.places, 0) - (after * outcome).sum(axis=1))

    def _outcomes(self, at: np.ndarray, reps: int) -> np.ndarray:
        """(tempos, places, 1 + reps): the joint chance of a break and an outcome of the next
        block."""
        first = np.round((PLACES[0] - at) / STEP).astype(int) + len(PLACES) - 1
        rows = np.clip(first[:, None] + np.arange(len(PLACES)), 0, 2 * len(PLACES) - 2)
        by_width = self.plain.reshape(len(PLACES), len(WIDTHS), -1)
        share = by_width.sum(axis=0)
        share = share / np.maximum(share.sum(axis=1, keepdims=True), 1e-300)
        table = _table(reps).reshape(2 * len(PLACES) - 1, len(WIDTHS), -1, 1 + reps)
        few = np.einsum("wh,dwhk->dwk", share, table, optimize=True)
        joint = np.einsum("mw,cmwk->cmk", by_width.sum(axis=2), few[rows], optimize=True)
        lows, widths = _valleys()
        inside = (lows[:, None] <= at) & (at <= (lows + widths)[:, None])
        weight_in = self.valley @ inside.astype(float)
        weight_out = self.valley.sum(axis=(2, 3))[..., None] - weight_in.sum(axis=2)
        valley = _valley_table(reps)[rows[:, ::2]]
        joint[:, ::2] += np.einsum("msc,cmsk->cmk", weight_out, valley[:, :, :, 0], optimize=True)
        joint[:, ::2] += np.einsum("msdc,cmsdk->cmk", weight_in, valley[:, :, :, 1:], optimize=True)
        return np.asarray(joint)


def _prior(known: Known, start: float) -> np.ndarray:
    """The chance of each place of the break beforehand."""
    flat = np.full(len(PLACES), 1.0 / len(PLACES))
    middle, spread, share = math.log(_OF_START * start), _OF_START_SD, _BELL
    if known.break_bpm is not None:
        low = known.low or known.break_bpm * (1.0 - _NO_INTERVAL)
        high = known.high or known.break_bpm * (1.0 + _NO_INTERVAL)
        middle = math.log(known.break_bpm)
        wide = max(math.log(high / low), _LEAST_INTERVAL)
        spread, share = math.hypot(wide / (2.0 * Z95), _DAY_SD), _BELL_KNOWN
    elif known.secure is not None:
        middle, spread = math.log(_OF_SECURE * known.secure), _OF_SECURE_SD
    bell = np.exp(-0.5 * ((PLACES - middle) / spread) ** 2)
    return share * bell / bell.sum() + (1.0 - share) * flat


@lru_cache(maxsize=1)
def _valleys() -> tuple[np.ndarray, np.ndarray]:
    """(V,) where each range begins, and (V,) how wide it is, along the logarithm of tempo."""
    lows = np.arange(math.log(_VALLEY_LOWEST), math.log(_VALLEY_HIGHEST), _VALLEY_STEP)
    mesh = np.meshgrid(lows, _VALLEY_WIDTHS, indexing="ij")
    return mesh[0].ravel(), mesh[1].ravel()


def _valley_prior(known: Known) -> np.ndarray:
    lows, widths = _valleys()
    weight = np.ones(len(lows))
    if known.awkward is not None:
        low, high = (math.log(bpm) for bpm in known.awkward)
        apart = np.abs(lows - low) + np.abs(lows + widths - high)
        weight = _VALLEY_ELSEWHERE + _VALLEY_THERE * np.exp(-apart / _VALLEY_NEAR)
    return np.asarray(weight / weight.sum())


def _plain_fit(one: Tried) -> np.ndarray:
    z = (PLACES - math.log(one.bpm))[:, None] / WIDTHS
    grid = chances(z[:, :, None, None], LAPSES[None, None, :, None], LUCKS[None, None, None, :])
    return np.log(_likely(grid, one.reps, one.clean)).reshape(len(PLACES), -1)


def _valley_fit(tried: Sequence[Tried]) -> np.ndarray:
    """Log-likelihood by place, curve, depth and range."""
    lows, widths = _valleys()
    lapse, luck = np.array([_VALLEY_LAPSE]), np.array([_VALLEY_LUCK])
    outside = np.zeros((len(_VALLEY_PLACES), len(_VALLEY_CURVES)))
    lower, inside = [], []
    for one in tried:
        at = math.log(one.bpm)
        z = (_VALLEY_PLACES - at)[:, None] / _VALLEY_CURVES
        p = chances(z, lapse, luck)
        plain = np.log(_likely(p, one.reps, one.clean))
        outside += plain
        deep = [np.log(_likely(p * (1.0 - depth), one.reps, one.clean)) for depth in _DEPTHS]
        lower.append(np.stack(deep, axis=-1) - plain[..., None])
        inside.append((lows <= at) & (at <= lows + widths))
    if not tried:
        return outside[..., None, None]
    more = np.stack(lower, axis=-1) @ np.stack(inside).astype(float)
    return np.asarray(outside[..., None, None] + more)


@lru_cache(maxsize=1)
def _secure_offsets() -> tuple[np.ndarray, np.ndarray]:
    """(curves,) widths, and how many of them the secure tempo lies below the break; infinite where
    the chance never is so high."""
    z = np.linspace(-2.0, 12.0, 1401)
    lapse, luck = (axis.ravel() for axis in np.meshgrid(LAPSES, LUCKS, indexing="ij"))
    p = chances(z[:, None], lapse[None, :], luck[None, :]) @ _WEIGHTS
    reached = p >= SECURE
    offset = np.where(reached.any(axis=0), z[reached.argmax(axis=0)], np.inf)
    return np.repeat(WIDTHS, len(offset)), np.tile(offset, len(WIDTHS))


def _valley_offset() -> float:
    at = int(np.flatnonzero(LAPSES == _VALLEY_LAPSE)[0]) * len(LUCKS)
    return float(_secure_offsets()[1][at + int(np.flatnonzero(LUCKS == _VALLEY_LUCK)[0])])


def _estimate(at: np.ndarray, weights: np.ndarray) -> Estimate:
    order = np.argsort(at, kind="stable")
    summed = np.cumsum(weights[order]) / weights.sum()
    ends = [
        float(at[order][min(int(np.searchsorted(summed, share)), len(at) - 1)])
        for share in (0.5, 0.025, 0.975)
    ]
    return Estimate(*(math.exp(end) if math.isfinite(end) else 0.0 for end in ends))


def _entropy(weights: np.ndarray, axis: int) -> np.ndarray:
    """Of chances along an axis, in nats."""
    return np.asarray(-(weights * np.log(np.maximum(weights, 1e-12))).sum(axis=axis))
