"""Repetitions as a table that statistics can be done on.

A row holds the repetitions of one take at (nearly) one tempo: sums and counts, never the
repetitions themselves, so that a year of practice stays small and rows of many sessions are simply
put together. Only complete and broken-off repetitions count as tries; one whose own tempo cannot be
said stands at its neighbour's in the take.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from statistics import median
from typing import Any

import numpy as np

from ...core.cell import Cell
from ...core.events import HIT, MISSED, NOISE, STRAY, WRONG, Repetition
from ...core.picking import turns_round
from ..noise.passed_over import FULL, NOT_FULL, chances_full
from ..strokes.attack import HAMMERED, read_attacks
from .begun import BEGUN_DOWN, NOTHING, Begun, begun, directions_of
from .placed import placed

STEP = math.log(1.01)
"""Tempos within about one per cent share a row."""


@dataclass(frozen=True, slots=True)
class Tries:
    """R rows; S slots, numbered from 1 in column 0; W strings, string 1 in column 0. Counts are
    repetitions."""

    slot_strings: tuple[int, ...]
    take: np.ndarray  # (R,) number of the take, alike only for rows of one take
    sitting: np.ndarray  # (R,) number of the sitting
    day: np.ndarray  # (R,) day number, 0 where unknown
    minute: np.ndarray  # (R,) minutes into the sitting
    parity: np.ndarray  # (R,) 1 odd or 2 even since play began, where the plan turns round; else 0
    begun: np.ndarray  # (R,) 1 with a down stroke, 2 with an up stroke, as played; 0 untold
    bpm: np.ndarray  # (R,) mean tempo
    n: np.ndarray  # (R,) tries
    complete: np.ndarray  # (R,)
    clean: np.ndarray  # (R,)
    heard: np.ndarray  # (R, S) tries that listed the slot
    missed: np.ndarray  # (R, S)
    wrong: np.ndarray  # (R, S)
    broken: np.ndarray  # (R, S) broke off before sounding this slot
    noise: np.ndarray  # (R, W) tries in which the string made noise
    struck: np.ndarray  # (R, W) of these, with a full note
    brushed: np.ndarray  # (R, W) with soft short sounds only; the rest cannot be told
    stray: np.ndarray  # (R,) tries with a stray sound
    cv_sum: np.ndarray  # (R,) sum of evenness in per cent
    cv_n: np.ndarray  # (R,)
    timing_sum: np.ndarray  # (R, S) sum of deviations in ms over hit slots
    timing_n: np.ndarray  # (R, S)
    attack_sum: np.ndarray  # (R, S) sum of relative attacks over hit slots with a velocity
    attack_n: np.ndarray  # (R, S)
    stroked: np.ndarray  # (R, S) of the hits, told to be picked or not
    unpicked: np.ndarray  # (R, S) of these, not picked
    delay_known: np.ndarray  # (R,) 1 where the rig's conversion delay was known, else 0
    went_on: np.ndarray  # (R,) tries that surely went on alternating over the seam before them
    took_up: np.ndarray  # (R,) that surely took up the stroke which the one before began with
    downs: np.ndarray  # (R, S) notes told to be down strokes
    ups: np.ndarray  # (R, S)
    noise_at: np.ndarray  # (W, S) where in the figure each string's noise came, over all rows
    stray_at: np.ndarray  # (W, S)
    noise_down: np.ndarray  # (W, S) of noise_at, where the slot's note was a down stroke
    noise_up: np.ndarray  # (W, S)

    @property
    def reps(self) -> int:
        return int(self.n.sum())

    @property
    def takes(self) -> int:
        return len(np.unique(self.take))

    def where(self, mask: np.ndarray) -> Tries:
        """Only the rows of a mask (where in the figure noise came stays that of all rows)."""
        rows = {name: getattr(self, name)[mask] for name in ROW_COLUMNS}
        return replace(self, **rows)


PLACES = ("noise_at", "stray_at", "noise_down", "noise_up")
ROW_COLUMNS = tuple(f.name for f in fields(Tries) if f.name not in ("slot_strings", *PLACES))

MEANS = ("bpm", "minute", "day", "delay_known")  # of repetitions; the other columns are sums


def gather(
    reps: Sequence[Repetition], sitting: int = 0, day: int = 0, delay_known: bool = True
) -> Tries | None:
    """The table of one sitting's repetitions of one cell; None where no repetition has a tempo to
    stand at."""
    if not reps:
        return None
    cell = reps[0].cell
    swaps, strings = turns_round(cell), len(cell.tuning)
    usual = _usual_velocity(reps)
    full = (
        chances_full(reps)
        if any(extra.kind == NOISE for rep in reps for extra in rep.extras)
        else {}
    )
    directions = directions_of(reps)
    strokes = begun(directions)
    struck = read_attacks(reps, directions).struck
    picks = {(one.rep, one.slot): one.told for one in struck if one.told}
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
        sitting=np.full(len(rows), sitting),
        day=np.full(len(rows), day),
        delay_known=np.full(len(rows), int(delay_known)),
        **columns,
        **empty,
    )


def together(tables: Iterable[Tries]) -> Tries:
    """Put tables of the same cell under each other; takes of different tables stay different takes.

    Raises ValueError where the cells do not have the same slots or there is no table at all.
    """
    some = list(tables)
    if not some:
        raise ValueError("no tries to put together")
    if (
        len({table.slot_strings for table in some}) > 1
        or len({table.noise.shape[1] for table in some}) > 1
    ):
        raise ValueError("tries of different cells cannot be put together")
    offset, takes = 0, []
    for table in some:
        numbers = np.unique(table.take, return_inverse=True)[1]
        takes.append(numbers + offset)
        offset += int(numbers.max(initial=-1)) + 1
    columns = {
        name: np.concatenate([getattr(table, name) for table in some]) for name in ROW_COLUMNS
    }
    columns["take"] = np.concatenate(takes)
    return Tries(
        slot_strings=some[0].slot_strings,
        **columns,
        **{name: np.sum([getattr(table, name) for table in some], axis=0) for name in PLACES},
    )


def fewer_rows(tries: Tries, most: int = 1200) -> Tries:
    """The same counts in no more than about ``most`` rows, so that many years can be drawn again in
    a moment.

    A take's rows at one rung of the ladder become one. Where that is not enough, neighbouring takes
    count as one: sharing their fate is taken to reach further, never less far.
    """
    if len(tries.bpm) <= most:
        return tries
    steps = rungs(tries.bpm, tries.n)
    of_row = _blocks(tries, steps, most)
    kind = tries.parity * 3 + tries.begun
    codes, at = np.unique((of_row * 9 + kind) * len(steps.bpm) + steps.of_row, return_inverse=True)
    block, kind = np.divmod(codes // len(steps.bpm), 9)
    sums: dict[str, Any] = {}
    for name in ROW_COLUMNS:
        column = getattr(tries, name)
        sums[name] = _added(column * tries.n if name in MEANS else column, at, len(codes))
    for name in MEANS:
        sums[name] = sums[name] / sums["n"]
    sums |= {
        "take": block,
        "sitting": block,
        "parity": kind // 3,
        "begun": kind % 3,
        "day": np.round(sums["day"]).astype(int),
        "delay_known": (sums["delay_known"] > 0.999).astype(int),
    }
    return replace(tries, **sums)


def _blocks(tries: Tries, steps: Rungs, most: int) -> np.ndarray:
    """The number of each row's block of takes: as many blocks as keep within ``most`` rows."""
    takes, of_row = np.unique(tries.take, return_inverse=True)
    at_rung = np.unique(of_row * len(steps.bpm) + steps.of_row)
    take, rung = np.divmod(at_rung, len(steps.bpm))
    most //= len(np.unique(tries.parity * 3 + tries.begun))
    blocks = len(takes)
    while True:
        block = np.arange(len(takes)) * blocks // len(takes)
        rows = len(np.unique(block[take] * len(steps.bpm) + rung))
        if rows <= most or blocks * len(steps.bpm) <= most:
            return block[of_row]
        blocks = max(blocks * most // rows, most // len(steps.bpm))


def _added(column: np.ndarray, group: np.ndarray, groups: int) -> np.ndarray:
    """Rows of a column (R,) or (R, anything) added up by group, a column at a time."""
    if column.ndim == 1:
        return np.bincount(group, column, groups)
    each = [np.bincount(group, column[:, i], groups) for i in range(column.shape[1])]
    return np.stack(each, axis=1)


@dataclass(frozen=True, slots=True)
class Rungs:
    """Tempos sorted into the steps of the ladder that was played."""

    of_row: np.ndarray  # (R,) rung of each row, from 0
    bpm: np.ndarray  # (rungs,) mean tempo, rising

    def sums(self, column: np.ndarray) -> np.ndarray:
        """A column (R,) or (R, anything) added up by rung."""
        return _added(column, self.of_row, len(self.bpm))


WIDEST = 0.055
"""No step of the ladder is wider than this (in log tempo), so that nothing stands more than 3 %
from where it was played."""


def rungs(
    bpm: np.ndarray,
    n: np.ndarray,
    most: int = 24,
    least: int = 1,
    near: float = 0.018,
    widest: float = WIDEST,
) -> Rungs:
    """Sort rows by tempo into rungs: neighbours closer than ``near`` (a share of the tempo) come
    together, then the closest until there are no more than ``most`` and none has fewer than
    ``least`` tries; but none wider than ``widest``, so there may be more, and poorer ones.
    """
    bins, at = np.unique(np.round(np.log(bpm) / STEP).astype(int), return_inverse=True)
    tries = np.bincount(at, weights=n)
    total = np.bincount(at, weights=n * bpm)
    low, high = np.full(len(bins), np.inf), np.zeros(len(bins))
    np.minimum.at(low, at, bpm)
    np.maximum.at(high, at, bpm)
    group = list(range(len(bins)))  # first bin of each group
    tries_of, total_of = list(tries), list(total)
    lows, highs = list(low), list(high)
    while len(group) > 1:
        mean = [t / max(k, 1e-9) for t, k in zip(total_of, tries_of)]
        gaps = [
            mean[i + 1] / mean[i] - 1.0 if highs[i + 1] <= lows[i] * (1.0 + widest) else math.inf
            for i in range(len(group) - 1)
        ]
        closest = min(range(len(gaps)), key=gaps.__getitem__)
        poor = [
            i
            for i in range(len(group))
            if tries_of[i] < least and min(gaps[max(i - 1, 0) : i + 1], default=0.0) < math.inf
        ]
        if gaps[closest] == math.inf:
            break
        if len(group) > most or gaps[closest] < near:
            join = closest
        elif poor:
            poorest = min(poor, key=tries_of.__getitem__)
            sides = [i for i in (poorest - 1, poorest) if 0 <= i < len(gaps)]
            join = min(sides, key=gaps.__getitem__)
        else:
            break
        tries_of[join] += tries_of.pop(join + 1)
        total_of[join] += total_of.pop(join + 1)
        highs[join] = highs.pop(join + 1)
        lows.pop(join + 1)
        group.pop(join + 1)
    of_bin = np.searchsorted(np.array(group), np.arange(len(bins)), side="right") - 1
    return Rungs(of_bin[at], np.array([t / max(k, 1e-9) for t, k in zip(total_of, tries_of)]))


# ----------------------------------------------------------------------------------- from the notes


def _usual_velocity(reps: Sequence[Repetition]) -> dict[int, float]:
    """The median velocity that each string gives."""
    velocities: dict[int, list[int]] = {}
    for rep in reps:
        for slot in rep.slots:
            if slot.verdict == HIT and slot.note is not None and slot.note.velocity:
                velocities.setdefault(slot.note.string, []).append(slot.note.velocity)
    return {string: float(median(values)) for string, values in velocities.items()}


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
        attacks: dict[int, float] = {}
        for slot in rep.slots:
            i = slot.slot - 1
            heard[i] += 1
            stroked[i] += (rep.rep, slot.slot) in picks
            unpicked[i] += picks.get((rep.rep, slot.slot)) == HAMMERED
            missed[i] += slot.verdict == MISSED
            wrong[i] += slot.verdict == WRONG
            softer, later = told.owed.get(slot.slot, (0.0, 0.0))
            if slot.verdict == HIT and slot.deviation_ms is not None:
                timing[i] += slot.deviation_ms - later
                timing_n[i] += 1
            if (
                slot.verdict == HIT
                and slot.note is not None
                and slot.note.velocity
                and usual.get(slot.note.string)
            ):
                attacks[i] = slot.note.velocity / math.exp(softer) / usual[slot.note.string]
        middle = median(attacks.values()) if attacks else 1.0
        for i, value in attacks.items():
            attack[i] += value / middle
            attack_n[i] += 1
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
