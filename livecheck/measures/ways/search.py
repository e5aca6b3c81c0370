"""Where ways may lie: beginnings for the fit, and the fit that explains most."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .base import Base, design, steadiest
from .chain import Takes
from .features import Features
from .matrix import Matrix
from .model import Data, Fit, copied, grown, moved_by, refined, started, taken_in

_SHARE_BENDS = 2
_SHARE_HELD = (0.05, 0.1, 0.5)
_SITTING_HELD = 1.0
_STARTS = 4
_FINISHED = 3
_PARTINGS = 5
_MOST_TURNED = 24
_LEAST_TURNED, _ONE_SIDED, _WORTH_MORE = 10, 0.25, 12.0
FEWEST = 12.0
"""Repetitions below which a way is none."""
_HELD = 4.0


def data_of(features: Features, matrix: Matrix) -> Data:
    """Everything a fit needs."""
    columns, variance = design(features)
    base = Base(columns, variance)
    n = len(features)
    x = np.log(features.bpm)
    x = (x - x.mean()) / max(float(x.std()), 0.05)
    share, held = [np.ones(n)], [_SHARE_HELD[0]]
    for k in range(1, _SHARE_BENDS + 1):
        share.append(x**k if k == 1 else x**2 - 1.0)
        held.append(_SHARE_HELD[k])
    numbers = np.unique(features.sitting)
    if len(numbers) > 1:
        for number in numbers:
            share.append((features.sitting == number).astype(float))
            held.append(_SITTING_HELD)
    y = matrix.y
    course = base.course(y)
    y = course + np.clip(y - course, -_HELD, _HELD)
    return Data(
        matrix, base, Takes(features.take), np.stack(share, axis=1), np.array(held), np.clip(x, -2.5, 2.5), y,
        base.without(y), np.ones(n), features.sitting, columns, 1.0 / variance, Base(*steadiest(features)),
    )  # fmt: skip


def two_ways(data: Data, one: Fit) -> Fit | None:
    """The best fit of two ways from several beginnings; None where nothing differs."""
    tried: list[Fit] = []
    for guess in beginnings(data, one):
        fit = started(data, one, np.stack([1.0 - guess, guess], axis=1))
        if taken_in(data, fit, 3):
            tried.append(refined(data, fit, 2))
    for rounds, kept in ((3, 6), (6, _FINISHED)):
        tried = [fit for fit in tried if least_share(data, fit) >= FEWEST]
        tried.sort(key=lambda fit: -fit.total)
        tried = [grown(data, fit, rounds) for fit in tried[:kept]]
    best: Fit | None = None
    for fit in tried:
        refined(data, fit, 40)
        if (best is None or fit.total > best.total) and least_share(data, fit) >= FEWEST:
            best = fit
    return None if best is None else _turned(data, best)


def _turned(data: Data, fit: Fit) -> Fit:
    """The same fit with the ways exchanged in a sitting, or at the slow or fast end of one or of
    all, where that explains more: a course may have been taken for a way, or a way for a course."""
    for own in _ends(data):
        share = float(fit.way[own, 1].mean())
        if _ONE_SIDED < share < 1.0 - _ONE_SIDED:
            continue
        other = copied(fit)
        other.way[own] = other.way[own][:, ::-1]
        other.chain = None
        refined(data, other, 2)
        if other.total > fit.total - _WORTH_MORE:
            refined(data, other, 8)
        if other.total > fit.total + 0.5 and least_share(data, other) >= FEWEST:
            fit = refined(data, other, 10)
    return fit


def _ends(data: Data) -> list[np.ndarray]:
    """Repetitions (N,) of each sitting, those beyond some tempos in all and in each, those of each
    tempo."""
    numbers = np.unique(data.sitting)
    found: list[np.ndarray] = []
    cuts = np.quantile(data.x, (0.15, 0.35, 0.65, 0.85))
    every = [np.ones(len(data.x), bool)]
    if len(numbers) > 1:
        every += [data.sitting == number for number in numbers[:_MOST_TURNED]]
        found += every[1:]
    for own in every:
        found += [own & (data.x <= cut if cut < 0.0 else data.x > cut) for cut in cuts]
    steps = np.round(data.x / 0.25)
    found += [steps == step for step in np.unique(steps)]
    kept: dict[bytes, np.ndarray] = {
        one.tobytes(): one for one in found if _LEAST_TURNED <= one.sum() < len(one)
    }
    return list(kept.values())


def more_ways(data: Data, one: Fit, fit: Fit) -> Fit | None:
    """The best fit with one way more than a fit has: each way of it parted in two; None where
    nothing differs."""
    tried: list[Fit] = []
    left = data.y - fit.course - moved_by(data, fit)
    for k in range(fit.ways):
        own = replace(one, course=data.y - left * fit.way[:, k : k + 1])
        for guess in beginnings(data, own)[:_PARTINGS]:
            way = np.concatenate([fit.way, fit.way[:, k : k + 1] * guess[:, None]], axis=1)
            way[:, k] *= 1.0 - guess
            start = started(data, one, way)
            if taken_in(data, start, 3):
                tried.append(refined(data, start, 2))
    best: Fit | None = None
    tried = [one for one in tried if least_share(data, one) >= FEWEST]
    for found in sorted(tried, key=lambda one: -one.total)[:_FINISHED]:
        grown(data, found, 5)
        refined(data, found, 25)
        if (best is None or found.total > best.total) and least_share(data, found) >= FEWEST:
            best = found
    return best


def least_share(data: Data, fit: Fit) -> float:
    """Repetitions of the rarest way."""
    return float((fit.way * data.rows[:, None]).sum(axis=0).min())


def beginnings(data: Data, one: Fit) -> list[np.ndarray]:
    """Guesses of the second way's chance (N,): along what keeps from repetition to repetition,
    along single things with two levels, and along what lies in two heaps; with all courses taken
    off, and with the steadiest alone, since slow courses may follow the ways themselves."""
    root = _root(one.precision)
    atoms = data.matrix.shape @ root
    sizes = np.linalg.norm(atoms, axis=1)
    singles = list(atoms[sizes > 1e-9] / sizes[sizes > 1e-9][:, None])
    columns, promises = [], []
    flat = data.y - data.steady.course(data.y)
    for left in (data.y - one.course, flat, data.y - data.y.mean(axis=0)):
        white = left @ root
        lines = [*_kept_lines(data, white), *singles]
        lines += _heaped_lines(white, lines)
        if lines:
            columns.append(white @ np.stack(lines, axis=1))
    hits = data.matrix.hits
    touches = []
    for b in range(hits.shape[1]):
        chance = 1.0 / (1.0 + np.exp(-one.hit_course[:, b]))
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
        for at in np.argsort(-promise):
            guess = chances[:, at]
            if guess.std() > 1e-3 and all(abs(np.corrcoef(guess, o)[0, 1]) < 0.8 for o in guesses):
                guesses.append(guess)
                taken += 1
            if taken >= _STARTS:
                break
    return guesses


def _two_levels(z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """By column of standardised values (N, L): chance of the upper of two levels (N, L), and nats
    by which two levels of equal scatter explain it better than one (L,)."""
    n = len(z)
    one = -0.5 * n * (1.0 + np.log(2 * np.pi))
    best, told = np.full(z.shape[1], -np.inf), np.zeros_like(z)
    for split in (0.2, 0.5, 0.8):
        upper = (z > np.quantile(z, split, axis=0)).astype(float) * 0.9 + 0.05
        for _ in range(20):
            share = np.clip(upper.mean(axis=0), 0.02, 0.98)
            high = (upper * z).sum(axis=0) / (n * share)
            low = ((1 - upper) * z).sum(axis=0) / (n * (1 - share))
            spread = (upper * (z - high) ** 2 + (1 - upper) * (z - low) ** 2).mean(axis=0)
            spread = np.maximum(spread, 0.02)
            a = np.log(share) - 0.5 * (z - high) ** 2 / spread
            b = np.log(1 - share) - 0.5 * (z - low) ** 2 / spread
            both = np.logaddexp(a, b)
            upper = np.exp(a - both)
        fit = both.sum(axis=0) - 0.5 * n * np.log(2 * np.pi * spread)
        better = fit > best
        best = np.where(better, fit, best)
        told[:, better] = upper[:, better]
    return told, best - one


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


def _root(precision: np.ndarray) -> np.ndarray:
    values, vectors = np.linalg.eigh(precision)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)
