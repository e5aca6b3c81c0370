"""How one repetition followed the other, as it was played: which of the two plans, and from which
tempo on.

Only seams at which both plans differ say anything: after an even number of strokes, going on
alternating and taking up the first stroke are the same.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...core.cell import ALTERNATE, REPEAT
from .rungs import rungs
from .table import Tries
from .two_shares import two_shares

MIXED = "mixed"

FEWEST = 8
"""Seams that have to be told (common practice, no source)."""

NEARLY = 0.2
"""A plan is played where no more than this share of the seams goes the other way (common practice,
no source)."""

TOLD = 0.9


@dataclass(frozen=True, slots=True)
class Seam:
    """``played`` from ``from_bpm`` on, at every tempo where that is None; ``before``: what was
    played below, None where that cannot be told or there is none."""

    played: str
    chance: float
    from_bpm: float | None
    before: str | None
    seams: tuple[int, int]  # that went on alternating, and that took up the first stroke
    as_planned: bool  # what is played now is what the plan says


def seam(tries: Tries) -> Seam | None:
    """Which plan was played over the seams; None where too few are told, or it cannot be said."""
    on, up = float(tries.went_on.sum()), float(tries.took_up.sum())
    if on + up < FEWEST:
        return None
    steps = rungs(tries.bpm, tries.n)
    by_on, by_up = steps.sums(tries.went_on), steps.sums(tries.took_up)
    planned = ALTERNATE if tries.parity.any() else REPEAT
    split = two_shares(by_on, by_up, FEWEST / 2)
    if split is not None:
        below = _kind(float(by_on[:split].sum()), float(by_up[:split].sum()))
        above = _kind(float(by_on[split:].sum()), float(by_up[split:].sum()))
        if above is not None and (below is None or below[0] != above[0]):
            middle = float(np.sqrt(steps.bpm[split - 1] * steps.bpm[split]))
            counts = int(by_on[split:].sum()), int(by_up[split:].sum())
            return Seam(*above, middle, below[0] if below else None, counts, above[0] == planned)
    kind = _kind(on, up)
    return None if kind is None else Seam(*kind, None, None, (int(on), int(up)), kind[0] == planned)


def _kind(on: float, up: float) -> tuple[str, float] | None:
    """What was played and how likely that is, from the chance of the share's place."""
    total = on + up
    if not total:
        return None
    grid = (np.arange(400) + 0.5) / 400.0
    logs = (on + 0.5) * np.log(grid) + (up + 0.5) * np.log(1.0 - grid) - np.log(grid * (1.0 - grid))
    weight = np.exp(logs - logs.max())
    weight /= weight.sum()
    chances = {
        ALTERNATE: float(weight[grid > 1.0 - NEARLY].sum()),
        REPEAT: float(weight[grid < NEARLY].sum()),
        MIXED: float(weight[(grid >= NEARLY) & (grid <= 1.0 - NEARLY)].sum()),
    }
    kind = max(chances, key=chances.__getitem__)
    return (kind, chances[kind]) if chances[kind] >= TOLD else None
