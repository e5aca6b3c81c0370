"""Change of movement: the tempo above which something sounds different.

Watched are each slot's attack and timing and each string's noise. A change is one shift of level at
one tempo, found by trying every split of the ladder. It is held against what takes with their own
level would give without any shift, and all the series of a review share one allowance for false
alarms (Holm). What changed and where is told; what the hand did is the player's to say.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .draws import LEAST_FATE, draw_hits, seeded, shared_fate, take_weights
from .rungs import Rungs, rungs
from .splits import (
    FEWEST_TRIES,
    best_share_split,
    best_split,
    between,
    by_take,
    enough_on_both_sides,
    interval,
    membership,
)
from .table import Tries

ALPHA = 0.05
DRAWS = 1000

SMALLEST = {"attack": 0.08, "timing": 3.0, "noise": 0.08}
"""Shifts below this are not worth a player's attention, however sure: attack as a ratio, timing in
ms (half the just noticeable), noise as a share (common practice, no source)."""

COUNTERWEIGHT = 0.5
"""Attack and timing are relative to the rest of the repetition: when one slot moves, the others
move the other way a little. A shift the other way of less than this part of the largest one of its
kind is taken for that."""

APART = 0.10
"""Where the tempos on either side of a change differ by more than this, it is told between them:
the middle may be wrong by more than a twentieth."""

MOST_SHARED = 20.0
"""Degrees of freedom that the other slots lend at most to what is known of one slot's scatter
(common practice, no source)."""

UNLIKE = 0.2
"""Variance between takes at one tempo, in that of one repetition (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Change:
    """A level that shifts at a tempo. ``slot`` for attack and timing, ``string`` for all three."""

    what: str  # "attack", "timing" or "noise"
    slot: int | None
    string: int
    from_bpm: float
    low_bpm: float
    high_bpm: float
    before: float
    after: float
    p: float  # before allowing for the number of series
    share: float | None = None  # of the repetitions from its tempo on, those that it touches
    # of an attack: the note's share not picked, before and after; None where that cannot be told
    unpicked: tuple[float, float] | None = None
    # the tempos played on either side, where they lie so far apart that the one between says little
    between: tuple[float, float] | None = None


def find_changes(tries: Tries) -> list[Change]:
    """Every change of movement in a table of tries, lowest tempo first; empty where there is no
    sign of one."""
    steps = rungs(tries.bpm, tries.n)
    if len(steps.bpm) < 2:
        return []
    found: list[Change] = []
    tested = 0
    for what, sums, counts in (
        ("attack", tries.attack_sum, tries.attack_n),
        ("timing", tries.timing_sum, tries.timing_n),
    ):
        series = [
            _series(tries, steps, sums[:, column], counts[:, column])
            for column in range(sums.shape[1])
        ]
        told = [one for one in series if one is not None]
        tested += len(told)
        usual, shared = _usual_scatter(told) if told else (0.0, 0.0)
        for column, one in enumerate(series):
            if one is not None:
                level = _level_change(steps, one, usual, shared)
                level = replace(
                    level, what=what, slot=column + 1, string=tries.slot_strings[column]
                )
                found.append(_with_strokes(tries, level) if what == "attack" else level)
    for column in range(tries.noise.shape[1]):
        if not tries.noise[:, column].any():
            continue
        change = _share_change(tries, steps, tries.noise[:, column])
        tested += change is not None
        if change is not None:
            found.append(replace(change, string=column + 1))
    sure = _holm(found, tested)
    big = [change for change in sure if abs(change.after - change.before) >= SMALLEST[change.what]]
    kept = [replace(one, between=_apart(steps, one)) for one in _without_counterweights(big)]
    return sorted(kept, key=lambda change: change.from_bpm)


def _apart(steps: Rungs, change: Change) -> tuple[float, float] | None:
    """The rungs around a change that lie far apart; None where they are near."""
    at = int(np.searchsorted(steps.bpm, change.from_bpm))
    below, above = float(steps.bpm[at - 1]), float(steps.bpm[at])
    return (below, above) if above > below * (1.0 + APART) else None


def _with_strokes(tries: Tries, change: Change) -> Change:
    """A change of attack with how often the note was not picked, before and after."""
    column = (change.slot or 1) - 1
    told, unpicked = tries.stroked[:, column], tries.unpicked[:, column]
    after = tries.bpm >= change.from_bpm
    of = [float(told[part].sum()) for part in (~after, after)]
    hits = [float(tries.attack_n[part, column].sum()) for part in (~after, after)]
    if any(count < max(FEWEST_TRIES, 0.5 * every) for count, every in zip(of, hits)):
        return change
    shares = [float(unpicked[part].sum()) / count for part, count in zip((~after, after), of)]
    share = shares[1] if shares[1] > shares[0] else 1.0 - shares[1]
    return replace(change, unpicked=(shares[0], shares[1]), share=share)


def _holm(changes: list[Change], tested: int) -> list[Change]:
    """The changes that stay when all series together may raise a false alarm with chance ALPHA
    (Holm 1979)."""
    kept = []
    for rank, change in enumerate(sorted(changes, key=lambda change: change.p)):
        if change.p > ALPHA / (tested - rank):
            break
        kept.append(change)
    return kept


def _without_counterweights(changes: list[Change]) -> list[Change]:
    largest: dict[str, float] = {}
    for change in changes:
        largest[change.what] = max(
            largest.get(change.what, 0.0), change.after - change.before, key=abs
        )
    return [
        change
        for change in changes
        if change.what == "noise"
        or (change.after - change.before) / largest[change.what] > 0.0
        or abs((change.after - change.before) / largest[change.what]) >= COUNTERWEIGHT
    ]


# ------------------------------------------------------------------------------- levels (ms, ratio)


def weight_of(n: np.ndarray) -> np.ndarray:
    """Of a take's mean over so many repetitions: takes differ by more than these do."""
    return n / (1.0 + UNLIKE * n)


@dataclass(frozen=True, slots=True)
class _Series:
    """A slot's mean level per take and rung, with the best split of it."""

    take: np.ndarray
    rung: np.ndarray
    y: np.ndarray
    n: np.ndarray
    open_splits: np.ndarray
    split: int
    means: tuple[float, float]
    gain: float
    rss: float

    @property
    def weight(self) -> np.ndarray:
        return weight_of(self.n)

    @property
    def free(self) -> int:
        return max(len(self.y) - 2, 1)


def _series(tries: Tries, steps: Rungs, sums: np.ndarray, counts: np.ndarray) -> _Series | None:
    """The best split of a mean level; None where no split has enough on either side."""
    told = counts > 0
    take, rung, total, n = by_take(tries.take[told], steps.of_row[told], sums[told], counts[told])
    open_splits = enough_on_both_sides(rung, n, len(steps.bpm))
    if not open_splits.any() or len(total) < 5:
        return None
    y, weight = total / n, weight_of(n)
    gain, rss, at, left, right = best_split(
        y[None, :], weight, membership(rung, len(steps.bpm)), open_splits
    )
    return _Series(
        take,
        rung,
        y,
        n,
        open_splits,
        int(at[0]),
        (float(left[0]), float(right[0])),
        float(gain[0]),
        float(rss[0]),
    )


def _usual_scatter(series: Sequence[_Series]) -> tuple[float, float]:
    """The scatter that series of a kind have as a rule, and how many degrees of freedom knowing it
    is worth.

    Few tempos tell little about one slot's scatter, and all slots together tell much about each,
    the more the less they differ. Source: G. K. Smyth, Stat. Appl. Genet. Mol. Biol. 3 (2004) 3,
    section 6.2, with at most ``MOST_SHARED``.
    """
    half = np.array([one.free / 2.0 for one in series])
    logs = np.log([max(one.rss / one.free, 1e-12) for one in series])
    logs = logs - (-1.0 / (2.0 * half) - 1.0 / (12.0 * half**2))  # digamma less logarithm
    if len(series) < 3:
        return math.exp(float(logs.mean())), 0.0
    apart = float(np.var(logs, ddof=1) - np.mean(_trigamma(half)))
    worth = np.linspace(0.5, MOST_SHARED, 400)
    shared = (
        MOST_SHARED if apart <= 0 else float(worth[np.abs(_trigamma(worth / 2.0) - apart).argmin()])
    )
    return math.exp(float(logs.mean()) - 1.0 / shared - 1.0 / (3.0 * shared**2)), shared


def _trigamma(x: np.ndarray) -> np.ndarray:
    """Second derivative of the log gamma function; good to 1 % from a half on."""
    y = x + 2.0
    return (
        1.0 / x**2
        + 1.0 / (x + 1.0) ** 2
        + 1.0 / y
        + 1.0 / (2.0 * y**2)
        + 1.0 / (6.0 * y**3)
        - 1.0 / (30.0 * y**5)
    )


def _level_change(steps: Rungs, one: _Series, usual: float, shared: float) -> Change:
    """The best split with its p, the scatter being what this series and ``shared`` degrees of the
    others say."""
    take, rung, y, weight = one.take, one.rung, one.y, one.weight
    member = membership(rung, len(steps.bpm))
    ratio = one.gain * (one.free + shared) / (one.rss + shared * usual)
    residual = y - np.where(rung <= one.split, *one.means)
    rng = seeded(y, one.n, take)
    noise = rng.normal(size=(DRAWS, len(y))) / np.sqrt(weight)
    share = _take_share(residual, weight, take)
    if share > 0.0:
        numbers, of_row = np.unique(take, return_inverse=True)
        typical = float(np.mean(1.0 / weight))
        noise = noise * np.sqrt(1.0 - share) + (
            rng.normal(size=(DRAWS, len(numbers)))[:, of_row] * np.sqrt(share * typical)
        )
    gain, rss, _, _, _ = best_split(noise, weight, member, one.open_splits)
    # scatter of a series, in usual ones
    own = shared / rng.chisquare(shared, size=DRAWS) if shared else np.ones(DRAWS)
    # the best split takes more of the scatter than any one split would
    left_over = float(np.mean(rss)) / one.free
    by_luck = own * gain * (one.free + shared) / (own * rss + shared * left_over)
    p = (1.0 + float(np.sum(by_luck >= ratio))) / (1.0 + DRAWS)
    units = take_weights(take, rng, 400)
    where = best_split(y, units * weight, member, one.open_splits)[2]
    low, high = interval(where, one.split, len(np.unique(take)), steps.bpm)
    means = [
        float(np.average(y[side], weights=one.n[side]))
        for side in (rung <= one.split, rung > one.split)
    ]
    above = rung > one.split
    nearer = np.abs(y - means[1]) < np.abs(y - means[0])
    share = float(np.average(nearer[above], weights=one.n[above]))
    bpm = between(steps.bpm, one.split)
    return Change("", None, 0, bpm, low, high, means[0], means[1], p, share)


def _take_share(residual: np.ndarray, weight: np.ndarray, take: np.ndarray) -> float:
    """The part of the scatter that the rows of a take share; 0 where every take has one row."""
    numbers, of_row, count = np.unique(take, return_inverse=True, return_counts=True)
    if len(numbers) == len(take) or len(numbers) < 2:
        return 0.0
    scaled = residual * np.sqrt(weight)
    sums = np.bincount(of_row, scaled)
    pairs = float(np.sum(sums**2) - np.sum(scaled**2))
    return float(np.clip(pairs / np.sum(count * (count - 1.0)) / np.mean(scaled**2), 0.0, 0.95))


# ----------------------------------------------------------------------------------- shares (noise)


def _share_change(tries: Tries, steps: Rungs, hits: np.ndarray) -> Change | None:
    """The best split of a share with its p; None where no split has enough on either side."""
    take, rung, k, n = by_take(tries.take, steps.of_row, hits, tries.n)
    open_splits = enough_on_both_sides(rung, n, len(steps.bpm))
    if not open_splits.any():
        return None
    member = membership(rung, len(steps.bpm))
    score, at = best_share_split(k[None, :] @ member, (n @ member)[None, :], open_splits)
    split = int(at[0])
    shares = [float(k[side].sum() / n[side].sum()) for side in (rung <= split, rung > split)]
    sd = max(
        LEAST_FATE,
        shared_fate(k, n, np.clip(np.where(rung <= split, *shares), 0.011, 0.989), spent=3),
    )
    rng = seeded(tries.bpm, tries.n, hits)
    level = np.full(len(k), (k.sum() + 0.5) / (n.sum() + 1.0))
    by_luck = best_share_split(
        draw_hits(n, level, take, sd, rng, DRAWS) @ member, n @ member, open_splits
    )[0]
    p = (1.0 + float(np.sum(by_luck >= score[0]))) / (1.0 + DRAWS)
    units = take_weights(take, rng, 400)
    where = best_share_split((units * k) @ member, (units * n) @ member, open_splits)[1]
    low, high = interval(where, split, len(np.unique(take)), steps.bpm)
    share = shares[1] if shares[1] >= shares[0] else 1.0 - shares[1]
    return Change(
        "noise", None, 0, between(steps.bpm, split), low, high, shares[0], shares[1], p, share
    )
