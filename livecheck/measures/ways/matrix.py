"""The features of many repetitions as a matrix in which no way of playing has to be a straight
line.

Lateness is counted off an even line of the repetition's own, and loudness off its own middle: what
is left lives in fewer dimensions than there are notes (``contrasts``). An *atom* is what one thing
alone would do to the whole row (one note 1 ms later, one note louder), so that a difference of many
numbers can be told as the one or two things that make it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .features import Features, Figure

TIMING, LOUDNESS, RING, SEAM = "timing", "loudness", "ring", "seam"
NOISE, CUT, BEND = "noise", "cut_off", "bend"

_LEAST_SPREAD = {TIMING: 0.5, SEAM: 1.0, LOUDNESS: 0.01, RING: 2.0}
_FEWEST = 0.3  # of the repetitions in which a column must have been heard
_FAR = 4.0  # spreads beyond which a value is held back
_FEWEST_TOUCHES = 8
_FEWEST_STEPS = 60


@dataclass(frozen=True, slots=True)
class Atom:
    """One thing that may differ. ``slot`` from 1, ``string`` from 1, None where it has none."""

    what: str
    slot: int | None = None
    string: int | None = None


@dataclass(frozen=True, slots=True)
class Matrix:
    """``y`` (N, D): what was heard, in units of its own scatter; ``known`` (N, D) is False where a
    value was only filled in. ``atoms``: each with its row of ``shape`` (A, D), the effect of one
    unit (1 ms, 1 of log velocity). ``hits`` (N, B): things that happen or not, NaN where it cannot
    be said, each named in ``things``."""

    y: np.ndarray
    known: np.ndarray
    atoms: tuple[Atom, ...]
    shape: np.ndarray
    hits: np.ndarray
    things: tuple[Atom, ...]


def contrasts(nuisance: np.ndarray) -> np.ndarray:
    """Orthonormal columns (P, P - rank) across which the nuisance (P, k) makes no difference.

    >>> contrasts(np.ones((3, 1))).shape
    (3, 2)
    """
    u, s, _ = np.linalg.svd(nuisance, full_matrices=True)
    return np.asarray(u[:, int((s > 1e-9 * s[0]).sum()) :])


def matrix_of(features: Features) -> Matrix:
    """All features of repetitions in one matrix, scaled and with gaps filled by what is usual."""
    figure = features.figure
    blocks, known, rows, atoms = [], [], [], []
    for make in (_timing, _seam, _loudness, _ringing):
        made = make(features, figure)
        if made is not None:
            y, told, effects, names = made
            blocks.append(y)
            known.append(told)
            rows.append(effects)
            atoms += names
    n = len(features)
    width = sum(block.shape[1] for block in blocks)
    shape = np.zeros((len(atoms), width))
    at = row = 0
    for effects in rows:
        shape[row : row + len(effects), at : at + effects.shape[1]] = effects
        row, at = row + len(effects), at + effects.shape[1]
    if atoms and atoms[0].what == TIMING and Atom(SEAM) in atoms:
        seam = atoms.index(Atom(SEAM))
        column = int(np.flatnonzero(shape[seam])[0])
        shape[: figure.slots, column] = _carried(figure) * shape[seam, column]
    y = np.concatenate(blocks, axis=1) if blocks else np.zeros((n, 0))
    told = np.concatenate(known, axis=1) if known else np.zeros((n, 0), bool)
    hits, things = _things(features)
    return Matrix(y, told, tuple(atoms), shape, hits, things)


_Block = tuple[np.ndarray, np.ndarray, np.ndarray, list[Atom]]


def _timing(features: Features, figure: Figure) -> _Block | None:
    """Deviations off the line through a repetition's own notes."""
    line = _line_of(figure)
    off = contrasts(line)
    late = features.late
    enough = (~np.isnan(late)).sum(axis=1) >= min(4, figure.slots)
    if enough.mean() < _FEWEST or off.shape[1] == 0:
        return None
    filled = _filled(late, enough, line, features.sitting)
    atoms = [Atom(TIMING, slot) for slot in range(1, figure.slots + 1)]
    return _scaled(features, filled @ off, enough, off, atoms, TIMING)


def _line_of(figure: Figure) -> np.ndarray:
    places = np.array(figure.starts, float)
    return np.stack([np.ones(len(places)), places], axis=1)


def _seam(features: Features, figure: Figure) -> _Block | None:
    told = ~np.isnan(features.seam)[:, None]
    if told.mean() < _FEWEST:
        return None
    y = np.where(told, features.seam[:, None], _usual(features.seam[:, None], features.sitting))
    return _scaled(features, y, told, np.ones((1, 1)), [Atom(SEAM)], SEAM)


def _carried(figure: Figure) -> np.ndarray:
    """By slot, ms that the seam moves where the note is 1 ms late in both repetitions: the line
    through them moves with it, at either end."""
    line = _line_of(figure)
    ends = np.array([[1.0, figure.starts[0]], [1.0, figure.steps + figure.starts[0]]])
    weights = ends @ np.linalg.pinv(line)
    return np.asarray(weights[0] - weights[1])


def _loudness(features: Features, figure: Figure) -> _Block | None:
    level = np.ones((figure.slots, 1))
    off = contrasts(level)
    enough = (~np.isnan(features.loud)).sum(axis=1) >= max(2, figure.slots // 2)
    if enough.mean() < _FEWEST or off.shape[1] == 0:
        return None
    y = _filled(features.loud, enough, level, features.sitting) @ off
    atoms = [Atom(LOUDNESS, slot) for slot in range(1, figure.slots + 1)]
    return _scaled(features, y, enough, off, atoms, LOUDNESS)


def _ringing(features: Features, figure: Figure) -> _Block | None:
    told = ~np.isnan(features.ring)
    columns = np.flatnonzero(told.mean(axis=0) >= _FEWEST)
    if not len(columns):
        return None
    y = features.ring[:, columns]
    some = told[:, columns]
    y = np.where(some, y, _usual(y, features.sitting))
    atoms = [Atom(RING, int(column) + 1) for column in columns]
    return _scaled(features, y, some, np.eye(len(columns)), atoms, RING)


def _filled(
    values: np.ndarray, enough: np.ndarray, nuisance: np.ndarray, sitting: np.ndarray
) -> np.ndarray:
    """Gaps filled by what is usual for the column, on the row's own line (or level)."""
    usual = np.nan_to_num(_usual(values, sitting))
    gaps = np.isnan(values)
    filled = np.where(gaps, usual, values)
    for at in np.flatnonzero(gaps.any(axis=1) & enough):
        some = ~gaps[at]
        own = np.linalg.lstsq(nuisance[some], (values[at] - usual[at])[some], rcond=None)[0]
        filled[at, ~some] += nuisance[~some] @ own
    filled[~enough] = usual[~enough]
    return filled


def _usual(values: np.ndarray, sitting: np.ndarray) -> np.ndarray:
    """By row, the median of its column in its sitting; of all sittings where there is none."""
    usual = np.empty_like(values)
    for number in np.unique(sitting):
        own = sitting == number
        for column in range(values.shape[1]):
            some = values[own, column]
            some = some[~np.isnan(some)]
            if not len(some):
                some = values[:, column][~np.isnan(values[:, column])]
            usual[own, column] = np.median(some) if len(some) else np.nan
    return usual


def _scaled(
    features: Features,
    y: np.ndarray,
    known: np.ndarray,
    effects: np.ndarray,
    atoms: list[Atom],
    what: str,
) -> _Block:
    """One scatter for the block, moving with the tempo: of what is left between neighbours in a
    take, which no course or day reaches."""
    told = known if known.ndim == 2 else np.repeat(known[:, None], y.shape[1], axis=1)
    step = np.diff(y, axis=0) / np.sqrt(2.0)
    near = (np.diff(features.take) == 0)[:, None] & told[1:] & told[:-1]
    size = np.array(
        [
            np.median(np.abs(step[near[:, column], column])) / 0.6745
            if near[:, column].any()
            else 1.0
            for column in range(y.shape[1])
        ]
    )
    size = np.maximum(size, _LEAST_SPREAD[what])
    x = np.log(features.bpm)
    pace = _course(x[1:], np.abs(step) / size, near)
    wide = np.exp(pace * (x - x.mean()))[:, None]
    if what == LOUDNESS:  # one rig presses velocities together, another spreads them
        wide = wide * _by_sitting(features.sitting, np.abs(step) / size, near)
    usual = _usual(y, features.sitting)
    scaled = np.where(told, (y - usual) / (size * wide), 0.0)
    return scaled, told, effects / size, atoms


def _course(x: np.ndarray, spread: np.ndarray, near: np.ndarray) -> float:
    """How log scatter goes with log tempo, the same for all columns of a block; held to +-1."""
    row, column = np.nonzero(near)
    if len(row) < 30:
        return 0.0
    value = np.log(np.maximum(spread[row, column], 0.05))
    at = x[row] - x[row].mean()
    return float(np.clip((at @ (value - value.mean())) / max(at @ at, 1e-9), -1.5, 1.5))


def _by_sitting(sitting: np.ndarray, spread: np.ndarray, near: np.ndarray) -> np.ndarray:
    """(N, 1) scatter of each sitting against that of all, held to what all have where it is
    short."""
    found = np.ones((len(sitting), 1))
    for number in np.unique(sitting):
        own = near & (sitting[1:] == number)[:, None]
        if own.sum() >= _FEWEST_STEPS:
            ratio = np.median(spread[own]) / 0.6745
            trust = own.sum() / (own.sum() + _FEWEST_STEPS)
            found[sitting == number] = max(float(ratio), 0.1) ** trust
    return found


def _things(features: Features) -> tuple[np.ndarray, tuple[Atom, ...]]:
    columns, things = [], []
    for what, values in ((NOISE, features.touched), (CUT, features.cut), (BEND, features.bent)):
        for at in range(values.shape[1]):
            told = ~np.isnan(values[:, at])
            hits = float(np.nansum(values[:, at]))
            if hits >= _FEWEST_TOUCHES and hits <= told.sum() - _FEWEST_TOUCHES:
                columns.append(values[:, at])
                slot = at + 1 if what == BEND else None
                things.append(Atom(what, slot, None if slot else at + 1))
    stacked = np.stack(columns, axis=1) if columns else np.zeros((len(features), 0))
    return stacked, tuple(things)
