"""What each repetition sounded like beyond its verdicts: strokes against the plan, strings touched by the hand.

Looks back over the last repetitions of one cell, so it stays bounded however long a sitting lasts.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from statistics import median

from ..core.events import Repetition
from .attack import HAMMERED, Attacks, Struck, read_attacks
from .strings import gravest, read_passages, read_quiet

WINDOW = 40
"""Repetitions that strokes are learned from: a player's and converter's levels drift over longer times."""


LEAST_REPS = 8
"""A line says nothing of strokes before so many repetitions. Common practice, no source."""

UNUSUAL = 0.75
"""A single note is called against the plan only where it is this much softer than its slot usually comes (or louder, by
as much the other way round): two levels found in few notes may be chance. No source."""

USUAL_SHARE, USUAL_NOTES = 0.8, 20
"""Unless the slot comes so as a rule, and has been heard often. No source."""


@dataclass(frozen=True, slots=True)
class RepSound:
    """Of one repetition: hit slots told to be played otherwise than planned, and by string what the hand did to it."""

    against_plan: tuple[Struck, ...] = ()
    touched: dict[int, str] = field(default_factory=dict)


class SoundMemory:
    """Hears repetitions in order. ``attacks`` is the reading of the window after the last one."""

    def __init__(self) -> None:
        self.attacks: Attacks | None = None
        self._reps: deque[Repetition] = deque(maxlen=WINDOW)

    def hear(self, rep: Repetition) -> RepSound:
        """Take the next repetition. Another cell begins anew; another variant of it goes on."""
        if self._reps and rep.cell.name != self._reps[-1].cell.name:
            self._reps.clear()
        self._reps.append(rep)
        self.attacks = read_attacks(self._reps)
        passages = [*read_passages(self._reps, last=1), *read_quiet([rep])]
        return RepSound(self._against_plan(rep), gravest(passages))

    def _against_plan(self, rep: Repetition) -> tuple[Struck, ...]:
        """Strokes of the last repetition that surely were others than planned."""
        if self.attacks is None or len(self._reps) < LEAST_REPS:
            return ()
        return tuple(one for one in self.attacks.against_plan(rep.rep) if self._sure(one))

    def _sure(self, one: Struck) -> bool:
        assert self.attacks is not None
        slot = [other for other in self.attacks.struck if other.slot == one.slot]
        alike = sum(other.told == one.told for other in slot)
        if len(slot) >= USUAL_NOTES and alike >= USUAL_SHARE * len(slot):
            return True
        levels = [other.attack for other in slot if other.attack is not None]
        if one.attack is None or not levels:
            return one.attack is None
        share = one.attack / median(levels)
        return share <= UNUSUAL if one.told == HAMMERED else share >= 1.0 / UNUSUAL
