"""Where ways may lie: beginnings for the fit, and the fit that explains most."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..stats import robust_sd
from .base import Base, design, steadiest
from .beginnings import beginnings
from .chain import Takes
from .features import Features
from .learned import refined
from .matrix import Matrix
from .model import Data, Fit, moved_by, started, total
from .taken import grown, taken_in
from .turned import FEWEST, least_share, turned

_SHARE_BENDS = 2
_SHARE_HELD = (0.05, 0.1, 0.5)
_SITTING_HELD = 1.0
_FINISHED = 2
_PARTINGS = 4
_ROUNDS, _PROMISE = 6, 11.0
"""Rounds that each beginning is given, and nats over one way that some of them must explain then to
be followed."""
_WORTH_MORE = 12.0
"""Nats that a third way must explain at once to be fitted further."""
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
    heard, pattern = np.unique(matrix.known, axis=0, return_inverse=True)
    spread = max(float(np.log(features.bpm).std()), 0.05)
    return Data(
        matrix, base, Takes(features.take), np.stack(share, axis=1), np.array(held),
        np.clip(x, -2.5, 2.5), _held_back(matrix, base), np.ones(n), features.sitting, columns,
        1.0 / variance, Base(*steadiest(features)), pattern.ravel(),
        tuple(np.flatnonzero(pattern.ravel() == u) for u in range(len(heard))), heard,
        matrix.pace * spread,
    )  # fmt: skip


def _held_back(matrix: Matrix, base: Base) -> np.ndarray:
    """The matrix's values, those far from their course brought nearer: no farther than two heaps of
    them may lie apart."""
    course = base.course(matrix.y)
    left = matrix.y - course
    size = np.array(
        [
            robust_sd(some) if len(some := left[told, at]) else 1.0
            for at, told in enumerate(matrix.known.T)
        ]
    )
    reach = np.maximum(_HELD, 3.0 * size)
    return np.where(matrix.known, course + np.clip(left, -reach, reach), 0.0)


def two_ways(data: Data, one: Fit) -> list[Fit]:
    """The best fit of two ways from several beginnings, and others that are nearly as good (as in
    ``turned``); none where nothing differs."""
    tried: list[Fit] = []
    for guess in beginnings(data, one):
        fit = started(data, one, np.stack([1.0 - guess, guess], axis=1))
        if taken_in(data, fit, 3):
            tried.append(refined(data, fit, _ROUNDS))
    if max((total(data, fit) for fit in tried), default=-np.inf) < total(data, one) + _PROMISE:
        return []
    for rounds, kept in ((3, 5), (6, _FINISHED)):
        tried = [fit for fit in tried if least_share(data, fit) >= FEWEST]
        tried.sort(key=lambda fit: -total(data, fit))
        tried = [grown(data, fit, rounds) for fit in tried[:kept]]
    for fit in tried:
        refined(data, fit, 12)
    tried = [fit for fit in tried if least_share(data, fit) >= FEWEST]
    return turned(data, tried) if tried else []


def more_ways(data: Data, one: Fit, fit: Fit) -> Fit | None:
    """The best fit with one way more than a fit has: each way of it parted in two; None where
    nothing differs."""
    tried: list[Fit] = []
    left = fit.filled - fit.course - moved_by(data, fit)
    for k in range(fit.ways):
        own = replace(one, course=fit.filled - left * fit.way[:, k : k + 1], filled=fit.filled)
        for guess in beginnings(data, own)[:_PARTINGS]:
            way = np.concatenate([fit.way, fit.way[:, k : k + 1] * guess[:, None]], axis=1)
            way[:, k] *= 1.0 - guess
            start = started(data, one, way)
            if taken_in(data, start, 3):
                tried.append(refined(data, start, 2))
    best: Fit | None = None
    least = total(data, fit) + _WORTH_MORE
    tried = [one for one in tried if least_share(data, one) >= FEWEST and total(data, one) >= least]
    for found in sorted(tried, key=lambda one: -total(data, one))[:_FINISHED]:
        grown(data, found, 5)
        refined(data, found, 25)
        better = best is None or total(data, found) > total(data, best)
        if better and least_share(data, found) >= FEWEST:
            best = found
    return best
