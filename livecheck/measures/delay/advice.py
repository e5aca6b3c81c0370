"""Whether ordinary practice gives reason to change what a rig takes off for the conversion delay.

The one place to ask: what is suggested, how sure it is, by how much it differs from the rig, and
whether the practice was enough to say so. Nothing is ever applied.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ...core.events import Repetition
from ...core.rig import Delay, Rig
from .check import Off, noticeable, off_by
from .estimate import from_practice

ENOUGH_MS = 3.0
"""Half of the widest string's 95 % interval with which something can be said: half of what can be
heard (E-01)."""


@dataclass(frozen=True, slots=True)
class DelayAdvice:
    """What practice says of a rig's delay."""

    suggested: Delay | None  # for the rig; its common part kept
    off: tuple[Off, ...]  # each string against what the rig takes off
    worst: Off | None  # the string that is off for sure by more than a little; None where none is
    why: str | None  # why nothing can be said; None where practice was enough

    @property
    def worth_saying(self) -> bool:
        """A player should hear of it."""
        return self.worst is not None and self.suggested is not None


def advise_delay(reps: Sequence[Repetition], rig: Rig) -> DelayAdvice:
    """What repetitions of any cells, over one sitting or many, say of a rig's delay.

    A string that is plainly off is worth saying also where others are not yet known well.
    """
    estimate = from_practice(reps)
    off = tuple(off_by(estimate, rig))
    widest_ms = max(((one.ms.high - one.ms.low) / 2.0 for one in off), default=None)
    why = estimate.why
    if why is None and widest_ms is None:
        why = "a single string was practised"
    elif why is None and widest_ms is not None and widest_ms > ENOUGH_MS:
        why = (
            f"the strings are known to {widest_ms:.0f} ms only: more cells, strings and frets "
            "would tell more"
        )
    return DelayAdvice(estimate.suggestion(rig), off, noticeable(estimate, rig), why)
