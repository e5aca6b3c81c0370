"""What today: does the present state hold, and does choosing by doubt save repetitions?

    python tests/benchmarks/bench_agenda.py --first 0 --players 60      present state
    python tests/benchmarks/bench_agenda.py --cells --first 0 --players 20

Simulated players learn, forget, wander and have bad days; their repetitions are counts (clean or
not). *Present*: after so many days off, does the interval of the break hold where it lies that day?
*Cells*: six cells, until all breaks are known to 4 % (the estimate, and truly); by the plan of the
day, and in turn.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from ladders import table

from livecheck.measures.agenda.blocks import KNOWN, Standing, plan_day
from livecheck.measures.agenda.now import loose_of, move_since, present
from livecheck.measures.review.answers import make_review
from livecheck.measures.review.course import course
from livecheck.measures.review.table import Tries

GAPS_OFF = (1, 3, 7, 14, 28)
FIRST_DAY = 739000


@dataclass
class Player:
    """One cell in one hand. Log tempo of the break without a day's luck; sizes as in ``agenda``."""

    rng: np.random.Generator
    level: float
    width: float
    lapse: float
    take_luck: float
    learn: float
    forget: float
    wander: float
    day_luck: float
    luck: float = 0.0  # today's

    @classmethod
    def drawn(cls, rng: np.random.Generator) -> Player:
        return cls(
            rng,
            level=np.log(rng.uniform(100, 190)),
            width=rng.uniform(0.025, 0.075),
            lapse=rng.choice([0.0, 0.02, 0.05]),
            take_luck=rng.uniform(0.2, 0.6),
            learn=rng.choice([0.0, 0.003, 0.008, 0.015]),
            forget=rng.choice([0.0, 0.01, 0.025]),
            wander=rng.uniform(0.0, 0.012),
            day_luck=rng.uniform(0.004, 0.02),
        )

    def sleep(self, days: int, practised: bool) -> None:
        """So many days go by; then it is a day with a luck of its own, now and then a bad one."""
        self.level += self.learn * practised - self.forget * np.log(max(days, 1))
        self.level += self.rng.normal(0.0, self.wander * (days / 7.0) ** 0.5)
        bad = 3.0 if self.rng.random() < 0.1 else 1.0
        self.luck = self.rng.normal(0.0, self.day_luck * bad)

    @property
    def break_bpm(self) -> float:
        """Where one half of the repetitions are clean today: the lapse moves it a little."""
        return float(np.exp(self.level + self.luck - self.width * np.log(0.5 / (0.5 - self.lapse))))

    def take(self, bpm: float, reps: int) -> int:
        """Clean repetitions of a take."""
        at = (self.level + self.luck - np.log(bpm)) / self.width
        at += self.rng.normal(0.0, self.take_luck)
        return int(self.rng.binomial(reps, (1.0 - self.lapse) / (1.0 + np.exp(-at))))


class Book:
    """What was played of a cell."""

    def __init__(self) -> None:
        self.rows: list[tuple[int, int, float, int, int]] = []
        self.judged: Any = None  # what was made of the rows

    def add(self, day: int, bpm: float, reps: int, clean: int) -> None:
        self.rows.append((len(self.rows), day, bpm, reps, clean))
        self.judged = None

    def tries(self) -> Tries:
        take, day, bpm, n, clean = map(np.array, zip(*self.rows))
        return table(take, bpm, n, clean, day=day, sitting=day)


def practise(player: Player, book: Book, day: int, takes: int) -> None:
    """A day's ladder about where the player breaks."""
    middle = player.break_bpm * np.exp(player.rng.normal(-0.03, 0.04))
    for at in np.linspace(-0.14, 0.1, takes):
        bpm = float(middle * np.exp(at))
        reps = int(player.rng.integers(6, 11))
        book.add(day, bpm, reps, player.take(bpm, reps))


def present_state(seed: int) -> tuple[int, bool, float, float] | None:
    """Days off, whether the interval held the break, error and half width in per cent."""
    rng = np.random.default_rng(seed)
    player, book, day = Player.drawn(rng), Book(), FIRST_DAY
    player.sleep(1, False)
    for _ in range(int(rng.integers(3, 13))):
        practise(player, book, day, int(rng.integers(4, 8)))
        gap = int(rng.choice([1, 1, 2, 2, 3, 5, 9]))
        day += gap
        last, level, luck = day - gap, player.level, player.luck
        player.sleep(gap, True)
    off = int(rng.choice(GAPS_OFF))
    player.level, player.luck = level, luck  # after the last day played
    player.sleep(off, True)
    tries = book.tries()
    review = make_review(tries, "cell")
    over = course(tries, tries.clean, tries.n)
    move = move_since(tries, over, last + off)
    limit = present(review.broken, move, loose_of(over))
    if limit.bpm is None:
        return None
    truth = player.break_bpm
    return (
        off,
        bool(limit.low_bpm <= truth <= limit.high_bpm),
        100 * np.log(limit.bpm / truth),
        50 * np.log(limit.high_bpm / limit.low_bpm),
    )


def known_after(seed: int, by_plan: bool, most: int = 1500) -> tuple[int, float]:
    """Repetitions until the breaks of six cells are known, and the share that truly lie within."""
    rng = np.random.default_rng(seed)
    players = [Player.drawn(rng) for _ in range(6)]
    books = [Book() for _ in players]
    day, spent, turn = FIRST_DAY, 0, 0
    while spent < most:
        for player in players:
            player.sleep(1, True)
        for player, book in zip(players, books):  # all begin with one short ladder
            if not book.rows:
                for bpm in (80.0, 105.0, 135.0, 170.0, 215.0):
                    book.add(day, bpm, 4, player.take(bpm, 4))
                spent += 20
        stands = [_standing(str(at), book, day) for at, book in enumerate(books)]
        if all(_known(one) for one in stands):
            break
        items = plan_day(stands, 30.0)
        if not by_plan:
            blocks = {item.standing.name: item.block for item in items}
            order = [(turn + at) % 6 for at in range(3)]
            turn += 3
            todo = [(at, blocks[str(at)]) for at in order]
        else:
            todo = [(int(item.standing.name), item.block) for item in items if item.chosen]
        for at, block in todo:
            bpm, reps = (
                (block.bpm, block.reps)
                if block is not None and block.bpm
                else (stands[at].broken.bpm, 16)
            )
            clean = players[at].take(bpm, reps // 2), players[at].take(bpm, reps - reps // 2)
            books[at].add(day, bpm, reps // 2, clean[0])
            books[at].add(day, bpm, reps - reps // 2, clean[1])
            spent += reps
        day += 1
    right = np.mean(
        [
            one.broken.bpm is not None and abs(np.log(one.broken.bpm / player.break_bpm)) < 0.04
            for one, player in zip(stands, players)
        ]
    )
    return spent, float(right)


def _standing(name: str, book: Book, day: int) -> Standing:
    if book.judged is None:
        tries = book.tries()
        book.judged = make_review(tries, name), course(tries, tries.clean, tries.n), tries
    review, over, tries = book.judged
    move = move_since(tries, over, day)
    loose = loose_of(over)
    secure, broken = (present(one, move, loose) for one in (review.secure, review.broken))
    return Standing(name, 4.0, day - int(tries.day.max()), review, secure, broken, move)


def _known(one: Standing) -> bool:
    limit = one.broken
    return limit.bpm is not None and max(
        np.log(limit.bpm / limit.low_bpm), np.log(limit.high_bpm / limit.bpm)
    ) <= np.log1p(KNOWN)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--players", type=int, default=60)
    parser.add_argument("--cells", action="store_true")
    asked = parser.parse_args()
    seeds = range(asked.first, asked.first + asked.players)
    if asked.cells:
        ways = {plan: [known_after(seed, plan) for seed in seeds] for plan in (True, False)}
        for plan, found in ways.items():
            spent, right = map(np.array, zip(*found))
            print(
                f"{'by the plan' if plan else 'in turn'}: {np.median(spent):.0f} repetitions "
                f"(median), {100 * right.mean():.0f} % truly within 4 %"
            )
        ratio = [a[0] / b[0] for a, b in zip(ways[True], ways[False])]
        print(f"ratio, player by player: {np.median(ratio):.2f} (median)")
        return
    found = [one for one in map(present_state, seeds) if one is not None]
    print("| days off | players | held | off by, % (median) | half width, % (median) |")
    for off in (*GAPS_OFF, None):
        some = [one for one in found if off is None or one[0] == off]
        if some:
            _, held, error, half = map(np.array, zip(*some))
            print(
                f"| {'all' if off is None else off} | {len(some)} | {100 * held.mean():.0f} % | "
                f"{np.median(np.abs(error)):.1f} | {np.median(half):.1f} |"
            )


if __name__ == "__main__":
    main()
