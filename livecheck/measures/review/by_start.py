"""The same tempos begun with a down stroke and with an up stroke, as it was played.

Both kinds of repetition come in the same takes, so that a take's good or bad day is in both and
goes out of their difference. What is told of a string or of a note is told by the direction of the
stroke there: the direction follows from the beginning, and the beginning is known of each
repetition.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..stats import Z95, normal_cdf, student_t
from .begun import BEGUN_DOWN, BEGUN_UP
from .curve import fit_curve
from .limits import Limits, tempo_limits
from .rungs import Rungs, rungs
from .table import Tries

FEWEST, FEWEST_TAKES = 8, 4
"""Repetitions that each beginning needs; with fewer takes a take's part at one tempo is what has
its own luck (common practice, no source)."""

FEWEST_FAULTS = 6
"""Faults of a note, or repetitions with a string's sound, before it is asked whether they go with
the direction (common practice, no source)."""

FALSE = 0.02
"""Of all reviews in which nothing goes with the direction, the share in which some string or note
is said to, about."""


@dataclass(frozen=True, slots=True)
class Difference:
    """Share of the repetitions begun with a down stroke less that of those begun with an up stroke,
    with its interval; ``error`` in standard deviations' worth of t."""

    share: float
    low: float
    high: float
    error: float
    takes: int

    @property
    def surely(self) -> bool:
        return self.low > 0.0 or self.high < 0.0


@dataclass(frozen=True, slots=True)
class ByStroke:
    """A fault that goes with the direction of a stroke: a note that fails, or a string that sounds
    at a note (between it and the next one). ``share``: of the notes with that stroke; ``other``: of
    those with the other one."""

    what: str  # "fails" or "noise"
    slot: int
    string: int
    stroke: str  # "down" or "up"
    share: float
    other: float
    low: float  # of the difference, by repetitions
    high: float


@dataclass(frozen=True, slots=True)
class ByStart:
    """Limits of the repetitions begun with either stroke, their clean shares' difference, and what
    goes with a stroke. ``cv_pct``: evenness of both."""

    down: Limits
    up: Limits
    difference: Difference
    reps: tuple[int, int]
    cv_pct: tuple[float | None, float | None]
    strokes: tuple[ByStroke, ...]


def by_start(tries: Tries) -> ByStart | None:
    """Both beginnings of a table of tries; None where too few of either are told, or where they
    share no tempo."""
    down, up = _both(tries)
    difference = paired(down, up)
    if difference is None:
        return None
    return ByStart(
        tempo_limits(down),
        tempo_limits(up),
        difference,
        (down.reps, up.reps),
        (_cv(down), _cv(up)),
        tuple(_by_stroke(tries, down, up)),
    )


def start_difference(tries: Tries) -> tuple[Difference, tuple[int, int]] | None:
    """The difference alone, as ``by_start`` tells it, with the repetitions of both beginnings."""
    down, up = _both(tries)
    difference = paired(down, up)
    return None if difference is None else (difference, (down.reps, up.reps))


def _both(tries: Tries) -> tuple[Tries, Tries]:
    return tries.where(tries.begun == BEGUN_DOWN), tries.where(tries.begun == BEGUN_UP)


def paired(first: Tries, second: Tries) -> Difference | None:
    """The clean share of the first less that of the second at equal tempo, weighted as Mantel and
    Haenszel do; None where they share too little.

    What a take's luck does to both goes out. The interval counts takes by how far both lie off
    their own curves, less one the other, and is never narrower than chance makes it.
    """
    if min(first.reps, second.reps) < FEWEST:
        return None
    groups = first, second
    every = rungs(np.concatenate([first.bpm, second.bpm]), np.concatenate([first.n, second.n]))
    cut = len(first.bpm)
    parts = Rungs(every.of_row[:cut], every.bpm), Rungs(every.of_row[cut:], every.bpm)
    n = [part.sums(group.n) for part, group in zip(parts, groups)]
    k = [part.sums(group.clean) for part, group in zip(parts, groups)]
    both = (n[0] > 0) & (n[1] > 0)
    if min(float(one[both].sum()) for one in n) < FEWEST:
        return None
    weight = np.where(both, n[0] * n[1] / np.maximum(n[0] + n[1], 1.0), 0.0)
    weight /= weight.sum()
    share = float(weight @ (k[0] / np.maximum(n[0], 1.0) - k[1] / np.maximum(n[1], 1.0)))
    chance_alone, off = 0.0, []
    for sign, group, part, of in zip((1.0, -1.0), groups, parts, n):
        chance = _curve(group, part, every.bpm)
        p = np.clip(chance, 1.0 / (of.sum() + 2.0), 1.0 - 1.0 / (of.sum() + 2.0))
        chance_alone += float(weight**2 @ (p * (1.0 - p) / np.maximum(of, 1.0)))
        each = (weight / np.maximum(of, 1.0))[part.of_row]
        off.append(sign * each * (group.clean - group.n * chance[part.of_row]))
    take = np.concatenate([first.take, second.take])
    if len(np.unique(take)) < FEWEST_TAKES:
        take = np.unique(np.stack([take, every.of_row]), axis=1, return_inverse=True)[1].ravel()
    unit = np.unique(take, return_inverse=True)[1]
    own = np.bincount(unit, np.concatenate(off))
    takes = float(np.sum(own**2)) ** 2 / max(float(np.sum(own**4)), 1e-30)
    luck = float(np.sum(own**2)) * len(own) / max(len(own) - 1.0, 1.0)
    free = max(takes - 1.0, 3.0) if luck > chance_alone else 60.0
    error = max(luck, chance_alone) ** 0.5 * student_t(free) / Z95
    reach = Z95 * error
    return Difference(
        share, max(share - reach, -1.0), min(share + reach, 1.0), error, int(unit.max()) + 1
    )


def _curve(group: Tries, part: Rungs, bpm: np.ndarray) -> np.ndarray:
    """The chance at each tempo by the group's own fitted curve."""
    n, k = part.sums(group.n), part.sums(group.clean)
    tried = n > 0
    if tried.sum() > 1:
        return fit_curve(bpm[tried], k[tried], n[tried])[0].chance(bpm)
    return np.full(len(bpm), k.sum() / n.sum())


def _cv(tries: Tries) -> float | None:
    count = float(tries.cv_n.sum())
    return float(tries.cv_sum.sum()) / count if count else None


def _by_stroke(tries: Tries, down: Tries, up: Tries) -> list[ByStroke]:
    """Notes and strings whose faults surely go with the direction, the clearest first."""
    asked: list[tuple[float, ByStroke]] = []
    failed = tries.missed + tries.wrong
    able = [("fails", at) for at in np.flatnonzero(failed.sum(axis=0) >= FEWEST_FAULTS)]
    able += [("noise", at) for at in np.flatnonzero(tries.noise.sum(axis=0) >= FEWEST_FAULTS)]
    for what, at in able:
        sides = [
            replace(one, clean=(one.missed + one.wrong if what == "fails" else one.noise)[:, at])
            for one in (down, up)
        ]
        difference = paired(sides[0], sides[1])
        if difference is None:
            continue
        found = _found(tries, down, up, what, int(at), difference)
        sure = abs(difference.share) / max(difference.error, 1e-9)
        if found is not None and sure > _deviate(FALSE / len(able)):
            asked.append((sure, found))
    return [one for _, one in sorted(asked, key=lambda pair: -pair[0])]


def _found(
    tries: Tries, down: Tries, up: Tries, what: str, at: int, difference: Difference
) -> ByStroke | None:
    """The fault with the stroke at its note; None where that does not follow from the beginning."""
    slot, string = at, tries.slot_strings[at] if what == "fails" else at + 1
    if what == "noise":
        place = tries.noise_down[at] + tries.noise_up[at]
        if not place.any():
            return None
        slot = int(place.argmax())
    begun_down = down.downs[:, slot].sum() - down.ups[:, slot].sum()
    begun_up = up.ups[:, slot].sum() - up.downs[:, slot].sum()
    if begun_down * begun_up <= 0.0:  # alike in both beginnings
        return None
    shares = [
        float((one.missed + one.wrong if what == "fails" else one.noise)[:, at].sum() / one.n.sum())
        for one in (down, up)
    ]
    more = 0 if difference.share > 0 else 1
    same = begun_down > 0  # the note has the stroke that its repetition begins with
    stroke = ("down", "up")[more if same else 1 - more]
    low, high = sorted((abs(difference.low), abs(difference.high)))
    if not difference.surely:
        low = 0.0
    return ByStroke(what, slot + 1, string, stroke, shares[more], shares[1 - more], low, high)


def _deviate(share: float) -> float:
    """The normal deviate beyond which, on either side, this share lies."""
    low, high = 0.0, 9.0
    for _ in range(50):
        middle = (low + high) / 2.0
        low, high = (middle, high) if 2.0 * normal_cdf(-middle) > share else (low, middle)
    return low
