"""Whether two shares, one below a tempo and one from it on, explain what happened better than
one."""

from __future__ import annotations

from math import lgamma

import numpy as np

SURELY = 6.0
"""Nats by which two shares have to be better before a tempo is said."""


def two_shares(one: np.ndarray, other: np.ndarray, fewest: float) -> int | None:
    """Where the second share begins, as the number of a rung from 1; None: one share does as well.

    one, other: (rungs,) how often the one and the other happened, rungs in order of tempo. fewest:
    that each part has to hold. All tempos and shares are as likely beforehand; no source.

    >>> two_shares(np.array([9.0, 9.0, 0.0, 0.0]), np.array([0.0, 0.0, 9.0, 9.0]), 4)
    2
    """
    whole = _evidence(float(one.sum()), float(other.sum()))
    best, split = whole + SURELY, None
    for at in range(1, len(one)):
        halves = [
            (float(one[part].sum()), float(other[part].sum()))
            for part in (slice(at), slice(at, None))
        ]
        if min(sum(half) for half in halves) >= fewest:
            fit = sum(_evidence(*half) for half in halves) - float(np.log(len(one)))
            best, split = (fit, at) if fit > best else (best, split)
    return split


def _evidence(one: float, other: float) -> float:
    """Log chance of these in their order if any share is as likely as any other."""
    return lgamma(one + 1.0) + lgamma(other + 1.0) - lgamma(one + other + 2.0)
