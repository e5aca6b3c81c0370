"""Which way the pick really goes: the stroke of each note as a simulated hand plays it.

Owns the habits of direction: what is done at a restart and at the seam, strokes that are repeated,
a note that is hammered though a stroke was planned. Loudness and lateness that follow from the
direction are ``guitarist.py``'s.
"""

from __future__ import annotations

from random import Random

from ..core.cell import PICKED, Cell, Slot
from .habits import Habits
from .sounds import Pass

OTHER = {"down": "up", "up": "down"}


def strokes_played(
    cell: Cell, habits: Habits, passes: list[Pass], rng: Random
) -> dict[tuple[int, int], str]:
    """The stroke of every note, by repetition and slot.

    Each repetition that begins anew begins as planned, or the other way round by
    ``restart_turned``; the others follow by ``seam``. Random numbers are drawn only for habits that
    the player has.
    """
    found: dict[tuple[int, int], str] = {}
    last = begin = ""
    for this in passes:
        route = [slot for slot in cell.slots if slot.number in this.times_s]
        begun = False
        before: Slot | None = None
        for slot in route:
            if not slot.picked:
                found[this.rep, slot.number] = slot.stroke
                continue
            if _drawn(habits.hammered if slot.number == habits.hammered_slot else 0.0, rng):
                found[this.rep, slot.number], before = "hammer", slot
                continue
            if not begun and (this.mended or not last):
                stroke = slot.stroke
                stroke = OTHER[stroke] if _drawn(habits.restart_turned, rng) else stroke
            elif not begun:
                stroke = _over_the_seam(cell, habits, last, begin, rng)
            else:
                turns = before is None or before.stroke != slot.stroke
                turns = turns != _drawn(habits.stroke_repeated, rng)
                stroke = OTHER[last] if turns else last
            begin = begin if begun else stroke
            found[this.rep, slot.number] = last = stroke
            begun, before = True, slot
    return found


def _over_the_seam(cell: Cell, habits: Habits, last: str, begin: str, rng: Random) -> str:
    """The first stroke of a repetition that follows on, after the ``last`` stroke of one that began
    with ``begin``."""
    seam = habits.seam
    if seam == "plan":
        seam = "alternate" if goes_on_alternating(cell) else "repeat"
    if _drawn(habits.seam_other, rng):
        seam = "repeat" if seam == "alternate" else "alternate"
    return OTHER[last] if seam == "alternate" else begin


def goes_on_alternating(cell: Cell) -> bool:
    """Whether the plan's strokes go on alternating over the seam."""
    return not any(stroke in PICKED for stroke in cell.written)


def _drawn(chance: float, rng: Random) -> bool:
    return chance > 0.0 and rng.random() < chance
