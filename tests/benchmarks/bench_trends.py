"""How right wear and progress are, on simulated practice whose truth is known. Run by hand:

    python tests/benchmarks/bench_trends.py [sittings] [first seed]

Wear: one to four sittings of 20 to 60 minutes, takes of 5 to 12 repetitions whose shares scatter
beyond chance (a beta deviate; takes of one kind are alike to 0.02, 0.08 or 0.2), one take in twenty
with a wild evenness. The clean share falls by so many points in ten minutes at every tempo. Ways of
practising: ``rounds`` (climb after climb), ``mixed`` (tempos in any order), ``rising`` (faster as
time goes on, each tempo in its own part of the sitting), ``free`` (no click, any tempo, faster and
faster).

Progress: 4 to 30 days at irregular distances; each day has its own luck, in tempo. ``whole``: each
day tries the whole ladder; ``short``: many days stop where all is still clean; ``moving``: each day
plays about what it can, so that some days are clean, others broken throughout. Seeds below 5000 are
for development.
"""

# ruff: noqa: E402
from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import numpy as np
from ladders import sigmoid, table

from livecheck.measures.review.progress import progress
from livecheck.measures.review.wear import wear

REPORT_SEED = 10_000
WAYS = ("rounds", "mixed", "rising", "free")
DAYS = ("whole", "short", "moving")


def alike(rng, chance, n, rho):
    """Hits per row, each row's chance a beta deviate about its own."""
    size = 1.0 / rho - 1.0
    p = np.clip(chance, 0.005, 0.995)
    return rng.binomial(n, rng.beta(p * size, (1.0 - p) * size)).astype(float)


def tempos_of(rng, way, takes):
    ladder = rng.uniform(80, 110) * np.linspace(
        1.0, rng.uniform(1.4, 1.8), int(rng.integers(6, 11))
    )
    if way == "rounds":
        return np.resize(ladder, takes) * rng.normal(1.0, 0.003, takes)
    if way == "mixed":
        return rng.choice(ladder, takes) * rng.normal(1.0, 0.003, takes)
    at = np.linspace(0, len(ladder) - 1, takes)
    if way == "rising":
        rung = np.clip(np.round(at + rng.uniform(-1.4, 1.4, takes)), 0, len(ladder) - 1).astype(int)
        return ladder[rung] * rng.normal(1.0, 0.003, takes)
    return (
        ladder[0]
        * np.linspace(1.0, rng.uniform(1.1, 1.3), takes)
        * np.exp(rng.normal(0, 0.05, takes))
    )


def practice(rng, way, fall, cv_rise):
    """Sittings in which the clean share falls by ``fall`` points, and unevenness rises by cv_rise,
    in ten minutes."""
    rho, columns = float(rng.choice([0.02, 0.08, 0.2])), []
    middle, width = rng.uniform(110, 150), rng.uniform(3, 9)
    for sitting in range(int(rng.integers(1, 5))):
        takes = int(rng.integers(16, 41))
        minute = np.sort(rng.uniform(0, rng.uniform(20, 50), takes))
        bpm, n = tempos_of(rng, way, takes), rng.integers(5, 13, takes)
        chance = 0.36 + 0.62 * sigmoid((middle - bpm) / width) - fall / 1000.0 * minute
        cv = 4.0 + 0.03 * (bpm - 100) + cv_rise / 10.0 * minute + rng.normal(0, 0.6, takes)
        cv += np.where(rng.random(takes) < 0.05, rng.uniform(3, 10, takes), 0.0)
        columns.append(
            (np.full(takes, sitting), minute, bpm, n, alike(rng, chance, n, rho), cv * n)
        )
    sitting, minute, bpm, n, clean, cv_sum = (np.concatenate(parts) for parts in zip(*columns))
    return table(
        range(len(bpm)),
        bpm,
        n,
        clean,
        sitting=sitting,
        minute=minute,
        cv_sum=cv_sum,
        cv_n=n.astype(float),
    )


def wears(way, seeds):
    for name, fall, rise in (("none", 0.0, 0.0), ("5 points, cv 0.5", 5.0, 0.5)):
        clean, cv = [], []
        for seed in seeds:
            found = wear(practice(np.random.default_rng(seed), way, fall, rise))
            for slope, truth, rows in (
                (None if found is None else found.clean_points, -fall, clean),
                (None if found is None else found.cv_points, rise, cv),
            ):
                if slope is not None:
                    covers = slope.low <= truth <= slope.high
                    rows.append((slope.value - truth, covers, slope.sure, slope.high - slope.low))
        for what, rows in (("clean", clean), ("cv", cv)):
            if not rows:
                print(f"{way:7} wear {name:17} {what:6} never told")
                continue
            off, covered, sure, width = np.array(rows, float).T
            print(
                f"{way:7} wear {name:17} {what:6} told in {len(rows)} of {len(seeds)}: off by "
                f"{off.mean():+.2f} "
                f"(median error {np.median(np.abs(off)):.2f}, width {np.median(width):.1f}), "
                "interval covers "
                f"{100 * covered.mean():.1f} %, 'sure' {100 * sure.mean():.1f} %"
            )


def days_of(rng, kind, gain):
    """Practice on many days; the curve moves by ``gain`` bpm a week, each day by its own luck
    besides."""
    count = int(rng.integers(4, 31))
    day = 739_000 + np.cumsum(rng.choice([1, 1, 1, 2, 3, 7, 10], count))
    middle, width, lapse = rng.uniform(120, 150), rng.uniform(2.5, 7), rng.uniform(0, 0.05)
    luck, rho = rng.normal(0, rng.uniform(1, 4), count), float(rng.choice([0.02, 0.08, 0.2]))
    rows = []
    for i in range(count):
        here = middle + gain * (day[i] - day[0]) / 7.0 + luck[i]
        ladder = np.arange(0.72, 1.25, rng.uniform(0.04, 0.07)) * middle
        if kind == "short" and rng.random() < 0.6:
            ladder = ladder[ladder < middle - 1.5 * width]
        elif kind == "moving":
            low = here * rng.uniform(0.75, 1.0)
            ladder = ladder[(ladder > low) & (ladder < low * rng.uniform(1.1, 1.25))]
        for bpm in ladder:
            n = int(rng.integers(6, 20))
            chance = (1.0 - lapse) * sigmoid((here - bpm) / width)
            rows.append(
                (
                    len(rows),
                    bpm,
                    n,
                    alike(rng, np.array([chance]), np.array([n]), rho)[0],
                    int(day[i]),
                )
            )
    take, bpm, n, clean, day_of = zip(*rows)
    return table(take, bpm, n, clean, day=np.array(day_of), sitting=np.array(day_of)), len(
        set(day_of)
    )


def progresses(kind, seeds):
    for gain in (0.0, 2.0):
        rows = []
        for seed in seeds:
            tries, count = days_of(np.random.default_rng(seed), kind, gain)
            found = progress(tries)
            if found is not None:
                slope = found.bpm_a_week
                rows.append(
                    (
                        slope.value - gain,
                        slope.low <= gain <= slope.high,
                        slope.sure,
                        slope.high - slope.low,
                        count,
                    )
                )
        off, covered, sure, width, count = np.array(rows, float).T
        few = count <= 8
        print(
            f"{kind:7} progress {gain:.0f} bpm a week told in {len(rows)} of {len(seeds)}: off by "
            f"{off.mean():+.2f}, "
            f"median {np.median(off):+.2f} (median error {np.median(np.abs(off)):.2f}, width "
            f"{np.median(width):.1f}), "
            f"interval covers {100 * covered.mean():.1f} % (of up to 8 days "
            f"{100 * covered[few].mean():.1f} % of "
            f"{few.sum()}), 'sure' {100 * sure.mean():.1f} %"
        )


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    start = int(sys.argv[2]) if len(sys.argv) > 2 else REPORT_SEED
    print(
        f"{count} of each kind from seed {start}; python {sys.version.split()[0]}, numpy "
        f"{np.__version__}"
    )
    for part, kinds in ((wears, WAYS), (progresses, DAYS)):
        for kind in kinds:
            began = time.perf_counter()
            part(kind, range(start, start + count))
            print(f"       ({time.perf_counter() - began:.0f} s)")


if __name__ == "__main__":
    main()
