"""Levels of loudness and of lateness, one for each way of the pick, and how likely a note is at
them.

Levels are fitted by least squares, each drawn to what is usual: strings about the sitting's, slots
about their string's (by accent, and by what is left of the conversion delay), and what the two ways
differ by, shared by all slots and in each slot's own measure. ``penalty`` is what their freedom
costs in nats (Laplace's approximation).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log, pi
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

# What is usual, before anything is heard. No source; wide ranges.
_ODD, _ODD_SCATTER = 0.04, 4.0  # share of outliers and their scatter
_SCATTER_WEIGHT, _ACCENT_WEIGHT = 6.0, 2.0  # notes, and slots, that the usual sizes count as
_ACCENT_MOVED = 1.4  # nats for an accent e times the usual, or less
_LEAST_ACCENT = 0.3  # of the usual
_SLUR_WIDER = 1.1  # scatter of notes without a stroke, in that of the others

# Of a density nearly even within its limits, exp(-(z² / 3.14)³): its width, and what makes it and
# the normal one whole.
_FLAT_WIDE, _FLAT_HIGH, _NORMAL_HIGH = 3.14, 0.7626, 0.39894


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
    levels: Sequence[Levels],
    string: np.ndarray,
    stroke: np.ndarray,
    slur_chance: np.ndarray,
    top: np.ndarray | None,
    two_ways: np.ndarray,
) -> list[Levels]:
    """Levels of one kind by least squares, each drawn to what is usual: strings, slots about their
    string's, and what the ways differ by. Several at once: K of R repetitions of S slots.

    values, slur_chance: (K, R, S); stroke: (K, R, S, 2); string: (S,); top: (R, S); two_ways: (K,).
    """
    import numpy as np

    kind, count, slots = levels[0].kind, len(levels), len(levels[0].level)
    was_level, was_apart = (
        np.array([one.level for one in levels])[:, None],
        np.array([one.apart + one.by_slot for one in levels])[:, None],
    )
    was_scatter = np.array([one.scatter for one in levels])
    was_accent = np.array([one.accent for one in levels])
    known = ~np.isnan(values)
    filled = np.where(known, values, 0.0)
    middle = filled.sum(axis=(1, 2)) / np.maximum(known.sum(axis=(1, 2)), 1)
    if top is not None:  # a note at the top may have been as loud as it was to be
        lean = 0.5 * (stroke[..., 1] - stroke[..., 0])
        filled = np.where(top, np.maximum(filled, was_level + lean * was_apart), filled)
    filled_off = filled - middle[:, None, None]
    precision = (1.0 / was_scatter**2)[:, None]
    sides = np.array([-0.5, 0.5])[:, None, None, None]  # by way
    away = filled - was_level - sides * was_apart
    weight = np.moveaxis(stroke, 3, 0) * known * inlying(away, was_scatter[:, None, None])
    n, y = weight.sum(axis=2) * precision, (weight * filled_off).sum(axis=2) * precision
    about = (1.0 / was_accent**2)[:, None]
    own, apart_sd = (np.where(two_ways, usual, 1e-6) for usual in (kind.own, kind.apart))
    strings = int(string.max()) + 1
    at_level, at_own = strings + 1 + np.arange(slots), strings + 1 + slots + np.arange(slots)
    within = np.arange(strings)
    both, lean = n[0] + n[1], 0.5 * (n[1] - n[0])
    matrix = np.zeros((count, strings + 1 + 2 * slots, strings + 1 + 2 * slots))
    matrix[:, at_level, at_level] = both + about
    matrix[:, at_own, at_own] = 0.25 * both + (1.0 / own**2)[:, None]
    matrix[:, at_level, at_own] = matrix[:, at_own, at_level] = lean
    matrix[:, strings, at_level] = matrix[:, at_level, strings] = lean
    matrix[:, strings, at_own] = matrix[:, at_own, strings] = 0.25 * both
    matrix[:, strings, strings] = 0.25 * both.sum(axis=1) + 1.0 / apart_sd**2
    matrix[:, at_level, string] = matrix[:, string, at_level] = -about
    matrix[:, within, within] = np.bincount(string) * about + 1.0 / kind.strings**2
    right = np.zeros(
        (*matrix.shape[:2], 2)
    )  # and of the inverse the column of the ways' difference
    right[:, at_level, 0], right[:, at_own, 0] = y[0] + y[1], 0.5 * (y[1] - y[0])
    right[:, strings, 0], right[:, strings, 1] = 0.5 * (y[1] - y[0]).sum(axis=1), 1.0
    solved = np.linalg.solve(matrix, right)
    found, sd = solved[:, :, 0], solved[:, strings, 1] ** 0.5
    level, apart, by_slot = found[:, at_level], found[:, strings], found[:, at_own]
    residue = level - found[:, string]
    rest = filled_off - (level[:, None] + sides * (apart[:, None] + by_slot)[:, None])
    counts, spread = weight.sum(axis=(0, 2, 3)), (weight * rest**2).sum(axis=(0, 2, 3))
    scatter = spread + _SCATTER_WEIGHT * kind.scatter**2
    scatter = (scatter / (counts + _SCATTER_WEIGHT)) ** 0.5
    accent = (residue**2).sum(axis=1) + _ACCENT_WEIGHT * kind.accent**2
    accent = (accent / (slots + _ACCENT_WEIGHT)) ** 0.5
    offset, offset_sd = kind.slur
    slur_weight = slur_chance * known
    slur_base = level + offset if offset == 0.0 else found[:, string] + offset
    slur_precision = slur_weight.sum(axis=1) * precision / _SLUR_WIDER**2
    slur = (
        (slur_weight * filled_off).sum(axis=1) * precision / _SLUR_WIDER**2
        + slur_base / offset_sd**2
    ) / (slur_precision + 1.0 / offset_sd**2)
    penalty = (
        0.5 * (residue**2).sum(axis=1) * about[:, 0]
        + 0.5 * (found[:, :strings] ** 2).sum(axis=1) / kind.strings**2
        + 0.5 * (by_slot**2).sum(axis=1) / own**2
        + 0.5 * apart**2 / apart_sd**2
        + 0.5 * np.linalg.slogdet(matrix)[1]
        + slots * np.log(was_accent * own)
        + strings * log(kind.strings)
        + np.log(apart_sd)
        + 0.5 * ((slur - slur_base) ** 2).sum(axis=1) / offset_sd**2
        + _ACCENT_MOVED * np.log(was_accent / kind.accent) ** 2
    )
    return [
        replace(
            one,
            level=level[at] + middle[at],
            by_slot=by_slot[at],
            slur=slur[at] + middle[at],
            apart=float(apart[at]),
            apart_sd=float(sd[at]),
            scatter=max(float(scatter[at]), kind.least),
            accent=max(float(accent[at]), _LEAST_ACCENT * kind.accent),
            penalty=float(penalty[at]),
        )
        for at, one in enumerate(levels)
    ]


def inlying(off: np.ndarray, scatter: np.ndarray) -> np.ndarray:
    """How surely a note is no outlier."""
    import numpy as np

    square = np.minimum((off / scatter) ** 2, 60.0)
    inner = (1.0 - _ODD) * np.exp(-0.5 * square)
    outer = _ODD / _ODD_SCATTER * np.exp(-0.5 * square / _ODD_SCATTER**2)
    return np.asarray((inner + outer / _ODD_SCATTER**2) / (inner + outer))


def log_density(off: np.ndarray, scatter: np.ndarray) -> np.ndarray:
    """Normal with a share of outliers."""
    import numpy as np

    square = (off / scatter) ** 2
    inner = (1.0 - _ODD) * np.exp(-0.5 * square)
    outer = _ODD / _ODD_SCATTER * np.exp(-0.5 * square / _ODD_SCATTER**2)
    return np.asarray(np.log(inner + outer + 1e-12) - np.log(scatter) - 0.5 * log(2.0 * pi))


def off(values: np.ndarray, middle: np.ndarray, top: np.ndarray | None) -> np.ndarray:
    """How far values lie off a level; at the top no less than not at all."""
    import numpy as np

    off = values - middle
    if top is None:
        return np.asarray(off)
    return np.asarray(np.where(top & (off < 0.0), 0.0, off))


def log_flat(off: np.ndarray, scatter: np.ndarray) -> np.ndarray:
    """Nearly even within its limits, with a share of outliers."""
    import numpy as np

    square = (off / scatter) ** 2
    inner = (1.0 - _ODD) * _FLAT_HIGH * np.exp(-np.minimum((square / _FLAT_WIDE) ** 3, 700.0))
    outer = _ODD / _ODD_SCATTER * _NORMAL_HIGH * np.exp(-0.5 * square / _ODD_SCATTER**2)
    return np.asarray(np.log(inner + outer + 1e-12) - np.log(scatter))
