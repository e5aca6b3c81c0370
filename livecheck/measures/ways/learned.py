"""Ways of playing fitted to a matrix: rounds of expectation and maximisation (A. P. Dempster, N. M.
Laird, D. B. Rubin, J. R. Stat. Soc. B 39 (1977) 1-38)."""

from __future__ import annotations

import numpy as np

from ..stats import sigmoid
from .model import (
    ODDS_SD,
    SLOPE_SD,
    STAY,
    Data,
    Fit,
    moved_by,
    refill,
    scatter_of,
    share_of,
    total,
    weighed,
)

_SHRINK = 12.0  # repetitions that the independent covariance is worth
_ALONE = 6  # rounds in which what was not heard and the courses settle
_STILL = 0.05  # nats below which a round has moved little


def one_way(data: Data) -> Fit:
    """Everything explained by courses alone."""
    n, width = data.y.shape
    atoms, things = len(data.matrix.atoms), len(data.matrix.things)
    fit = Fit(
        1, np.zeros((1, atoms)), np.zeros((1, atoms)), np.zeros((1, things)), np.zeros((n, width)),
        *_hit_courses(data), scatter_of(data, np.eye(data.matrix.off.shape[1])),
        np.zeros((data.share_by.shape[1], 0)), 0.0, np.ones((n, 1)), np.zeros((n, 1)), data.y,
    )  # fmt: skip
    for _ in range(1 if data.heard.all() else _ALONE):
        courses(data, fit)
        refill(data, fit)
    return weighed(data, fit)


def refined(data: Data, fit: Fit, rounds: int) -> Fit:
    """Rounds of expectation and maximisation with the atoms that are in; ends where little
    moves."""
    last = -np.inf
    for _ in range(rounds):
        atoms_fitted(data, fit)
        odds_fitted(data, fit)
        _shares(data, fit)
        weighed(data, fit)
        now = total(data, fit)
        if abs(now - last) < _STILL:
            break
        last = now
    return fit


def courses(data: Data, fit: Fit) -> None:
    """Courses of the first way and the scatter about all of them."""
    moved = moved_by(data, fit)
    coefs = data.base.coefs(fit.filled - moved)
    fit.course = data.base.columns @ coefs
    off = data.matrix.off
    left = ((fit.filled - fit.course - moved) @ off) * data.rows[:, None]
    count = float(data.rows.sum())
    square = left.T @ left
    if not data.heard.all():  # what was not heard scatters as well
        often = np.bincount(data.pattern, data.rows, len(data.heard))
        square += off.T @ np.einsum("u,ude->de", often, fit.scatter.unheard) @ off
    inside = np.flatnonzero(fit.coef.any(axis=0))
    shape = data.matrix.shape[inside] @ off
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
    fit.scatter = scatter_of(data, covariance)
    bends = ((coefs @ fit.precision) * coefs).sum(axis=1)
    fit.bent = 0.5 * float((bends / data.base.variance).sum())


def atoms_fitted(data: Data, fit: Fit) -> None:
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
        without = data.base.without(flat)
        inner = own.T @ without
        apart_ways = np.einsum("nk,kj->nkj", fit.way[:, 1:], np.eye(fit.ways - 1))
        doubt = apart_ways - fit.way[:, 1:, None] * fit.way[:, None, 1:]
        both = np.einsum("n,nkj,np,nq->kpjq", data.rows, doubt, powers, powers, optimize=True)
        inner += both.reshape(inner.shape)
        wanted = np.unique([a for _, a, _ in inside])
        turned = precision @ shape[wanted].T
        kernel = shape[wanted] @ turned
        pulled = (own.T @ data.base.without(fit.filled)) @ turned  # (2 K - 2, A)
        size = len(inside)
        at = [2 * (k - 1) + p for k, _, p in inside]
        atoms = list(np.searchsorted(wanted, [a for _, a, _ in inside]))
        normal = inner[np.ix_(at, at)] * kernel[np.ix_(atoms, atoms)]
        right = pulled[at, atoms]
        normal[np.arange(size), np.arange(size)] *= 1.0 + 1e-6
        for i in range(0, size, 2):
            held = kernel[atoms[i], atoms[i]] / SLOPE_SD**2
            pace = float(data.pace[inside[i][1]])
            normal[i + 1, i + 1] += held
            normal[i, i] += held * pace**2
            normal[i, i + 1] -= held * pace
            normal[i + 1, i] -= held * pace
        solved = np.linalg.solve(normal, right)
        for (k, a, p), value in zip(inside, solved):
            if p:
                fit.slope[k, a] = value
            else:
                fit.coef[k, a] = value if value != 0.0 else 1e-12
    courses(data, fit)


def odds_fitted(data: Data, fit: Fit) -> None:
    """One step of Newton's for the courses of the hits and for what the ways add."""
    hits = data.matrix.hits
    for b in np.flatnonzero(fit.odds.any(axis=0)):
        told = ~np.isnan(hits[:, b])
        value = hits[told, b]
        way = fit.way[told]
        own = way * data.rows[told, None]
        columns = data.hit_columns[told]
        chance = sigmoid(fit.hit_course[told, b][:, None] + fit.odds[None, :, b])
        for k in range(1, fit.ways):
            if fit.odds[k, b]:
                slope = (own[:, k] * (value - chance[:, k])).sum() - fit.odds[k, b] / ODDS_SD**2
                bend = (own[:, k] * chance[:, k] * (1 - chance[:, k])).sum() + 1.0 / ODDS_SD**2
                fit.odds[k, b] += float(np.clip(slope / bend, -1.5, 1.5))
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
            chance = sigmoid(np.clip(columns @ coef, -12, 12))
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
        every = drawn.sum(axis=1)
        for k in range(1, fit.ways):
            own = share[:, k]
            slopes = data.share_by.T @ (drawn[:, k] - every * own)
            slopes -= data.share_held * fit.share_coef[:, k - 1]
            bends = (data.share_by * (every * own * (1 - own))[:, None]).T @ data.share_by
            step = np.linalg.solve(bends + np.diag(data.share_held), slopes)
            fit.share_coef[:, k - 1] += np.clip(step, -2.0, 2.0)
    if not fit.runs:
        return
    inside = data.rows > 0
    starts = data.takes.count if inside.all() else len(np.unique(data.takes.of_row[inside]))
    anew = float(drawn.sum()) - starts
    moves = float(data.rows.sum()) - starts
    fit.stay = float(np.clip((moves - anew + STAY[0]) / (moves + sum(STAY)), 0.0, 0.995))
