"""Ways of playing, planted and found: told, put right, named, never invented, and how honest the
interval of the difference in cleanness is.

    python tests/benchmarks/bench_ways.py [--set dev|report] [--cases N] [--first SEED] [--quick]

Everything goes through messages and the matcher. ``possible``: what is told by who knows which
repetition was played in which way, and so every distribution; cases in which that knowledge gains
less than 25 nats over one smooth way, or d' of a single repetition is below 2, or a way has fewer
than 60 repetitions, are counted apart. A single thing that comes and goes without runs is one way.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass

import numpy as np
from ways_player import Planted, one_way, two_ways

from livecheck.core.events import RepDone
from livecheck.measures.review.rungs import rungs
from livecheck.measures.ways.features import Features, heard, put_together
from livecheck.measures.ways.find import Ways, apart, find_ways
from livecheck.measures.ways.learned import one_way as fit_one
from livecheck.measures.ways.matrix import matrix_of
from livecheck.measures.ways.model import started, total
from livecheck.measures.ways.search import data_of
from livecheck.measures.ways.taken import grown
from livecheck.session import Session

FIRST = {"dev": 0, "report": 5_000_000}
LEAST_NATS, LEAST_APART, LEAST_REPS = 25.0, 2.0, 60


@dataclass(slots=True)
class Case:
    """One practice: what was heard, the true way of each row, the chance of a clean repetition in
    each way, and what was planted."""

    seed: int
    planted: Planted
    features: Features
    way: np.ndarray
    chances: np.ndarray


def case_of(planted: Planted, seed: int) -> Case:
    """Judge a practice; rows that answer no planted repetition are left out."""
    tables, ways, chances = [], [], []
    parts = zip(planted.sessions, planted.starts, planted.way, planted.chances)
    for number, (records, starts, way, chance) in enumerate(parts):
        session = Session()
        reps = [
            outcome.repetition
            for record in records
            for outcome in session.feed(record)
            if isinstance(outcome, RepDone)
        ]
        reps += [o.repetition for o in session.finish() if isinstance(o, RepDone)]
        table = heard(reps, number, 740_000 + 2 * number)
        if table is None:
            continue
        tables.append(table)
        began = {rep.rep: rep.start_s for rep in reps}
        at = [int(np.argmin(np.abs(np.array(starts) - began[rep]))) for rep in table.rep]
        ways += [way[i] for i in at]
        chances += [chance[i] for i in at]
    return Case(seed, planted, put_together(tables), np.array(ways), np.array(chances))


def possible(case: Case) -> tuple[float, float]:
    """(nats over one smooth way, d' of a repetition) where every repetition's way is known."""
    data = data_of(case.features, matrix_of(case.features))
    one = fit_one(data)
    known = np.stack([case.way == k for k in range(int(case.way.max()) + 1)], axis=1)
    fit = grown(data, started(data, one, known * 0.998 + 0.001), 1)
    least = min(apart(fit, k, other) for k in range(fit.ways) for other in range(k))
    return total(data, fit) - total(data, one), least


def matched(found: np.ndarray, true: np.ndarray) -> float:
    """Share put right of those told, the ways named so as to fit best."""
    told = found >= 0
    if not told.any():
        return 0.0
    best = 0.0
    from itertools import permutations

    names = max(int(found.max()), int(true.max())) + 1
    for order in permutations(range(names)):
        best = max(best, float(np.mean(np.array(order)[found[told]] == true[told])))
    return best


def true_points(case: Case, swapped: bool) -> float:
    """The true difference in cleanness at equal tempo, weighted as it is told."""
    steps = rungs(case.features.bpm, np.ones(len(case.way)))
    n = [steps.sums((case.way == k).astype(float)) for k in (0, 1)]
    weight = n[0] * n[1] / np.maximum(n[0] + n[1], 1.0)
    apart_at = steps.sums(case.chances[:, 1] - case.chances[:, 0])
    apart_at = apart_at / np.maximum(steps.sums(np.ones(len(case.way))), 1.0)
    points = 100.0 * float(weight @ apart_at) / float(weight.sum())
    return -points if swapped else points


def first_is_planted(case: Case, found: Ways) -> bool:
    planted = {(t.what, t.slot, t.string) for traits in case.planted.traits for t in traits}
    planted |= {("loudness", slot, string) for what, slot, string in planted if what == "attack"}
    first = found.ways[1].differs[:1]
    return bool(first) and (first[0].what, first[0].slot, first[0].string) in planted


def is_single(case: Case) -> bool:
    """One thing without runs: no way by definition."""
    traits = case.planted.traits
    return all(len(one) == 1 for one in traits) and case.planted.stay < 0.3


def score_two(cases: list[Case], ways: int) -> None:
    told = right = named = held = few = of = third = 0
    spent, gaps, widths = 0.0, [], []
    for case in cases:
        nats, alone = possible(case)
        counts = np.bincount(case.way, minlength=ways)
        begun = time.process_time()
        found = find_ways(case.features)
        spent += time.process_time() - begun
        if nats < LEAST_NATS or alone < LEAST_APART or counts.min() < LEAST_REPS:
            few += 1
            continue
        of += 1
        line = f"  {case.seed}: {nats:.0f} nats, d' {alone:.1f}, {len(found.ways)} told"
        if len(found.ways) < 2:
            print(f"{line}: {found.why}")
            continue
        told += len(found.ways) == ways
        third += len(found.ways) > ways
        share = matched(found.way, case.way)
        right += share >= 0.95
        first = first_is_planted(case, found)
        named += first
        if share < 0.95 or not first or len(found.ways) != ways:
            things = [(d.what, d.slot or d.string) for d in found.ways[1].differs]
            print(f"{line}, right {share:.3f}, named {things}; {case.planted.traits}")
        clean = found.ways[1].clean
        if ways == 2 and len(found.ways) == 2 and clean is not None:
            known = found.way >= 0
            swapped = float(np.mean(found.way[known] == case.way[known])) < 0.5
            truth = true_points(case, swapped)
            held += clean.low <= truth <= clean.high
            gaps.append((clean.points - truth) / max(clean.high - clean.low, 1e-9) * 3.92)
            widths.append(clean.high - clean.low)
    some = max(told + third, 1)
    print(
        f"{ways} ways: {of} that can be told ({few} others); told {100 * told / max(of, 1):.0f} %, "
        f"more than planted {third}; put right {100 * right / some:.0f} %; "
        f"clearest is planted {100 * named / some:.0f} %; cleanness held {held} of {len(gaps)}"
    )
    if gaps:
        print(
            f"  errors in units of the interval: mean {np.mean(gaps):+.2f}, sd {np.std(gaps):.2f}, "
            f"width {np.median(widths):.0f} points; {spent / max(len(cases), 1):.2f} s a practice"
        )


def score_one(cases: list[Case]) -> None:
    false = 0
    spent = 0.0
    for case in cases:
        begun = time.process_time()
        found = find_ways(case.features)
        spent += time.process_time() - begun
        if len(found.ways) > 1:
            false += 1
            things = [(d.what, d.slot or d.string) for d in found.ways[1].differs]
            print(f"  {case.seed}: {len(found.ways)} told, {things}; {case.planted.note}")
    print(
        f"one way: {len(cases)}; told more {false}; {spent / max(len(cases), 1):.2f} s a practice"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--set", choices=sorted(FIRST), default="dev")
    parser.add_argument("--cases", type=int, default=40)
    parser.add_argument("--first", type=int, default=None)
    parser.add_argument("--kinds", default="two,one,three")
    options = parser.parse_args()
    first = FIRST[options.set] if options.first is None else options.first
    seeds = range(first, first + options.cases)
    kinds = options.kinds.split(",")
    if "two" in kinds:
        some = [case_of(two_ways(seed), seed) for seed in seeds]
        score_two([case for case in some if not is_single(case)], 2)
    if "one" in kinds:
        score_one([case_of(one_way(seed), seed) for seed in seeds])
    if "three" in kinds:
        score_two([case_of(two_ways(seed, 3), seed) for seed in seeds[: options.cases // 3]], 3)


if __name__ == "__main__":
    main()
