"""How right the review is, on simulated ladders whose truth is known. Run by hand:

    python tests/benchmarks/bench_review.py [ladders] [first seed]

Ladders of 8 to 20 tempos with 10 to 30 repetitions each; takes share their fate (log odds moved by
a normal deviate of 0.3, 0.6 or 1.0). Three ways of practising: ``one`` take a tempo, ``many`` takes
of 5 to 12 at a tempo, ``climb``: every take goes through all tempos. Seeds below 5000 are for
development; figures are reported from seeds above.
"""

# ruff: noqa: E402
from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import numpy as np
import scipy.optimize
from ladders import figure, highest_at, layout, marginal, shared, sigmoid, table

from livecheck.measures.review.changes import find_changes
from livecheck.measures.review.compare import compare
from livecheck.measures.review.first_to_go import first_to_go
from livecheck.measures.review.limits import standing, tempo_limits
from livecheck.measures.review.table import Tries
from livecheck.measures.review.valleys import Valley, find_valley

REPORT_SEED = 10_000
DESIGNS = ("one", "many", "climb")


def ladder(rng, design):
    """Tempos, rows, and the random figures that every part of the benchmark shares."""
    low = rng.uniform(70, 110)
    tempos = np.linspace(low, low * rng.uniform(1.5, 2.0), int(rng.integers(8, 21)))
    rows = layout(rng, tempos, int(rng.integers(10, 31)), design)
    return tempos, rows, float(rng.choice([0.3, 0.6, 1.0]))


def falling(rng, tempos):
    middle = tempos[0] + np.ptp(tempos) * rng.uniform(0.35, 0.85)
    width, lapse = middle * rng.uniform(0.015, 0.06), rng.uniform(0, 0.08)
    return (lambda bpm: (1 - lapse) * sigmoid((middle - bpm) / width)), middle, width


def best_fit_break(bpm, clean, n):
    """The break of the likeliest curve with a lapse that scipy finds from several starts."""

    def p(t):
        return np.clip((1 - t[2]) * sigmoid((t[0] - bpm) / np.exp(t[1])), 1e-9, 1 - 1e-9)

    def cost(t):
        return -(clean @ np.log(p(t)) + (n - clean) @ np.log1p(-p(t)))

    bounds = [(bpm[0] - 50, bpm[-1] + 50), (-1, 4), (0, 0.4)]
    starts = [(m, w, 0.03) for m in np.linspace(bpm.min(), bpm.max(), 5) for w in (0.7, 2.0)]
    best = min(
        (scipy.optimize.minimize(cost, s, bounds=bounds) for s in starts),
        key=lambda found: found.fun,
    ).x
    return best[0] - np.exp(best[1]) * np.log(0.5 / (1 - best[2] - 0.5))


def limits(design, seeds):
    """Break and secure tempo: error, coverage of the interval, and what scipy's best fit to the
    same counts does."""
    got = {"break": [], "secure": []}
    scipys = []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        tempos, (take, bpm, n), sd = ladder(rng, design)
        chance, _, _ = falling(rng, tempos)
        tries = table(take, bpm, n, shared(rng, take, n, chance(bpm), sd))
        found = tempo_limits(tries)
        fine = np.linspace(tempos[0] - 60, tempos[-1] + 90, 6000)
        true = marginal(chance, sd, fine)
        for name, limit, level in (("break", found.broken, 0.5), ("secure", found.secure, 0.9)):
            at = highest_at(true, fine, level)
            if at is None or not tempos[0] < at < tempos[-1] or limit.status != "found":
                continue
            covered = (limit.low_bpm <= at or limit.open_low) and (
                limit.high_bpm >= at or limit.open_high
            )
            got[name].append(
                (abs(limit.bpm / at - 1), covered, (limit.high_bpm - limit.low_bpm) / at)
            )
            if name == "break":
                scipys.append(abs(best_fit_break(bpm, tries.clean, tries.n) / at - 1))
    for name, rows in got.items():
        error, covered, width = np.array(rows, float).T
        more = f", best fit of scipy {100 * np.median(scipys):.2f} %" if name == "break" else ""
        print(
            f"{design:6} {name:6} median error {100 * np.median(error):.2f} %{more}; interval "
            "covers "
            f"{100 * covered.mean():.1f} %, median width {100 * np.median(width):.1f} % "
            f"({len(rows)} ladders)"
        )


def awkward(tries: Tries) -> Valley | None:
    """The awkward range that is told or suspected."""
    return find_valley(tries, standing(tries))


def valleys(design, seeds):
    """Awkward ranges of 40 points told and suspected, and false ones on falling ladders."""
    false, hit, hit_long = [], [], []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        tempos, (take, bpm, n), sd = ladder(rng, design)
        chance, middle, width = falling(rng, tempos)
        valley = awkward(table(take, bpm, n, shared(rng, take, n, chance(bpm), sd)))
        false.append((valley is not None and valley.sure, valley is not None))
        good, wide = int(np.sum(tempos < middle - 2.5 * width)), max(2, round(0.2 * len(tempos)))
        if good < wide + 3:
            continue
        first = int(rng.integers(1, good - wide - 1))
        inside = (bpm >= tempos[first] - 1e-6) & (bpm <= tempos[first + wide - 1] + 1e-6)
        clumsy = np.where(inside, chance(bpm) - 0.4, chance(bpm))
        valley = awkward(table(take, bpm, n, shared(rng, take, n, clumsy, sd)))
        right = (
            valley is not None
            and valley.low_bpm <= tempos[first + wide - 1]
            and valley.high_bpm >= tempos[first]
        )
        hit.append((right and valley.sure, right))
        if n.sum() / len(tempos) >= 15:
            hit_long.append(hit[-1])
    parts = (("without one", false), ("40 points deep", hit), ("of 15 or more a tempo", hit_long))
    each = [
        f"{name} told {100 * sure:.1f} %, told or suspected {100 * seen:.1f} % of {len(rows)}"
        for name, rows in parts
        for sure, seen in (np.mean(rows, axis=0),)
    ]
    print(f"{design:6} valley: {'; '.join(each)}")


def rise(middle, width, base=0.003):
    return lambda bpm: base + (1 - base) * sigmoid((bpm - middle) / width)


def first(design, seeds):
    """The slot (and fault) that goes first, the others following from 8 to 30 % faster."""
    slots, faults = [], []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        tempos, rows, sd = ladder(rng, design)
        start = tempos[0] + np.ptp(tempos) * rng.uniform(0.4, 0.75)
        kind = str(rng.choice(["missed", "wrong", "noise", "broken", "stray"]))
        place = 4 if kind == "noise" else int(rng.integers(1, 7))
        planted = [(kind, place, rise(start, start * rng.uniform(0.02, 0.04)))]
        planted += [
            ("missed", slot, rise(start * rng.uniform(1.08, 1.3), start * 0.03))
            for slot in range(1, 7)
            if slot != place or kind == "noise"
        ]
        tries = figure(rng, rows, planted, sd)
        stands = standing(tries)
        found, _ = first_to_go(tries, stands, tempo_limits(tries, stands))
        slots.append(found is not None and found.slot == (4 if kind == "noise" else place))
        faults.append(slots[-1] and found.fault == kind)
    print(
        f"{design:6} first to go: right slot {100 * np.mean(slots):.1f} %, right slot and fault "
        f"{100 * np.mean(faults):.1f} % of {len(slots)}"
    )


def movement(design, seeds):
    """Changes of attack (-0.3), timing (12 ms) and noise (3 to 40 %), and false ones where nothing
    or another does."""
    right, covers, false_plain, false_other = {"attack": [], "timing": [], "noise": []}, [], [], []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        tempos, rows, sd = ladder(rng, design)
        for what in (None, "attack", "timing", "noise"):
            at, slot = (
                float(tempos[0] + np.ptp(tempos) * rng.uniform(0.25, 0.75)),
                int(rng.integers(1, 7)),
            )
            step = 0.37 if what == "noise" else 0.0
            planted = [
                ("noise", 4, lambda bpm, at=at, step=step: 0.03 + step * (bpm > at)),
                ("noise", 1, lambda bpm: np.full(len(bpm), 0.05)),
                ("missed", 5, lambda bpm: np.full(len(bpm), 0.02)),
            ]
            shift = (
                (what, slot, at, {"attack": -0.3, "timing": 12.0}[what])
                if what in ("attack", "timing")
                else None
            )
            found = find_changes(figure(rng, rows, planted, sd, shift))
            if what is None:
                false_plain.append(bool(found))
                continue
            mine = [
                c
                for c in found
                if c.what == what and (c.string == 4 if what == "noise" else c.slot == slot)
            ]
            right[what].append(bool(mine) and abs(mine[0].from_bpm / at - 1) <= 0.05)
            covers += [change.low_bpm <= at <= change.high_bpm for change in mine]
            false_other.append(len(found) > len(mine))
    each = ", ".join(f"{what} {100 * np.mean(hits):.1f} %" for what, hits in right.items())
    print(
        f"{design:6} change of movement found within 5 %: {each} of {len(seeds)} each; interval "
        "covers "
        f"{100 * np.mean(covers):.1f} %; false alarms on plain ladders "
        f"{100 * np.mean(false_plain):.1f} %, "
        f"beside a true change {100 * np.mean(false_other):.1f} %"
    )


def comparison(design, seeds):
    """Two ways of playing: interval of the overall difference, and parts said to differ where
    nothing does."""
    covered, of_faster, false, power = [], [], [], []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        tempos, (take, bpm, n), sd = ladder(rng, design)
        chance, _, _ = falling(rng, tempos)
        same = [table(take, bpm, n, shared(rng, take, n, chance(bpm), sd)) for _ in range(2)]
        found = compare(*same)
        covered.append(found.overall.low <= 0 <= found.overall.high)
        false.append(found.clearest is not None)
        faster = compare(table(take, bpm, n, shared(rng, take, n, chance(bpm / 1.08), sd)), same[0])
        power.append((faster.clearest or found.overall).low > 0)
        at, n_a, n_b = np.array(faster.by_tempo).T[[0, 2, 4]]
        apart = marginal(chance, sd, at / 1.08) - marginal(chance, sd, at)
        points = 100 * np.average(apart, weights=n_a * n_b / (n_a + n_b))
        of_faster.append(faster.overall.low <= points <= faster.overall.high)
    print(
        f"{design:6} compare: no difference covered {100 * np.mean(covered):.1f} %, that of 8 % "
        "faster "
        f"{100 * np.mean(of_faster):.1f} %; false 'surely differs' {100 * np.mean(false):.1f} %, "
        f"8 % faster seen {100 * np.mean(power):.1f} % of {len(covered)}"
    )


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    start = int(sys.argv[2]) if len(sys.argv) > 2 else REPORT_SEED
    print(
        f"{count} ladders of each kind from seed {start}; python {sys.version.split()[0]}, numpy "
        f"{np.__version__}"
    )
    for part in (limits, valleys, first, movement, comparison):
        for design in DESIGNS:
            began = time.perf_counter()
            part(design, range(start, start + count))
            print(f"       ({time.perf_counter() - began:.0f} s)")


if __name__ == "__main__":
    main()
