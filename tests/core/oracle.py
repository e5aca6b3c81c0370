"""A second judgment of a take: an offline dynamic program that sees all of it, written plainly and
slowly.

The best path over (note, slot): every note either answers a slot or is an extra, and the path from
one answered note to the next pays for what happened between them. All costs are −log of a chance,
named below with what it stands for; none was fitted to the program or to the stage's rates. It
knows the sounded notes (a bend that is a note among them), which is a little more than the program
knows.
"""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

from livecheck.core.cell import Cell
from livecheck.core.rig import Rig

if TYPE_CHECKING:
    from stage import Take
    from stage_convert import Sent


def cost(chance: float) -> float:
    return -math.log(chance)


HIT = cost(0.95)  # a note that answers a slot has its string and pitch
OCTAVE = cost(0.01)  # the converter heard the octave or the twelfth above
WRONG_FRET = cost(0.012)  # another fret, any of about a dozen: see SPREAD
WRONG_STRING = cost(0.004)  # the pitch on another string
MISS = cost(0.02)  # a slot left out
# a note that answers nothing, at any of about a dozen pitches near the hand
EXTRA = cost(0.01) + cost(1 / 12)
AGAIN = cost(0.02)  # a double trigger, given that the same note has just sounded
OTHER = cost(1 / 12)  # which wrong fret
FROM_START = cost(0.02)  # broken off, again from slot 1
FROM_EARLIER = cost(0.004)  # … from an earlier slot, any of them
PAUSE = cost(0.005)  # a stop, then on with the next slot
JUMP = cost(0.005)  # another tempo from here on
ENTRY = cost(0.05)  # the take begins mid-figure, at any slot
SOON_S = 0.065  # a double trigger comes within
LOOK_BACK = 7  # notes that may lie between two answered ones


class Place(NamedTuple):
    """The best way to have a note answer a slot."""

    cost: float
    step_s: float  # the tempo believed there
    before: tuple[int, int] | None  # (note, slot) answered last
    starts: bool  # a repetition begins anew here (not by coming round)


def timing(off_s: float, step_s: float) -> float:
    """Density of a deviation of an interval: normal, with a heavier tail for one in twenty; per
    step."""
    spread = math.hypot(0.0045, 0.05 * step_s)
    near = 0.95 * math.exp(-0.5 * (off_s / spread) ** 2) / spread
    wide = 0.05 * math.exp(-0.5 * (off_s / (3 * spread)) ** 2) / (3 * spread)
    return cost(max(1e-12, (near + wide) * step_s / 2.5066))


def fit(cell: Cell, note: Sent, slot: int) -> float | None:
    """Cost of a note answering a slot; None where formats.md forbids it (another string and another
    pitch)."""
    of = cell.slots[slot]
    if note.string == of.string:
        if note.key == of.pitch:
            return HIT
        return OCTAVE if note.key - of.pitch in (12, 19, 24) else WRONG_FRET + OTHER
    return WRONG_STRING if note.key == of.pitch else None


def under_gate(note: Sent, rig: Rig) -> bool:
    if note.velocity is None:
        return False
    short = note.ended is not None and (note.ended - note.arrival) * 1000 < rig.gate.length_ms
    return note.velocity < rig.gate.velocity or short


def artefact(notes: list[Sent], i: int, rig: Rig) -> bool:
    """Under the gate, the same again, or an octave that is corrected at once."""
    note = notes[i]
    same = [
        other
        for other in notes[max(0, i - 4) : i]
        if (other.string, other.key) == (note.string, note.key)
    ]
    again = bool(same) and note.arrival - same[-1].arrival < SOON_S
    corrected = any(
        other.string == note.string
        and note.key - other.key in (12, 19, 24)
        and other.arrival - note.arrival < 0.045
        for other in notes[i + 1 : i + 4]
    )
    return under_gate(note, rig) or again or corrected


def label(cell: Cell, rig: Rig, notes: list[Sent]) -> list[str]:
    """The label of each note, as the score would word it."""
    n = len(cell.slots)
    times = [note.arrival - rig.delay.seconds(note.string, note.pitch) for note in notes]
    extra = [
        0.0 if under_gate(note, rig) else AGAIN if artefact(notes, i, rig) else EXTRA
        for i, note in enumerate(notes)
    ]
    before = [0.0]
    for one in extra:
        before.append(before[-1] + one)  # cost of all notes up to here being extras
    best: list[dict[int, Place]] = []
    for i, note in enumerate(notes):
        places: dict[int, Place] = {}
        for slot in range(n):
            fits = None if under_gate(note, rig) else fit(cell, note, slot)
            if fits is None:
                continue
            entry = before[i] + (0.0 if slot == 0 else ENTRY + cost(1 / n)) + fits
            found = Place(entry, 0.0, None, True)
            for j in range(max(0, i - LOOK_BACK), i):
                between = before[i] - before[j + 1]
                for old, place in best[j].items():
                    if place.cost + between + fits < found.cost:
                        new = _step(cell, place, old, slot, times[i] - times[j])
                        total = place.cost + between + fits + new[0]
                        if total < found.cost:
                            found = Place(total, new[1], (j, old), new[2])
            places[slot] = found
        best.append(places)
    return _trace(cell, rig, notes, best, before)


def _step(cell: Cell, place: Place, old: int, slot: int, gap_s: float) -> tuple[float, float, bool]:
    """Cost of going from slot to slot in this time, the tempo believed afterwards, and whether it
    is a restart."""
    n = len(cell.slots)
    missed = (slot - old - 1) % n
    grid = (cell.slots[slot].start - cell.slots[old].start) % cell.steps or cell.steps
    if place.step_s == 0.0:  # no tempo yet: any speed from 2 to 25 notes a second
        step = gap_s / grid
        if 0.04 <= step <= 0.5:
            return missed * MISS + cost(0.2), step, False
        return missed * MISS + PAUSE + cost(0.05), 0.0, False
    step = place.step_s
    off = gap_s - grid * step
    steady = missed * MISS + timing(off, step * math.sqrt(grid))
    ratio = max(0.8, min(1.25, gap_s / (grid * step) if gap_s > 0 else 1.0))
    options = [(steady, step * ratio**0.25, False)]
    free = cost(min(1.0, step / 2.0))  # somewhere within two seconds
    if off > 0.25:
        options.append((missed * MISS + PAUSE + free, step, False))
    elif gap_s > 0 and 0.04 <= gap_s / grid <= 0.5:
        options.append((missed * MISS + JUMP + cost(0.1), gap_s / grid, False))
    if slot == 0 and gap_s > 0.5 * step:
        options.append((FROM_START + free, step, True))
    elif slot < old and gap_s > 0.5 * step:
        options.append((FROM_EARLIER + cost(1 / n) + free, step, True))
    return min(options)


def _trace(
    cell: Cell, rig: Rig, notes: list[Sent], best: list[dict[int, Place]], before: list[float]
) -> list[str]:
    told = [""] * len(notes)
    ends = [
        (place.cost + before[-1] - before[i + 1], i, slot)
        for i, places in enumerate(best)
        for slot, place in places.items()
    ]
    at: tuple[int, int] | None = (
        min(ends)[1:] if ends and min(ends)[0] < before[-1] + EXTRA else None
    )
    answered: list[int] = []
    while at is not None:
        i, slot = at
        right = fit(cell, notes[i], slot) in (HIT, OCTAVE)
        told[i] = f"{slot + 1} {'hit' if right else 'wrong'}"
        answered.append(i)
        at = best[i][slot].before
    answered.reverse()
    for i in range(len(notes)):
        if not told[i]:
            told[i] = _kind(cell, rig, notes, i, answered)
    return told


def _kind(cell: Cell, rig: Rig, notes: list[Sent], i: int, answered: list[int]) -> str:
    if artefact(notes, i, rig):
        return "artefact"
    note = notes[i]
    if note.string in cell.quiet:
        return "noise"
    here = [notes[j].string for j in answered if j < i][-1:]
    there = [notes[j].string for j in answered if j > i][:1]
    passed = here and there and min(here + there) < note.string < max(here + there)
    return "noise" if passed else "stray"


# ---------------------------------------------------------------------------------------- comparing


def compare(takes: list[Take]) -> dict[str, Counter[str]]:
    """Program and oracle against the truth and against each other, by class; kinds of extras count
    as one."""
    from stage import KINDS, listen

    from livecheck.session import Session

    counts: dict[str, Counter[str]] = {}
    for take in takes:
        n = counts.setdefault(take.name, Counter())
        told = listen(Session(take.cell, take.rig).feed_all(take.records))
        for note, oracles in zip(take.sent, label(take.cell, take.rig, take.sent)):
            if note.by == "bend":
                continue
            programs = told.labels.get((note.string, note.arrival), "not told")
            ok = {"extra" if one in KINDS else one for one in note.ok}
            programs, oracles = ("extra" if one in KINDS else one for one in (programs, oracles))
            n["notes"] += 1
            n["program right"] += programs in ok
            n["oracle right"] += oracles in ok
            n["agree"] += programs == oracles
            n["only program"] += programs in ok and oracles not in ok
            n["only oracle"] += oracles in ok and programs not in ok
    return counts


def table_of(takes: list[Take]) -> str:
    """One line a class: both rates, agreement, and who was right where they differ."""
    counts = compare(takes)
    counts["all"] = sum(counts.values(), Counter())
    head = ("notes", "program right", "oracle right", "agree", "only program", "only oracle")
    lines = [f"{'class':<11}" + "".join(f"{name:>15}" for name in head)]
    for name, n in counts.items():
        shares = "".join(f"{100 * n[key] / n['notes']:>14.2f}%" for key in head[1:4])
        lines.append(
            f"{name:<11}{n['notes']:>15}{shares}{n['only program']:>15}{n['only oracle']:>15}"
        )
    return "\n".join(lines)
