"""Which strings the hand passes over from one note of a cell to the next.

Owns what tells a touched string in the way of the hand from a stray note. Knows nothing of
repetitions.
"""

from __future__ import annotations

from .cell import Cell
from .events import Note
from .plan import strings_between
from .played import Answer

NEAR_S = 0.025
"""An extra this close to a slot's stroke may belong to the crossing on either side of it:
converters and hands are no more exact than that about which came first. No source."""

JUMPED_STEPS = 0.6
"""So many steps too soon, and what lies between was not played. No source."""


class Crossings:
    """The strings between each slot's and the next one's."""

    def __init__(self, cell: Cell) -> None:
        self._cell = cell
        after = [*cell.slots[1:], cell.slots[0]]
        self._crossed = [
            strings_between(slot.string, other.string) for slot, other in zip(cell.slots, after)
        ]

    def passed_over(
        self, note: Note, last: Answer | None, following: Answer | None, step_s: float | None
    ) -> set[int]:
        """Strings that the hand passed over around the time of a note, between the answers before
        and after it. step_s: seconds a grid step, where that is known."""
        passed: set[int] = set()
        slots, count = self._cell.slots, len(self._crossed)
        if last is not None:
            end = following.slot if following is not None else (last.slot + 1) % count
            if following is not None and self._jumped(last, following, step_s):
                passed.update(strings_between(slots[last.slot].string, slots[end].string))
            else:
                for steps in range((end - last.slot - 1) % count + 1):
                    passed.update(self._crossed[(last.slot + steps) % count])
            if note.struck_s - last.note.struck_s < NEAR_S:
                passed.update(self._crossed[(last.slot - 1) % count])
        if following is not None and following.note.struck_s - note.struck_s < NEAR_S:
            passed.update(self._crossed[following.slot])
            if last is None:
                passed.update(self._crossed[(following.slot - 1) % count])
        return passed

    def _jumped(self, last: Answer, following: Answer, step_s: float | None) -> bool:
        """Did the hand go straight from one slot to the other, out of the order of the figure?"""
        slots = self._cell.slots
        steps = (slots[following.slot].start - slots[last.slot].start) % self._cell.steps
        steps = steps or self._cell.steps
        interval_s = following.note.struck_s - last.note.struck_s
        return step_s is not None and interval_s < (steps - JUMPED_STEPS) * step_s
