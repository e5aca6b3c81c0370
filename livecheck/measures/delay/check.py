"""What an estimated conversion delay says of a rig: by how much the rig takes off too little or too
much, by string."""

from __future__ import annotations

from typing import NamedTuple

from ...core.pitch import period_s
from ...core.rig import Rig
from .estimate import DelayEstimate, Interval

NOTICE_MS = 2.0
"""A string off by more than this, its whole 95 % interval, is worth a word: a third of what can be
heard (E-01)."""


class Off(NamedTuple):
    """How much later a string arrives, against the others, than the rig takes off."""

    string: int
    ms: Interval


def off_by(estimate: DelayEstimate, rig: Rig) -> list[Off]:
    """Each string that is known. Plus: its notes come later than the rig says, so they are judged
    too late."""
    taken_ms = {
        one.string: 1000.0 * rig.delay.seconds(one.string, one.pitch) for one in estimate.strings
    }
    mean_ms = sum(taken_ms.values()) / max(len(taken_ms), 1)
    found = []
    for one in estimate.strings:
        if one.relative_ms is not None:
            own_ms = taken_ms[one.string] - mean_ms
            found.append(Off(one.string, Interval(*(value - own_ms for value in one.relative_ms))))
    return found


def noticeable(estimate: DelayEstimate, rig: Rig) -> Off | None:
    """The string that is furthest off for sure; None where none is by more than ``NOTICE_MS``.

    Looked for string by string, and by the periods of the sounding pitch, which fewer notes tell.
    """
    found = [*off_by(estimate, rig), *_by_periods(estimate, rig)]
    worst = max(found, key=_surely, default=None)
    return worst if worst is not None and _surely(worst) > NOTICE_MS else None


def _surely(one: Off) -> float:
    return max(one.ms.low, -one.ms.high)


def _by_periods(estimate: DelayEstimate, rig: Rig) -> list[Off]:
    """The string that sounds lowest, as the periods have it."""
    if estimate.periods is None or rig.delay.per_string_ms is not None or len(estimate.strings) < 2:
        return []
    periods_ms = {one.string: 1000.0 * period_s(one.pitch) for one in estimate.strings}
    lowest = max(periods_ms, key=lambda string: periods_ms[string])
    reach_ms = periods_ms[lowest] - sum(periods_ms.values()) / len(periods_ms)
    return [
        Off(
            lowest,
            Interval(*((value - rig.delay.periods) * reach_ms for value in estimate.periods)),
        )
    ]
