"""Some ways of playing fitted to a matrix of features.

Each way but the first differs from it in a few atoms and in the chance of a few things that happen
or not; everything else (courses, days, drift) is common. Which atoms is found step by step: an atom
is taken in where it explains more than chance would, with the ways as they are then known; so a way
is a handful of numbers however many features there are. Fitted by expectation and maximisation (A.
P. Dempster, N. M. Laird, D. B. Rubin, J. R. Stat. Soc. B 39 (1977) 1-38).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ..review.draws import sigmoid
from .base import Base
from .chain import Hidden, Takes, hidden
from .matrix import Matrix

LEAST_GAIN = 7.0
"""Nats that an atom must explain to be taken in: one in some thirty does so by chance once in a
thousand practices."""
MOST_ATOMS = 6
_SHRINK = 12.0  # repetitions that the independent covariance is worth
_STAY = (6.0, 4.0)  # prior counts of kept and drawn anew
_HELD = 4.0  # spreads beyond which what is left of a value is held back
_ODDS_SD = 3.0
_SLOPE_SD = 0.5  # by how many scatters a way's difference may move with an SD of the tempos


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
    apart: np.ndarray  # y without its courses
    rows: np.ndarray  # (N,) 1 where the ways are learned from a repetition, else 0
    sitting: np.ndarray  # (N,)
    hit_columns: np.ndarray  # courses of the hits (N, P)
    hit_held: np.ndarray
    steady: Base  # the steadiest courses alone


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
    precision: np.ndarray
    log_det: float
    share_coef: np.ndarray  # (Q, K - 1)
    stay: float
    way: np.ndarray  # (N, K)
    emit: np.ndarray  # (N, K)
    chain: Hidden | None = None
    fit: np.ndarray = field(default_factory=lambda: np.zeros(0))  # by take
    strained: float = 0.0  # nats that the courses cost by their prior
    runs: bool = True  # False: each repetition's way is drawn anew

    @property
    def total(self) -> float:
        """How well everything is explained, less what strong courses cost."""
        return float(self.fit.sum()) - self.strained


def share_of(data: Data, fit: Fit) -> np.ndarray:
    """(N, K) share of each way, by tempo and sitting."""
    logits = np.concatenate([np.zeros((len(data.y), 1)), data.share_by @ fit.share_coef], axis=1)
    logits -= logits.max(axis=1, keepdims=True)
    share = np.exp(logits)
    return np.asarray(share / share.sum(axis=1, keepdims=True))


def one_way(data: Data) -> Fit:
    """Everything explained by courses alone."""
    n, width = data.y.shape
    atoms, things = len(data.matrix.atoms), len(data.matrix.things)
    fit = Fit(
        1, np.zeros((1, atoms)), np.zeros((1, atoms)), np.zeros((1, things)), np.zeros((n, width)),
        *_hit_courses(data), np.eye(width), 0.0, np.zeros((data.share_by.shape[1], 0)), 0.0,
        np.ones((n, 1)), np.zeros((n, 1)),
    )  # fmt: skip
    _courses(data, fit)
    return weighed(data, fit)


def refined(data: Data, fit: Fit, rounds: int, still: float = 0.02) -> Fit:
    """Rounds of expectation and maximisation with the atoms that are in; ends where little
    moves."""
    last = -np.inf
    for _ in range(rounds):
        _atoms(data, fit)
        _hit_odds(data, fit)
        _shares(data, fit)
        weighed(data, fit)
        learned = fit.total
        if abs(learned - last) < still:
            break
        last = learned
    return fit


def weighed(data: Data, fit: Fit) -> Fit:
    """The expectation: chances of the ways and the likelihood of every take."""
    fit.emit = _emitted(data, fit)
    if fit.ways == 1:
        per_take = np.bincount(data.takes.of_row, fit.emit[:, 0], data.takes.count)
        fit.fit = per_take
        return fit
    share = share_of(data, fit)
    fit.chain = hidden(data.takes, fit.emit, share, fit.stay)
    fit.way, fit.fit = fit.chain.way, fit.chain.fit
    return fit


def _emitted(data: Data, fit: Fit) -> np.ndarray:
    left = data.y - fit.course
    constant = 0.5 * fit.log_det - 0.5 * data.y.shape[1] * np.log(2 * np.pi)
    emit = np.empty((len(left), fit.ways))
    weighted = left @ fit.precision
    square = (weighted * left).sum(axis=1)
    inside = np.flatnonzero(fit.coef.any(axis=0))
    shape = data.matrix.shape[inside]
    pull, kernel = weighted @ shape.T, shape @ fit.precision @ shape.T
    for k in range(fit.ways):
        much = fit.coef[k, inside] + data.x[:, None] * fit.slope[k, inside]
        moved = (much * pull).sum(axis=1) - 0.5 * ((much @ kernel) * much).sum(axis=1)
        emit[:, k] = constant - 0.5 * square + moved
        emit[:, k] += _hits_emitted(data.matrix.hits, fit.hit_course + fit.odds[k])
    return emit


def moved_by(data: Data, fit: Fit) -> np.ndarray:
    """(N, D) how far the ways move each repetition from the first way's course, on average."""
    much = fit.way @ fit.coef + (fit.way * data.x[:, None]) @ fit.slope
    return np.asarray(much @ data.matrix.shape)


def _hits_emitted(hits: np.ndarray, logit: np.ndarray) -> np.ndarray:
    value = np.nan_to_num(hits)
    each = value * logit - np.logaddexp(0.0, logit)
    return np.where(np.isnan(hits), 0.0, each).sum(axis=1)


# ------------------------------------------------------------------------------------- maximisation


def _courses(data: Data, fit: Fit) -> None:
    """Courses of the first way and the scatter about all of them."""
    moved = moved_by(data, fit)
    coefs = data.base.coefs(data.y - moved)
    fit.course = data.base.columns @ coefs
    left = (data.y - fit.course - moved) * data.rows[:, None]
    count = float(data.rows.sum())
    square = left.T @ left
    inside = np.flatnonzero(fit.coef.any(axis=0))
    shape = data.matrix.shape[inside]
    for k in range(1, fit.ways):  # what is not known of the ways scatters as well
        for j in range(1, fit.ways):
            doubt = data.rows * fit.way[:, k] * (float(k == j) - fit.way[:, j])
            none, once, twice = (float((doubt * data.x**power).sum()) for power in range(3))
            a, b = fit.coef[k, inside], fit.coef[j, inside]
            c, d = fit.slope[k, inside], fit.slope[j, inside]
            much = none * np.outer(a, b) + once * (np.outer(a, d) + np.outer(c, b))
            square += shape.T @ (much + twice * np.outer(c, d)) @ shape
    own = np.diag(np.diag(square) / max(count, 1.0))
    covariance = (square + _SHRINK * own) / (count + _SHRINK)
    covariance += 1e-3 * np.eye(len(covariance))
    fit.precision = np.linalg.inv(covariance)
    fit.log_det = -float(np.linalg.slogdet(covariance)[1])
    bends = ((coefs @ fit.precision) * coefs).sum(axis=1)
    fit.strained = 0.5 * float((bends / data.base.variance).sum())


def _atoms(data: Data, fit: Fit) -> None:
    """How much of each atom that is in, and how that goes with the tempo, all together and beside
    the courses."""
    inside = [
        (k, a, p) for k in range(1, fit.ways) for a in np.flatnonzero(fit.coef[k]) for p in (0, 1)
    ]
    if inside:
        shape, precision = data.matrix.shape, fit.precision
        powers = np.stack([np.ones(len(data.x)), data.x], axis=1)
        # (N, K - 1, 2): each way's indicator, and the same times the tempo
        marks = fit.way[:, 1:, None] * powers[:, None, :]
        flat = marks.reshape(len(marks), -1)
        own = flat * data.rows[:, None]
        inner = own.T @ data.base.without(flat)
        apart_ways = np.einsum("nk,kj->nkj", fit.way[:, 1:], np.eye(fit.ways - 1))
        doubt = apart_ways - fit.way[:, 1:, None] * fit.way[:, None, 1:]
        both = np.einsum("n,nkj,np,nq->kpjq", data.rows, doubt, powers, powers)
        inner += both.reshape(inner.shape)
        kernel = shape @ precision @ shape.T
        pulled = (own.T @ data.apart) @ precision @ shape.T  # (2 K - 2, A)
        size = len(inside)
        at = [2 * (k - 1) + p for k, _, p in inside]
        atoms = [a for _, a, _ in inside]
        normal = inner[np.ix_(at, at)] * kernel[np.ix_(atoms, atoms)]
        right = pulled[at, atoms]
        normal[np.arange(size), np.arange(size)] *= 1.0 + 1e-6
        for i, (_, a, p) in enumerate(inside):
            if p:
                normal[i, i] += kernel[a, a] / _SLOPE_SD**2
        solved = np.linalg.solve(normal, right)
        for (k, a, p), value in zip(inside, solved):
            if p:
                fit.slope[k, a] = value
            else:
                fit.coef[k, a] = value if value != 0.0 else 1e-12
    _courses(data, fit)


def _hit_odds(data: Data, fit: Fit) -> None:
    """One step of Newton's for the courses of the hits and for what the ways add."""
    hits = data.matrix.hits
    for b in range(hits.shape[1]):
        told = ~np.isnan(hits[:, b])
        value = np.nan_to_num(hits[told, b])
        way = fit.way[told]
        own = way * data.rows[told, None]
        columns = data.hit_columns[told]
        chance = sigmoid(fit.hit_course[told, b][:, None] + fit.odds[None, :, b])
        for k in range(1, fit.ways):
            if fit.odds[k, b]:
                slope = (own[:, k] * (value - chance[:, k])).sum() - fit.odds[k, b] / _ODDS_SD**2
                bend = (own[:, k] * chance[:, k] * (1 - chance[:, k])).sum() + 1.0 / _ODDS_SD**2
                fit.odds[k, b] += float(np.clip(slope / bend, -1.5, 1.5))
        if np.any(fit.odds[:, b]):
            mean = (way * chance).sum(axis=1)
            spread = (way * chance * (1 - chance)).sum(axis=1)
            slopes = columns.T @ (value - mean) - data.hit_held * fit.hit_coef[:, b]
            bends = (columns * spread[:, None]).T @ columns + np.diag(data.hit_held)
            fit.hit_coef[:, b] += np.linalg.solve(bends, slopes)
            fit.hit_course[:, b] = data.hit_columns @ fit.hit_coef[:, b]


def _hit_courses(data: Data) -> tuple[np.ndarray, np.ndarray]:
    """Logistic courses of the hits of one way: coefficients (P, B) and log odds (N, B)."""
    hits = data.matrix.hits
    coefs = np.zeros((data.hit_columns.shape[1], hits.shape[1]))
    for b in range(hits.shape[1]):
        told = ~np.isnan(hits[:, b])
        columns, value = data.hit_columns[told], hits[told, b]
        coef = np.zeros(columns.shape[1])
        start = float(np.clip(value.mean(), 0.01, 0.99))
        coef[0] = np.log(start / (1 - start))
        for _ in range(8):
            chance = 1.0 / (1.0 + np.exp(-np.clip(columns @ coef, -12, 12)))
            slopes = columns.T @ (value - chance) - data.hit_held * coef
            bends = (columns * (chance * (1 - chance))[:, None]).T @ columns
            step = np.linalg.solve(bends + np.diag(data.hit_held), slopes)
            coef = coef + np.clip(step, -2.0, 2.0)
        coefs[:, b] = coef
    return coefs, data.hit_columns @ coefs


def _shares(data: Data, fit: Fit) -> None:
    """The share of each way by tempo, from where ways were drawn anew; and how surely one is
    kept."""
    if fit.chain is None:  # only guessed so far
        return
    drawn = fit.chain.drawn * data.rows[:, None]
    for _ in range(2):
        share = share_of(data, fit)
        total = drawn.sum(axis=1)
        for k in range(1, fit.ways):
            own = share[:, k]
            slopes = data.share_by.T @ (drawn[:, k] - total * own)
            slopes -= data.share_held * fit.share_coef[:, k - 1]
            bends = (data.share_by * (total * own * (1 - own))[:, None]).T @ data.share_by
            step = np.linalg.solve(bends + np.diag(data.share_held), slopes)
            fit.share_coef[:, k - 1] += np.clip(step, -2.0, 2.0)
    if not fit.runs:
        return
    inside = data.rows > 0
    starts = data.takes.count if inside.all() else len(np.unique(data.takes.of_row[inside]))
    anew = float(drawn.sum()) - starts
    moves = float(data.rows.sum()) - starts
    fit.stay = float(np.clip((moves - anew + _STAY[0]) / (moves + sum(_STAY)), 0.0, 0.995))


# --------------------------------------------------------------------------- what is in, what is out


def gains(data: Data, fit: Fit, k: int) -> tuple[np.ndarray, np.ndarray]:
    """Nats that each atom (A,) and each thing (B,) would explain more of way k, by its score."""
    shape, precision = data.matrix.shape, fit.precision
    left = (data.y - fit.course - moved_by(data, fit)) * data.rows[:, None]
    own = fit.way[:, k]
    apart = data.base.without(own[:, None])[:, 0] * data.rows
    inner = float(own @ apart + (data.rows * own * (1 - own)).sum())
    pull = (apart @ left) @ precision
    # what is in already would give way to what comes in
    inside = np.flatnonzero(fit.coef[k])
    kernel = shape @ precision @ shape.T
    score = shape @ pull
    free = np.diag(kernel).copy()
    if len(inside):
        block = kernel[np.ix_(inside, inside)] + 1e-9 * np.eye(len(inside))
        across = np.linalg.solve(block, kernel[inside])
        free -= (kernel[inside] * across).sum(axis=0)
        score = score - score[inside] @ across
    gain = np.where(
        free > 1e-6 * np.diag(kernel), score**2 / (2 * inner * np.maximum(free, 1e-12)), 0.0
    )
    gain[inside] = 0.0
    hits = data.matrix.hits
    thing = np.zeros(hits.shape[1])
    for b in range(hits.shape[1]):
        if fit.odds[k, b]:
            continue
        told = ~np.isnan(hits[:, b]) & (data.rows > 0)
        chance = sigmoid(fit.hit_course[told, b][:, None] + fit.odds[None, :, b])
        spread = (fit.way[told] * chance * (1 - chance)).sum(axis=1)
        off = np.nan_to_num(hits[told, b]) - (fit.way[told] * chance).sum(axis=1)
        weight = own[told] - (own[told] @ spread) / max(spread.sum(), 1e-9)
        bend = (spread * weight**2).sum()
        thing[b] = (weight @ off) ** 2 / (2 * max(bend, 1e-9)) if bend > 1.0 else 0.0
    return gain, thing


def grown(data: Data, fit: Fit, rounds: int, most: int = MOST_ATOMS) -> Fit:
    """Atoms taken in while they explain enough, with the ways as they are known; then the ways
    fitted anew, what no longer explains anything left out, and again."""
    for _ in range(3):
        came = taken_in(data, fit, most)
        refined(data, fit, rounds)
        went = _left_out(data, fit)
        if went:
            refined(data, fit, 2)
        if not came and not went:
            break
    return fit


def taken_in(data: Data, fit: Fit, most: int) -> bool:
    """Atoms and things taken in one by one while they explain enough; whether any was."""
    came = False
    for _ in range(most * (fit.ways - 1)):
        best, where = LEAST_GAIN, None
        for k in range(1, fit.ways):
            if (fit.coef[k] != 0).sum() + (fit.odds[k] != 0).sum() >= most:
                continue
            atom, thing = gains(data, fit, k)
            if len(atom) and atom.max() > best:
                best, where = float(atom.max()), (k, 0, int(atom.argmax()))
            if len(thing) and thing.max() > best:
                best, where = float(thing.max()), (k, 1, int(thing.argmax()))
        if where is None:
            break
        k, kind, at = where
        came = True
        if kind == 0:
            fit.coef[k, at] = 1e-9
            _atoms(data, fit)
        else:
            fit.odds[k, at] = 1e-9
            for _ in range(4):
                _hit_odds(data, fit)
    return came


def _left_out(data: Data, fit: Fit) -> bool:
    """Atoms and things without which nearly as much is explained are left out."""
    went = False
    kernel = data.matrix.shape @ fit.precision @ data.matrix.shape.T
    for k in range(1, fit.ways):
        inside = np.flatnonzero(fit.coef[k])
        if len(inside):
            own = fit.way[:, k] * data.rows
            inner = float(own @ data.base.without(fit.way[:, k : k + 1])[:, 0])
            inner += float((own * (1 - fit.way[:, k])).sum())
            block = kernel[np.ix_(inside, inside)] + 1e-9 * np.eye(len(inside))
            lost = fit.coef[k, inside] ** 2 * inner / np.diag(np.linalg.inv(block)) / 2.0
            if lost.min() < LEAST_GAIN:
                fit.coef[k, inside[lost.argmin()]] = 0.0
                fit.slope[k, inside[lost.argmin()]] = 0.0
                went = True
        for b in np.flatnonzero(fit.odds[k]):
            told = ~np.isnan(data.matrix.hits[:, b]) & (data.rows > 0)
            chance = sigmoid(fit.hit_course[told, b] + fit.odds[k, b])
            bend = float((fit.way[told, k] * chance * (1 - chance)).sum())
            if bend * fit.odds[k, b] ** 2 / 2.0 < LEAST_GAIN / 2.0 and abs(fit.odds[k, b]) < 2.0:
                fit.odds[k, b] = 0.0
                went = True
    return went


def started(data: Data, one: Fit, way: np.ndarray) -> Fit:
    """A fit that begins from guessed ways (N, K), with nothing in yet."""
    ways = way.shape[1]
    atoms, things = len(data.matrix.atoms), len(data.matrix.things)
    start = Fit(
        ways, np.zeros((ways, atoms)), np.zeros((ways, atoms)), np.zeros((ways, things)), one.course.copy(),
        one.hit_coef.copy(), one.hit_course.copy(), one.precision.copy(), one.log_det,
        np.zeros((data.share_by.shape[1], ways - 1)), 0.6, way.copy(), one.emit,
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
