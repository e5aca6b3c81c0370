"""Marks of ways as they are told online: how many are sure, and how many of those are right.

    python tests/benchmarks/bench_way_marks.py [--first SEED] [--cases N]

Two ways are planted in a practice (``ways_player.two_ways``); all sessions but the last are
learned from, and the last is marked repetition by repetition, as it would be while it is played.
The marks are set against what `ways` tells of the whole practice afterwards, and against the truth.
Practices of which less than two ways are told of the earlier sessions are counted apart.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
from bench_ways import case_of, matched
from ways_player import two_ways

from livecheck.core.events import RepDone
from livecheck.measures.ways.find import find_ways
from livecheck.measures.ways.known import from_dict, to_dict
from livecheck.measures.ways.marks import Marks
from livecheck.session import Session


def marks_of(records, known):  # type: ignore[no-untyped-def]
    """By repetition what is told, and seconds of processor in the mean."""
    session, marks = Session(), Marks(known)
    told, spent = {}, 0.0
    outcomes = [outcome for record in records for outcome in session.feed(record)]
    for outcome in [*outcomes, *session.finish()]:
        if isinstance(outcome, RepDone):
            begun = time.process_time()
            told[outcome.repetition.rep] = marks.hear(outcome.repetition)
            spent += time.process_time() - begun
    return told, spent / max(len(told), 1)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=100)
    parser.add_argument("--cases", type=int, default=6)
    options = parser.parse_args()
    all_agree = all_right = all_sure = all_reps = few = 0
    slow = 0.0
    for seed in range(options.first, options.first + options.cases):
        planted = two_ways(seed)
        case = case_of(planted, seed)
        last = int(case.features.sitting.max())
        earlier = case.features.sitting < last if last else np.ones(len(case.way), bool)
        found = find_ways(case.features.where(earlier))
        if len(found.ways) != 2 or found.known is None:
            few += 1
            continue
        same = matched(found.way, case.way[earlier])
        sure = found.way >= 0
        swapped = float(np.mean(found.way[sure] == case.way[earlier][sure])) < 0.5
        told, each = marks_of(planted.sessions[last], from_dict(to_dict(found.known)))
        slow = max(slow, each)
        rows = case.features.sitting == last
        truth = dict(zip(case.features.rep[rows].tolist(), case.way[rows].tolist()))
        after = find_ways(case.features)
        afterwards = dict(zip(case.features.rep[rows].tolist(), after.way[rows].tolist()))
        turned = False
        if last and len(after.ways) == 2:
            both = (after.way[earlier] >= 0) & sure
            turned = float(np.mean(after.way[earlier][both] == found.way[both])) < 0.5
        marked = {rep: one.way for rep, one in told.items() if one is not None and one.sure}
        pairs = [(way, truth[rep] ^ swapped) for rep, way in marked.items() if rep in truth]
        right = sum(a == b for a, b in pairs)
        agree = [
            way == (afterwards[rep] ^ turned)
            for rep, way in marked.items()
            if afterwards.get(rep, -1) >= 0 and len(after.ways) == 2
        ]
        print(
            f"  {seed}: {last + 1} sessions, earlier put right {same:.3f}; of {len(told)} sure "
            f"{len(marked)}, right {right} of {len(pairs)}, as `ways` afterwards {sum(agree)} of "
            f"{len(agree)}; {1000 * each:.1f} ms"
        )
        all_right, all_sure = all_right + right, all_sure + len(pairs)
        all_agree, all_reps = all_agree + sum(agree), all_reps + len(agree)
    print(
        f"{few} without two ways; sure marks right {all_right} of {all_sure}, as told afterwards "
        f"{all_agree} of {all_reps}; slowest {1000 * slow:.1f} ms a repetition"
    )


if __name__ == "__main__":
    main()
