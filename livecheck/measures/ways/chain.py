"""The hidden chain: which way each repetition of a take was played in.

From one repetition to the next the way is kept with chance ``stay``; else it is drawn anew by its
share at that tempo. That leaves one number for persistence whatever the shares are. Forward and
backward passes: L. R. Rabiner, Proceedings of the IEEE 77 (1989) 257-286, with the transition
a(i, j) = stay [i = j] + (1 - stay) share(j).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_MOST_ODDS = 300.0


class Takes:
    """Rows of takes laid side by side (L, T), the longest first in length; each take's rows in
    order."""

    def __init__(self, take: np.ndarray) -> None:
        order = np.argsort(take, kind="stable")
        numbers, first, length = np.unique(take[order], return_index=True, return_counts=True)
        self.of_row = np.searchsorted(numbers, take)
        self.count, self.longest = len(numbers), int(length.max(initial=0))
        steps = np.arange(self.longest)[:, None]
        self.inside = steps < length[None, :]
        self.row = order[np.minimum(first[None, :] + steps, len(order) - 1)]
        self.last = length - 1

    def side_by_side(self, column: np.ndarray) -> np.ndarray:
        return np.asarray(column[self.row])

    def back(self, laid: np.ndarray, rows: int) -> np.ndarray:
        """(L, T, ...) as (N, ...) again."""
        column = np.zeros((rows, *laid.shape[2:]))
        column[self.row[self.inside]] = laid[self.inside]
        return column


@dataclass(frozen=True, slots=True)
class Hidden:
    """``way`` (N, K): chance of each way; ``drawn`` (N, K): chance that the way was drawn anew
    here, and came out so; ``fit`` (T,): log likelihood of each take."""

    way: np.ndarray
    drawn: np.ndarray
    fit: np.ndarray
    forward: np.ndarray  # (L, T, K)


def hidden(takes: Takes, emit: np.ndarray, share: np.ndarray, stay: float) -> Hidden:
    """Chances of the ways. emit: (N, K) log likelihood of each repetition in each way; share:
    (N, K), rows adding up to 1."""
    if emit.shape[1] == 2:
        return _hidden_of_two(takes, emit, share[:, 1], stay)
    top = emit.max(axis=1)
    e = takes.side_by_side(np.exp(emit - top[:, None]))
    p = takes.side_by_side(share)
    inside = takes.inside
    forward = np.empty_like(e)
    norm = np.ones(e.shape[:2])
    before = p[0]
    for at in range(takes.longest):
        prior = p[0] if at == 0 else stay * before + (1.0 - stay) * p[at]
        now = prior * e[at]
        total = now.sum(axis=1)
        now /= total[:, None]
        now = np.where(inside[at][:, None], now, before)
        norm[at] = np.where(inside[at], total, 1.0)
        forward[at] = before = now
    backward = np.ones_like(e)
    drawn = np.zeros_like(e)
    drawn_in = p * e
    for at in range(takes.longest - 1, 0, -1):
        ahead = e[at] * backward[at]
        anew = (drawn_in[at] * backward[at]).sum(axis=1)
        back = (stay * ahead + (1.0 - stay) * anew[:, None]) / norm[at][:, None]
        backward[at - 1] = np.where(inside[at][:, None], back, 1.0)
        drawn[at] = (1.0 - stay) * drawn_in[at] * backward[at] / norm[at][:, None]
    way = forward * backward
    way /= way.sum(axis=2, keepdims=True)
    drawn[0] = way[0]
    laid_top = takes.side_by_side(top)
    fit = np.where(inside, np.log(norm) + laid_top, 0.0).sum(axis=0)
    rows = len(emit)
    return Hidden(takes.back(way, rows), takes.back(drawn, rows), fit, forward)


def _hidden_of_two(takes: Takes, emit: np.ndarray, share: np.ndarray, stay: float) -> Hidden:
    """The same of two ways by ratios of the second to the first: a number a step instead of a row.

    share: (N,) of the second.
    """
    ratio = takes.side_by_side(np.exp(np.clip(emit[:, 1] - emit[:, 0], -_MOST_ODDS, _MOST_ODDS)))
    p = takes.side_by_side(share)
    inside = takes.inside
    anew = (1.0 - stay) * p
    prior = np.empty_like(ratio)  # chance of the second before the repetition was heard
    now = np.empty_like(ratio)  # and after
    ahead = np.ones_like(ratio)  # what follows: how much likelier it is after the second
    prior[0] = p[0]
    for at in range(takes.longest):
        if at:
            np.multiply(now[at - 1], stay, out=prior[at])
            prior[at] += anew[at]
        much = prior[at] * ratio[at]
        now[at] = much / (1.0 - prior[at] + much)
    for at in range(takes.longest - 1, 0, -1):
        much = ratio[at] * ahead[at]
        fresh = (1.0 - stay) + anew[at] * (much - 1.0)
        ahead[at - 1] = np.where(inside[at], (stay * much + fresh) / (stay + fresh), 1.0)
    weight = now * ahead
    way = weight / (1.0 - now + weight)
    much = ratio * ahead
    every = (1.0 - prior) + prior * much
    drawn = np.stack([(1.0 - stay - anew) / every, anew * much / every], axis=2)
    drawn[0, :, 0], drawn[0, :, 1] = 1.0 - way[0], way[0]
    laid = takes.side_by_side(emit[:, 0])
    fit = np.where(inside, np.log(1.0 - prior + prior * ratio) + laid, 0.0).sum(axis=0)
    rows = len(emit)
    both = np.stack([1.0 - way, way], axis=2)
    forward = np.stack([1.0 - now, now], axis=2)
    return Hidden(takes.back(both, rows), takes.back(drawn, rows), fit, forward)


def paths(
    takes: Takes,
    found: Hidden,
    share: np.ndarray,
    stay: float,
    draws: int,
    rng: np.random.Generator,
) -> np.ndarray:
    """(draws, N) whole practices drawn from what is known of the ways, run by run."""
    p = takes.side_by_side(share)
    forward = found.forward
    count, ways = takes.count, forward.shape[2]
    laid = np.zeros((takes.longest, count, draws), int)
    state = np.zeros((count, draws), int)
    for at in range(takes.longest - 1, -1, -1):
        fresh = _drawn(forward[at], draws, rng)
        if at + 1 < takes.longest:
            held = np.take_along_axis(forward[at], state, axis=1)
            anew = np.take_along_axis(p[at + 1], state, axis=1)
            keep = stay * held / np.maximum(stay * held + (1.0 - stay) * anew, 1e-300)
            kept = np.where(rng.random((count, draws)) < keep, state, fresh)
            begun = takes.inside[at + 1][:, None]
            state = np.where(begun, kept, fresh)
        else:
            state = fresh
        laid[at] = state
    assert ways > 0
    back = np.zeros((len(share), draws), int)
    back[takes.row[takes.inside]] = laid[takes.inside]
    return back.T


def _drawn(chance: np.ndarray, draws: int, rng: np.random.Generator) -> np.ndarray:
    """(T, draws) ways by their chances (T, K)."""
    u = rng.random((len(chance), draws, 1))
    return np.asarray((u > np.cumsum(chance, axis=1)[:, None, :-1]).sum(axis=2))
