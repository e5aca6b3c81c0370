"""In which atoms and things the ways differ: taken in one by one where they explain more than
chance would, with the ways as they are then known, and left out again where they no longer do; so a
way is a handful of numbers however many features there are."""

from __future__ import annotations

import numpy as np

from ..stats import sigmoid
from .learned import atoms_fitted, odds_fitted, refined
from .model import Data, Fit, moved_by

LEAST_GAIN = 7.0
"""Nats that an atom must explain to be taken in: one in some thirty does so by chance once in a
thousand practices."""
MOST_ATOMS = 6


def gains(data: Data, fit: Fit, k: int) -> tuple[np.ndarray, np.ndarray]:
    """Nats that each atom (A,) and each thing (B,) would explain more of way k, by its score."""
    shape, precision = data.matrix.shape, fit.precision
    left = (fit.filled - fit.course - moved_by(data, fit)) * data.rows[:, None]
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
    told = free * inner * _heard(data)
    gain = np.where(free > 1e-6 * np.diag(kernel), score**2 / (2 * np.maximum(told, 1e-12)), 0.0)
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
            atoms_fitted(data, fit)
        else:
            fit.odds[k, at] = 1e-9
            for _ in range(4):
                odds_fitted(data, fit)
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
            told = inner * _heard(data)[inside]
            lost = fit.coef[k, inside] ** 2 * told / np.diag(np.linalg.inv(block)) / 2.0
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


def _heard(data: Data) -> np.ndarray:
    """(A,) in which share of the repetitions an atom could be heard."""
    weight = data.matrix.shape**2
    heard = weight @ data.matrix.known.mean(axis=0)
    return np.asarray(heard / np.maximum(weight.sum(axis=1), 1e-300))
