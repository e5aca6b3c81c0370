"""What each repetition sounded like beyond its verdicts: strokes against the plan, strings touched by the hand.

Looks back over the last repetitions of one cell, so it stays bounded however long a sitting lasts.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from ..core.events import Repetition
from .attack import Attacks, Struck, read_attacks
from .strings import gravest, read_passages, read_quiet

WINDOW = 40
"""Repetitions that strokes are learned from: a player's and converter's levels drift over longer times."""


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
        return RepSound(self.attacks.against_plan(rep.rep), gravest(passages))
