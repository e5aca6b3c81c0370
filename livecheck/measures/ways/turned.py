"""Fits in which the ways are exchanged in whole takes.

A take that was played in one way alone says little about which: a course over the tempo, or a
sitting's level, may stand in for the difference. So, from a fit, takes are turned over together
where that costs little (as if the difference stayed as it is and courses followed), each such
assignment is fitted anew, and what explains nearly as well is kept beside the best with its weight.
"""

from __future__ import annotations

import numpy as np

from .learned import refined
from .model import Data, Fit, copied, hits_emitted, share_of, total

FEWEST = 12.0
"""Repetitions below which a way is none."""
_PURE = 0.15
_CUTS = 8  # tempos between which takes are turned over together
_TRIED, _KEPT = 12, 4
_CHANGES = 60
_FAR = 9.0  # nats beyond which an assignment is not worth keeping
_TIMES = 3


def turned(data: Data, fits: list[Fit]) -> list[Fit]:
    """The best fit first, then others within ``_FAR`` nats. fits: where to begin."""
    found = _best(data, fits, 3 * _FAR)
    for _ in range(_TIMES):
        best = found[0]
        before = total(data, best)
        for takes in assignments(data, best):
            other = copied(best)
            own = takes[data.takes.of_row]
            other.way[own] = other.way[own][:, ::-1]
            other.chain = None
            refined(data, other, 2)
            if least_share(data, other) >= FEWEST and _is_new(found, other):
                found.append(other)
        found = _best(data, found, 3 * _FAR)
        for one in found:
            refined(data, one, 15)
        found = _best(data, found, _FAR)
        if total(data, found[0]) < before + 1.0:
            break
    return found


def weights(data: Data, fits: list[Fit]) -> np.ndarray:
    """The chance of each fit among those that were found."""
    totals = np.array([total(data, fit) for fit in fits])
    chance = np.exp(totals - totals.max())
    return np.asarray(chance / chance.sum())


def least_share(data: Data, fit: Fit) -> float:
    """Repetitions of the rarest way."""
    return float((fit.way * data.rows[:, None]).sum(axis=0).min())


def _best(data: Data, fits: list[Fit], far: float) -> list[Fit]:
    order = sorted(fits, key=lambda fit: -total(data, fit))
    least = total(data, order[0]) - far
    kept: list[Fit] = []
    for fit in order:
        if total(data, fit) >= least and len(kept) < _KEPT and _is_new(kept, fit):
            kept.append(fit)
    return kept


def _is_new(fits: list[Fit], other: Fit) -> bool:
    return all(min(_unlike(fit, other), _unlike(fit, other, True)) > 3.0 for fit in fits)


def turned_round(fit: Fit, other: Fit) -> bool:
    """Whether the first way of one is rather the second of the other."""
    return fit.ways == 2 and _unlike(fit, other, True) < _unlike(fit, other)


def _unlike(fit: Fit, other: Fit, round_: bool = False) -> float:
    """Repetitions in which two fits of two ways differ; ``round_``: with the ways exchanged."""
    way = other.way[:, 0] if round_ else other.way[:, 1]
    return float(np.abs(fit.way[:, 1] - way).sum())


def assignments(data: Data, fit: Fit) -> list[np.ndarray]:
    """Which takes (T,) to turn over, the cheapest first: by the cost of each and of each two
    together, from single takes, sittings and ranges of tempo, taking in and leaving out takes while
    that makes it cheaper."""
    linear, both = _costs(data, fit)
    starts = _starts(data, fit)
    found: list[np.ndarray] = []
    for shares, most in ((1.0, _TRIED // 3), (0.0, _TRIED)):  # shares are learned anew
        each = linear + shares * _by_shares(data, fit)
        sets = starts.astype(float)
        for _ in range(_CHANGES):
            change = (1.0 - 2.0 * sets) * (each + sets @ both) + 0.5 * np.diag(both)
            at = change.argmin(axis=1)
            row = np.flatnonzero(change[np.arange(len(sets)), at] < -1e-6)
            if not len(row):
                break
            sets[row, at[row]] = 1.0 - sets[row, at[row]]
        # those that fell back to nothing are taken as they began
        sets = np.unique(np.concatenate([sets, starts]), axis=0)
        cost = sets @ each + 0.5 * ((sets @ both) * sets).sum(axis=1)
        turns = (sets.sum(axis=1) > 0) & (sets.sum(axis=1) < sets.shape[1]) & (cost < 4.0 * _FAR)
        order = np.flatnonzero(turns)[np.argsort(cost[turns], kind="stable")]
        found += [sets[at] > 0.5 for at in order[:most]]
    return list({takes.tobytes(): takes for takes in found}.values())


def _costs(data: Data, fit: Fit) -> tuple[np.ndarray, np.ndarray]:
    """(T,) what turning each take over costs, shares left out; (T, T) what two cost beyond that,
    together. As if all lay on one line, from the one way to the other."""
    inside = np.flatnonzero(fit.coef.any(axis=0))
    count = data.takes.count
    of_take = np.zeros((len(data.y), count))
    of_take[np.arange(len(data.y)), data.takes.of_row] = 1.0 - 2.0 * fit.way[:, 1]
    rest = hits_emitted(data.matrix.hits, fit.hit_course)
    rest = rest - hits_emitted(data.matrix.hits, fit.hit_course + fit.odds[1])
    other = of_take.T @ rest
    if not len(inside):
        return other, np.zeros((count, count))
    much = fit.coef[1, inside] + data.x[:, None] * fit.slope[1, inside]
    shape = data.matrix.shape[inside]
    kernel = (shape @ fit.scatter.of_heard @ shape.T)[data.pattern]
    far = np.sqrt(np.maximum(((kernel @ much[:, :, None])[:, :, 0] * much).sum(axis=1), 1e-12))
    moved = (much @ shape) * fit.way[:, 1:]
    left = np.where(data.matrix.known, data.y - fit.course - moved, 0.0)
    pull = np.empty((len(left), len(inside)))
    for u in range(len(data.heard)):
        own = data.pattern == u
        pull[own] = left[own] @ fit.scatter.of_heard[u] @ shape.T
    along = (pull * much).sum(axis=1) / far
    change = of_take * far[:, None]
    apart = data.base.without(change)
    return other - apart.T @ along, change.T @ apart


def _by_shares(data: Data, fit: Fit) -> np.ndarray:
    """(T,) what it costs by the shares, for takes in one way."""
    share = share_of(data, fit)
    first = np.zeros(len(data.y), bool)
    first[data.takes.row[0]] = True
    kept = np.where(first[:, None], share, fit.stay + (1.0 - fit.stay) * share)
    gain = np.log(np.maximum(kept[:, 0], 1e-9)) - np.log(np.maximum(kept[:, 1], 1e-9))
    by_take = np.bincount(data.takes.of_row, gain, data.takes.count)
    mean = np.bincount(data.takes.of_row, fit.way[:, 1]) / np.bincount(data.takes.of_row)
    return np.asarray(by_take * np.where(mean < _PURE, 1.0, np.where(mean > 1 - _PURE, -1.0, 0.0)))


def _starts(data: Data, fit: Fit) -> np.ndarray:
    """(B, T) takes to begin from: each alone, and takes in one way of a sitting, of a range of
    tempos, of such a range in a sitting."""
    of_row, count = data.takes.of_row, data.takes.count
    size = np.bincount(of_row, minlength=count)
    mean = np.bincount(of_row, fit.way[:, 1], count) / size
    pure = (mean < _PURE) | (mean > 1.0 - _PURE)
    tempo = np.bincount(of_row, data.x, count) / size
    sitting = np.zeros(count, int)
    sitting[of_row] = data.sitting
    found = [np.arange(count) == at for at in range(count)]
    groups = [np.ones(count, bool), *(sitting == number for number in np.unique(sitting))]
    for group in groups:
        levels = np.unique(np.round(tempo[group], 1))
        if len(levels) > _CUTS:
            levels = np.unique(np.quantile(tempo[group], np.linspace(0, 1, _CUTS)))
        edges = [-np.inf, *((levels[1:] + levels[:-1]) / 2.0), np.inf]
        for low in range(len(edges) - 1):
            for high in range(low + 1, len(edges)):
                own = group & (tempo > edges[low]) & (tempo <= edges[high])
                found += [own & pure, own & (mean < _PURE), own & (mean > 1.0 - _PURE)]
    kept = {one.tobytes(): one for one in found if 0 < one.sum() < count}
    return np.stack(list(kept.values()))
