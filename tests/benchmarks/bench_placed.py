"""How many repetitions stand at a tempo that was not played. Run by hand:

    python tests/benchmarks/bench_placed.py [players] [first seed]

Climbs of nine tempos, seven in a hundred apart, by uneven players, through messages and matcher. A
repetition is misplaced where it stands more than 2.5 % from every tempo that was played.
"""

# ruff: noqa: E402
from __future__ import annotations

import sys
from pathlib import Path
from random import Random
from unittest import mock

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import played_ladder

from livecheck.core.events import RepDone, Repetition
from livecheck.measures.review.placed import placed
from livecheck.player.habits import Habits
from livecheck.session import Session

FAR = 0.025


def practice(seed: int) -> tuple[list[float], list[Repetition]]:
    rng = Random(f"placed {seed}")
    uneven = rng.uniform(0.5, 1.6)
    tempos = [90 * 1.07**step for step in range(9)]

    def habits(**given: float) -> Habits:
        return Habits(**{**given, "timekeeper": uneven, "walk_pct": 0.05})

    with mock.patch.object(played_ladder, "Habits", habits):
        played = played_ladder.climb(
            rng,
            tempos,
            16,
            played_ladder.falling(130, 8.0),
            slot=rng.randint(1, 6),
            fault=rng.choice(["missed", "wrong"]),
        )
    session, told = Session(), []
    for record in played.session():
        told += session.feed(record)
    told += session.finish()
    return tempos, [one.repetition for one in told if isinstance(one, RepDone)]


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    start = int(sys.argv[2]) if len(sys.argv) > 2 else 10_000
    of = {"all": [0, 0, 0], "flawed": [0, 0, 0]}
    for seed in range(start, start + count):
        tempos, reps = practice(seed)
        for rep, bpm in placed(reps):
            far, own = (
                min(abs(at / tempo - 1.0) for tempo in tempos) > FAR
                for at in (bpm, rep.tempo_bpm or bpm)
            )
            for kind in ("all",) if rep.clean else ("all", "flawed"):
                of[kind] = [a + b for a, b in zip(of[kind], (1, far, own))]
    for kind, (every, far, own) in of.items():
        print(
            f"{kind}: {every} repetitions, misplaced {100 * far / every:.2f} %; by their own tempo "
            f"{100 * own / every:.1f} %"
        )


if __name__ == "__main__":
    main()
