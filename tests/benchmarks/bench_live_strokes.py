"""How often what the screen says of strokes while playing is what the review says afterwards.

    python tests/benchmarks/bench_live_strokes.py [--takes N] [--first SEED] [--reps N]

Takes of random loudness (strings, accents, repetitions, scatter), in which some notes of one slot
are hammered though a stroke is planned, at 0.45 to 0.75 of its loudness. Counted are planted notes
that the review tells hammered, that the screen told, both, and what either told that was not
planted. The first repetitions, of which the screen says nothing (``LEAST_REPS``), are left out.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from livecheck.console.model import Model
from livecheck.core.cell import make_cell
from livecheck.core.events import Midi, Record, RepDone, Repetition, UseCells, UseRig
from livecheck.core.rig import Rig
from livecheck.measures.sound import LEAST_REPS
from livecheck.measures.strokes.attack import HAMMERED, read_attacks
from livecheck.session import Session

CELL = make_cell(
    "six for strokes",
    [(2, 10), (2, 13), (3, 10), (3, 12), (4, 10), (4, 12)],
    tempo_bpm=110.0,
)
LEGATO = (2, 4, 6)  # slots that can be hammered: the one before is on their string


def take(seed: int, reps: int) -> tuple[list[Record], set[tuple[int, int]]]:
    """Records of a take, and (repetition, slot) of the notes that were hammered."""
    chance = Random(seed)
    scatter, drop = chance.uniform(0.04, 0.14), chance.uniform(0.45, 0.75)
    slot_hammered, often = chance.choice(LEGATO), chance.uniform(0.05, 0.4)
    string_level = {string: chance.uniform(70, 105) for string in (2, 3, 4)}
    accents = [chance.gauss(1.0, 0.06) for _ in CELL.slots]
    step_s = 60.0 / chance.uniform(90, 160) / CELL.grid
    records: list[Record] = [UseRig(0.0, Rig()), UseCells(0.0, (CELL,))]
    planted = set()
    for rep in range(1, reps + 1):
        loud = chance.gauss(1.0, 0.05)
        for slot in CELL.slots:
            level = string_level[slot.string] * accents[slot.number - 1] * loud
            if slot.number == slot_hammered and chance.random() < often:
                planted.add((rep, slot.number))
                level *= drop
            velocity = max(1, min(127, round(level * chance.gauss(1.0, scatter))))
            at = 1.0 + ((rep - 1) * CELL.steps + slot.start) * step_s + chance.gauss(0.0, 0.004)
            channel = slot.string - 1
            records.append(Midi(at, bytes([0x90 + channel, slot.pitch, velocity])))
            records.append(Midi(at + 0.8 * step_s, bytes([0x80 + channel, slot.pitch, 0])))
    return sorted(records, key=lambda record: record.t_s), planted


def told(records: list[Record]) -> tuple[set[tuple[int, int]], set[tuple[int, int]]]:
    """(repetition, slot) told hammered on the screen, each as its row was drawn, and in the review
    of all of them."""
    session, model = Session(), Model()
    live: set[tuple[int, int]] = set()
    reps: list[Repetition] = []

    def hear(outcomes: list) -> None:
        for outcome in outcomes:
            model.tell(outcome)
            if isinstance(outcome, RepDone):
                rep = outcome.repetition
                reps.append(rep)
                live.update(
                    (rep.rep, one.slot)
                    for one in model.sounds[rep.rep].against_plan
                    if one.told == HAMMERED
                )

    for record in records:
        hear(session.feed(record))
        model.hear(record)
    hear(session.finish())
    review = {
        (one.rep, one.slot)
        for one in read_attacks(reps).struck
        if one.against_plan and one.told == HAMMERED
    }
    return live, review


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--takes", type=int, default=20)
    parser.add_argument("--first", type=int, default=100)
    parser.add_argument("--reps", type=int, default=40)
    asked = parser.parse_args()
    count: Counter[str] = Counter()
    for seed in range(asked.first, asked.first + asked.takes):
        records, planted = take(seed, asked.reps)
        live, review = told(records)
        planted, live, review = (
            {one for one in some if one[0] >= LEAST_REPS} for some in (planted, live, review)
        )
        count["planted"] += len(planted)
        count["planted, told by the review"] += len(planted & review)
        count["planted, told on the screen"] += len(planted & live)
        count["planted, told by both"] += len(planted & live & review)
        count["told by the review, not planted"] += len(review - planted)
        count["told on the screen, not planted"] += len(live - planted)
    for what, number in count.items():
        print(f"{what:34} {number:5}")
    agreed = count["planted, told by both"] / max(count["planted, told by the review"], 1)
    print(f"of planted notes that the review tells, the screen told {100 * agreed:.1f} %")


if __name__ == "__main__":
    main()
