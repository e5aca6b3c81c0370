"""How right the direction of strokes is, and what is told by it: players, counts and practices
whose truth is known.

    python tests/benchmarks/bench_direction.py                 development seeds
    python tests/benchmarks/bench_direction.py --set report    seeds that nothing was tuned on
    python tests/benchmarks/bench_direction.py --only strokes --takes 40
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import sys
from collections import Counter
from pathlib import Path
from time import process_time

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from direction_players import counts, judged, player, practised, seam_played, true_strokes

from livecheck.measures.review.by_start import by_start, paired
from livecheck.measures.review.gather import gather
from livecheck.measures.review.seam import seam
from livecheck.measures.strokes.attack import HAMMERED, read_attacks
from livecheck.measures.strokes.direction import read_directions

SETS = {"dev": 0, "report": 7_000_000}
PICKED = ("down", "up")


def strokes(first: int, takes: int) -> None:
    """Played direction, habits of the direction, seams."""
    notes: dict[str, Counter[str]] = {}
    silent: Counter[str] = Counter()
    held: list[bool] = []
    seams: Counter[str] = Counter()
    chances: list[tuple[float, bool]] = []
    spent = 0.0
    for seed in range(first, first + takes):
        take = player(seed)
        reps, truth, habits = judged(take), true_strokes(take), take.habits
        begin = process_time()
        found = read_directions(reps)
        spent += process_time() - begin
        strong = (habits.up_softer or 0.0) >= 0.15 or habits.up_late_ms >= 4.0
        none = not habits.up_softer and not habits.up_late_ms
        kind = "none" if none else "strong" if strong else "weak"
        onsets = {
            (rep.rep, one.slot): one.note.onset_s
            for rep in reps
            for one in rep.slots
            if one.note is not None
        }
        count = notes.setdefault(kind, Counter())
        for one in found.strokes:
            true = truth.get(onsets.get((one.rep, one.slot), -1.0))
            count["picked"] += true in PICKED
            if one.played is not None and true is not None:
                count["told"] += true in PICKED
                count["right"] += one.played == true
                count["slurred told"] += true not in PICKED
                chances.append((one.chance or 0.0, one.played == true))
        told = any(one.played for one in found.strokes)
        silent[kind, told] += 1
        if found.softer is not None and found.later is not None and not none:
            held.append(found.softer.low <= (habits.up_softer or 0.0) <= found.softer.high)
            held.append(found.later.low <= habits.up_late_ms <= found.later.high)
        tries = gather(reps)
        plan = seam(tries) if tries is not None else None
        if plan is not None:
            right = seam_played(habits, take.cell)
            seams["right" if plan.played == right else "unsure" if right is None else "wrong"] += 1
    for kind, count in notes.items():
        picked, told = max(count["picked"], 1), max(count["told"] + count["slurred told"], 1)
        print(
            f"direction, {kind}: told {100 * count['told'] / picked:.1f} % of {picked} picked "
            f"notes, right {100 * count['right'] / told:.2f} % of {told}; takes told "
            f"{silent[kind, True]} of {silent[kind, True] + silent[kind, False]}"
        )
    mean = 100 * np.mean([chance for chance, _ in chances])
    print(
        f"chances said: {mean:.1f} % on the mean, right "
        f"{100 * np.mean([r for _, r in chances]):.1f} %"
    )
    print(f"softer, later: 95 % intervals hold {100 * np.mean(held):.1f} % of {len(held)}")
    print(f"seam: {dict(seams)}; {1000 * spent / takes:.0f} ms of processor a take")


def hammered(first: int, takes: int) -> None:
    """Picked notes called hammered where up strokes come 32 % softer, every note picked."""
    called = of = without = 0
    for seed in range(first, first + takes):
        take = player(seed, "loud", 0.32)
        reps, truth = judged(take), true_strokes(take)
        for strokes_given in (None, ()):
            for one in read_attacks(reps, strokes_given).struck:
                note = reps[one.rep - 1].slots[one.slot - 1].note
                if note is not None and truth.get(note.onset_s) in PICKED:
                    if strokes_given is None:
                        of += 1
                        called += one.told == HAMMERED
                    else:
                        without += one.told == HAMMERED
    print(
        f"32 % softer up strokes: {called} of {of} picked notes called hammered "
        f"({100 * called / of:.2f} %); without directions {without} ({100 * without / of:.2f} %)"
    )


def starts(first: int, takes: int) -> None:
    """Both breaks and the difference, from counts."""
    held, errors, covered, surely = [], [], [], []
    for seed in range(first, first + takes):
        tries, true, breaks = counts(seed)
        found = paired(tries.where(tries.begun == 1), tries.where(tries.begun == 2))
        if found is not None:
            held.append(found.low <= true <= found.high)
        if seed % 4 == 0:
            both = by_start(tries)
            for limits, middle in zip((both.down, both.up), breaks) if both else ():
                broken = limits.broken
                if broken.status == "found" and middle is not None:
                    errors.append(abs(broken.bpm / middle - 1.0))
                    low = broken.low_bpm <= middle or broken.open_low
                    covered.append(low and (broken.high_bpm >= middle or broken.open_high))
        tries, _, _ = counts(seed, alike=True)
        found = paired(tries.where(tries.begun == 1), tries.where(tries.begun == 2))
        surely.append(found is not None and found.surely)
    print(
        f"difference: 95 % interval holds {100 * np.mean(held):.1f} % of {len(held)}; told without "
        f"any {100 * np.mean(surely):.1f} %"
    )
    print(
        f"breaks of both beginnings: off by {100 * np.median(errors):.1f} % (median of "
        f"{len(errors)}), 95 % interval holds {100 * np.mean(covered):.0f} %"
    )


def practices(first: int, takes: int) -> None:
    """Through messages: breaks, the difference, and strings that sound at up strokes alone."""
    errors: list[float] = []
    planted: Counter[str] = Counter()
    false, held = 0, []
    for seed in range(first, first + takes):
        for plant in (True, False):
            _, done, noise, breaks = practised(seed, plant)
            tries = gather(done.reps)
            found = by_start(tries) if tries is not None else None
            if found is None:
                planted["no direction"] += plant
                continue
            for limits, middle in zip((found.down, found.up), breaks):
                if limits.broken.status == "found" and not plant:
                    errors.append(abs(limits.broken.bpm / middle - 1.0))
            if noise is not None:
                told = [one for one in found.strokes if one.what == "noise"]
                right = [one for one in told if (one.string, one.slot, one.stroke) == noise]
                planted["right" if right else "silent"] += 1
                planted["false"] += len(told) - len(right)
            else:
                false += any(one.what == "noise" for one in found.strokes)
                if breaks[0] == breaks[1]:
                    held.append(not found.difference.surely)
    print(
        f"practices through messages: breaks off by {100 * np.median(errors):.1f} % (median of "
        f"{len(errors)}); no difference denied in {len(held) - sum(held)} of {len(held)}"
    )
    print(
        f"string at up strokes alone: {dict(planted)}; told where there is none {false} of {takes}"
    )


PARTS = {"strokes": strokes, "hammered": hammered, "starts": starts, "practices": practices}
USUAL = {"strokes": 80, "hammered": 30, "starts": 160, "practices": 15}


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--set", choices=SETS, default="dev")
    ask.add_argument("--only", choices=PARTS)
    ask.add_argument("--takes", type=int)
    ask.add_argument("--first", type=int, help="first seed, in place of a set's")
    asked = ask.parse_args()
    for name, part in PARTS.items():
        if asked.only in (None, name):
            first = SETS[asked.set] if asked.first is None else asked.first
            part(first, asked.takes or USUAL[name])


if __name__ == "__main__":
    main()
