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

from ..stats import robust_sd
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
    """``y`` (N, D): what was heard, in units of its own scatter, 0 where ``known`` (N, D) is False.
    ``off`` (D, C): the contrasts in which it is judged; across ``free`` (D, F), orthonormal,
    nothing is. ``atoms``: each with its row of ``shape`` (A, D), the effect of one unit (1 ms, 1 of
    log velocity), and with ``pace`` (A,): how that effect goes with log tempo where the unit's does
    not. ``hits`` (N, B): things that happen or not, NaN where it cannot be said, each named in
    ``things``."""

    y: np.ndarray
    known: np.ndarray
    off: np.ndarray
    free: np.ndarray
    atoms: tuple[Atom, ...]
    shape: np.ndarray
    pace: np.ndarray
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
    """All features of repetitions in one matrix, scaled."""
    made = [
        block
        for make in (_timing, _seam, _loudness, _ringing)
        if (block := make(features, features.figure)) is not None
    ]
    n = len(features)
    atoms = [atom for block in made for atom in block.atoms]
    shape = _diagonal([block.effects for block in made])
    if made and made[0].atoms[0].what == TIMING and Atom(SEAM) in atoms:
        seam = atoms.index(Atom(SEAM))
        column = int(np.flatnonzero(shape[seam])[0])
        shape[: features.figure.slots, column] = _carried(features.figure) * shape[seam, column]
    hits, things = _things(features)
    return Matrix(
        np.concatenate([block.y for block in made], axis=1) if made else np.zeros((n, 0)),
        np.concatenate([block.known for block in made], axis=1) if made else np.zeros((n, 0), bool),
        _diagonal([block.off for block in made]),
        _diagonal([block.free for block in made]),
        tuple(atoms),
        shape,
        np.concatenate([np.full(len(block.atoms), block.pace) for block in made] or [np.zeros(0)]),
        hits,
        things,
    )


@dataclass(frozen=True, slots=True)
class _Block:
    """Columns of one kind: as in ``Matrix``; ``pace``: the same for all its atoms."""

    y: np.ndarray
    known: np.ndarray
    off: np.ndarray
    free: np.ndarray
    atoms: list[Atom]
    effects: np.ndarray
    pace: float


def _diagonal(parts: list[np.ndarray]) -> np.ndarray:
    """Matrices put along the diagonal of one."""
    out = np.zeros((sum(len(part) for part in parts), sum(part.shape[1] for part in parts)))
    row = column = 0
    for part in parts:
        out[row : row + len(part), column : column + part.shape[1]] = part
        row, column = row + len(part), column + part.shape[1]
    return out


def _timing(features: Features, figure: Figure) -> _Block | None:
    """Deviations off the line through a repetition's own notes."""
    atoms = [Atom(TIMING, slot) for slot in range(1, figure.slots + 1)]
    return _scaled(features, features.late, _line_of(figure), atoms, TIMING)


def _line_of(figure: Figure) -> np.ndarray:
    places = np.array(figure.starts, float)
    return np.stack([np.ones(len(places)), places], axis=1)


def _seam(features: Features, figure: Figure) -> _Block | None:
    return _scaled(features, features.seam[:, None], np.zeros((1, 0)), [Atom(SEAM)], SEAM)


def _carried(figure: Figure) -> np.ndarray:
    """By slot, ms that the seam moves where the note is 1 ms late in both repetitions: the line
    through them moves with it, at either end."""
    line = _line_of(figure)
    ends = np.array([[1.0, figure.starts[0]], [1.0, figure.steps + figure.starts[0]]])
    weights = ends @ np.linalg.pinv(line)
    return np.asarray(weights[0] - weights[1])


def _loudness(features: Features, figure: Figure) -> _Block | None:
    """Log velocities off the repetition's own level."""
    atoms = [Atom(LOUDNESS, slot) for slot in range(1, figure.slots + 1)]
    off = features.loud - usual(features.loud)
    some = (~np.isnan(off)).any(axis=1)
    level = np.zeros(len(features))
    level[some] = np.nanmedian(off[some], axis=1)
    values = features.loud - level[:, None]
    return _scaled(features, values, np.ones((figure.slots, 1)), atoms, LOUDNESS)


def _ringing(features: Features, figure: Figure) -> _Block | None:
    columns = np.flatnonzero((~np.isnan(features.ring)).mean(axis=0) >= _FEWEST)
    atoms = [Atom(RING, int(column) + 1) for column in columns]
    nothing = np.zeros((len(columns), 0))
    return _scaled(features, features.ring[:, columns], nothing, atoms, RING)


def usual(values: np.ndarray) -> np.ndarray:
    """(D,) median of each column; 0 where there is none."""
    return np.array(
        [np.median(some) if len(some := column[~np.isnan(column)]) else 0.0 for column in values.T]
    )


def _scaled(
    features: Features, values: np.ndarray, free: np.ndarray, atoms: list[Atom], what: str
) -> _Block | None:
    """One scatter for what is of one kind (each ring its own), moving with the tempo: of what is
    left between neighbours in a take, which no course or day reaches. None where too little was
    heard."""
    known = ~np.isnan(values)
    width = values.shape[1]
    if width <= free.shape[1] or known.mean() < _FEWEST:
        return None
    y = np.where(known, values - usual(values), 0.0)
    step = np.diff(y, axis=0) / np.sqrt(2.0)
    near = (np.diff(features.take) == 0)[:, None] & known[1:] & known[:-1]
    size = np.array(
        [
            robust_sd(step[near[:, column], column])
            if near[:, column].any()
            else _LEAST_SPREAD[what]
            for column in range(width)
        ]
    )
    if what != RING:
        size = np.full(width, np.median(size))
    size = np.maximum(size, _LEAST_SPREAD[what])
    x = np.log(features.bpm)
    pace = _course(x[1:], np.abs(step) / size, near)
    wide = np.exp(pace * (x - x.mean()))[:, None]
    if what == LOUDNESS:  # one rig presses velocities together, another spreads them
        wide = wide * _by_sitting(features.sitting, np.abs(step) / size, near)
    line = np.linalg.qr(free)[0] if free.shape[1] else free
    off = contrasts(free) if free.shape[1] else np.eye(width)
    return _Block(y / (size * wide), known, off, line, atoms, np.diag(1.0 / size), -pace)


def _course(x: np.ndarray, spread: np.ndarray, near: np.ndarray) -> float:
    """How log scatter goes with log tempo, the same for all columns of a block; held to +-1.5."""
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
            ratio = robust_sd(spread[own])
            trust = own.sum() / (own.sum() + _FEWEST_STEPS)
            found[sitting == number] = max(ratio, 0.1) ** trust
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
