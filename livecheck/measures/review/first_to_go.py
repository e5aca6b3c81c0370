"""First to go: the slot, and the kind of fault, whose chance rises first as the tempo rises.

Every slot's missed and wrong notes, every string's noise, stray sounds and breaking off before each
slot are fitted each with a rising curve of its own. Of those that surely rise, the one that gets
one in ten above its level at slow tempos soonest is the first to go.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .curve import Curve, fit_curve
from .table import Rungs, Tries, rungs

RISE = 0.1
"""How far above its level at slow tempos a fault has to rise: one repetition in ten, as with the
secure tempo."""

SURE = 16.0
"""Likelihood ratio, divided by the scatter of takes, that a rise needs: about one false one in a
thousand reviews over some twenty faults, with two to four parameters fitted (common practice, no
source)."""


@dataclass(frozen=True, slots=True)
class FirstToGo:
    """What gives way first, and from which tempo on."""

    slot: int
    string: int
    fault: str  # "missed", "wrong", "noise", "stray" or "broken"
    from_bpm: float


@dataclass(frozen=True, slots=True)
class Rising:
    """A fault whose chance surely rises: ``rise_bpm`` is where it is one in ten above its slow
    level."""

    fault: str
    slot: int
    string: int
    rise_bpm: float
    sureness: float


def first_to_go(tries: Tries) -> FirstToGo | None:
    """What gives way first in a table of tries; None where no fault surely rises with the tempo."""
    rising = rising_faults(tries)
    if not rising:
        return None
    first = rising[0]
    return FirstToGo(first.slot, first.string, first.fault, first.rise_bpm)


def rising_faults(tries: Tries) -> list[Rising]:
    """Every fault whose chance surely rises with the tempo, the soonest first."""
    steps = rungs(tries.bpm, tries.n)
    if len(steps.bpm) < 2:
        return []
    found = []
    for fault, slot, string, hits, of in _faults(tries):
        told = _rise(tries, steps, hits, of)
        if told is not None:
            found.append(Rising(fault, slot, string, *told))
    return sorted(found, key=lambda rise: (rise.rise_bpm, -rise.sureness))


def _faults(tries: Tries) -> list[tuple[str, int, int, np.ndarray, np.ndarray]]:
    """Kind, slot, string, how often, and out of how many tries, per row."""
    faults: list[tuple[str, int, int, np.ndarray, np.ndarray]] = []
    for column, string in enumerate(tries.slot_strings):
        slot, heard = column + 1, tries.heard[:, column]
        faults.append(("missed", slot, string, tries.missed[:, column], heard))
        faults.append(("wrong", slot, string, tries.wrong[:, column], heard))
        faults.append(("broken", slot, string, tries.broken[:, column], tries.n))
    for column in range(tries.noise.shape[1]):
        where = tries.noise_at[column]
        faults.append(
            ("noise", int(where.argmax()) + 1, column + 1, tries.noise[:, column], tries.n)
        )
    loudest = divmod(int(tries.stray_at.argmax()), tries.stray_at.shape[1])
    faults.append(("stray", loudest[1] + 1, loudest[0] + 1, tries.stray, tries.n))
    return [fault for fault in faults if fault[3].sum() >= 3]


def _rise(
    tries: Tries, steps: Rungs, hits: np.ndarray, of: np.ndarray
) -> tuple[float, float] | None:
    """Where a fault has risen by one in ten, and how sure the rise is; None where it does not
    surely rise."""
    k, n = steps.sums(hits), steps.sums(of)
    told = n > 0
    if told.sum() < 2:
        return None
    bpm, k, n = steps.bpm[told], k[told], n[told]
    curve, likelihood = fit_curve(bpm, n - k, n, most_lapse=0.6, most_floor=0.97)
    level = k.sum() / n.sum()
    flat = float(k.sum() * np.log(level) + (n - k).sum() * np.log1p(-min(level, 1.0 - 1e-12)))
    sureness = 2.0 * (likelihood - flat) / _scatter(tries, steps, hits, of, curve)
    if sureness < SURE:
        return None
    slow = 1.0 - float(curve.chance(bpm[0]))
    at = curve.x_at(1.0 - slow - RISE)
    if at is None or at > bpm[-1]:
        return None
    return max(at, float(bpm[0])), sureness


def _scatter(tries: Tries, steps: Rungs, hits: np.ndarray, of: np.ndarray, curve: Curve) -> float:
    """How much more the takes scatter about the curve than chance would, at least 1."""
    pairs, at = np.unique(np.stack([tries.take, steps.of_row]), axis=1, return_inverse=True)
    k, n = np.bincount(at.ravel(), hits), np.bincount(at.ravel(), of)
    p = np.clip(1.0 - curve.chance(steps.bpm[pairs[1]]), 0.01, 0.99)
    told = n > 0
    squares = ((k - n * p) ** 2)[told] / (n * p * (1.0 - p))[told]
    return max(1.0, float(squares.sum()) / max(int(told.sum()) - 4, 1))
