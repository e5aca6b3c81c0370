"""The present state, and the blocks of a day."""

from __future__ import annotations

import numpy as np
import pytest
from ladders import table

from livecheck.measures.agenda.blocks import KNOWN, MOST, Standing, doubt_left, plan_day
from livecheck.measures.agenda.now import Move, loose_of, move_since, present
from livecheck.measures.agenda.week import days_of, moved_by
from livecheck.measures.review.answers import make_review
from livecheck.measures.review.course import course
from livecheck.measures.review.limits import Limit

DAY = 739000
FOUND = Limit("found", 150.0, 145.0, 155.0)


def practice(days: list[int], breaks: list[float], seed: int = 1, reps: int = 10):
    """A table of one ladder a day, each day breaking where it is said."""
    rng = np.random.default_rng(seed)
    take, bpm, clean, day = [], [], [], []
    for number, middle in zip(days, breaks):
        for at in np.linspace(-0.16, 0.12, 8):
            tempo = middle * np.exp(at)
            chance = 1.0 / (1.0 + np.exp(at / 0.04))
            take.append(len(take))
            bpm.append(tempo)
            clean.append(rng.binomial(reps, chance))
            day.append(DAY + number)
    return table(take, bpm, [reps] * len(take), clean, day=day, sitting=day)


def stands(tries, today: int, name: str = "cell") -> Standing:
    """Where a table of tries stands on a day."""
    review = make_review(tries, name)
    over = course(tries, tries.clean, tries.n)
    move = move_since(tries, over, DAY + today)
    loose = loose_of(over)
    secure, broken = (present(one, move, loose) for one in (review.secure, review.broken))
    since = DAY + today - int(tries.day.max())
    return Standing(name, 2.0, since, review, secure, broken, move)


def test_nothing_moves_on_a_day_of_practice():
    """On the day itself the state is the review's."""
    tries = practice([0, 2, 4], [150, 150, 150])
    over = course(tries, tries.clean, tries.n)
    assert move_since(tries, over, DAY + 4) == Move(0.0, 0.0, None, None)
    assert present(FOUND, Move(0.0, 0.0, None, None)) is FOUND


def test_days_off_make_the_state_less_certain():
    """The longer it was not played, the wider the interval; never narrower than the review's."""
    tries = practice([0, 2, 4, 5], [150, 151, 150, 150])
    over = course(tries, tries.clean, tries.n)
    spreads = [move_since(tries, over, DAY + 5 + off).sd for off in (1, 4, 12, 40)]
    assert spreads == sorted(spreads) and spreads[0] > 0.0
    widened = present(FOUND, Move(0.0, spreads[-1], None, None))
    assert widened.low_bpm < FOUND.low_bpm and widened.high_bpm > FOUND.high_bpm


def test_forgetting_is_read_from_the_players_own_days():
    """A player who loses some five in a hundred over each fortnight off, and regains it, is
    expected to have lost it again; one who loses nothing is not."""
    days = [0, 1, 2, 16, 17, 18, 32, 33, 34, 48, 49, 50]
    loses = [150, 155, 158, 149, 154, 158, 149, 155, 158, 149, 154, 158]
    steady = [158] * 12
    lost, kept = (
        move_since(tries, course(tries, tries.clean, tries.n), DAY + 64)
        for tries in (practice(days, loses, reps=20), practice(days, steady, reps=20))
    )
    assert lost.mean < kept.mean - 0.02
    assert kept.forget is not None and kept.forget < 0.01


def test_few_days_tell_nothing_of_learning():
    """With two days played, what practice brings and days off take is not known."""
    tries = practice([0, 1], [150, 152])
    move = move_since(tries, course(tries, tries.clean, tries.n), DAY + 8)
    assert (move.learn, move.forget) == (None, None)


def test_information_of_a_block():
    """Without a take's luck n answers at one half have n / (4 width²): the textbook's information
    of a logistic curve's middle; and a block never adds to the doubt."""
    for reps in (8, 16, 24):
        left = doubt_left(0.05, 0.05, reps)
        alone = (4.0 * 0.05**2 / reps + (0.45 * 0.05) ** 2) ** 0.5
        assert left == pytest.approx((1 / (1 / 0.05**2 + 1 / alone**2)) ** 0.5)
        assert left < min(0.05, alone)


def test_the_doubtful_cell_is_played_and_the_known_one_is_not():
    """Of two cells the one whose break is known gets no block; the other gets one at its break."""
    known = stands(practice(list(range(8)), [150] * 8, reps=24), 7, "known")
    doubtful = stands(practice([0], [120], reps=3), 0, "doubtful")
    items = {item.standing.name: item for item in plan_day([known, doubtful], 30.0)}
    assert items["known"].block is None and items["known"].question is None
    block = items["doubtful"].block
    assert items["doubtful"].chosen and block is not None and block.reps <= MOST
    assert block.bpm == pytest.approx(120, rel=0.1)


def test_a_day_holds_no_more_than_its_minutes():
    """What does not fit is not chosen, and easy blocks come first."""
    cells = [stands(practice([0], [90 + 20 * at], reps=3), 0, f"cell {at}") for at in range(5)]
    items = plan_day(cells, 2.0)
    chosen = [item for item in items if item.chosen]
    assert 0 < len(chosen) < 5
    assert sum(item.block.minutes for item in chosen) <= 2.0
    ease = [
        item.block.bpm / item.standing.broken.bpm for item in chosen if item.standing.broken.bpm
    ]
    assert ease == sorted(ease)


def test_a_cell_never_tried_is_searched():
    """Its block begins where the cell's file says."""
    new = Standing(
        "new", 2.0, None, None, Limit("too_few"), Limit("too_few"), Move(0, 0, None, None), 84.0
    )
    (item,) = plan_day([new], 30.0)
    assert item.block is not None and (item.block.kind, item.block.bpm) == ("search", 84.0)


def test_a_tempo_beyond_all_played_is_marked():
    """So that it is told with its caution."""
    tries = table([0, 1, 2], [100, 110, 120], [12] * 3, [12] * 3, day=[DAY] * 3, sitting=[0] * 3)
    (item,) = plan_day([stands(tries, 0)], 30.0)
    assert item.block is not None and item.block.faster and item.block.bpm > 120


def test_a_week_has_seven_days_and_shares_a_sittings_time():
    """Days without play are there with nought; two cells share an hour by their repetitions."""
    days = days_of(DAY, [(DAY + 1, 60.0, [("a", 30), ("b", 10)]), (DAY + 9, 5.0, [("a", 3)])])
    assert len(days) == 7 and sum(day.minutes for day in days) == 60.0
    assert days[1].cells == (("a", 45.0, 30), ("b", 15.0, 10))


def test_what_moved_is_told_with_its_interval():
    """Ten in a hundred within the week is sure; nothing is claimed of a steady player."""
    for breaks, sure in (([140, 140, 142, 152, 155, 156], True), ([150] * 6, False)):
        tries = practice([0, 1, 2, 8, 9, 10], breaks, reps=20)
        over = course(tries, tries.clean, tries.n)
        review = make_review(tries, "cell")
        moved = moved_by("cell", review.secure, review.broken, over, DAY + 7)
        assert moved.sure is sure and moved.by_bpm is not None
        assert moved.by_bpm[1] <= moved.by_bpm[0] <= moved.by_bpm[2]


def test_known_means_four_in_a_hundred():
    """The bound that the plan of a day works towards."""
    assert KNOWN == 0.04
