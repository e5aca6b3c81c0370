"""First to go: the one note, or the one string's noise, that fails first and most up to the break.

Counted is what fails where the clean share falls: from the first tempo at which it surely has begun
to fall up to the first at or beyond the break, over what fails slower. Takes are drawn again, and
so are the counts themselves, since few takes drawn again vary too little; told is only what fails
a third as often again as its runner-up in nine of ten draws of both. Everywhere else no one note
goes first, and that is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...core.plain_text import joined
from .curve import fit_curve
from .draws import seeded
from .limits import Limits, Standing
from .table import Tries

RISE = 0.1
"""How far above its level at slow tempos a fault has to rise: one repetition in ten, as with the
secure tempo; half of its whole rise where that is less."""

SURE = 0.9
MARGIN = 1.3
"""How much more often than its runner-up it has to fail."""

FEWEST_FAULTS = 4
FALLEN = 0.04
"""What the clean share has to be below its best before it counts as falling."""

NOISE = "noise"
_DRAWS = 1000


@dataclass(frozen=True, slots=True)
class FirstToGo:
    """What gives way first, from which tempo on, and the chance that it is this one."""

    slot: int
    string: int
    fault: str  # "missed", "wrong", "noise", "stray" or "broken"
    from_bpm: float
    chance: float = 1.0


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A note's faults, a string's noise or stray sounds, per row."""

    name: str
    slot: int
    string: int
    fault: str
    hits: np.ndarray
    of: np.ndarray


def first_to_go(
    tries: Tries,
    stands: Standing,
    limits: Limits,
    leave_out: tuple[float, float] | None = None,
) -> tuple[FirstToGo | None, str | None]:
    """What gives way first in a table of tries; else None, and why.

    leave_out: an awkward range, whose faults say nothing about what a rising tempo does.
    """
    if limits.band is None:
        return None, "one tempo does not say what goes first"
    falling, slow, upto = _regions(stands, limits)
    if leave_out is not None:
        outside = (tries.bpm < leave_out[0] - 1e-9) | (tries.bpm > leave_out[1] + 1e-9)
        falling, slow = falling & outside, slow & outside
    if not falling.any():
        return None, "nothing fails more often as it gets faster"
    candidates = _candidates(tries)
    if not candidates:
        return None, "what spoils it as it gets faster is no note and no string"
    excess, by_counts, by_takes = _drawn(tries, candidates, falling, slow)
    order = np.argsort(-excess, kind="stable")
    lead = candidates[int(order[0])]
    if excess[order[0]] < FEWEST_FAULTS:
        return None, "too little fails up to the break to say which note goes first"
    chance = min(_leads(by_counts, int(order[0])), _leads(by_takes, int(order[0])))
    if chance < SURE:
        return None, _alike(candidates, order, excess)
    early = _early(stands, limits, falling)
    if early.any():
        sooner, counted, taken = _drawn(tries, candidates, early, slow)
        other = int(np.argmax(sooner))
        if other != order[0] and sooner[other] >= FEWEST_FAULTS:
            ahead = (part[:, other] > part[:, order[0]] for part in (counted, taken))
            if min(float(np.mean(part)) for part in ahead) > 0.8:
                return None, (
                    f"{candidates[other].name} fails first, but {lead.name} most often up to "
                    "the break"
                )
    at = _from(stands, lead, upto)
    return FirstToGo(lead.slot, lead.string, lead.fault, at, min(chance, 0.999)), None


def _regions(stands: Standing, limits: Limits) -> tuple[np.ndarray, np.ndarray, float]:
    """Rows where the clean share falls up to the break, rows slower than these, and up to which
    tempo is told."""
    bpm, band = stands.rungs.bpm, limits.band
    assert band is not None
    chance = np.interp(bpm, band.bpm, band.chance)
    fallen = chance < float(band.chance.max()) - FALLEN
    end = len(bpm) - 1
    if limits.broken.bpm is not None:
        end = min(int(np.searchsorted(bpm, limits.broken.bpm)), end)
    elif limits.broken.status == "below_range":
        end = 0
        fallen[0] = True
    if (
        limits.broken.status == "above_range"
        and np.interp(bpm[end], band.bpm, band.fallen) < FALLEN / 2.0
    ):
        fallen[:] = False  # it may as well not fall at all
    at = np.arange(len(bpm))
    begin = int(np.argmax(fallen)) if fallen.any() else len(bpm)
    begin = min(begin, end) if fallen.any() else begin
    rung = stands.rungs.of_row
    upto = limits.broken.bpm if limits.broken.bpm is not None else float(bpm[end])
    return ((at >= begin) & (at <= end))[rung], (at < begin)[rung], float(upto)


def _early(stands: Standing, limits: Limits, falling: np.ndarray) -> np.ndarray:
    """Of the rows where it falls those where most is still clean."""
    band = limits.band
    assert band is not None
    return falling & (np.interp(stands.bpm, band.bpm, band.chance) > 0.75)


def _candidates(tries: Tries) -> list[_Candidate]:
    found = []
    for column, string in enumerate(tries.slot_strings):
        kinds = {name: getattr(tries, name)[:, column] for name in ("missed", "wrong", "broken")}
        most = max(kinds, key=lambda name: float(kinds[name].sum()))
        hits = np.minimum(sum(kinds.values()), tries.n)
        found.append(_Candidate(f"note {column + 1}", column + 1, string, most, hits, tries.n))
    for column in range(tries.noise.shape[1]):
        slot = int(tries.noise_at[column].argmax()) + 1
        name = f"string {column + 1}"
        found.append(_Candidate(name, slot, column + 1, NOISE, tries.noise[:, column], tries.n))
    string, slot = divmod(int(tries.stray_at.argmax()), tries.stray_at.shape[1])
    found.append(
        _Candidate("an unwanted sound", slot + 1, string + 1, "stray", tries.stray, tries.n)
    )
    return [one for one in found if one.hits.sum() >= 3]


def _drawn(
    tries: Tries, candidates: Sequence[_Candidate], where: np.ndarray, slow: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """How often each candidate fails over its slow level: as counted, with counts drawn again, with
    takes drawn again."""
    hits = np.stack([one.hits for one in candidates], axis=1)
    rng = seeded(tries.n, tries.clean)
    n_here, n_slow = tries.n[where].sum(), tries.n[slow].sum()
    here, before = hits[where].sum(axis=0), hits[slow].sum(axis=0)
    part = n_here / n_slow if n_slow else 0.0
    counted = rng.gamma(here + 0.3, size=(_DRAWS, len(here)))
    counted = counted - rng.gamma(before + 0.3, size=(_DRAWS, len(here))) * part
    units = _take_weights(tries.take[where], rng)  # those of either part by themselves
    taken = units @ hits[where]
    if n_slow:
        units_slow = _take_weights(tries.take[slow], rng)
        drawn_part = (units @ tries.n[where]) / (units_slow @ tries.n[slow])
        taken = taken - (units_slow @ hits[slow]) * drawn_part[:, None]
    return here - before * part, counted, taken


def _take_weights(take: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Weights of rows (draws, rows), those of a take alike: a smooth bootstrap, since of two takes
    none may be left out (D. B. Rubin, Ann. Statist. 9 (1981) 130-134)."""
    numbers, of_row = np.unique(take, return_inverse=True)
    return rng.exponential(size=(_DRAWS, len(numbers)))[:, of_row]


def _leads(drawn: np.ndarray, lead: int) -> float:
    others = np.delete(drawn, lead, axis=1)
    runner_up = others.max(axis=1) if others.shape[1] else np.zeros(len(drawn))
    return float(np.mean(drawn[:, lead] > np.maximum(MARGIN * runner_up, 0.1)))


def _alike(candidates: Sequence[_Candidate], order: np.ndarray, excess: np.ndarray) -> str:
    """Which fail about as often."""
    most = [int(at) for at in order[:3] if excess[at] > 0.5 * excess[order[0]]]
    if len(most) < 2:
        return "no one note surely goes first"
    notes = sorted(candidates[at].slot for at in most if candidates[at].name.startswith("note"))
    names = [candidates[at].name for at in most if not candidates[at].name.startswith("note")]
    if notes:
        names.insert(0, f"note{'s' if len(notes) > 1 else ''} {joined(notes)}")
    return f"no one note goes first: {joined(names)} fail about as often"


def _from(stands: Standing, lead: _Candidate, upto: float) -> float:
    """The tempo at which a fault has risen, no faster than the break."""
    steps, beside = stands.rungs, stands.beside
    if beside is not None and beside.still and (lead.fault, lead.string) == (NOISE, stands.string):
        steps = beside.still  # it begins where it always did
    k, n = steps.sums(lead.hits), steps.sums(lead.of)
    told = n > 0
    curve, _ = fit_curve(
        np.log(steps.bpm[told]), (n - k)[told], n[told], most_lapse=0.6, most_floor=0.97
    )
    top = float(curve.chance(float(np.log(steps.bpm[0]))))
    rise = min(RISE, 0.5 * (top - float(curve.chance(float(np.log(upto))))))
    at = curve.x_at(top - rise) if rise > 1e-6 else None
    bpm = upto if at is None else float(np.exp(at))
    return float(np.clip(bpm, steps.bpm[0], max(upto, steps.bpm[0])))
