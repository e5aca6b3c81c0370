"""How likely a ladder is with a valley in it, against one that only falls.

The chance of a clean repetition runs over the rungs of a ladder as a path over levels. A plain path
stays or falls from rung to rung. A path with a valley does the same, but over one span of rungs the
repetitions are clean less often than the path says, by one of a few depths; from the rung before
the span to the one after it the path itself does not change. Likelihoods are averaged over all
paths, spans and depths (a sum over a chain of states, as in hidden Markov
models: L. R. Rabiner, Proc. IEEE 77 (1989) 257-286) and over how much takes differ by luck.
Averaging keeps a bad take or two from passing for a valley where takes seem to differ much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .draws import logit, sigmoid

SPREADS = np.array([0.2, 0.4, 0.65, 0.95, 1.3])
"""How much takes may differ by luck, each as likely: standard deviation in log odds."""

LEVELS = np.linspace(-4.6, 5.4, 26)
"""The log odds that a path may take."""

DEPTHS = np.array([0.25, 0.4, 0.6])
"""How much less often repetitions are clean in a valley."""

SINGLE = 0.1
"""A span of one rung against a longer one, beforehand: one bad take looks the same."""

MOST_TRIES = 60
"""More tries of a take at one rung count as this many: by then luck decides, not the number."""

_FINE = np.arange(-10.0, 10.01, 0.15)
_CHANCE = sigmoid(LEVELS)
_POSSIBLE = [_CHANCE - depth > 0.004 for depth in DEPTHS]
_TINY = 1e-250


def _steps(stay: float, nearer: float) -> np.ndarray:
    """Chances of going from one level to another: staying, or falling, a level further ``nearer``
    times as likely."""
    count = len(LEVELS)
    steps = np.zeros((count, count))
    steps[0, 0] = 1.0
    for level in range(1, count):
        weight = nearer ** np.arange(level)[::-1]
        steps[level, :level] = (1.0 - stay) * weight / weight.sum()
        steps[level, level] = stay
    return steps


_STEPS = np.stack([_steps(0.3, 1.0), _steps(0.9, 1.0), _steps(0.3, 0.5)])
"""Ladders that fall at once, hold for long, or slope down."""


def _smoothing() -> np.ndarray:
    """(spreads, fine, all levels): how the log odds of takes lie about each level, plain ones and
    those of a valley."""
    levels = logit(
        np.concatenate([_CHANCE, *(np.clip(_CHANCE - depth, 0.004, 1.0) for depth in DEPTHS)])
    )
    bells = np.exp(-0.5 * ((_FINE[:, None] - levels) / SPREADS[:, None, None]) ** 2)
    return bells / bells.sum(axis=1, keepdims=True)


_SMOOTH = _smoothing()


@dataclass(frozen=True, slots=True)
class Reading:
    """What one ladder says. Paths are mean log odds by rung."""

    log_odds: float  # of a valley against none, both as likely beforehand
    plain: np.ndarray  # (rungs,) the path if there is no valley
    beside: np.ndarray  # (rungs,) the path if there is one, as it would be without it
    inside: np.ndarray  # (rungs,) chance that a rung lies in the valley, if there is one


def capped(hits: np.ndarray, of: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Whole numbers of hits and tries, no more than ``MOST_TRIES`` of them in a row."""
    tries = np.round(np.minimum(of, MOST_TRIES))
    return np.minimum(np.round(hits * tries / np.maximum(of, 1e-9)), tries), tries


def likelihoods(hits: np.ndarray, of: np.ndarray, rung: np.ndarray, rungs: int) -> np.ndarray:
    """Log-likelihood by level: (spreads, draws, rungs, 1 + depths, levels) of (draws, rows) hits
    out of (rows,) tries.

    Each row is taken to have a luck of its own. Counts are those of ``capped``.
    """
    code = of.astype(int)[None, :] * (MOST_TRIES + 1) + hits.astype(int)
    pairs, at = np.unique(code, return_inverse=True)
    n, k = np.divmod(pairs, MOST_TRIES + 1)
    fine = -k[:, None] * np.logaddexp(0.0, -_FINE) - (n - k)[:, None] * np.logaddexp(0.0, _FINE)
    top = fine.max(axis=1)
    by_pair = np.log(np.exp(fine - top[:, None]) @ _SMOOTH + 1e-200) + top[None, :, None]
    at = at.reshape(code.shape)
    out = np.zeros((len(SPREADS), len(hits), rungs, by_pair.shape[2]))
    for row in range(len(of)):
        out[:, :, rung[row]] += by_pair[:, at[:, row]]
    return out.reshape(len(SPREADS), len(hits), rungs, 1 + len(DEPTHS), len(LEVELS))


class _Chain:
    """The sum over paths. Arrays are (steps, spreads, draws[, depths], levels); scaled at each
    rung."""

    def __init__(self, likelihood: np.ndarray) -> None:
        _, self.draws, self.rungs, _, _ = likelihood.shape
        self.top = likelihood[:, :, :, 0].max(axis=-1)
        self.plain = np.exp(likelihood[:, :, :, 0] - self.top[..., None])
        lower = likelihood[:, :, :, 1:] - self.top[..., None, None]
        self.valley = np.exp(np.clip(lower, -60.0, 30.0))
        for depth, possible in enumerate(_POSSIBLE):
            self.valley[..., depth, ~possible] = 0.0
        self.kept: list[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]] = []
        self.scale: list[np.ndarray] = []

    def forward(self) -> tuple[np.ndarray, np.ndarray]:
        """Log-likelihoods (steps, spreads, draws) of no valley and of one."""
        count, levels = len(DEPTHS), len(LEVELS)
        shape = (len(_STEPS), len(SPREADS), self.draws, count, levels)
        before = np.broadcast_to(self.plain[:, :, 0] / levels, (*shape[:3], levels))
        first = np.broadcast_to(self.valley[:, :, 0] / levels, shape)  # a valley's first rung
        later = after = np.zeros(shape)
        log_scale = np.zeros(shape[:3])
        self.kept = [(before, first, later, after)]
        for rung in range(1, self.rungs):
            plain, valley = self.plain[:, :, rung], self.valley[:, :, rung]
            moved = np.concatenate([before[..., None, :], after, first + later], axis=3)
            moved = (moved.reshape(shape[0], 1, -1, levels) @ _STEPS[:, None]).reshape(moved.shape)
            after = (moved[..., 1 : 1 + count, :] + later + SINGLE * first) * plain[:, :, None]
            later = moved[..., 1 + count :, :] * valley
            first = before[..., None, :] * valley
            before = moved[..., 0, :] * plain
            largest = np.maximum(after.max(axis=(-1, -2)), (first + later).max(axis=(-1, -2)))
            scale = np.maximum(np.maximum(before.max(axis=-1), largest), _TINY)
            before = before / scale[..., None]
            first, later, after = (part / scale[..., None, None] for part in (first, later, after))
            log_scale = log_scale + np.log(scale)
            self.kept.append((before, first, later, after))
            self.scale.append(scale)
        log_scale = log_scale + self.top.sum(axis=-1)
        spans = SINGLE * (self.rungs - 1) + (self.rungs - 1) * (self.rungs - 2) / 2.0
        without = np.log(before.sum(axis=-1) + _TINY) + log_scale
        return without, np.log(after.sum(axis=(-1, -2)) + _TINY) - np.log(count * spans) + log_scale

    def backward(
        self, without: np.ndarray, having: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Mean paths without a valley and beside one, and the chance of each rung to lie inside; of
        the first draw."""
        levels = len(LEVELS)
        plain, beside, inside = (np.zeros(self.rungs) for _ in range(3))
        share_plain, share_valley = (_shares(part)[:, :, 0] for part in (without, having))
        only = np.ones(self.kept[0][0].shape)
        to_after = np.ones(self.kept[0][1].shape)
        to_first = to_later = to_before = np.zeros(to_after.shape)

        def back(values: np.ndarray) -> np.ndarray:
            turned = np.swapaxes(_STEPS, 1, 2)[:, None]
            return (values.reshape(len(_STEPS), 1, -1, levels) @ turned).reshape(values.shape)

        for rung in range(self.rungs - 1, -1, -1):
            if rung < self.rungs - 1:
                scale = self.scale[rung]
                here, lower = self.plain[:, :, rung + 1, None], self.valley[:, :, rung + 1]
                only = back(only * self.plain[:, :, rung + 1]) / scale[..., None]
                out, on = to_after * here, back(to_later * lower)
                to_before = (back(to_before * here) + to_first * lower) / scale[..., None, None]
                to_first, to_later = (
                    (on + part * out) / scale[..., None, None] for part in (SINGLE, 1.0)
                )
                to_after = back(out) / scale[..., None, None]
            before, first, later, after = self.kept[rung]
            alone = before * only
            plain[rung] = np.sum(
                share_plain * ((alone @ LEVELS) / (alone.sum(axis=-1) + _TINY))[:, :, 0]
            )
            within = first * to_first + later * to_later
            every = before[..., None, :] * to_before + within + after * to_after
            total = every.sum(axis=(-1, -2)) + _TINY
            beside[rung] = np.sum(share_valley * ((every.sum(axis=-2) @ LEVELS) / total)[:, :, 0])
            inside[rung] = np.sum(share_valley * (within.sum(axis=(-1, -2)) / total)[:, :, 0])
        return plain, beside, inside


def log_odds(likelihood: np.ndarray) -> np.ndarray:
    """Log odds of a valley against none for each draw of ``likelihoods``."""
    without, having = _Chain(likelihood).forward()
    return _total(having) - _total(without)


def read(likelihood: np.ndarray) -> Reading:
    """All that one ladder says: ``likelihoods`` of a single draw."""
    chain = _Chain(likelihood)
    without, having = chain.forward()
    return Reading(float((_total(having) - _total(without))[0]), *chain.backward(without, having))


def _total(logs: np.ndarray) -> np.ndarray:
    """Log of the sum over steps and spreads."""
    top = logs.max(axis=(0, 1))
    return top + np.log(np.exp(logs - top).sum(axis=(0, 1)))


def _shares(logs: np.ndarray) -> np.ndarray:
    return np.exp(logs - _total(logs))
