"""Learn figures from takes whose truth is known, and count what is exactly right.

    python tests/benchmarks/bench_learn.py --takes 40
    python tests/benchmarks/bench_learn.py --kind "other, faults" --errors
    python tests/benchmarks/bench_learn.py --first 9000000 --takes 200  seeds nothing was tuned on

Exactly right: the same string and fret in every slot, the same ratios of lengths (rests or lengths
filling the time), begun at the same slot.
"""

from __future__ import annotations

import argparse
import os
import time
from concurrent.futures import ProcessPoolExecutor

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from learn_takes import KINDS, Shown, steps_of

from livecheck.core.rig import Rig
from livecheck.measures.learn.answer import Learned, learn

Row = tuple[str, int, str, float, bool, bool, int, int, float, str]


def heard(shown: Shown) -> Learned:
    channels = tuple(range(1, len(shown.tuning) + 1))
    return learn(shown.records, Rig(channels=channels), tuning=shown.tuning, capo=shown.capo)


def one(job: tuple[str, int]) -> Row:
    kind, seed = job
    make, faults = KINDS[kind]
    shown = make(seed, faults)
    begun = time.process_time()
    told = heard(shown)
    spent = time.process_time() - begun
    right = False
    text = f"{kind} {seed}: chance {told.chance}, {told.repetitions} of {shown.reps}: {told.why}"
    if told.cell is not None:
        got = tuple((slot.string, slot.pitch) for slot in told.cell.slots)
        right = (got, steps_of(told.cell)) == (shown.slots, shown.steps)
        text += f"\n   meant {shown.slots} {shown.steps}\n   told  {got} {steps_of(told.cell)}"
    fate = "none" if told.cell is None else "right" if right else "wrong"
    return (
        kind, seed, fate, told.chance, told.sure, right, told.repetitions, shown.reps, spent, text,
    )  # fmt: skip


def share(part: int, whole: int) -> str:
    return f"{100.0 * part / whole:5.1f} %" if whole else "    -"


def main() -> None:
    parser = argparse.ArgumentParser(description="Learn figures whose truth is known.")
    parser.add_argument("--takes", type=int, default=30, help="takes of each kind")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--kind", action="append", choices=tuple(KINDS))
    parser.add_argument("--errors", action="store_true", help="show what is wrong")
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args()
    kinds = asked.kind or list(KINDS)
    jobs = [(kind, asked.first + at) for kind in kinds for at in range(asked.takes)]
    with ProcessPoolExecutor(asked.jobs) as pool:
        rows = list(pool.map(one, jobs, chunksize=4))
    print(
        "kind               takes   right    sure  sure and wrong  repetitions right  "
        "s of processor"
    )
    for kind in kinds:
        own = [row for row in rows if row[0] == kind]
        count, exact = len(own), [row for row in own if row[5]]
        print(
            f"{kind:17}  {count:5} {share(sum(row[5] for row in own), count)}"
            f" {share(sum(row[4] for row in own), count)}"
            f" {share(sum(row[4] and not row[5] for row in own), count):>15}"
            f" {share(sum(row[6] == row[7] for row in exact), len(exact)):>18}"
            f" {sum(row[8] for row in own) / count:15.2f}"
        )
    print("chance said, takes, right")
    for low, high in ((0, 0.25), (0.25, 0.5), (0.5, 0.75), (0.75, 0.9), (0.9, 0.97), (0.97, 1.01)):
        own = [row for row in rows if low <= row[3] < high and row[2] != "none"]
        if own:
            mean = sum(row[3] for row in own) / len(own)
            right = share(sum(row[5] for row in own), len(own))
            print(f"  {low:.2f} to {min(high, 1):.2f} (mean {mean:.3f}) {len(own):5} {right}")
    for row in rows:
        if asked.errors and (row[2] == "wrong" if row[0] != "unrelated" else row[4]):
            print(row[9])


if __name__ == "__main__":
    main()
