"""What was heard of each repetition that may tell one way of playing from another.

A row a repetition: when and how loud each note came, how long a string that was left rang on, when
the next repetition began, which strings were touched. What could not be heard is NaN; nothing is
guessed here, and faults (missed and wrong notes) are no features: what failed is left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from ...core.cell import Cell
from ...core.events import HIT, NOISE, Note, Repetition
from ...core.picking import turns_round
from ..noise.passed_over import CUT_OFF, SILENT, read_passages
from ..review.placed import placed

BY_BEND = "bend"
_FARTHEST_STEPS = 0.5
"""The next repetition belongs to this one's end where it begins within half a step of where it was
due (as for complete repetitions, formats.md)."""
_FEWEST_ONSETS = 3


@dataclass(frozen=True, slots=True)
class Figure:
    """What the features are about: by slot its string, its place on the grid, and whether it can
    be sounded without the pick (its string sounded another fret just before)."""

    strings: int
    slot_strings: tuple[int, ...]
    starts: tuple[int, ...]
    steps: int
    slurred: tuple[bool, ...]

    @property
    def slots(self) -> int:
        return len(self.slot_strings)

    @property
    def leaves(self) -> tuple[bool, ...]:
        """By slot: the next note is on another string, so that this one may ring on."""
        after = (*self.slot_strings[1:], self.slot_strings[0])
        return tuple(a != b for a, b in zip(self.slot_strings, after))


def figure_of(cell: Cell) -> Figure:
    """A cell as the features see it."""
    slots = cell.slots
    before = (slots[-1], *slots[:-1])
    return Figure(
        len(cell.tuning),
        tuple(slot.string for slot in slots),
        tuple(slot.start for slot in slots),
        cell.steps,
        tuple(a.string == b.string and a.fret != b.fret for a, b in zip(slots, before)),
    )


@dataclass(frozen=True, slots=True)
class Features:
    """N repetitions, S slots, W strings (string 1 in column 0). All but the numbers may be NaN."""

    figure: Figure
    rep: np.ndarray  # (N,) as the session numbers them
    take: np.ndarray  # (N,) alike only for repetitions of one take
    sitting: np.ndarray  # (N,)
    day: np.ndarray  # (N,) day number, 0 where unknown
    minute: np.ndarray  # (N,) into the sitting
    bpm: np.ndarray  # (N,)
    begins: np.ndarray  # (N,) +1, -1: with which of two strokes it begins, where that turns; else 0
    clean: np.ndarray  # (N,) 1 or 0
    right: np.ndarray  # (N,) 1 where it is complete and every note was hit, touched strings or not
    late: np.ndarray  # (N, S) ms against the repetition's own line, as ``deviation_ms``
    seam: np.ndarray  # (N,) ms from where its line puts the next one to where the next one's lies
    loud: np.ndarray  # (N, S) log velocity as sent
    bent: np.ndarray  # (N, S) 1 where the note came by bend alone, 0 where it was struck
    ring: np.ndarray  # (N, S) ms that the string sounded on after the next one began
    touched: np.ndarray  # (N, W) 1 where the string made noise, else 0
    cut: np.ndarray  # (N, W) 1 where the string was ringing and was cut off, else 0

    def __len__(self) -> int:
        return len(self.rep)

    def where(self, mask: np.ndarray) -> Features:
        return replace(self, **{name: getattr(self, name)[mask] for name in COLUMNS})

    def of(self, sitting: int, day: int) -> Features:
        """The same as another sitting's, of another day."""
        n = len(self)
        return replace(self, sitting=np.full(n, sitting), day=np.full(n, day))


COLUMNS = tuple(field.name for field in fields(Features) if field.name != "figure")


def heard(reps: Sequence[Repetition], sitting: int = 0, day: int = 0) -> Features | None:
    """The features of one sitting's repetitions of a cell; None where none has a tempo."""
    if not reps:
        return None
    cell = reps[0].cell
    figure = figure_of(cell)
    bpm = _tempos(reps)
    kept = [at for at in range(len(reps)) if not math.isnan(bpm[at])]
    if not kept:
        return None
    n, slots = len(reps), figure.slots
    late = np.full((n, slots), np.nan)
    loud, bent, ring = (np.full((n, slots), np.nan) for _ in range(3))
    touched, cut = (np.full((n, figure.strings), np.nan) for _ in range(2))
    lines = [_own_line(rep, figure) for rep in reps]
    seam = np.full(n, np.nan)
    for at, rep in enumerate(reps):
        following = _following(reps, at)
        if following is not None:
            seam[at] = _seam(lines[at], lines[at + 1], figure)
        for slot in rep.slots:
            i, note = slot.slot - 1, slot.note
            if slot.verdict != HIT or note is None:
                continue
            if slot.deviation_ms is not None:
                late[at, i] = slot.deviation_ms
            bent[at, i] = note.by == BY_BEND
            if note.velocity:
                loud[at, i] = math.log(note.velocity)
            after = _after(rep, following, i)
            if figure.leaves[i] and after is not None and note.end_s is not None:
                ring[at, i] = 1000.0 * (note.end_s - after.corrected_s)
        if rep.complete:
            touched[at] = 0.0
        for extra in rep.extras:
            if extra.kind == NOISE and extra.note.string <= figure.strings:
                touched[at, extra.note.string - 1] = 1.0
    _read_cuts(reps, cut)
    begins = _begins(reps) if turns_round(cell) else np.zeros(n)
    every = Features(
        figure,
        rep=np.array([rep.rep for rep in reps]),
        take=np.array([rep.take for rep in reps]),
        sitting=np.full(n, sitting),
        day=np.full(n, day),
        minute=np.array([rep.start_s / 60.0 for rep in reps]),
        bpm=bpm,
        begins=begins,
        clean=np.array([float(rep.clean) for rep in reps]),
        right=np.array(
            [float(rep.complete and all(slot.verdict == HIT for slot in rep.slots)) for rep in reps]
        ),
        late=late,
        seam=seam,
        loud=loud,
        bent=bent,
        ring=ring,
        touched=touched,
        cut=cut,
    )
    return every.where(np.array(kept))


def put_together(tables: Iterable[Features]) -> Features:
    """Features of several sittings under each other; their takes stay different.

    Raises ValueError where there is none, or where the figures differ.
    """
    some = list(tables)
    if not some or len({table.figure for table in some}) > 1:
        raise ValueError("no features to put together, or of different figures")
    columns = {name: np.concatenate([getattr(table, name) for table in some]) for name in COLUMNS}
    columns["take"] = np.unique(
        np.stack(
            [
                np.concatenate([np.full(len(table), i) for i, table in enumerate(some)]),
                columns["take"],
            ]
        ),
        axis=1,
        return_inverse=True,
    )[1].ravel()
    return Features(some[0].figure, **columns)


# ----------------------------------------------------------------------------------- from the notes


def _tempos(reps: Sequence[Repetition]) -> np.ndarray:
    """Where each repetition stands; NaN in a take without any tempo."""
    at = {id(rep): bpm for rep, bpm in placed(reps)}
    return np.array([at.get(id(rep), np.nan) for rep in reps])


def _following(reps: Sequence[Repetition], at: int) -> Repetition | None:
    if at + 1 < len(reps) and reps[at].complete and reps[at + 1].take == reps[at].take:
        return reps[at + 1]
    return None


def _after(rep: Repetition, following: Repetition | None, index: int) -> Note | None:
    """The note that answers the next slot, over the seam too."""
    if index + 1 < len(rep.cell.slots):
        return rep.slots[index + 1].note if index + 1 < len(rep.slots) else None
    return following.slots[0].note if following is not None and following.slots else None


def _own_line(rep: Repetition, figure: Figure) -> tuple[float, float] | None:
    """Slope (ms a grid step) and beginning (ms) of the line through a repetition's own notes."""
    if rep.pause_s > 0.0:
        return None
    hits = [slot for slot in rep.slots if slot.verdict == HIT and slot.note is not None]
    if len(hits) < _FEWEST_ONSETS:
        return None
    places = np.array([figure.starts[slot.slot - 1] for slot in hits], float)
    onsets = np.array([slot.note.corrected_s for slot in hits if slot.note is not None])
    return _line(places, 1000.0 * onsets)


def _seam(
    line: tuple[float, float] | None, following: tuple[float, float] | None, figure: Figure
) -> float:
    if line is None or following is None:
        return math.nan
    first = figure.starts[0]
    due = line[1] + line[0] * (figure.steps + first)
    gap = following[1] + following[0] * first - due
    return gap if abs(gap) < _FARTHEST_STEPS * line[0] else math.nan


def _line(x: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    away = x - x.mean()
    slope = float(away @ y) / float(away @ away)
    return slope, float(y.mean()) - slope * float(x.mean())


def _begins(reps: Sequence[Repetition]) -> np.ndarray:
    """+1 and -1 in turn, from where play last began afresh."""
    return np.array([1.0 if rep.since_start % 2 else -1.0 for rep in reps])


def _read_cuts(reps: Sequence[Repetition], cut: np.ndarray) -> None:
    row = {rep.rep: at for at, rep in enumerate(reps)}
    for passage in read_passages(reps):
        at, column = row[passage.rep], passage.string - 1
        if passage.kind == CUT_OFF:
            cut[at, column] = 1.0
        elif passage.kind == SILENT and cut[at, column] != 1.0:
            cut[at, column] = 0.0
