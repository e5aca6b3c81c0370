"""Simulated ladders: tables of tries whose truth is known, with takes that share their fate."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from livecheck.measures.review.table import PLACES, Tries
from livecheck.measures.stats import logit, sigmoid

STRINGS = (2, 2, 3, 3, 5, 5)


def table(
    take: Sequence[int], bpm: Sequence[float], n: Sequence[float], clean: Sequence[float], **columns
) -> Tries:
    """A table of the named columns, everything else empty; six slots, six strings."""
    rows, slots, strings = len(bpm), 6, 6
    n = np.asarray(n, float)
    base = {name: np.zeros(rows) for name in ("minute", "stray", "cv_sum", "cv_n")}
    base |= {name: np.zeros(rows) for name in ("went_on", "took_up")}
    base |= {name: np.zeros(rows, int) for name in ("sitting", "day", "parity", "begun")}
    base["delay_known"] = np.ones(rows, int)
    for name in (
        "downs",
        "ups",
        "missed",
        "wrong",
        "broken",
        "timing_sum",
        "timing_n",
        "attack_sum",
        "attack_n",
        "stroked",
        "unpicked",
        "to_pick",
    ):
        base[name] = np.zeros((rows, slots))
    base |= {name: np.zeros((rows, strings)) for name in ("noise", "struck", "brushed")}
    base["heard"] = np.repeat(n[:, None], slots, axis=1)
    base |= {name: np.zeros((strings, slots)) for name in PLACES} | {"complete": n}
    base |= {name: np.asarray(value) for name, value in columns.items()}
    return Tries(
        slot_strings=STRINGS, take=np.asarray(take), bpm=np.asarray(bpm, float), n=n,
        clean=np.asarray(clean, float), **base,
    )  # fmt: skip


def simple(counts: Sequence[tuple[float, int, int]]) -> Tries:
    """(tempo, clean, tries) per row, each row a take of its own."""
    return table(range(len(counts)), *zip(*[(bpm, n, clean) for bpm, clean, n in counts]))


def layout(
    rng: np.random.Generator, tempos: np.ndarray, reps: int, design: str
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """take, tempo and tries of each row. ``one``: a take a tempo; ``many``: takes of 5 to 12 at a
    tempo; ``climb``: every take goes through all tempos.
    """
    rows: list[tuple[int, float, int]] = []
    if design == "climb":
        takes = int(rng.integers(4, 11))
        rows = [(take, bpm, max(2, round(reps / takes))) for take in range(takes) for bpm in tempos]
    else:
        for bpm in tempos:
            left = reps
            while left > 0:
                size = left if design == "one" else min(left, int(rng.integers(5, 13)))
                rows.append((rows[-1][0] + 1 if rows else 0, bpm, size))
                left -= size
    take, bpm, n = zip(*rows)
    return np.array(take), np.array(bpm), np.array(n)


def shared(
    rng: np.random.Generator, take: np.ndarray, n: np.ndarray, chance: np.ndarray, sd: float
) -> np.ndarray:
    """Hits per row, each take's log odds moved by its own luck."""
    luck = rng.normal(0.0, sd, size=int(take.max()) + 1)[take]
    return rng.binomial(n, sigmoid(logit(np.clip(chance, 1e-9, 1 - 1e-9)) + luck)).astype(float)


def marginal(chance: Callable[[np.ndarray], np.ndarray], sd: float, bpm: np.ndarray) -> np.ndarray:
    """The chance averaged over the luck of takes."""
    z, weight = np.polynomial.hermite_e.hermegauss(21)
    return sum(
        w * sigmoid(logit(np.clip(chance(bpm), 1e-9, 1 - 1e-9)) + sd * x)
        for x, w in zip(z, weight / weight.sum())
    )


def highest_at(chance: np.ndarray, bpm: np.ndarray, level: float) -> float | None:
    """The highest tempo at which the chance still is a level."""
    above = np.flatnonzero(chance >= level)
    return float(bpm[above[-1]]) if len(above) and above[-1] + 1 < len(bpm) else None


# ------------------------------------------------------------------------------------ whole figures


def figure(
    rng: np.random.Generator,
    rows: tuple[np.ndarray, np.ndarray, np.ndarray],
    faults: Sequence[tuple[str, int, Callable[[np.ndarray], np.ndarray]]],
    sd: float = 0.5,
    shift: tuple[str, int, float, float] | None = None,
    spread: tuple[float, float] = (0.5, 0.5),
) -> Tries:
    """Repetitions of six slots, each repetition drawn on its own, put together in rows.

    faults: (kind, slot or string, chance by tempo); a take's luck moves them all together. shift:
    (``attack`` or ``timing``, slot, tempo, by how much) moves a slot's level from a tempo on.
    spread: standard deviations of a take's own level and of single repetitions, in units of 0.1
    (attack) and 5 ms (timing).
    """
    take, bpm, n = rows
    count, slots = len(bpm), 6
    luck = rng.normal(0.0, sd, size=int(take.max()) + 1)[take]
    columns = {name: np.zeros((count, slots)) for name in ("missed", "wrong", "broken", "noise")}
    stray, spoilt = np.zeros(count), [np.zeros(size, bool) for size in n]
    noise_at, stray_at = np.zeros((6, slots)), np.zeros((6, slots))
    for kind, place, chance in faults:
        moved = sigmoid(logit(np.clip(chance(bpm), 1e-9, 1 - 1e-9)) + luck)
        for row in range(count):
            hit = rng.random(n[row]) < moved[row]
            spoilt[row] |= hit
            if kind == "stray":
                stray[row] += hit.sum()
                stray_at[1, place - 1] += hit.sum()
            else:
                columns[kind][row, place - 1] += hit.sum()
            if kind == "noise":
                noise_at[place - 1, 3] += hit.sum()
    clean = np.array([size - bad.sum() for size, bad in zip(n, spoilt)], float)
    levels = {}
    for what, unit in (("attack", 0.1), ("timing", 5.0)):
        own = rng.normal(0.0, spread[0] * unit, size=(int(take.max()) + 1, slots))[take]
        mean = (1.0 if what == "attack" else 0.0) + own
        mean = mean + rng.normal(size=(count, slots)) * spread[1] * unit / np.sqrt(n)[:, None]
        if shift is not None and shift[0] == what:
            mean[:, shift[1] - 1] += np.where(bpm > shift[2], shift[3], 0.0)
        mean = mean - mean.mean(axis=1, keepdims=True) + (1.0 if what == "attack" else 0.0)
        levels[f"{what}_n"] = np.repeat(n[:, None], slots, axis=1).astype(float)
        levels[f"{what}_sum"] = mean * levels[f"{what}_n"]
    complete = n - columns["broken"].sum(axis=1)
    return table(
        take,
        bpm,
        n,
        clean,
        stray=stray,
        noise_at=noise_at,
        stray_at=stray_at,
        complete=complete,
        **columns,
        **levels,
    )
