"""Whether the intervals of secure and break hold the truth. Run by hand:

    python tests/benchmarks/bench_intervals.py [practices of a design] [first seed] [design ...]

Designs differ in days, ways through the tempos, how many repetitions a take has, luck of takes
(none to 0.6), luck of days (none to 2 %), steepness and lapse; a part of each progresses, has a bad
day or a step. Seeds below 5000 are for development. *by luck* is the standard error of the share
held.
"""

# ruff: noqa: E402
from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import sys
import time
from dataclasses import replace
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import numpy as np
from practices import FIRST_DAY, Plan, Practice, practised

from livecheck.measures.review.limits import standing, tempo_limits

REPORT_SEED = 20_000
DESIGNS: dict[str, tuple[int, str]] = {  # days, way
    "one take a tempo": (1, "ladder"),
    "one day, climbs": (1, "climb"),
    "one day, a few tempos": (1, "repeats"),
    "one day, takes through all": (1, "through"),
    "four days, climbs": (4, "climb"),
    "four days, one take a tempo": (4, "ladder"),
    "nine days, around the break": (9, "around"),
    "nine days, climbs": (9, "climb"),
    "twenty days, a few tempos": (20, "repeats"),
    "twenty days, any": (20, ""),
}


def practice(design: str, seed: int) -> Practice:
    rng = np.random.default_rng([seed, *map(ord, design)])
    count, way = DESIGNS[design]
    way = way or str(rng.choice(["climb", "around", "repeats"]))
    low, steps = rng.uniform(60, 130), int(rng.integers(6, 22))
    tempos = np.round(low * np.geomspace(1.0, rng.uniform(1.4, 2.4), steps), 1)
    days = FIRST_DAY + np.cumsum(rng.choice([1, 1, 2, 3, 5, 9], count))
    middle = float(tempos[0] + np.ptp(tempos) * rng.uniform(0.45, 0.85))
    fewest = int(rng.integers(3, 14))
    reps = (2, 5) if way == "through" else (fewest, fewest + int(rng.integers(1, 25)))
    plan = Plan(
        tempos=tempos,
        days=tuple(int(day) for day in days),
        way=way,
        reps=reps,
        middle=middle,
        width=middle * float(rng.uniform(0.01, 0.06)),
        lapse=float(rng.choice([0.0, rng.uniform(0.0, 0.08)])),
        luck=float(rng.choice([0.0, 0.2, 0.4, 0.6])),
        day_sd=middle * float(rng.choice([0.0, 0.007, 0.02])) if count > 1 else 0.0,
        takes_a_day=(4, 8) if count > 9 else (6, 14),
    )
    weeks = (days[-1] - days[0]) / 7.0
    if count > 1 and rng.random() < 0.6:
        gain = float(rng.uniform(-0.01, 0.04)) * middle
        gain = gain if weeks * gain < 0.35 * middle else 0.35 * middle / weeks
        plan = replace(plan, gain_bpm=gain, middle=middle - gain * weeks / 2.0)
    if count > 3 and rng.random() < 0.25:
        bad = int(rng.integers(0, count))
        plan = replace(plan, bad_day=bad, bad_by=middle * float(rng.uniform(0.04, 0.12)))
    if rng.random() < 0.2:
        at = float(rng.uniform(tempos[1], tempos[-2]))
        plan = replace(plan, step=(int(rng.choice([1, 4, 6])), at, float(rng.uniform(0.2, 0.8))))
    return practised(rng, plan)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    start = int(sys.argv[2]) if len(sys.argv) > 2 else REPORT_SEED
    print(f"{count} practices of each design from seed {start}")
    every: dict[str, list[tuple[float, bool, float]]] = {"secure": [], "break": []}
    for design in sys.argv[3:] or list(DESIGNS):
        found: dict[str, list[tuple[float, bool, float]]] = {"secure": [], "break": []}
        began = time.process_time()
        for seed in range(start, start + count):
            one = practice(design, seed)
            limits = tempo_limits(one.tries, standing(one.tries))
            low, high = float(one.tries.bpm.min()), float(one.tries.bpm.max())
            for name, limit, truth in (
                ("secure", limits.secure, one.secure),
                ("break", limits.broken, one.broken),
            ):
                if limit.bpm is None or truth is None or not low < truth < high:
                    continue
                held = (limit.low_bpm <= truth or limit.open_low) and (
                    limit.high_bpm >= truth or limit.open_high
                )
                wide = (limit.high_bpm - limit.low_bpm) / truth
                found[name].append((limit.bpm / truth - 1.0, bool(held), wide))
        for name, told in found.items():
            every[name] += told
            print(_line(design, name, told), flush=True)
        print(f"  {(time.process_time() - began) / count:.2f} s each")
    for name, told in every.items():
        print(_line("all", name, told))


def _line(design: str, name: str, told: list[tuple[float, bool, float]]) -> str:
    error, held, wide = (np.array(column) for column in zip(*told))
    luck = 100.0 * (held.mean() * (1.0 - held.mean()) / len(held)) ** 0.5
    return (
        f"| {design} | {name} | held in {100 * held.mean():.0f} % (by luck {luck:.0f}) | median "
        f"error {100 * np.median(abs(error)):.1f} %, mean {100 * error.mean():+.1f} %, nine in ten "
        f"within {100 * np.quantile(abs(error), 0.9):.1f} % | median width "
        f"{100 * np.median(wide):.1f} % | {len(held)} |"
    )


if __name__ == "__main__":
    main()
