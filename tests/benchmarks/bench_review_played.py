"""How right the review is from end to end: ladders played by the built-in player, through messages
and matcher.

    python tests/benchmarks/bench_review_played.py [ladders] [first seed]

Random cells, ladders of 8 to 20 tempos with 10 to 30 repetitions, in one or several takes a tempo
that share their fate (log odds moved by a normal deviate of 0.3, 0.6 or 1.0); more and more often
one slot is missed or wrong, or a quiet string sounds after it. The break is told beside what the
same fit finds in the planted counts. Seeds below 5000 are for development.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import sys
from collections import Counter
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from ladders import highest_at, marginal, table
from played_ladder import CONVERTER, climb, falling

from livecheck.core.events import RepDone
from livecheck.measures.review.answers import make_review
from livecheck.measures.review.gather import gather
from livecheck.measures.review.limits import tempo_limits
from livecheck.player.cells import random_cell
from livecheck.player.pulse import FASTEST, SLOWEST
from livecheck.player.takes import rig_for
from livecheck.session import Session

REPORT_SEED = 10_000


def ladder(seed: int):
    """A climb, with its cell and what was planted."""
    rng = Random(f"played ladder {seed}")
    while True:
        cell = random_cell(rng, least_slots=4, most_slots=8, legato=0.1)
        fault = rng.choice(("missed", "wrong", "noise"))
        if fault != "noise" or cell.quiet:
            break
    # the built-in player goes no slower
    low = max(rng.uniform(60, 100), 1.05 * SLOWEST * 60.0 / cell.grid)
    high = min(low * rng.uniform(1.5, 2.0), FASTEST * 60.0 / cell.grid)
    tempos = np.linspace(low, high, rng.randint(8, 20))
    middle = low + (high - low) * rng.uniform(0.35, 0.8)
    chance = falling(middle, middle * rng.uniform(0.015, 0.05))
    reps, parts, luck = rng.randint(10, 30), rng.choice((1, 2, 3)), rng.choice((0.3, 0.6, 1.0))
    slot = rng.randint(1, len(cell.slots))
    takes = [float(bpm) for bpm in tempos for _ in range(parts)]
    climbed = climb(rng, takes, max(reps // parts, 4), chance, slot, fault, luck, cell)
    fine = np.linspace(low - 40, high + 60, 4000)
    true = highest_at(marginal(np.vectorize(chance), luck, fine), fine, 0.5)
    return cell, climbed, fault, slot, true


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    start = int(sys.argv[2]) if len(sys.argv) > 2 else REPORT_SEED
    errors, of_counts, covered, slots, faults, statuses, unlike = [], [], [], [], [], Counter(), []
    for seed in range(start, start + count):
        cell, climbed, fault, slot, true = ladder(seed)
        session = Session(cell, rig_for(cell, CONVERTER))
        reps = [
            one.repetition for one in session.feed_all(climbed.records) if isinstance(one, RepDone)
        ]
        review = make_review(gather(reps), cell.name, cell.grid)
        bpm, n, clean = (np.array(column, float) for column in zip(*climbed.takes))
        planted = tempo_limits(table(range(len(bpm)), bpm, n, clean)).broken
        unlike.append(abs(sum(rep.clean for rep in reps) - clean.sum()) / n.sum())
        statuses[review.broken.status, planted.status] += 1
        if (
            true is not None
            and bpm[0] < true < bpm[-1]
            and review.broken.status == planted.status == "found"
        ):
            broken = review.broken
            errors.append(abs(broken.bpm / true - 1))
            of_counts.append(abs(planted.bpm / true - 1))
            covered.append(
                (broken.low_bpm <= true or broken.open_low)
                and (broken.high_bpm >= true or broken.open_high)
            )
            first = review.first_to_go
            right = first is not None and (
                first.slot == slot or (fault == "noise" and first.string == cell.quiet[0])
            )
            slots.append(right)
            faults.append(right and first.fault == fault)
            if not right or errors[-1] > 0.08:
                print(
                    f"  seed {seed}: {fault} slot {slot}, break {true:.0f}: {broken.bpm:.0f}, "
                    f"{first}"
                )
    print(f"{count} played ladders from seed {start}; {dict(statuses)} (review, planted counts)")
    error, of_count = 100 * np.median(errors), 100 * np.median(of_counts)
    print(f"repetitions judged otherwise than planted: mean {100 * np.mean(unlike):.2f} %")
    print(
        f"break: median error {error:.2f} %, of the planted counts {of_count:.2f} %; "
        f"95 % interval covers {100 * np.mean(covered):.1f} % of {len(covered)}"
    )
    print(
        f"first to go: right place {100 * np.mean(slots):.1f} %, place and fault "
        f"{100 * np.mean(faults):.1f} %"
    )


if __name__ == "__main__":
    main()
