"""Players of one cell over weeks, as counts of clean repetitions, for the benchmark of the day's
plan: they learn, forget, wander, and have a luck of each day and of each take."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from ladders import table

from livecheck.measures.review.table import Tries

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
    def own_bpm(self) -> float:
        """Where one half of the repetitions are clean on a day like any other: the lapse moves it a
        little."""
        return float(np.exp(self.level - self.width * np.log(0.5 / (0.5 - self.lapse))))

    @property
    def break_bpm(self) -> float:
        """The same today."""
        return float(self.own_bpm * np.exp(self.luck))

    def take(self, bpm: float, reps: int) -> int:
        """Clean repetitions of a take."""
        at = (self.level + self.luck - np.log(bpm)) / self.width
        at += self.rng.normal(0.0, self.take_luck)
        return int(self.rng.binomial(reps, (1.0 - self.lapse) / (1.0 + np.exp(-at))))


class Book:
    """What was played of a cell."""

    def __init__(self) -> None:
        self.rows: list[tuple[int, int, float, int, int]] = []

    def add(self, day: int, bpm: float, reps: int, clean: int) -> None:
        self.rows.append((len(self.rows), day, bpm, reps, clean))

    def tries(self) -> Tries:
        take, day, bpm, n, clean = map(np.array, zip(*self.rows))
        return table(take, bpm, n, clean, day=day, sitting=day)


def ladder(player: Player, book: Book, day: int, takes: int) -> None:
    """A day's ladder about where the player breaks."""
    middle = player.break_bpm * np.exp(player.rng.normal(-0.03, 0.04))
    for at in np.linspace(-0.14, 0.1, takes):
        bpm = float(middle * np.exp(at))
        reps = int(player.rng.integers(6, 11))
        book.add(day, bpm, reps, player.take(bpm, reps))


def practised(
    rng: np.random.Generator, gaps_off: tuple[int, ...], most_days: int = 13
) -> tuple[Player, Book, int, int]:
    """A player with days of practice behind, on a day on which the cell was not yet played; its
    book, days off, and the day's number."""
    player, book, day = Player.drawn(rng), Book(), FIRST_DAY
    player.sleep(1, False)
    days = int(rng.integers(3, most_days))
    for number in range(days):
        ladder(player, book, day, int(rng.integers(4, 8)))
        last = number == days - 1
        gap = int(rng.choice(gaps_off)) if last else int(rng.choice([1, 1, 2, 2, 3, 5, 9]))
        player.sleep(gap, True)
        day += gap
    return player, book, gap, day
