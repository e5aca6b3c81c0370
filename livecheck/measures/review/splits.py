"""Every way to cut a ladder of tempos in two, and the best of them.

Owns where a cut may lie, by how much it explains what was counted on either side (squares for
levels, likelihood for shares), and how far the place of the best one is known. What a cut means is
``changes.py``.
"""

from __future__ import annotations

import numpy as np

from .draws import expanded_tails

FEWEST_TRIES, FEWEST_ROWS = 8, 2
"""What has to lie on either side of a split."""


def best_split(
    y: np.ndarray, weight: np.ndarray, member: np.ndarray, open_splits: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """For each draw: by how much the best split lowers the squares, what is left of them, its
    place, and both means.

    Draws are of values (draws, rows) with one weight a row, or of weights (draws, rows) with one
    value a row.
    """
    heavy = np.atleast_2d(weight @ member)
    if weight.ndim == 1:
        sums, squares = (y * weight) @ member, (y * y) @ weight
    else:
        sums, squares = weight @ (y[:, None] * member), weight @ (y * y)
    gain, left, right = _gains(sums, heavy, open_splits)
    at = gain.argmax(axis=1)
    every = np.arange(len(sums))
    best = gain[every, at]
    total = squares - sums.sum(axis=1) ** 2 / heavy.sum(axis=1)
    return best, np.maximum(total - best, 1e-12), at, left[every, at], right[every, at]


def _gains(
    sums: np.ndarray, heavy: np.ndarray, open_splits: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """By how much each split lowers the squares: (draws, places - 1), and the means before and
    after it."""
    heavy = np.broadcast_to(heavy, sums.shape)
    run_sum, run_weight = np.cumsum(sums, axis=1), np.cumsum(heavy, axis=1)
    left_w = np.maximum(run_weight[:, :-1], 1e-12)
    right_w = np.maximum(run_weight[:, [-1]] - run_weight[:, :-1], 1e-12)
    left, right = run_sum[:, :-1] / left_w, (run_sum[:, [-1]] - run_sum[:, :-1]) / right_w
    gain = (left - right) ** 2 * left_w * right_w / (left_w + right_w)
    lopsided = (run_weight[:, :-1] <= 0) | (run_weight[:, [-1]] - run_weight[:, :-1] <= 1e-9)
    return np.where(open_splits[None, :] & ~lopsided, gain, -1.0), left, right


def best_share_split(
    k: np.ndarray, n: np.ndarray, open_splits: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """For each draw the likelihood ratio of the best split of (draws, rungs) hits out of tries, and
    its place."""
    run_k, run_n = np.cumsum(k, axis=1), np.cumsum(np.broadcast_to(n, k.shape), axis=1)
    all_k, all_n = run_k[:, [-1]], run_n[:, [-1]]
    ratio = _fit(run_k, run_n) + _fit(all_k - run_k, all_n - run_n) - _fit(all_k, all_n)
    ratio = np.where(open_splits[None, :], ratio[:, :-1], -1.0)
    at = ratio.argmax(axis=1)
    return ratio[np.arange(len(k)), at], at


def _fit(k: np.ndarray, n: np.ndarray) -> np.ndarray:
    p = np.clip(k / np.maximum(n, 1e-9), 1e-12, 1.0 - 1e-12)
    return k * np.log(p) + (n - k) * np.log1p(-p)


def by_take(
    take: np.ndarray, rung: np.ndarray, sums: np.ndarray, counts: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Take, rung, sum and count of each take at each rung."""
    pairs, at = np.unique(np.stack([take, rung]), axis=1, return_inverse=True)
    at = at.ravel()
    return pairs[0], pairs[1], np.bincount(at, sums), np.bincount(at, counts)


def membership(rung: np.ndarray, count: int) -> np.ndarray:
    """(rows, rungs), 1 where a row stands at a rung."""
    member = np.zeros((len(rung), count))
    member[np.arange(len(rung)), rung] = 1.0
    return member


def enough_on_both_sides(rung: np.ndarray, n: np.ndarray, count: int) -> np.ndarray:
    """Which splits (after rung 0, 1, …) leave enough on either side."""
    tries = np.cumsum(np.bincount(rung, n, minlength=count))
    rows = np.cumsum(np.bincount(rung, minlength=count))
    enough = (tries >= FEWEST_TRIES) & (rows >= FEWEST_ROWS)
    rest = (tries[-1] - tries >= FEWEST_TRIES) & (rows[-1] - rows >= FEWEST_ROWS)
    return (enough & rest)[:-1]


def between(bpm: np.ndarray, split: int) -> float:
    """The tempo of a split: midway between the rungs on either side."""
    return float(bpm[split] + bpm[split + 1]) / 2.0


def interval(where: np.ndarray, split: int, takes: int, bpm: np.ndarray) -> tuple[float, float]:
    """From the rung before the lowest likely split to the rung after the highest."""
    low, high = np.quantile(where, expanded_tails(takes), method="inverted_cdf")
    return float(bpm[min(int(low), split)]), float(bpm[max(int(high), split) + 1])
