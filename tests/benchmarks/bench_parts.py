"""Whether a part practised by itself tells a joining fault from one of its own notes.

    python tests/benchmarks/bench_parts.py [--players N] [--first SEED] [--reps N]

Each player has played a cell and a part of it, half of the repetitions each, over a ladder of
tempos. *joining*: a note fails inside from one tempo on, alone from a much faster one; *local*:
from the same tempo on both times; *nothing*: no note fails within the tempos tried, or the part
holds as much longer as cannot matter (3 per cent).
"""

from __future__ import annotations

import argparse
import math

import numpy as np

from livecheck.measures.climb.parts import tell_part
from livecheck.measures.review.table import Tries


def tries(
    rng: np.random.Generator,
    tempos: list[float],
    reps: int,
    slots: int,
    bad: int,
    break_bpm: float,
    width: float,
    luck: float,
) -> Tries:
    """A ladder, a take a tempo; one slot fails more and more often."""
    rows = len(tempos)
    missed = np.zeros((rows, slots))
    for row, bpm in enumerate(tempos):
        z = math.log(break_bpm / bpm) / width + rng.normal(0.0, luck)
        missed[row, bad] = rng.binomial(reps, 1.0 - 0.98 / (1.0 + math.exp(-z)))
        for other in range(slots):
            if other != bad:
                missed[row, other] = rng.binomial(reps, 0.003)
    n = np.full(rows, float(reps))
    zeros, wide = np.zeros(rows), np.zeros((rows, slots))
    strings = np.zeros((rows, 6))
    columns = {name: zeros for name in ("minute", "complete", "clean", "stray", "cv_sum", "cv_n")}
    known = {f for f in Tries.__dataclass_fields__}
    values = dict(
        slot_strings=tuple([2] * slots),
        take=np.arange(rows),
        sitting=np.zeros(rows, int),
        day=np.zeros(rows, int),
        parity=np.zeros(rows, int),
        bpm=np.array(tempos),
        n=n,
        heard=np.full((rows, slots), float(reps)),
        missed=missed,
        wrong=wide,
        broken=wide,
        noise=strings,
        struck=strings,
        brushed=strings,
        timing_sum=wide,
        timing_n=wide,
        attack_sum=wide,
        attack_n=wide,
        noise_at=np.zeros((6, slots)),
        stray_at=np.zeros((6, slots)),
        **columns,
    )
    for name in known - set(values):
        values[name] = zeros
    return Tries(**{name: value for name, value in values.items() if name in known})


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--players", type=int, default=100)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--reps", type=int, default=60)
    asked = parser.parse_args()
    for kind in ("joining", "local", "nothing"):
        counts: dict[str, int] = {}
        for seed in range(asked.first, asked.first + asked.players):
            rng = np.random.default_rng([seed, len(kind)])
            broken = float(rng.uniform(100.0, 170.0))
            width = float(np.exp(rng.uniform(math.log(0.015), math.log(0.05))))
            luck = float(rng.uniform(0.0, 0.6))
            slots = int(rng.integers(5, 9))
            first = int(rng.integers(0, slots - 2))
            notes = list(range(first + 1, first + 4))[: int(rng.integers(2, 4))]
            bad = notes[int(rng.integers(len(notes)))] - 1
            steps = 6
            reps = asked.reps // 2 // steps
            near, far = float(rng.uniform(1.0, 1.03)), float(rng.uniform(1.18, 1.4))
            faster = {"joining": far, "local": 1.0, "nothing": near}[kind]
            beyond = 1.5 if kind == "nothing" else 1.0
            low, high = broken * rng.uniform(0.75, 0.88), broken * rng.uniform(1.06, 1.2)
            top = high * (rng.uniform(1.0, 1.2) if kind == "joining" else 1.0)
            inside, alone = np.linspace(low, high, steps), np.linspace(low, top, steps)
            same = (width, luck)
            at = broken * beyond
            told = tell_part(
                tries(rng, list(alone), reps, len(notes), notes.index(bad + 1), at * faster, *same),
                tries(rng, list(inside), reps, slots, bad, at, *same),
                notes,
            )
            why = None if told is None else told.why
            counts[why or "not told"] = counts.get(why or "not told", 0) + 1
        shares = (f"{why} {100 * count / asked.players:.0f} %" for why, count in counts.items())
        print(f"{kind:<8} {', '.join(sorted(shares))}")


if __name__ == "__main__":
    main()
