"""Does choosing by doubt save repetitions, against playing all cells in turn?

    python tests/benchmarks/bench_plan.py --first 0 --players 6

A player has six cells: two practised for weeks, two new, two not played for long. They go on until
the state of all six is known to 4 % by the same estimate, looked at after each block. *Plan*: the
blocks of ``agenda``, asked anew after each; what one block settles on any day waits while another
cell needs more. *Ladders*: every day the same number of repetitions of each cell in turn, five
tempos about where it is thought to break (x2: twice a day each). *Climbs*: from well below, 5 %
faster each time, until fewer than half are clean. *Same blocks*: in turn, the same number each, but
at the plan's tempos.
"""

from __future__ import annotations

import argparse
import sys
from copy import copy
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from agenda_players import FIRST_DAY, Book, Player, ladder

from livecheck.measures.agenda.blocks import doubt_of, known, reps_for, tempos_for, within_reach
from livecheck.measures.agenda.now import Following, State

WAYS = ("plan", "ladders", "ladders x2", "ladders x4", "climbs", "same blocks x2")
HISTORIES = ("weeks", "weeks", "new", "new", "long ago", "long ago")
START = 100  # days after the first on which it is counted from
MOST_DAYS = 40
MOST_BLOCKS = 3  # of a cell a day, where the next is expected to make it known
EACH = 25  # repetitions of each cell a day, in turn


class Hand:
    """One cell: its player, day by day, and its book."""

    def __init__(self, rng: np.random.Generator, history: str) -> None:
        self.player, self.book = Player.drawn(rng), Book()
        self.level, self.wandered = self.player.level, 0.0
        self.last: int | None = None
        self.before, self.told = Following(60.0, 240.0), 0  # fed with the days before the last
        days: list[int] = []
        if history != "new":
            at = START - (
                int(rng.integers(1, 4)) if history == "weeks" else int(rng.integers(21, 60))
            )
            for _ in range(
                int(rng.integers(6, 13)) if history == "weeks" else int(rng.integers(4, 9))
            ):
                days.append(at)
                at -= int(rng.choice([1, 1, 2, 2, 3]))
        for day in range(START):
            self.wake(day)
            if day in days:
                ladder(self.player, self.book, FIRST_DAY + day, int(rng.integers(4, 7)))
                self.played(day)

    def wake(self, day: int) -> None:
        """A day with a luck of its own, so long after the last one played."""
        rng, player = self.player.rng, self.player
        if self.last is not None:
            off = player.learn - player.forget * np.log(max(day - self.last, 1))
            self.wandered += rng.normal(0.0, player.wander / 7.0**0.5)
            player.level = self.level + off + self.wandered
        player.luck = rng.normal(0.0, player.day_luck * (3.0 if rng.random() < 0.1 else 1.0))

    def played(self, day: int) -> None:
        self.last, self.level, self.wandered = day, self.player.level, 0.0

    def state(self, day: int) -> State | None:
        """As ``state_on`` says, but each day is gone through once."""
        if not self.book.rows:
            return None
        tries = self.book.tries()
        for number in np.unique(tries.day[self.told :]):
            if number < FIRST_DAY + day:
                self.before.feed(int(number), tries.where(tries.day == number))
                self.told = int((tries.day <= number).sum())
        following = copy(self.before)
        if len(tries.day) > self.told:
            following.feed(FIRST_DAY + day, tries.where(tries.day == FIRST_DAY + day))
        return following.on(FIRST_DAY + day)

    def play(self, day: int, tempos: list[float], reps: int) -> int:
        """Stretches; gives back how many repetitions."""
        for bpm in tempos:
            self.book.add(FIRST_DAY + day, bpm, reps, self.player.take(bpm, reps))
        return len(tempos) * reps


def first(hand: Hand, day: int) -> int:
    """A new cell begins alike in all ways: 20 repetitions through all tempos."""
    return hand.play(day, [80.0, 105.0, 135.0, 170.0, 215.0], 4)


def planned(states: list[State | None], count: list[int]) -> list[int]:
    """Whom ``today`` would ask next, after so many blocks of each today: cells that need more days
    than this have one block each; the others come when none is left that does, the most doubtful
    first."""
    far = [
        at for at, one in enumerate(states) if one is None or not (known(one) or within_reach(one))
    ]
    if far:
        return [at for at in far if not count[at]]
    near = [at for at, one in enumerate(states) if not known(one) and count[at] < MOST_BLOCKS]
    return sorted(near, key=lambda at: -doubt_of(states[at]))


def block(way: str, hand: Hand, day: int, state: State) -> int:
    middle = state.today.bpm
    if way == "plan":
        reps = reps_for(state)
        return hand.play(day, list(tempos_for(state, reps)), 6)
    if way == "ladders":
        return hand.play(day, [middle * np.exp(at) for at in np.linspace(-0.14, 0.1, 5)], EACH // 5)
    if way == "same blocks":
        return hand.play(day, list(tempos_for(state, 24)), 6)
    bpm, spent = 0.8 * middle, 0
    while True:
        spent += hand.play(day, [bpm], 4)
        if hand.book.rows[-1][4] < 2 or spent >= 40:
            return spent
        bpm *= 1.05


def run(asked: tuple[str, int]) -> tuple[int, int, bool, float, float]:
    """Repetitions and days until all are known (or the bound), whether they are, the share of the
    intervals that hold the state, and of estimates truly within 4 %."""
    way, seed = asked
    way, _, rounds = way.partition(" x")
    rounds = int(rounds or 1)
    rng = np.random.default_rng([seed, 7])
    hands = [Hand(np.random.default_rng([seed, at]), what) for at, what in enumerate(HISTORIES)]
    spent, day = 0, START
    states: list[State | None] = []

    def done() -> bool:
        return all(one is not None and known(one) for one in states)

    for day in range(START, START + MOST_DAYS):
        for hand in hands:
            hand.wake(day)
        states = [hand.state(day) for hand in hands]
        if done():
            break
        todo = planned(states, [0] * 6) if way == "plan" else list(rng.permutation(6)) * rounds
        count = [0] * 6
        while todo:
            at = todo.pop(0)
            state = states[at]
            spent += first(hands[at], day) if state is None else block(way, hands[at], day, state)
            hands[at].played(day)
            states[at] = hands[at].state(day)
            count[at] += 1
            if done():
                break
            if way == "plan":
                todo = planned(states, count)
        if done():
            break
    held = [
        state.own.low_bpm <= hand.player.own_bpm <= state.own.high_bpm
        for state, hand in zip(states, hands)
    ]
    near = [
        abs(np.log(state.own.bpm / hand.player.own_bpm)) <= np.log(1.04)
        for state, hand in zip(states, hands)
    ]
    return spent, day - START + 1, done(), float(np.mean(held)), float(np.mean(near))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--players", type=int, default=6)
    parser.add_argument("--ways", default=",".join(WAYS))
    asked = parser.parse_args()
    seeds = range(asked.first, asked.first + asked.players)
    ways = asked.ways.split(",")
    every = [run((way, seed)) for seed in seeds for way in ways]
    table = {way: np.array(every[at :: len(ways)], float) for at, way in enumerate(ways)}
    print(
        "| way | repetitions (median, 10 % to 90 %) | days | all known | held | truly within 4 % |"
    )
    for way, found in table.items():
        low, middle, high = np.quantile(found[:, 0], [0.1, 0.5, 0.9])
        print(
            f"| {way} | {middle:.0f} ({low:.0f} to {high:.0f}) | {np.median(found[:, 1]):.0f} | "
            f"{100 * found[:, 2].mean():.0f} % | {100 * found[:, 3].mean():.0f} % | "
            f"{100 * found[:, 4].mean():.0f} % |"
        )
    for way in ways[1:]:
        ratio = table[ways[0]][:, 0] / table[way][:, 0]
        total = table[ways[0]][:, 0].sum() / table[way][:, 0].sum()
        low, middle, high = np.quantile(ratio, [0.1, 0.5, 0.9])
        print(
            f"{ways[0]} / {way}: {middle:.2f} (median; 10 % {low:.2f}, 90 % {high:.2f}); all "
            f"together {total:.2f}; fewer by a quarter in {np.mean(ratio <= 0.75):.0%} of players"
        )


if __name__ == "__main__":
    main()
