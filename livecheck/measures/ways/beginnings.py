"""Where a second way may lie: guesses for a fit to begin from."""

from __future__ import annotations

import numpy as np

from ..stats import sigmoid
from .model import Data, Fit

_STARTS, _WIDEST = 3, 2
_GROUPS = 100


def beginnings(data: Data, one: Fit) -> list[np.ndarray]:
    """Guesses of the second way's chance (N,): along what keeps from repetition to repetition,
    along single things with two levels, and along what lies in two heaps; with all courses taken
    off, and with the steadiest alone, since slow courses may follow the ways themselves."""
    root = _root(one.precision)
    atoms = data.matrix.shape @ root
    sizes = np.linalg.norm(atoms, axis=1)
    singles = list(atoms[sizes > 1e-9] / sizes[sizes > 1e-9][:, None])
    columns, promises = [], []
    heard = one.filled
    flat = heard - data.steady.course(heard)
    for left in (heard - one.course, flat, heard - heard.mean(axis=0)):
        white = left @ root
        lines = [*_kept_lines(data, white), *singles]
        lines += _heaped_lines(white, lines)
        if lines:
            columns.append(
                np.concatenate([white @ np.stack(lines, axis=1), _widest(data, left)], axis=1)
            )
    wide = len(columns)
    hits = data.matrix.hits
    touches = []
    for b in range(hits.shape[1]):
        chance = sigmoid(one.hit_course[:, b])
        off = np.where(np.isnan(hits[:, b]), 0.0, np.nan_to_num(hits[:, b]) - chance)
        touches.append(_smoothed(data, off / np.sqrt(np.maximum(chance * (1 - chance), 0.02))))
    if touches:
        columns.append(np.stack(touches, axis=1))
    guesses: list[np.ndarray] = []
    for part, values in enumerate(columns):
        z = (values - values.mean(axis=0)) / np.maximum(values.std(axis=0), 1e-9)
        chances, promise = _two_levels(z)
        if not touches or part < len(columns) - 1:  # touches are smoothed: alike in any case
            kept = np.array([_alike(data, z[:, at]) for at in range(z.shape[1])])
            promise = promise + len(z) * np.maximum(kept, 0.0) ** 2 / 2.0
        promises.append(promise)
        taken = 0
        order = list(np.argsort(-promise, kind="stable"))
        if part < wide:  # the widest are tried whatever they promise
            last = len(promise) - np.arange(1, _WIDEST + 1)
            order = [*last, *(at for at in order if at not in last)]
        for at in order:
            guess = chances[:, at]
            if guess.std() > 1e-3 and all(abs(np.corrcoef(guess, o)[0, 1]) < 0.8 for o in guesses):
                guesses.append(guess)
                taken += 1
            if taken >= _STARTS + (_WIDEST if part < wide else 0):
                break
    return guesses


def _two_levels(z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """By column of standardised values (N, L): chance of the upper of two levels (N, L), and nats
    by which two levels of equal scatter explain it better than one (L,). Fitted to means of groups
    of neighbours in value, as many as are enough for two levels."""
    n = len(z)
    ordered = np.sort(z, axis=0)
    edges = np.linspace(0, n, min(n, _GROUPS) + 1).astype(int)
    size = np.diff(edges).astype(float)[:, None]
    middle = np.add.reduceat(ordered, edges[:-1], axis=0) / size
    best, told = np.full(z.shape[1], -np.inf), np.zeros((4, z.shape[1]))
    for split in (0.2, 0.5, 0.8):
        upper = np.where(np.cumsum(size)[:, None] > split * n, 0.95, 0.05) + 0.0 * middle
        for _ in range(20):
            share = np.clip((size * upper).sum(axis=0) / n, 0.02, 0.98)
            high = (size * upper * middle).sum(axis=0) / (n * share)
            low = (size * (1 - upper) * middle).sum(axis=0) / (n * (1 - share))
            each = upper * (middle - high) ** 2 + (1 - upper) * (middle - low) ** 2
            spread = np.maximum((size * each).sum(axis=0) / n, 0.02)
            a = np.log(share) - 0.5 * (middle - high) ** 2 / spread
            b = np.log(1 - share) - 0.5 * (middle - low) ** 2 / spread
            both = np.logaddexp(a, b)
            upper = np.exp(a - both)
        fit = (size * both).sum(axis=0) - 0.5 * n * np.log(2 * np.pi * spread)
        better = fit > best
        best = np.where(better, fit, best)
        told = np.where(better, np.stack([share, high, low, spread]), told)
    share, high, low, spread = told
    odds = np.log(share / (1 - share)) + 0.5 * ((z - low) ** 2 - (z - high) ** 2) / spread
    one = -0.5 * n * (1.0 + np.log(2 * np.pi))
    return sigmoid(odds), best - one


def _heaped_lines(white: np.ndarray, lines: list[np.ndarray]) -> list[np.ndarray]:
    """Directions in which what is left lies in two heaps: fourth and third moments farthest from
    the normal's, by fixed points (A. Hyvarinen, E. Oja, Neural Computation 9 (1997) 1483-1492)."""
    if not lines:
        return []
    start = np.stack(lines, axis=1)
    found = []
    for moment in (4, 3):
        w = start.copy()
        for _ in range(12):
            z = white @ w
            w = white.T @ z ** (moment - 1) / len(z) - (3.0 * w if moment == 4 else 0.0)
            w /= np.maximum(np.linalg.norm(w, axis=0), 1e-12)
        found += list(w.T)
    kept: list[np.ndarray] = []
    for line in found:
        if all(abs(line @ other) < 0.95 for other in kept):
            kept.append(line)
    return kept


def _alike(data: Data, z: np.ndarray) -> float:
    laid, inside = data.takes.side_by_side(z), data.takes.inside
    both = inside[1:]
    return float((laid[1:] * laid[:-1])[both].sum() / max(both.sum(), 1))


def _smoothed(data: Data, value: np.ndarray) -> np.ndarray:
    laid = np.where(data.takes.inside, data.takes.side_by_side(value), 0.0)
    wide = laid.copy()
    for shift, weight in ((1, 0.8), (2, 0.5), (3, 0.3)):
        wide[shift:] += weight * laid[:-shift]
        wide[:-shift] += weight * laid[shift:]
    return data.takes.back(wide, len(value))


def _kept_lines(data: Data, white: np.ndarray) -> np.ndarray:
    """Directions in which neighbours in a take are most alike."""
    laid, inside = data.takes.side_by_side(white), data.takes.inside
    a, b = laid[:-1][inside[1:]], laid[1:][inside[1:]]
    together = a.T @ b
    _, vectors = np.linalg.eigh(together + together.T)
    return np.asarray(vectors[:, ::-1][:, :2].T)


def _widest(data: Data, left: np.ndarray) -> np.ndarray:
    """(N, _WIDEST) what lies along the directions in which the contrasts scatter most: things that
    differ together make one of them wide, though each by itself is lost in its own scatter."""
    values = left @ data.matrix.off
    values = values - values.mean(axis=0)
    _, vectors = np.linalg.eigh(values.T @ values)
    found = np.zeros((len(left), _WIDEST))
    some = vectors[:, ::-1][:, :_WIDEST]
    found[:, : some.shape[1]] = values @ some
    return found


def _root(precision: np.ndarray) -> np.ndarray:
    values, vectors = np.linalg.eigh(precision)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)
