"""How soon, and at what cost, the rules of a climb find the break of players who have one.

    python tests/benchmarks/bench_climb.py [--players N] [--first SEED] [--reps N] [--blocks N]

Players differ in break, width, lapse, luck of a block and, in one of the sets, an awkward range.
Told is, by repetitions played (warm-up and easy blocks counted): the error of the break (median,
nine tenths), how often its 95 % interval holds it, the share of repetitions above the break, and
for players with a range how often the climb has come across it.
"""

from __future__ import annotations

import argparse
import math
import time
from dataclasses import dataclass

import numpy as np

from livecheck.measures.climb.belief import NOTHING, Belief, Known
from livecheck.measures.climb.rules import Played, first_tempo, next_block


@dataclass(frozen=True, slots=True)
class Player:
    """A player on the logarithm of tempo; ``valley``: from, to, and the share lost there."""

    break_bpm: float
    width: float
    lapse: float
    luck: float
    valley: tuple[float, float, float] | None = None

    def block(self, bpm: float, reps: int, rng: np.random.Generator) -> int:
        """How many of a block's repetitions are clean."""
        inner = 0.5 / (1.0 - self.lapse)
        z = math.log(self.break_bpm / bpm) / self.width + math.log(inner / (1.0 - inner))
        p = (1.0 - self.lapse) / (1.0 + math.exp(-z - rng.normal(0.0, self.luck)))
        if self.valley is not None and self.valley[0] <= bpm <= self.valley[1]:
            p *= 1.0 - self.valley[2]
        return int(rng.binomial(reps, p))


def player(rng: np.random.Generator, valley: bool) -> tuple[Player, float]:
    """A player, and the tempo at which somebody who does not know better begins."""
    start = float(rng.uniform(60.0, 110.0))
    broken = start * float(np.exp(rng.uniform(math.log(1.1), math.log(1.9))))
    if valley:
        broken = start * float(np.exp(rng.uniform(math.log(1.45), math.log(1.9))))
    lapse = float(rng.choice([0.0, 0.02, 0.05, 0.1]))
    one = Player(
        broken,
        float(np.exp(rng.uniform(math.log(0.015), math.log(0.07)))),
        lapse,
        float(rng.uniform(0.0, 0.8)),
    )
    if not valley:
        return one, start
    high = broken * float(rng.uniform(0.78, 0.9))
    low = high * float(np.exp(-rng.uniform(0.06, 0.2)))
    return Player(
        one.break_bpm, one.width, one.lapse, one.luck, (low, high, float(rng.uniform(0.4, 0.9)))
    ), start


def review_of(one: Player, rng: np.random.Generator) -> Known:
    """What a review of an earlier day says: off by some, and the player may have moved since."""
    error = 0.02
    moved = float(np.exp(rng.normal(0.0, 0.03)))
    seen = one.break_bpm * moved * float(np.exp(rng.normal(0.0, error)))
    secure = seen * math.exp(-2.2 * one.width - 0.01)
    return Known(secure, seen, seen * math.exp(-1.96 * error), seen * math.exp(1.96 * error))


def climb(
    one: Player, rule: str, start: float | None, known: Known, reps: int, blocks: int, seed: int
) -> list[Played]:
    rng = np.random.default_rng([seed, 7])
    played: list[Played] = []
    for _ in range(blocks):
        ahead = next_block(rule, played, reps, start, known, seed)
        played.append(
            Played(ahead.bpm, ahead.reps, one.block(ahead.bpm, ahead.reps, rng), ahead.kind)
        )
    return played


def told(name: str, rule: str, valley: bool, review: bool, asked: argparse.Namespace) -> None:
    marks: dict[int, list[tuple[float, bool, float]]] = {}
    crossed, shown, times = [], [], []
    for seed in range(asked.first, asked.first + asked.players):
        rng = np.random.default_rng(seed)
        one, start = player(rng, valley)
        known = review_of(one, rng) if review else NOTHING
        begun = time.process_time()
        played = climb(one, rule, None if review else start, known, asked.reps, asked.blocks, seed)
        times.append((time.process_time() - begun) / len(played))
        for count in range(1, len(played) + 1):
            some = played[:count]
            reps = sum(block.reps for block in some)
            if reps not in asked.at:
                continue
            found = Belief(some, known, first_tempo(None if review else start, known)).break_tempo()
            above = sum(block.reps for block in some if block.bpm > one.break_bpm) / reps
            marks.setdefault(reps, []).append(
                (
                    abs(math.log(found.bpm / one.break_bpm)),
                    found.low <= one.break_bpm <= found.high,
                    above,
                )
            )
        if one.valley is not None:
            crossed.append(
                any(block.bpm > one.valley[1] and block.clean >= block.reps / 2 for block in played)
            )
        if seed < asked.first + asked.show:
            path = " ".join(f"{block.bpm:.0f}{block.kind[0]}{block.clean}" for block in played)
            shown.append(f"   {one}: {path}")
    for reps, rows in sorted(marks.items()):
        errors = 100.0 * np.array([row[0] for row in rows])
        holds = 100.0 * np.mean([row[1] for row in rows])
        above = 100.0 * np.mean([row[2] for row in rows])
        print(
            f"{name:<28} {rule:<7} {reps:4} reps: off by {np.median(errors):4.1f} % (median) "
            f"{np.quantile(errors, 0.9):5.1f} (90 %)  interval holds {holds:3.0f} %  above "
            f"{above:3.0f} %"
        )
    if crossed:
        print(f"{name:<28} {rule:<7} came across the range: {100.0 * np.mean(crossed):.0f} %")
    print(f"{'':<28} {1e3 * np.mean(times):.0f} ms of processor a block")
    print(*shown, sep="\n")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--players", type=int, default=60)
    parser.add_argument("--first", type=int, default=1000)
    parser.add_argument("--reps", type=int, default=6)
    parser.add_argument("--blocks", type=int, default=14)
    parser.add_argument("--at", type=int, nargs="*", default=[18, 24, 36, 42, 60, 84])
    parser.add_argument("--show", type=int, default=0)
    parser.add_argument("--rules", nargs="*", default=["search", "steps"])
    parser.add_argument("--sets", nargs="*", default=["nothing", "review", "valley"])
    asked = parser.parse_args()
    for rule in asked.rules:
        if "nothing" in asked.sets:
            told("from nothing", rule, False, False, asked)
        if "review" in asked.sets:
            told("with a review", rule, False, True, asked)
        if "valley" in asked.sets:
            told("awkward range, from nothing", rule, True, False, asked)


if __name__ == "__main__":
    main()
