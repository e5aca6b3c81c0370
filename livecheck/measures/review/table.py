"""Repetitions as a table that statistics can be done on.

A row holds the repetitions of one take at (nearly) one tempo: sums and counts, never the
repetitions themselves, so that a year of practice stays small and rows of many sessions are simply
put together. ``gather.py`` makes one of a sitting.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from .rungs import Rungs, added_up, rungs


@dataclass(frozen=True, slots=True, kw_only=True)
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
    to_pick: np.ndarray  # (R, S) tries in which it was planned to be
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
        sums[name] = added_up(column * tries.n if name in MEANS else column, at, len(codes))
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
