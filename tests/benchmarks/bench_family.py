"""How right it is what a change of strings, fret or beginning does: families whose truth is known.

  python tests/benchmarks/bench_family.py --families 40
  python tests/benchmarks/bench_family.py --first 6000 --families 60     seeds nothing was tuned on

Each family: a cell and one made of it, practised at the same tempos on one to four days, takes with
luck of their own; the second breaks at another tempo (by 5 to 25 %), or at the same one. *right*:
told earlier or later as planted; *silent*: nothing told; *false*: told the wrong way round, or
where there is no difference.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from ladders import figure, layout

from livecheck.commands.compare_family import Member, against, told_words
from livecheck.commands.played import Way
from livecheck.files.index import Played
from livecheck.measures.review.limits import tempo_limits
from livecheck.measures.review.packed import pack
from livecheck.measures.review.table import Tries, together
from livecheck.measures.stats import sigmoid

APART = (0.0, 0.0, 0.05, 0.08, 0.12, 0.18, 0.25)


def practised(rng: np.random.Generator, breaks: float, tempos: np.ndarray, days: int) -> Tries:
    """Takes at all tempos, spread over the days; a note that fails towards the break, and some
    lapses."""
    width, luck = breaks * rng.uniform(0.02, 0.05), float(rng.choice([0.2, 0.4, 0.6]))
    lapse = rng.uniform(0.0, 0.04)
    tables = []
    for _ in range(days):
        rows = layout(rng, tempos, int(rng.integers(8, 20)), str(rng.choice(["one", "many"])))
        faults = [
            ("missed", 5, lambda bpm: lapse + (1 - lapse) * sigmoid((bpm - breaks) / width)),
        ]
        tables.append(figure(rng, rows, faults, luck))
    return together(tables)


def member(name: str, tries: Tries) -> Member:
    played = Played(name, None, 6, 4, name, "", tries.reps, pack(tries))
    return Member(name, [Way(played, name, 0, 0)], tempo_limits(tries))


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--families", type=int, default=40)
    ask.add_argument("--first", type=int, default=0)
    asked = ask.parse_args()
    fate: dict[float, Counter[str]] = {}
    held: list[bool] = []
    for seed in range(asked.first, asked.first + asked.families):
        rng = np.random.default_rng(seed)
        low = rng.uniform(80, 110)
        tempos = np.geomspace(low, low * rng.uniform(1.6, 2.0), int(rng.integers(7, 13)))
        middle, apart = tempos[0] * rng.uniform(1.2, 1.45), float(rng.choice(APART))
        sign, days = float(rng.choice([-1.0, 1.0])), int(rng.integers(1, 5))
        first = member("a", practised(rng, middle, tempos, days))
        other = member("b", practised(rng, middle * (1 + sign * apart), tempos, days))
        difference, _ = against(first, other)
        count = fate.setdefault(apart, Counter())
        if difference is None:
            count["silent"] += 1
            continue
        held.append(difference["low"] <= sign * apart * middle <= difference["high"])
        told = told_words(first, other, difference)
        planted = "later" if sign > 0 else "earlier"
        right = told is not None and apart > 0.0 and planted in told
        count["silent" if told is None else "right" if right else "false"] += 1
    for apart, count in sorted(fate.items()):
        print(f"breaks {100 * apart:.0f} % apart: {dict(count)}")
    print(f"interval holds the difference in {100 * np.mean(held):.1f} % of {len(held)}")


if __name__ == "__main__":
    main()
