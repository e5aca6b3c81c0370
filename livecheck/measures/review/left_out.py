"""Notes that are planned to be picked and are not, and what follows for the seam.

One note hammered or pulled instead of picked makes an odd number even, and the other way round:
then each repetition begins with the same stroke though the plan turns round, or the picking turns
round though it should not. Told only where the beginnings, as they were played, agree.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...core.cell import ALTERNATE
from .begun import BEGUN_DOWN, BEGUN_UP
from .rungs import rungs
from .seam import Seam
from .table import Tries
from .two_shares import two_shares

FEWEST = 8
"""Notes of a slot that have to be told picked or not (common practice, no source)."""

AS_A_RULE, SELDOM = 0.8, 0.2
"""A note is left out where it is not picked in so many of its repetitions, and was picked below
where that share is no more (common practice, no source)."""

MOST = 0.5
"""Where more of the notes to be picked are said not to be, loudness has misled about all of them
(no source)."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Slots that are not picked though planned, from ``from_bpm`` on (None: at every tempo), so
    that each repetition begins with ``begins`` (None: it cannot be told which stroke that is), or,
    where ``turns``, the picking turns round against the plan."""

    slots: tuple[int, ...]
    from_bpm: float | None
    begins: str | None
    turns: bool


def left_out(tries: Tries, seam: Seam | None) -> LeftOut | None:
    """None where no note is left out, an even number is, or the beginnings do not agree."""
    steps = rungs(tries.bpm, tries.n)
    told, unpicked = steps.sums(tries.stroked), steps.sums(tries.unpicked)
    found: list[tuple[int, int]] = []  # slot, and the rung from which on
    planned = np.flatnonzero(tries.to_pick.any(axis=0))
    for at in planned:
        from_rung = _from(unpicked[:, at], told[:, at])
        if from_rung is not None:
            found.append((int(at) + 1, from_rung))
    if len(found) % 2 == 0 or len(found) > MOST * len(planned):
        return None
    split = max(rung for _, rung in found)
    above = tries.where(steps.of_row >= split)
    from_bpm = None if not split else float(np.sqrt(steps.bpm[split - 1] * steps.bpm[split]))
    slots = tuple(slot for slot, _ in found)
    if not tries.parity.any():
        turns = seam is not None and seam.played == ALTERNATE and not seam.as_planned
        return LeftOut(slots, from_bpm, None, True) if turns else None
    # (2, takes): within a take, since a restart may take up the other stroke for good
    take, count = np.unique(above.take, return_inverse=True)[1], above.takes
    begun = np.stack(
        [np.bincount(take, above.n * (above.begun == one), count) for one in (BEGUN_DOWN, BEGUN_UP)]
    )
    known = float(begun.sum())
    if float(begun.max(axis=0).sum()) < AS_A_RULE * known:
        return None  # it turns round all the same
    down, up = (float(side) for side in begun.sum(axis=1))
    surely = known >= FEWEST and max(down, up) >= AS_A_RULE * known
    return LeftOut(slots, from_bpm, ("down" if down > up else "up") if surely else None, False)


def _from(unpicked: np.ndarray, told: np.ndarray) -> int | None:
    """The rung from which on a slot is not picked as a rule; 0: at every tempo; None: it is."""
    if told.sum() < FEWEST:
        return None
    split = two_shares(unpicked, told - unpicked, FEWEST / 2)
    if split is None:
        return 0 if unpicked.sum() >= AS_A_RULE * told.sum() else None
    below, above = (
        unpicked[part].sum() / told[part].sum() for part in (slice(split), slice(split, None))
    )
    return split if above >= AS_A_RULE and below <= SELDOM else None
