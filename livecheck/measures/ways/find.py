"""How many ways there are in what was practised, and everything that is told of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..review.rungs import rungs
from ..stats import sigmoid
from .chain import paths
from .describe import Differs, differing, thing_of
from .features import Features
from .known import Known, known_of
from .learned import one_way, refined
from .matrix import SEAM, Atom, Matrix, matrix_of
from .model import Data, Fit, copied, share_of, total
from .odds import Gain, held_out
from .search import data_of, more_ways, two_ways
from .told import DRAWS, Clean, at_equal_tempo
from .turned import turned_round, weights

TOLD = 0.9
"""A repetition's way is told from this chance on."""
FEWEST_REPS, FEWEST_TAKES = 60, 4
"""Below these nothing is looked for (common practice, no source)."""
LEAST_OF_A_WAY = 30.0
LEAST_SHARE = 0.08
"""A way has so many repetitions; and this share of all, unless it comes in runs."""
LEAST_GAIN, LEAST_SURE = 11.0, 1.7
"""Nats on takes held out, and standard errors over draws of takes, from which more ways are
told."""
LEAST_APART = 1.5
"""d' of a single repetition below which two ways are not told apart: slow drift looks like that."""
SECOND_THING = 15.0
"""Nats that a second slot or string must explain by itself; else what differs is one thing, which
must come in runs to be a way."""
MEET = 0.1
"""Share of the rarer way's repetitions that lie among the other's tempos, or more: else the tempo
alone tells which it is, and that is a change of movement (no source)."""
MOST_WAYS = 3
EXAMPLES = 3
"""Repetitions of a way that are shown."""
TIMES = 3.0
"""A third way must gain so many times what a second must."""
ONE = "one way explains everything that was heard"
RUNS_GAIN, SURE_RUNS = 16.0, 1.8
"""Nats, and standard errors over draws of takes, by which runs must explain more than ways drawn
anew each time, where only that can show that there are ways."""


@dataclass(frozen=True, slots=True)
class WayFound:
    """One way. ``clean`` is None for the first; ``rows`` are the examples, as rows of the
    features."""

    reps: int
    by_tempo: tuple[tuple[float, float], ...]
    differs: tuple[Differs, ...]
    clean: Clean | None
    rows: tuple[int, ...]
    clean_by_tempo: tuple[tuple[float, int, int], ...] = ()  # tempo, clean, repetitions told


@dataclass(frozen=True, slots=True)
class Ways:
    """``way`` (N,): each repetition's way from 0, -1 where it cannot be told; ``chances`` (N,) of
    the likeliest; ``chance``: that there is more than one way (or was looked for in vain)."""

    ways: tuple[WayFound, ...]
    way: np.ndarray
    chances: np.ndarray
    chance: float
    from_bpm: float | None
    why: str | None
    drawn: np.ndarray = field(default_factory=lambda: np.zeros((0, 0), int))
    known: Known | None = None  # what was learned, where it tells a repetition that is just over


def find_ways(features: Features | None) -> Ways:
    """The ways in all repetitions given; one, where more are not surely there."""
    if features is None or not len(features):
        return _single(features, 0.0, "nothing was played that could be told apart")
    takes = len(np.unique(features.take))
    if len(features) < FEWEST_REPS or takes < FEWEST_TAKES:
        why = (
            f"too little practice to tell ways apart: {len(features)} "
            f"repetition{'s' if len(features) != 1 else ''} in {takes} take"
            f"{'s' if takes != 1 else ''}"
        )
        return _single(features, 0.0, why)
    matrix = matrix_of(features)
    if not matrix.y.shape[1] and not matrix.hits.shape[1]:
        return _single(
            features, 0.0, "what was heard does not differ from repetition to repetition"
        )
    data = data_of(features, matrix)
    one = one_way(data)
    fits = two_ways(data, one)
    if not fits:
        return _single(features, 0.0, ONE)
    gained = total(data, fits[0]) - total(data, one)
    if gained < LEAST_GAIN:  # no more than that can be left on takes held out
        return _single(features, sigmoid(gained - 4.0), _little(gained))
    gain = held_out(data, features.bpm, one, fits[0])
    refused = _refused(data, fits[0], gain)
    if refused is not None:
        return _single(features, _chance(gain), refused)
    from_bpm = _parted(features.bpm, fits[0].way)
    if from_bpm is not None:
        why = f"what differs does so from {from_bpm:.0f} bpm on and not before: a change, not a way"
        return _single(features, _chance(gain), why)
    for _ in range(3, MOST_WAYS + 1):
        more = more_ways(data, one, fits[0])
        if more is None or total(data, more) - total(data, fits[0]) < TIMES * LEAST_GAIN:
            break
        further = held_out(data, features.bpm, fits[0], more)
        if _refused(data, more, further, further=True) is not None:
            break
        fits = [more]
    return _answers(features, matrix, data, one, fits, _chance(gain))


def _chance(gain: Gain) -> float:
    """That more ways are there, from the held-out gain, no surer than the draws of takes allow."""
    nats = min(gain.total, 4.0 * max(gain.sure, 0.0))
    return sigmoid(nats - 4.0)


def _little(nats: float) -> str:
    if nats > 3.0:
        return "what was heard looks a little like two ways, but not surely; practise on"
    return ONE


def apart(fit: Fit, k: int, other: int) -> float:
    """d' of a single repetition between two ways: the root of the mean of their log odds both
    ways."""
    odds = fit.emit[:, k] - fit.emit[:, other]
    a, b = fit.way[:, k], fit.way[:, other]
    up = float(a @ odds) / max(float(a.sum()), 1e-9)
    down = float(b @ odds) / max(float(b.sum()), 1e-9)
    return float(max(up - down, 0.0)) ** 0.5


def _refused(data: Data, fit: Fit, gain: Gain, further: bool = False) -> str | None:
    """Why more ways are not told; None where they are. further: than two."""
    counts = fit.way.sum(axis=0)
    least = LEAST_GAIN * (TIMES if further else 1.0)
    times = 2.0 if further else 1.0
    if counts.min() < times * LEAST_OF_A_WAY:
        return ONE
    if counts.min() < times * LEAST_SHARE * len(fit.way) and not _in_runs(gain):
        return ONE  # wild repetitions are no way
    if gain.total < least or gain.sure < LEAST_SURE:
        return _little(gain.total)
    for k in range(1, fit.ways):
        if min(apart(fit, k, other) for other in range(k)) < LEAST_APART:
            return "what differs is too little to tell single repetitions apart"
    if fit.ways == 2 and (thing := _one_thing(data, fit)) is not None and not _in_runs(gain):
        return f"one thing comes and goes by itself ({thing}), without runs: a change, not a way"
    return None


def _parted(bpm: np.ndarray, way: np.ndarray) -> float | None:
    """The tempo that by itself parts two ways, all of the one below and all of the other above it;
    None where they meet at equal tempos."""
    order = np.argsort(bpm, kind="stable")
    first, second = np.cumsum(way[order], axis=0).T
    apart = np.minimum(second + first[-1] - first, first + second[-1] - second)
    at = int(apart[:-1].argmin())
    if apart[at] > MEET * min(first[-1], second[-1]):
        return None
    return float(bpm[order[at + 1]])


def _in_runs(gain: Gain) -> bool:
    runs = float(gain.runs.sum())
    error = float(gain.runs.std(ddof=1)) * len(gain.runs) ** 0.5 if len(gain.runs) > 1 else 1e9
    return runs >= RUNS_GAIN and runs >= SURE_RUNS * error


def _one_thing(data: Data, fit: Fit) -> str | None:
    """The one slot or string that makes nearly all of the difference; None where several do."""
    parts: dict[str, float] = {}
    inside = np.flatnonzero(fit.coef[1])
    kernel = data.matrix.shape @ fit.precision @ data.matrix.shape.T
    inner = float((fit.way[:, 1] - fit.way[:, 1].mean()) @ fit.way[:, 1])
    for a in inside:
        name = thing_of(data.matrix.atoms[a])
        nats = 0.5 * inner * _alone(kernel, inside, int(a), fit.coef[1, a])
        parts[name] = parts.get(name, 0.0) + nats
    for b in np.flatnonzero(fit.odds[1]):
        name = thing_of(data.matrix.things[b])
        low = sigmoid(fit.hit_course[:, b])
        high = sigmoid(fit.hit_course[:, b] + fit.odds[1, b])
        nats = 0.5 * inner * float(np.mean((high - low) * fit.odds[1, b]))
        parts[name] = parts.get(name, 0.0) + nats
    if not parts:
        return None
    order = sorted(parts, key=lambda name: -parts[name])
    return order[0] if len(order) == 1 or parts[order[1]] < SECOND_THING else None


def _alone(kernel: np.ndarray, inside: np.ndarray, a: int, coef: float) -> float:
    """Squared d' that an atom adds to the others that are in."""
    block = kernel[np.ix_(inside, inside)] + 1e-9 * np.eye(len(inside))
    at = int(np.flatnonzero(inside == a)[0])
    return float(coef**2 / np.linalg.inv(block)[at, at])


# -------------------------------------------------------------------------------------- the answers


def _answers(
    features: Features, matrix: Matrix, data: Data, one: Fit, fits: list[Fit], chance: float
) -> Ways:
    weight = weights(data, fits)
    fit = fits[0]
    begun = _right_alone(features, data)
    fits = [_with_right(features, data, begun, each) for each in fits]
    round_ = [turned_round(fits[0], each) for each in fits]
    each_way = [each.way[:, ::-1] if turn else each.way for each, turn in zip(fits, round_)]
    way = np.einsum("m,mnk->nk", weight, np.stack(each_way))
    order = _slow_first(features, way)
    drawn = np.argsort(order, kind="stable")[_draws(data, fits, weight, round_)]
    chances = way[:, order]
    best = chances.argmax(axis=1)
    sure = chances.max(axis=1)
    way = np.where(sure >= TOLD, best, -1)
    steps = rungs(features.bpm, np.ones(len(features)))
    found = []
    inside = _inside(data, fit)
    for k in range(fit.ways):
        told = way == k
        counts = steps.sums(np.ones(len(features)))
        shares = steps.sums(chances[:, k]) / np.maximum(counts, 1.0)
        by_tempo = tuple(
            (float(bpm), float(value)) for bpm, value in zip(steps.bpm, np.clip(shares, 0, 1))
        )
        clean = None
        differs: tuple[Differs, ...] = ()
        if k:
            seen = at_equal_tempo(features.clean, features, drawn, k)
            if seen is not None:
                clean = Clean(100 * (seen.this - seen.other), 100 * seen.low, 100 * seen.high)
            differs = differing(features, data, fit, inside, drawn, k, order)
        tried, well = steps.sums(told.astype(float)), steps.sums(told * features.clean)
        curve = tuple(
            (float(bpm), int(a), int(n)) for bpm, a, n in zip(steps.bpm, well, tried) if n
        )
        found.append(
            WayFound(
                int(told.sum()), by_tempo, differs, clean,
                _examples(features, way, sure, k), curve,
            )
        )  # fmt: skip
    crossing = _takes_over(features, chances)
    known = None
    if all(_heard_at_once(one.differs) for one in found[1:]):
        known = known_of(features, matrix, data, fits[0], order)
    return Ways(tuple(found), way, sure, chance, crossing, None, drawn, known)


def _heard_at_once(differs: tuple[Differs, ...]) -> bool:
    """Whether a way is told by more than the gap at the seam, which only the next repetition
    tells."""
    return any(one.what != SEAM for one in differs)


def _inside(data: Data, fit: Fit) -> list[Atom]:
    """Everything in which any way differs."""
    atoms = [data.matrix.atoms[a] for a in np.flatnonzero(fit.coef.any(axis=0))]
    return atoms + [data.matrix.things[b] for b in np.flatnonzero(fit.odds.any(axis=0))]


def _draws(data: Data, fits: list[Fit], weight: np.ndarray, round_: Sequence[bool]) -> np.ndarray:
    """(DRAWS, N) ways in the first fit's order: each fit as often as it is likely, the best at
    least once. round_: whether a fit has them the other way round."""
    often = np.floor(weight * DRAWS + 0.5).astype(int)
    often[0] = max(DRAWS - int(often[1:].sum()), 1)
    rng = np.random.default_rng([len(data.y), len(fits), fits[0].ways])
    found = []
    for fit, times, turn in zip(fits, often, round_):
        if times and fit.chain is not None:
            share = share_of(data, fit)
            drawn = paths(data.takes, fit.chain, share, fit.stay, int(times), rng)
            found.append(1 - drawn if turn else drawn)
    return np.concatenate(found)


def _right_alone(features: Features, data: Data) -> Fit:
    """One way's course of what was played right."""
    hits, things = features.right[:, None], (Atom("right"),)
    return one_way(replace(data, matrix=replace(data.matrix, hits=hits, things=things)))


def _with_right(features: Features, data: Data, begun: Fit, fit: Fit) -> Fit:
    """The same ways with what was played right as one more thing that may differ, so that draws of
    the ways do not take for granted that it does not."""
    hits = np.concatenate([data.matrix.hits, features.right[:, None]], axis=1)
    things = (*data.matrix.things, Atom("right"))
    with_it = replace(data, matrix=replace(data.matrix, hits=hits, things=things))
    start = copied(fit)
    start.hit_coef = np.concatenate([fit.hit_coef, begun.hit_coef], axis=1)
    start.hit_course = np.concatenate([fit.hit_course, begun.hit_course], axis=1)
    start.odds = np.concatenate([fit.odds, np.full((fit.ways, 1), 1e-9)], axis=1)
    start.odds[0, -1] = 0.0
    done = refined(with_it, start, 6)
    done.odds, done.hit_coef = done.odds[:, :-1], done.hit_coef[:, :-1]
    done.hit_course = done.hit_course[:, :-1]
    return done


def _slow_first(features: Features, way: np.ndarray) -> np.ndarray:
    """The ways' order: by how frequent they are at the slowest third of what was played."""
    slow = features.bpm <= np.quantile(features.bpm, 1.0 / 3.0)
    shares = way[slow].mean(axis=0)
    return np.argsort(-shares, kind="stable")


_RISES = 2.0
"""Standard errors that the share's rise over the tempo has to be (common practice, no source)."""


def _takes_over(features: Features, chances: np.ndarray) -> float | None:
    """The tempo from which the second way is the more frequent; None where it does not come to
    that: where its share does not surely rise, or is not the larger one of all that was played from
    there on."""
    x = np.log(features.bpm)
    middle, spread = float(x.mean()), max(float(x.std()), 0.02)
    z = (x - middle) / spread
    of = chances[:, 0] + chances[:, 1]
    design = np.stack([np.ones(len(z)), z], axis=1)
    coef = np.zeros(2)
    for _ in range(25):
        p = sigmoid(design @ coef)
        slope = design.T @ (chances[:, 1] - of * p) - np.array([0.0, 0.02]) * coef
        bend = (design * (of * p * (1 - p))[:, None]).T @ design + np.diag([1e-6, 0.02])
        coef = coef + np.clip(np.linalg.solve(bend, slope), -3, 3)
    if coef[1] <= _RISES * np.sqrt(np.linalg.inv(bend)[1, 1]):
        return None
    at = float(np.exp(min(middle - coef[0] / coef[1] * spread, 20.0)))
    from_there = features.bpm >= at
    if 2.0 * chances[from_there, 1].sum() <= of[from_there].sum():
        return None
    return max(at, float(features.bpm.min()))


def _examples(features: Features, way: np.ndarray, sure: np.ndarray, k: int) -> tuple[int, ...]:
    """The surest repetitions of a way, of different takes where there are some."""
    rows = np.flatnonzero(way == k)
    rows = rows[np.lexsort((features.rep[rows], -np.round(sure[rows], 3)))]
    chosen: list[int] = []
    for fresh in (True, False):
        for row in rows:
            if len(chosen) == EXAMPLES:
                break
            taken = {int(features.take[one]) for one in chosen}
            if row not in chosen and (not fresh or int(features.take[row]) not in taken):
                chosen.append(int(row))
    return tuple(sorted(chosen))


def _single(features: Features | None, chance: float, why: str) -> Ways:
    if features is None or not len(features):
        empty = np.zeros(0)
        return Ways((WayFound(0, (), (), None, ()),), empty.astype(int), empty, chance, None, why)
    n = len(features)
    steps = rungs(features.bpm, np.ones(n))
    by_tempo = tuple((float(bpm), 1.0) for bpm in steps.bpm)
    way = np.zeros(n, int)
    sure = np.full(n, max(1.0 - chance, 0.5))
    only = WayFound(n, by_tempo, (), None, _examples(features, way, sure, 0))
    return Ways((only,), way, sure, chance, None, why)


__all__ = ["WayFound", "Ways", "find_ways"]
