"""Repetitions of one sitting counted into a table of tries.

Owns what of a repetition is added up, and where. Only complete and broken-off repetitions count as
tries; one whose own tempo cannot be said stands at its neighbour's in the take.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from ...core.cell import Cell
from ...core.events import HIT, MISSED, NOISE, STRAY, WRONG, Repetition
from ...core.picking import turns_round
from ..noise.passed_over import FULL, NOT_FULL, chances_full
from ..strokes.attack import HAMMERED, read_attacks, relative_attacks, usual_velocities
from .begun import BEGUN_DOWN, NOTHING, Begun, begun, directions_of
from .placed import placed
from .rungs import STEP
from .table import PLACES, Tries


def gather(reps: Sequence[Repetition], delay_known: bool = True) -> Tries | None:
    """The table of one sitting's repetitions of one cell; None where no repetition has a tempo to
    stand at."""
    if not reps:
        return None
    cell = reps[0].cell
    swaps, strings = turns_round(cell), len(cell.tuning)
    usual = usual_velocities(reps)
    full = (
        chances_full(reps)
        if any(extra.kind == NOISE for rep in reps for extra in rep.extras)
        else {}
    )
    directions = directions_of(reps)
    strokes = begun(directions)
    struck = read_attacks(reps, directions).struck
    picks = {(one.rep, one.slot): one.told for one in struck if one.told}
    if swaps:  # how the hand goes on tells a note left out, where velocities do not
        for told in directions:
            for note in told.strokes:
                if note.slot in told.not_picked:
                    picks.setdefault((note.rep, note.slot), HAMMERED)
    bags: dict[tuple[int, int, int, int], list[tuple[Repetition, float]]] = {}
    for rep, bpm in placed(reps):
        parity = 2 - rep.since_start % 2 if swaps else 0
        how = strokes.get(rep.rep, NOTHING).begun
        key = rep.take, parity, how, round(math.log(bpm) / STEP)
        bags.setdefault(key, []).append((rep, bpm))
    if not bags:
        return None
    empty = {name: np.zeros((strings, len(cell.slots))) for name in PLACES}
    rows = [_row(cell, bag, usual, full, strokes, picks, empty) for bag in bags.values()]
    columns = {name: np.array([row[name] for row in rows]) for name in rows[0]}
    keys = np.array(list(bags))
    return Tries(
        slot_strings=tuple(slot.string for slot in cell.slots),
        take=keys[:, 0],
        parity=keys[:, 1],
        begun=keys[:, 2],
        sitting=np.zeros(len(rows), int),
        day=np.zeros(len(rows), int),
        delay_known=np.full(len(rows), int(delay_known)),
        **columns,
        **empty,
    )


def _row(
    cell: Cell,
    bag: list[tuple[Repetition, float]],
    usual: dict[int, float],
    full: dict[int, float],
    strokes: Mapping[int, Begun],
    picks: Mapping[tuple[int, int], str],
    places: dict[str, np.ndarray],
) -> dict[str, float | np.ndarray]:
    """Sums and counts of one row's repetitions; where noise came is added to ``places``.

    usual: velocity by string; full: by id of a note, the chance that it was a full one;
    picks: by repetition and slot, whether it was told to be picked.
    """
    slots, strings = len(cell.slots), len(cell.tuning)
    heard, missed, wrong, broken = (np.zeros(slots) for _ in range(4))
    timing, timing_n, attack, attack_n = (np.zeros(slots) for _ in range(4))
    stroked, unpicked = (np.zeros(slots) for _ in range(2))
    noise, struck, brushed = (np.zeros(strings) for _ in range(3))
    downs, ups = np.zeros(slots), np.zeros(slots)
    stray = cv = cv_n = went_on = took_up = 0.0
    for rep, _ in bag:
        told = strokes.get(rep.rep, NOTHING)
        went_on += told.went_on
        took_up += told.took_up
        for number, stroke in told.strokes.items():
            (downs if stroke == BEGUN_DOWN else ups)[number - 1] += 1
        for slot in rep.slots:
            i = slot.slot - 1
            heard[i] += 1
            stroked[i] += (rep.rep, slot.slot) in picks
            unpicked[i] += picks.get((rep.rep, slot.slot)) == HAMMERED
            missed[i] += slot.verdict == MISSED
            wrong[i] += slot.verdict == WRONG
            if slot.verdict == HIT and slot.deviation_ms is not None:
                timing[i] += slot.deviation_ms - told.owed.get(slot.slot, (0.0, 0.0))[1]
                timing_n[i] += 1
        for number, value in relative_attacks(rep, usual, told.owed).items():
            attack[number - 1] += value
            attack_n[number - 1] += 1
        if not rep.complete:
            broken[min(len(rep.slots), slots - 1)] += 1
        loudest: dict[int, float] = {}
        for extra in rep.extras:
            if extra.kind == NOISE:
                string = extra.note.string
                loudest[string] = max(full.get(id(extra.note), 0.5), loudest.get(string, 0.0))
        for string, chance in loudest.items():
            noise[string - 1] += 1
            struck[string - 1] += chance >= FULL
            brushed[string - 1] += chance <= NOT_FULL
        stray += any(extra.kind == STRAY for extra in rep.extras)
        for extra in rep.extras:
            if extra.kind in (NOISE, STRAY):
                at = _slot_at(rep, extra.note.onset_s)
                where = extra.note.string - 1, at - 1
                places["noise_at" if extra.kind == NOISE else "stray_at"][where] += 1
                if extra.kind == NOISE and at in told.strokes:
                    stroke = told.strokes[at]
                    places["noise_down" if stroke == BEGUN_DOWN else "noise_up"][where] += 1
        if rep.evenness.cv_pct is not None:
            cv += rep.evenness.cv_pct
            cv_n += 1
    count = len(bag)
    return {
        "minute": sum(rep.start_s for rep, _ in bag) / count / 60.0,
        "bpm": sum(bpm for _, bpm in bag) / count,
        "n": float(count),
        "complete": float(sum(rep.complete for rep, _ in bag)),
        "clean": float(sum(rep.clean for rep, _ in bag)),
        "heard": heard,
        "missed": missed,
        "wrong": wrong,
        "broken": broken,
        "noise": noise,
        "struck": struck,
        "brushed": brushed,
        "stray": stray,
        "cv_sum": cv,
        "cv_n": cv_n,
        "timing_sum": timing,
        "timing_n": timing_n,
        "attack_sum": attack,
        "attack_n": attack_n,
        "stroked": stroked,
        "unpicked": unpicked,
        "to_pick": float(count) * np.array([slot.picked for slot in cell.slots]),
        "went_on": went_on,
        "took_up": took_up,
        "downs": downs,
        "ups": ups,
    }


def _slot_at(rep: Repetition, onset_s: float) -> int:
    """The slot in whose place something sounded: the last one begun by then."""
    at = rep.slots[0].slot if rep.slots else 1
    for slot in rep.slots:
        begun = slot.note.onset_s if slot.note is not None else slot.expected_s
        if begun is not None and begun <= onset_s + 1e-9:
            at = slot.slot
    return at
