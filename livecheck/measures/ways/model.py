"""Some ways of playing as numbers, and how well they explain a matrix of features.

Each way but the first differs from it in a few atoms and in the chance of a few things that happen
or not; everything else (courses, days, drift) is common. What was not heard of a repetition is left
out: its likelihood is that of what was heard, and where courses are fitted it stands at what is
expected of it, with the doubt of that (``filled``).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from .base import Base
from .chain import Hidden, Takes, hidden
from .matrix import Matrix

_FREE = 1e-4
"""Precision across what is free in a repetition (its own line, its own level)."""
SLOPE_SD = 0.3
"""By how many scatters a way's difference may move with an SD of the tempos, beyond what one that
stays the same in ms or in log velocity does."""
ODDS_SD = 3.0
STAY = (6.0, 4.0)
"""Prior counts of kept and drawn anew."""


@dataclass(frozen=True, slots=True)
class Data:
    """What a fit is made of: the matrix, its courses, takes in order, and what the share of ways
    may depend on (N, Q) with its prior precision."""

    matrix: Matrix
    base: Base
    takes: Takes
    share_by: np.ndarray
    share_held: np.ndarray
    x: np.ndarray  # (N,) log tempo in SD
    y: np.ndarray  # the matrix's, held back where it is wild
    rows: np.ndarray  # (N,) 1 where the ways are learned from a repetition, else 0
    sitting: np.ndarray  # (N,)
    hit_columns: np.ndarray  # courses of the hits (N, P)
    hit_held: np.ndarray
    steady: Base  # the steadiest courses alone
    pattern: np.ndarray  # (N,) which of the patterns of what was heard
    of_pattern: tuple[np.ndarray, ...]  # its rows, by pattern
    heard: np.ndarray  # (U, D) those patterns
    pace: np.ndarray  # (A,) slope of an atom whose unit stays the same, as a share of its coef


@dataclass(slots=True)
class Scatter:
    """What is left about the courses: ``precision`` (D, D), and for each pattern of what was heard
    that of what was (U, D, D), the doubt of what was not (U, D, D), log determinants (U,)."""

    precision: np.ndarray
    of_heard: np.ndarray
    unheard: np.ndarray
    log_det: np.ndarray


@dataclass(slots=True)
class Fit:
    """K ways. ``coef`` (K, A) in units of the atoms, ``odds`` (K, B) in log odds, both 0 in the
    first way; ``course`` (N, D) and ``hit_course`` (N, B) of the first way."""

    ways: int
    coef: np.ndarray
    slope: np.ndarray  # (K, A) what is added to ``coef`` by each SD of log tempo
    odds: np.ndarray
    course: np.ndarray
    hit_coef: np.ndarray  # (P, B)
    hit_course: np.ndarray
    scatter: Scatter
    share_coef: np.ndarray  # (Q, K - 1)
    stay: float
    way: np.ndarray  # (N, K)
    emit: np.ndarray  # (N, K)
    filled: np.ndarray  # (N, D) y, with what is expected where nothing was heard
    chain: Hidden | None = None
    fit: np.ndarray = field(default_factory=lambda: np.zeros(0))  # by take
    bent: float = 0.0  # nats that the courses cost by their prior
    runs: bool = True  # False: each repetition's way is drawn anew

    @property
    def precision(self) -> np.ndarray:
        return self.scatter.precision


def scatter_of(data: Data, covariance: np.ndarray) -> Scatter:
    """covariance: (C, C), of the contrasts."""
    off, free, heard = data.matrix.off, data.matrix.free, data.heard
    inner = np.linalg.inv(covariance)
    precision = off @ inner @ off.T + _FREE * (free @ free.T)
    width = len(precision)
    both = ~heard[:, :, None] & ~heard[:, None, :]
    parted = np.where(both, precision, np.eye(width))
    unheard = np.where(both, np.linalg.inv(parted), 0.0)
    of_heard = precision - precision @ unheard @ precision
    of_heard *= heard[:, :, None] & heard[:, None, :]
    whole = -float(np.linalg.slogdet(covariance)[1]) + free.shape[1] * np.log(_FREE)
    return Scatter(precision, of_heard, unheard, whole - np.linalg.slogdet(parted)[1])


def total(data: Data, fit: Fit) -> float:
    """How well everything is explained, less what it costs by the priors."""
    cost = fit.bent + 0.5 * float((data.share_held[:, None] * fit.share_coef**2).sum())
    cost += 0.5 * float((fit.odds**2).sum()) / ODDS_SD**2
    if fit.ways > 1:
        stay = min(max(fit.stay, 1e-3), 0.999)
        cost -= (STAY[0] * np.log(stay) + STAY[1] * np.log(1.0 - stay)) if fit.runs else 0.0
        inside = np.flatnonzero(fit.coef.any(axis=0))
        shape = data.matrix.shape[inside]
        sizes = np.einsum("ad,de,ae->a", shape, fit.precision, shape)
        own = fit.slope[:, inside] - data.pace[inside] * fit.coef[:, inside]
        cost += 0.5 * float((own**2 * sizes).sum()) / SLOPE_SD**2
    return float(fit.fit.sum()) - cost


def share_of(data: Data, fit: Fit) -> np.ndarray:
    """(N, K) share of each way, by tempo and sitting."""
    logits = np.concatenate([np.zeros((len(data.y), 1)), data.share_by @ fit.share_coef], axis=1)
    logits -= logits.max(axis=1, keepdims=True)
    share = np.exp(logits)
    return np.asarray(share / share.sum(axis=1, keepdims=True))


def weighed(data: Data, fit: Fit) -> Fit:
    """The expectation: chances of the ways and the likelihood of every take."""
    fit.emit = _emitted(data, fit)
    if fit.ways == 1:
        fit.fit = np.bincount(data.takes.of_row, fit.emit[:, 0], data.takes.count)
    else:
        fit.chain = hidden(data.takes, fit.emit, share_of(data, fit), fit.stay)
        fit.way, fit.fit = fit.chain.way, fit.chain.fit
    refill(data, fit)
    return fit


def refill(data: Data, fit: Fit) -> None:
    """What is expected where nothing was heard, by what was heard beside it."""
    if data.heard.all():
        return
    middle = fit.course + moved_by(data, fit)
    left = np.where(data.matrix.known, data.y - middle, 0.0)
    turned = left @ fit.precision
    for u, own in enumerate(data.of_pattern):
        if not data.heard[u].all():
            left[own] -= turned[own] @ fit.scatter.unheard[u]
    fit.filled = middle + left


def _emitted(data: Data, fit: Fit) -> np.ndarray:
    left = np.where(data.matrix.known, data.y - fit.course, 0.0)
    inside = np.flatnonzero(fit.coef.any(axis=0))
    shape = data.matrix.shape[inside]
    much = fit.coef[:, None, inside] + data.x[:, None] * fit.slope[:, None, inside]
    weighted, across = np.empty_like(left), np.empty_like(much)
    for u, own in enumerate(data.of_pattern):
        weighted[own] = left[own] @ fit.scatter.of_heard[u]
        kernel = shape @ fit.scatter.of_heard[u] @ shape.T
        across[:, own] = much[:, own] @ kernel
    counts = data.heard.sum(axis=1)
    constant = 0.5 * (fit.scatter.log_det - counts * np.log(2 * np.pi))[data.pattern]
    pull = weighted @ shape.T
    emit = (much * (pull - 0.5 * across)).sum(axis=2).T
    emit += (constant - 0.5 * (weighted * left).sum(axis=1))[:, None]
    for k in range(fit.ways if data.matrix.hits.shape[1] else 0):
        emit[:, k] += hits_emitted(data.matrix.hits, fit.hit_course + fit.odds[k])
    return emit


def moved_by(data: Data, fit: Fit) -> np.ndarray:
    """(N, D) how far the ways move each repetition from the first way's course, on average."""
    much = fit.way @ fit.coef + (fit.way * data.x[:, None]) @ fit.slope
    return np.asarray(much @ data.matrix.shape)


def hits_emitted(hits: np.ndarray, logit: np.ndarray) -> np.ndarray:
    """(N,) log likelihood of what happened or not, where it can be said."""
    if not hits.shape[1]:
        return np.zeros(len(hits))
    told = ~np.isnan(hits)
    each = np.where(told, hits, 0.0) * logit - np.logaddexp(0.0, logit)
    return np.asarray((each * told).sum(axis=1))


def started(data: Data, one: Fit, way: np.ndarray) -> Fit:
    """A fit that begins from guessed ways (N, K), with nothing in yet."""
    ways = way.shape[1]
    atoms, things = len(data.matrix.atoms), len(data.matrix.things)
    start = Fit(
        ways, np.zeros((ways, atoms)), np.zeros((ways, atoms)), np.zeros((ways, things)),
        one.course.copy(), one.hit_coef.copy(), one.hit_course.copy(), one.scatter,
        np.zeros((data.share_by.shape[1], ways - 1)), 0.6, way.copy(), one.emit, one.filled,
    )  # fmt: skip
    mean = way.mean(axis=0)
    start.share_coef[0] = np.log(np.maximum(mean[1:], 0.02) / max(float(mean[0]), 0.02))
    return start


def copied(fit: Fit) -> Fit:
    return replace(
        fit,
        coef=fit.coef.copy(),
        slope=fit.slope.copy(),
        odds=fit.odds.copy(),
        hit_coef=fit.hit_coef.copy(),
        hit_course=fit.hit_course.copy(),
        share_coef=fit.share_coef.copy(),
        way=fit.way.copy(),
    )
