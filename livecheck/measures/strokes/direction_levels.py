"""Levels of loudness and of lateness, one for each way of the pick, and how likely a note is at
them.

Levels are fitted by least squares, each drawn to what is usual: strings about the sitting's, slots
about their string's (by accent, and by what is left of the conversion delay), and what the two ways
differ by, shared by all slots and in each slot's own measure. ``penalty`` is what their freedom
costs in nats (Laplace's approximation).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log, pi
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

# What is usual, before anything is heard. No source; wide ranges.
_ODD, _ODD_SCATTER = 0.04, 4.0  # share of outliers and their scatter


@dataclass(frozen=True, slots=True)
class Kind:
    """What is usual of loudness, or of lateness."""

    scatter: float  # and the least that is believed
    least: float
    strings: float  # SD of the strings' levels
    accent: float  # SD of the slots' about them
    apart: float  # SD of what the ways differ by
    own: float  # SD of a slot's own difference about that
    slur: tuple[float, float]  # of a note without a stroke: how far off its level lies, and SD


LOUD = Kind(0.09, 0.03, 0.2, 0.05, 0.25, 0.05, (-0.45, 0.2))
LATE = Kind(4.0, 1.0, 4.0, 1.5, 4.0, 0.7, (0.0, 3.0))


@dataclass(slots=True)
class Levels:
    """Levels of one kind. ``apart``: way 1 minus way 0, by slot and on the whole."""

    kind: Kind
    level: np.ndarray
    by_slot: np.ndarray
    slur: np.ndarray
    apart: float = 0.0
    apart_sd: float = 0.0
    scatter: float = 1.0
    accent: float = 1.0
    penalty: float = 0.0  # nats


def first_levels(values: np.ndarray, kind: Kind, slots: int) -> Levels:
    import numpy as np

    known = ~np.isnan(values)
    overall = float(np.median(values[known])) if known.any() else 0.0
    level = np.array(
        [
            np.median(values[known[:, slot], slot]) if known[:, slot].any() else overall
            for slot in range(slots)
        ]
    )
    return Levels(
        kind, level, np.zeros(slots), level + kind.slur[0], scatter=1.3 * kind.scatter,
        accent=kind.accent,
    )  # fmt: skip


def fitted(
    values: np.ndarray,
    levels: Levels,
    string: np.ndarray,
    stroke: np.ndarray,
    slur_chance: np.ndarray,
    top: np.ndarray | None,
    two_ways: bool,
) -> Levels:
    """Levels of one kind by least squares, each drawn to what is usual: strings, slots about their
    string's, and what the ways differ by."""
    import numpy as np

    kind, slots = levels.kind, len(levels.level)
    known = ~np.isnan(values)
    filled = np.where(known, values, 0.0)
    if top is not None:  # a note at the top may have been as loud as it was to be
        lean = 0.5 * (stroke[:, :, 1] - stroke[:, :, 0])
        expected = levels.level + lean * (levels.apart + levels.by_slot)
        filled = np.where(top, np.maximum(filled, expected), filled)
    strings = int(string.max()) + 1
    size = strings + 1 + 2 * slots
    middle = float(np.mean(values[known])) if known.any() else 0.0
    matrix, right = np.zeros((size, size)), np.zeros(size)
    at_level, at_own = strings + 1 + np.arange(slots), strings + 1 + slots + np.arange(slots)
    counts, spread = 0.0, 0.0
    precision = 1.0 / levels.scatter**2
    weights = []
    for way, side in enumerate((-0.5, 0.5)):
        expected = levels.level + side * (levels.apart + levels.by_slot)
        weight = stroke[:, :, way] * known * inlying(filled - expected, levels.scatter)
        weights.append(weight)
        n, y = weight.sum(axis=0) * precision, (weight * (filled - middle)).sum(axis=0) * precision
        matrix[at_level, at_level] += n
        matrix[at_own, at_own] += side**2 * n
        matrix[at_level, at_own] += side * n
        matrix[at_own, at_level] += side * n
        matrix[strings, at_level] += side * n
        matrix[at_level, strings] += side * n
        matrix[strings, at_own] += side**2 * n
        matrix[at_own, strings] += side**2 * n
        matrix[strings, strings] += float(side**2 * n.sum())
        right[at_level] += y
        right[at_own] += side * y
        right[strings] += float(side * y.sum())
    about = 1.0 / levels.accent**2
    matrix[at_level, at_level] += about
    np.add.at(matrix, (string, string), about)
    matrix[at_level, string] -= about
    matrix[string, at_level] -= about
    within = np.arange(strings)
    matrix[within, within] += 1.0 / kind.strings**2
    own, apart_sd = (kind.own, kind.apart) if two_ways else (1e-6, 1e-6)
    matrix[at_own, at_own] += 1.0 / own**2
    matrix[strings, strings] += 1.0 / apart_sd**2
    found = np.linalg.solve(matrix, right)
    level, apart, by_slot = found[at_level], float(found[strings]), found[at_own]
    residue = level - found[string]
    for weight, side in zip(weights, (-0.5, 0.5)):
        rest = filled - middle - level - side * (apart + by_slot)
        counts += float(weight.sum())
        spread += float((weight * rest**2).sum())
    scatter = ((spread + 6.0 * kind.scatter**2) / (counts + 6.0)) ** 0.5
    accent = ((float(np.sum(residue**2)) + 2.0 * kind.accent**2) / (slots + 2.0)) ** 0.5
    offset, offset_sd = kind.slur
    slur_weight = slur_chance * known
    slur_base = level + offset if offset == 0.0 else found[string] + offset
    slur_precision = slur_weight.sum(axis=0) * precision / 1.21
    slur = (
        (slur_weight * (filled - middle)).sum(axis=0) * precision / 1.21 + slur_base / offset_sd**2
    ) / (slur_precision + 1.0 / offset_sd**2)
    penalty = (
        0.5 * float(np.sum(residue**2)) * about
        + 0.5 * float(np.sum(found[:strings] ** 2)) / kind.strings**2
        + 0.5 * float(np.sum(by_slot**2)) / own**2
        + 0.5 * apart**2 / apart_sd**2
        + 0.5 * float(np.linalg.slogdet(matrix)[1])
        + slots * log(levels.accent * own)
        + strings * log(kind.strings)
        + log(apart_sd)
        + 0.5 * float(np.sum((slur - slur_base) ** 2)) / offset_sd**2
        + 1.4 * (log(levels.accent / kind.accent)) ** 2
    )
    return replace(
        levels,
        level=level + middle,
        by_slot=by_slot,
        slur=slur + middle,
        apart=apart,
        apart_sd=float(np.linalg.inv(matrix)[strings, strings]) ** 0.5,
        scatter=max(scatter, kind.least),
        accent=max(accent, 0.3 * kind.accent),
        penalty=penalty,
    )


def inlying(off: np.ndarray, scatter: float) -> np.ndarray:
    """How surely a note is no outlier."""
    import numpy as np

    square = np.minimum((off / scatter) ** 2, 60.0)
    inner = (1.0 - _ODD) * np.exp(-0.5 * square)
    outer = _ODD / _ODD_SCATTER * np.exp(-0.5 * square / _ODD_SCATTER**2)
    return np.asarray((inner + outer / _ODD_SCATTER**2) / (inner + outer))


def log_density(off: np.ndarray, scatter: float) -> np.ndarray:
    """Normal with a share of outliers."""
    import numpy as np

    square = (off / scatter) ** 2
    inner = (1.0 - _ODD) * np.exp(-0.5 * square)
    outer = _ODD / _ODD_SCATTER * np.exp(-0.5 * square / _ODD_SCATTER**2)
    return np.asarray(np.log(inner + outer + 1e-12) - log(scatter) - 0.5 * log(2.0 * pi))


def off(values: np.ndarray, middle: np.ndarray, top: np.ndarray) -> np.ndarray:
    """How far values lie off a level; at the top no less than not at all."""
    import numpy as np

    off = values - middle
    return np.asarray(np.where(top & (off < 0.0), 0.0, off))


def log_flat(off: np.ndarray, scatter: float) -> np.ndarray:
    """Nearly even within its limits, with a share of outliers."""
    import numpy as np

    square = (off / scatter) ** 2
    inner = (1.0 - _ODD) * 0.7626 * np.exp(-np.minimum((square / 3.14) ** 3, 700.0))
    outer = _ODD / _ODD_SCATTER * 0.39894 * np.exp(-0.5 * square / _ODD_SCATTER**2)
    return np.asarray(np.log(inner + outer + 1e-12) - log(scatter))
