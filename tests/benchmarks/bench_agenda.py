"""What today: does the present state hold, and what is read of learning and forgetting?

    python tests/benchmarks/bench_agenda.py --first 0 --players 120

Simulated players learn, forget, wander and have bad days; their repetitions are counts (clean or
not). After so many days off: does the interval of the break hold where it lies that day, and that
of the state where it lies but for the day's luck?
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from agenda_players import Player, practised

from livecheck.measures.agenda.now import State, state_on

GAPS_OFF = (1, 3, 7, 14, 28)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--players", type=int, default=60)
    parser.add_argument("--days", type=int, default=13, help="fewer days of practice than this")
    asked = parser.parse_args()
    rows, told = [], []
    for seed in range(asked.first, asked.first + asked.players):
        player, book, off, day = practised(np.random.default_rng(seed), GAPS_OFF, asked.days)
        state = state_on(book.tries(), day)
        assert state is not None
        rows.append((off, *_row(player, state)))
        told.append((player, state))
    found = np.array(rows, float)
    print(
        "| days off | players | break held | off by (median) | half width | state held | half "
        "width |"
    )
    for off in (*GAPS_OFF, None):
        some = found[found[:, 0] == off] if off is not None else found
        if len(some):
            _, held, error, half, own_held, own_half = some.T
            print(
                f"| {'all' if off is None else off} | {len(some)} | {100 * held.mean():.1f} % | "
                f"{np.median(np.abs(error)):.1f} % | {np.median(half):.1f} % | "
                f"{100 * own_held.mean():.1f} % | {np.median(own_half):.1f} % |"
            )
    for name in ("learn", "forget"):
        read = [
            (getattr(state, name), getattr(player, name))
            for player, state in told
            if getattr(state, name) is not None
        ]
        true = np.array([getattr(player, name) for player, _ in told])
        if read:
            off_by = np.array([this - that for this, that in read])
            print(
                f"{name}: told of {len(read)} of {len(told)}; off by "
                f"{100 * np.sqrt((off_by**2).mean()):.2f} % (root mean square; all players differ "
                f"by {100 * true.std():.2f} %)"
            )


def _row(player: Player, state: State) -> tuple[float, ...]:
    now, own = state.today, state.own
    return (
        now.low_bpm <= player.break_bpm <= now.high_bpm,
        100 * np.log(now.bpm / player.break_bpm),
        50 * np.log(now.high_bpm / now.low_bpm),
        own.low_bpm <= player.own_bpm <= own.high_bpm,
        50 * np.log(own.high_bpm / own.low_bpm),
    )


if __name__ == "__main__":
    main()
