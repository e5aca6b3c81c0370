"""Which way the pick really goes: the stroke of each note as a simulated hand plays it.

Owns the habits of direction: what is done at a restart and at the seam, strokes that are repeated,
a note that is hammered though a stroke was planned. Loudness and lateness that follow from the
direction are ``guitarist.py``'s.
"""

from __future__ import annotations

from random import Random

from ..core.cell import ALTERNATE, PICKED, Cell, other_way
from ..core.picking import strokes_of
from .habits import Habits
from .sounds import Pass


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
    since_start = 0
    seam = habits.seam
    if seam == "plan":  # what the first stroke left out, or written, makes of it
        left_out = cell.picking == ALTERNATE and cell.written_in(cell.variant)[0] not in PICKED
        seam = "alternate" if left_out else "repeat"
    for this in passes:
        afresh = this.mended or not last
        since_start = 1 if afresh else since_start + 1
        planned = strokes_of(cell, since_start)
        begun, before = False, ""  # the planned stroke of the picked note before
        for slot in cell.slots:
            if slot.number not in this.times_s:
                continue
            stroke = planned[slot.number - 1]
            if stroke not in PICKED:
                found[this.rep, slot.number] = stroke
                continue
            if _drawn(habits.hammered if slot.number == habits.hammered_slot else 0.0, rng):
                found[this.rep, slot.number], before = "hammer", stroke
                continue
            turns = before != stroke
            before = stroke
            if not begun and afresh:
                stroke = other_way(stroke) if _drawn(habits.restart_turned, rng) else stroke
            elif not begun:
                alternate = (seam == "alternate") != _drawn(habits.seam_other, rng)
                stroke = other_way(last) if alternate else begin
            else:
                turns = turns != _drawn(habits.stroke_repeated, rng)
                stroke = other_way(last) if turns else last
            begin = begin if begun else stroke
            found[this.rep, slot.number] = last = stroke
            begun = True
    return found


def _drawn(chance: float, rng: Random) -> bool:
    return chance > 0.0 and rng.random() < chance
