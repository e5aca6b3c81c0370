"""What an estimated conversion delay says of a rig: by how much the rig takes off too little or too much, by string."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from ..core.rig import Rig
from .delay import DelayEstimate, Interval

NOTICE_MS = 2.0
"""A string off by more than this, its whole 95 % interval, is worth a word: a third of what can be heard (E-01)."""


class Off(NamedTuple):
    """How much later a string arrives, against the others, than the rig takes off."""

    string: int
    ms: Interval


def off_by(estimate: DelayEstimate, rig: Rig) -> list[Off]:
    """Each string that is known. Plus: its notes come later than the rig says, so they are judged too late."""
    taken_ms = {one.string: 1000.0 * rig.delay.seconds(one.string, one.pitch) for one in estimate.strings}
    mean_ms = sum(taken_ms.values()) / max(len(taken_ms), 1)
    found = []
    for one in estimate.strings:
        if one.relative_ms is not None:
            own_ms = taken_ms[one.string] - mean_ms
            found.append(Off(one.string, Interval(*(value - own_ms for value in one.relative_ms))))
    return found


def noticeable(found: Sequence[Off]) -> Off | None:
    """The string that is furthest off for sure; None where none is by more than ``NOTICE_MS``."""

    def surely(one: Off) -> float:
        return max(one.ms.low, -one.ms.high)

    worst = max(found, key=surely, default=None)
    return worst if worst is not None and surely(worst) > NOTICE_MS else None
