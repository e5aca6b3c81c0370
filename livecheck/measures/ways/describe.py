"""In what a way differs from the first: levels in both, the clearest thing first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp

import numpy as np

from ..stats import robust_sd, sigmoid
from .features import Features
from .matrix import BEND, CUT, LOUDNESS, NOISE, RING, SEAM, TIMING, Atom
from .model import Data, Fit
from .told import Difference, at_equal_tempo, level_difference

ATTACK = "attack"
SLURRED_DROP, ANY_DROP = 0.33, 0.55
"""Log velocity by which a note must be softer to be told as not picked: where its string sounded
another fret just before, so that it can be hammered or pulled; and elsewhere. A picked note is
hardly played a quarter softer by habit, a hammered one comes at 0.5 to 0.7 of a picked one's
velocity (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Differs:
    """One thing. ``this`` and ``other``: levels in the way and in the first; ``low``, ``high``: of
    this minus other."""

    what: str
    slot: int | None
    string: int | None
    this: float
    other: float
    low: float
    high: float


def thing_of(atom: Atom) -> str:
    """Which one thing an atom belongs to: a note, a string in the way, or the seam.

    >>> thing_of(Atom("timing", 3)), thing_of(Atom("noise", None, 4)), thing_of(Atom("seam"))
    ('note 3', 'string 4', 'the seam')
    """
    if atom.slot is not None:
        return f"note {atom.slot}"
    return f"string {atom.string}" if atom.string is not None else "the seam"


def differing(
    features: Features,
    data: Data,
    fit: Fit,
    inside: Sequence[Atom],
    drawn: np.ndarray,
    k: int,
    order: np.ndarray,
) -> tuple[Differs, ...]:
    """What way k (in the order told) differs in from the first, the clearest first.

    drawn: (draws, N) ways in the order told; order: the fit's number of each way told.
    """
    clear = _clearness(data, fit, int(order[k]), int(order[0]))
    found: list[tuple[float, Differs]] = []
    for atom in inside:
        if clear.get(atom, 0.0) <= 0.0:
            continue
        one = _told(atom, features, data, drawn, k)
        if one is not None and (one.low > 0.0 or one.high < 0.0):
            found.append((clear[atom], one))
    found.sort(key=lambda pair: -pair[0])
    unpicked = {one.slot for _, one in found if one.what == ATTACK}
    kept: list[Differs] = []
    for _, one in found:
        again = any((one.what, one.slot, one.string) == (o.what, o.slot, o.string) for o in kept)
        if again or (one.what in (LOUDNESS, TIMING) and one.slot in unpicked):
            continue
        kept.append(one)
    return tuple(kept)


def _clearness(data: Data, fit: Fit, this: int, first: int) -> dict[Atom, float]:
    """Squared d' that each thing adds to all others."""
    matrix = data.matrix
    kernel = matrix.shape @ fit.precision @ matrix.shape.T
    coef = fit.coef[this] - fit.coef[first]
    rows = np.flatnonzero(coef)
    clear: dict[Atom, float] = {}
    if len(rows):
        block = kernel[np.ix_(rows, rows)] + 1e-9 * np.eye(len(rows))
        alone = coef[rows] ** 2 / np.diag(np.linalg.inv(block))
        clear = {matrix.atoms[a]: float(value) for a, value in zip(rows, alone)}
    for b, thing in enumerate(matrix.things):
        step = fit.odds[this, b] - fit.odds[first, b]
        if step:
            low = sigmoid(fit.hit_course[:, b] + fit.odds[first, b])
            high = sigmoid(fit.hit_course[:, b] + fit.odds[this, b])
            clear[thing] = float(np.mean((high - low) * step))
    return clear


def _told(atom: Atom, features: Features, data: Data, drawn: np.ndarray, k: int) -> Differs | None:
    what, slot, string = atom.what, atom.slot, atom.string
    if what in (NOISE, CUT):
        assert string is not None
        values = features.touched if what == NOISE else features.cut
        seen = at_equal_tempo(values[:, string - 1], features, drawn, k)
        return None if seen is None else _differs(what, None, string, seen)
    if what == BEND:
        assert slot is not None
        seen = at_equal_tempo(1.0 - features.bent[:, slot - 1], features, drawn, k)
        return None if seen is None else _differs(ATTACK, slot, None, seen)
    if what == LOUDNESS:
        assert slot is not None
        return _loudness(slot, features, data, drawn, k)
    if what == SEAM:
        column = features.seam
    elif what == TIMING:
        assert slot is not None
        column = features.late[:, slot - 1]
    else:
        assert what == RING and slot is not None
        column = features.ring[:, slot - 1]
    seen = level_difference(column, data.base, features, drawn, k)
    return None if seen is None else _differs(what, slot, None, seen)


def _differs(what: str, slot: int | None, string: int | None, seen: Difference) -> Differs:
    return Differs(what, slot, string, seen.this, seen.other, seen.low, seen.high)


def _loudness(
    slot: int, features: Features, data: Data, drawn: np.ndarray, k: int
) -> Differs | None:
    """Velocity against the slot's level, or the chance of being picked where two levels lie so far
    apart."""
    level = _over_level(features)
    column = level[:, slot - 1]
    seen = level_difference(column, data.base, features, drawn, k)
    if seen is None:
        return None
    least = SLURRED_DROP if features.figure.slurred[slot - 1] else ANY_DROP
    if abs(seen.by) >= least:
        chance = _picked(column, features, data, drawn, k, seen)
        if chance is not None:
            return _differs(ATTACK, slot, None, chance)
    other = exp(seen.other)
    return Differs(
        LOUDNESS, slot, None, exp(seen.this), other,
        other * (exp(seen.low) - 1.0), other * (exp(seen.high) - 1.0),
    )  # fmt: skip


def _over_level(features: Features) -> np.ndarray:
    """(N, S) log velocity over the slot's level of that sitting, over the repetition's own."""
    level = np.full_like(features.loud, np.nan)
    for number in np.unique(features.sitting):
        own = features.sitting == number
        for slot in range(level.shape[1]):
            some = features.loud[own, slot]
            if (~np.isnan(some)).any():
                level[own, slot] = some - np.nanmedian(some)
    told = (~np.isnan(level)).any(axis=1)
    middle = np.zeros(len(level))
    middle[told] = np.nanmedian(level[told], axis=1)
    return np.asarray(level - middle[:, None])


def _picked(
    column: np.ndarray,
    features: Features,
    data: Data,
    drawn: np.ndarray,
    k: int,
    seen: Difference,
) -> Difference | None:
    """Chance of being picked in both ways: each note's, by which of the two levels it lies at."""
    told = ~np.isnan(column)
    value = column[told] - data.base.course(np.where(told, column, np.nanmedian(column)))[told]
    loud, soft = max(seen.by, 0.0), min(seen.by, 0.0)
    louder = (drawn[0] == k) if seen.by > 0 else (drawn[0] == 0)
    marks = louder[told]
    if marks.sum() < 5 or (~marks).sum() < 5:
        return None
    high, low = float(np.median(value[marks])), float(np.median(value[~marks]))
    if high - low <= 0.0 or loud - soft <= 0.0:
        return None
    spread = np.concatenate([value[marks] - high, value[~marks] - low])
    size = max(robust_sd(spread), 0.03)
    odds = ((value - low) ** 2 - (value - high) ** 2) / (2.0 * size**2)
    chance = np.full(len(column), np.nan)
    chance[told] = odds > 0.0
    return at_equal_tempo(chance, features, drawn, k)
