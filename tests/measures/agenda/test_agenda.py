"""The present state, the questions that are open, and the blocks of a day."""

from __future__ import annotations

from dataclasses import replace
from math import log

import numpy as np
import pytest
from ladders import table
from practices import Plan, practised

from livecheck.measures.agenda.blocks import (
    AIM,
    MOST,
    STRETCH,
    Block,
    doubt_after,
    doubt_of,
    known,
    reps_for,
    tempos_for,
)
from livecheck.measures.agenda.day import REST, plan_day
from livecheck.measures.agenda.now import Range, State, present, stands_on, state_on
from livecheck.measures.agenda.questions import Standing, Two, questions
from livecheck.measures.agenda.week import answered, days_of, moved_by
from livecheck.measures.climb.parts import JOINING, PartTold
from livecheck.measures.review.answers import make_review
from livecheck.measures.review.course import course
from livecheck.measures.review.limits import Limit
from livecheck.measures.review.moves import with_fall
from livecheck.measures.review.valleys import Valley

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


def stands(tries, today: int, name: str = "cell", **known_of) -> Standing:
    """Where a table of tries stands on a day."""
    review = make_review(tries, name)
    state = state_on(tries, DAY + today)
    since = DAY + today - int(tries.day.max())
    secure, broken = review.secure, review.broken
    if since:
        secure, broken = (present(one, review.broken, state) for one in (secure, broken))
    return Standing(name, 2.0, since, review, secure, broken, state, **known_of)


STATE = State(Range(150, 140, 161), Range(150, 138, 163), 0.05, 0.012, 0.0, None, None)
STEADY = practice(list(range(10)), [150] * 10, reps=24)


def test_days_off_make_the_state_less_certain():
    """The longer it was not played, the wider the interval; the last day's is the narrowest."""
    tries = practice([0, 2, 4, 5], [150, 151, 150, 150])
    halves = [state_on(tries, DAY + 5 + off).own.half for off in (0, 1, 4, 12, 40)]
    assert halves == sorted(halves) and halves[0] > 0.0
    state = state_on(tries, DAY + 45)
    assert state.today.low_bpm < state.own.low_bpm < state.own.high_bpm < state.today.high_bpm


def test_the_state_does_not_follow_the_luck_of_a_day():
    """One bad day after ten alike: the state stays nearer to the ten."""
    days, breaks = list(range(11)), [150.0] * 10 + [138.0]
    state = state_on(practice(days, breaks, reps=20), DAY + 10)
    assert state.own.bpm > 144.0 and state.own.low_bpm < 148.0


def test_forgetting_is_read_from_the_players_own_days():
    """A player who loses some five in a hundred over each fortnight off, and regains it, is
    expected to have lost it again; one who loses nothing is not."""
    days = [0, 1, 2, 16, 17, 18, 32, 33, 34, 48, 49, 50]
    loses = [150, 155, 158, 149, 154, 158, 149, 155, 158, 149, 154, 158]
    lost, kept = (
        state_on(practice(days, breaks, reps=20), DAY + 64) for breaks in (loses, [158] * 12)
    )
    assert lost.own.bpm < 0.98 * kept.own.bpm
    assert kept.forget is not None and kept.forget < 0.01
    assert lost.forget is not None and lost.forget > 0.012


def test_few_days_tell_nothing_of_learning():
    """With two days played, what practice brings and days off take is not known."""
    state = state_on(practice([0, 1], [150, 152]), DAY + 8)
    assert (state.learn, state.forget) == (None, None)


def test_days_that_are_not_known_have_no_state():
    """MIDI files and damaged clocks have the day nought."""
    assert state_on(practice([-DAY], [150]), DAY) is None


def test_a_limit_moves_with_the_break_and_is_known_less_well():
    """The break becomes the state's; what is secure keeps its share of it."""
    secure = Limit("found", 130.0, 126.0, 134.0)
    state = replace(STATE, today=Range(147.0, 136.0, 159.0))
    moved = present(FOUND, FOUND, state)
    assert (moved.bpm, moved.low_bpm, moved.high_bpm) == (147.0, 136.0, 159.0)
    slower = present(secure, FOUND, state)
    assert slower.bpm == pytest.approx(130.0 * 147.0 / 150.0)
    assert slower.low_bpm < 126.0 and slower.high_bpm > 132.0
    assert present(FOUND, FOUND, None) is FOUND


def test_a_block_never_adds_to_the_doubt_and_a_day_has_an_end():
    """More repetitions tell more, but never more than the day's luck allows; what was told today
    makes the next block of today worth less."""
    sd, luck = doubt_of(STATE), STATE.luck
    left = [doubt_after(STATE, reps) for reps in range(STRETCH, 600, STRETCH)]
    assert all(after < before for before, after in zip([sd, *left], left))
    assert left[-1] > (1.0 / (1.0 / sd**2 + 1.0 / luck**2)) ** 0.5
    later = replace(STATE, told_today=1.0 / 0.05**2)
    assert doubt_after(later, 12) > doubt_after(STATE, 12)


def test_the_fewest_repetitions_that_make_it_known():
    """No more than that, in whole stretches; beside the break, slower and faster by turns."""
    near = replace(STATE, own=Range(150, 143.5, 156.8), width=0.03)
    reps = reps_for(near)
    aim = log(1.0 + AIM) / 1.96
    assert doubt_after(near, reps) <= aim * 1.001
    assert reps == STRETCH or doubt_after(near, reps - STRETCH) > aim
    assert reps_for(STATE) <= MOST and reps_for(STATE) % STRETCH == 0
    tempos = tempos_for(near, 24)
    assert len(tempos) == 4 and tempos[0] < 150 < tempos[1] and tempos[:2] == tempos[2:]


def test_the_doubtful_cell_is_played_and_the_known_one_is_not():
    """Of two cells the one whose state is known gets no block; the other gets one at its break."""
    doubtful = stands(practice([0], [120], reps=6), 0, "doubtful")
    items = {
        item.standing.name: item
        for item in plan_day([stands(STEADY, 9, "known"), doubtful], 30).items
    }
    assert items["known"].block is None and items["known"].question is None
    block = items["doubtful"].block
    assert items["doubtful"].chosen and block is not None and block.reps <= MOST
    assert block.bpm == pytest.approx(120, rel=0.1)


def test_a_day_holds_no_more_than_its_minutes():
    """What does not fit is not chosen, easy blocks come first, and a rest after 25 minutes
    counts."""
    cells = [stands(practice([0], [90 + 20 * at], reps=6), 0, f"cell {at}") for at in range(5)]
    day = plan_day(cells, 4.0)
    assert 0 < len(day.turns) < 5 and day.minutes <= 4.0
    ease = [turn.block.bpm / turn.standing.broken.bpm for turn in day.turns]
    assert ease == sorted(ease)
    slow = plan_day([replace(one, beats=60.0) for one in cells], 300.0)
    assert sum(turn.rest_after for turn in slow.turns) >= REST
    assert slow.turns[-1].rest_after == 0.0


def test_what_one_block_tells_waits_for_what_needs_days():
    """A cell within reach of a block waits while another is not, and is played when none is."""
    near = stands(practice(list(range(4)), [150] * 4, reps=12), 6, "near")
    far = stands(practice([0], [120], reps=6), 40, "far")
    assert [turn.standing.name for turn in plan_day([near, far], 30).turns] == ["far"]
    assert [turn.standing.name for turn in plan_day([near], 30).turns] == ["near"]


def test_time_that_is_left_goes_to_further_questions():
    """Every cell has its first block before any has its second."""
    cells = [stands(STEADY, 9, name, untried=("economy", "strict")) for name in ("a", "b")]
    day = plan_day(cells, 60.0)
    names = [turn.standing.name for turn in day.turns]
    assert len(names) == 4 and set(names[:2]) == {"a", "b"}


def test_a_cell_never_tried_is_searched():
    """Its block begins where the cell's file says."""
    few = Limit("too_few")
    new = Standing("new", 2.0, None, None, few, few, None, 84.0)
    (item,) = plan_day([new], 30.0).items
    assert item.block is not None and (item.block.kind, item.block.bpm) == ("search", 84.0)


def test_a_cell_that_never_broke_is_searched_from_below():
    """The climb goes on beyond what was played, so it is told with its caution."""
    tries = table([0, 1, 2], [100, 110, 120], [12] * 3, [12] * 3, day=[DAY] * 3, sitting=[0] * 3)
    (item,) = plan_day([stands(tries, 0)], 30.0).items
    block = item.block
    assert block is not None and block.kind == "search" and block.faster and block.bpm < 110


def asked(cell: Standing) -> dict[str, Block | None]:
    return {one.about: one.block for one in questions(cell)}


def test_a_suspected_range_is_asked_where_it_would_tell():
    """Its stretches are at the tempos that the review asks for; once nothing is suspected the
    question is gone."""
    cell = stands(STEADY, 9)
    dip = Valley(104.0, 112.0, 0.3, False, 8, 12, (20, 20), (20, 20), (104.0, 112.0))
    suspects = replace(cell, review=replace(cell.review, suspected=dip))
    assert asked(suspects)["awkward"].tempos == (104, 104, 112, 112)
    assert "awkward" not in asked(cell)


def test_a_part_is_asked_until_it_is_told():
    """Notes that cannot be told are played alone, faster than where the cell breaks, and no more
    once they are told; the week says the answer."""
    cell = stands(STEADY, 9)
    unsure = PartTold((3, 4, 5), None, 0.6, None, None, (12, 60), (165.0, 160.0))
    before = replace(cell, parts=(unsure,))
    block = asked(before)["part 3-5"]
    assert block.kind == "part" and block.notes == (3, 4, 5) and block.faster
    assert block.bpm == pytest.approx(1.1 * cell.broken.bpm, abs=1)
    told = replace(cell, parts=(replace(unsure, why=JOINING, chance=0.9),))
    assert "part 3-5" not in asked(told)
    (answer,) = answered(plan_day([before], 30).items, plan_day([told], 30).items)
    assert (answer.name, answer.answer) == ("cell", "joining them")


@pytest.mark.parametrize(
    ("points", "low", "high", "is_open"),
    [(4, -15, 23, True), (12, 3, 21, False), (1, -6, 8, False), (-12, -21, -3, False)],
)
def test_two_ways_are_compared_until_it_is_told(points, low, high, is_open):
    """Open while the interval holds nought and a difference that matters."""
    two = Two("variants", ("as written", "economy"), points, low, high, 60, ("", "economy"))
    block = asked(replace(stands(STEADY, 9), twos=(two,))).get("variants: as written, economy")
    assert (block is not None) is is_open
    if block is not None:
        assert block.kind == "both" and block.variants == ("", "economy")


@pytest.mark.parametrize(
    ("points", "low", "high", "told"),
    [
        (20, 2, 38, "as written, by 20 clean in a hundred (+2 to +38)"),
        (-20, -38, -2, "economy, by 20 clean in a hundred (+2 to +38)"),
        (-1, -8, 6, "no difference that matters: 1 clean in a hundred (-6 to +8)"),
    ],
)
def test_the_week_tells_the_interval_of_the_better_way(points, low, high, told):
    """By how much, and between which, have one sign, whichever of the two is cleaner."""
    two = Two("variants", ("as written", "economy"), 4, -15, 23, 60, ("", "economy"))
    before = replace(stands(STEADY, 9), twos=(two,))
    after = replace(before, twos=(replace(two, points=points, low=low, high=high),))
    found = answered(plan_day([before], 30).items, plan_day([after], 30).items)
    assert told in [one.answer for one in found]


def test_a_variant_that_was_never_played_is_asked():
    """By turns with the way that is played, at what is secure."""
    cell = stands(STEADY, 9, untried=("economy",))
    block = asked(cell)["untried economy"]
    assert block.kind == "both" and block.bpm == pytest.approx(cell.secure.bpm, abs=1)


def test_following_the_blocks_makes_every_cell_known():
    """Who plays what is asked, day by day, is asked nothing in the end, and the state is right."""
    rng = np.random.default_rng(5)
    rows, true, day = [], 140.0, 0
    for bpm in (100.0, 125.0, 155.0):
        rows.append((bpm, 6, rng.binomial(6, chance(bpm, true))))
    days = [0] * len(rows)
    for day in range(1, 15):
        tries = table(range(len(rows)), *zip(*rows), day=[DAY + one for one in days], sitting=days)
        cell = stands(tries, day)
        (item,) = plan_day([cell], 30).items
        if item.question is None:  # it is known as of the evening before, and still is
            break
        for bpm in item.block.tempos or [item.block.bpm] * 4:
            rows.append((bpm, 6, rng.binomial(6, chance(bpm, true))))
            days.append(day)
    assert item.question is None and known(cell.state)
    assert cell.state.own.bpm == pytest.approx(true, rel=0.05)


def chance(bpm: float, middle: float) -> float:
    return float(1.0 / (1.0 + np.exp(np.log(bpm / middle) / 0.03)))


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
        moves = None if over is None else with_fall(over)
        moved = moved_by("cell", review.secure, review.broken, moves, DAY + 7)
        assert moved.sure is sure and moved.by_bpm is not None
        assert moved.by_bpm[1] <= moved.by_bpm[0] <= moved.by_bpm[2]


@pytest.mark.parametrize("seed", [1, 2])
def test_what_a_string_decides_stays_where_it_begins_to_sound(seed: int):
    """A player who gets faster, and string 4 from 125 bpm on in three of four repetitions: the day
    after it stands where the review has it, and nothing about the fall behind it is asked."""
    plan = Plan(
        tempos=np.round(100.0 * np.geomspace(1.0, 1.9, 14), 1),
        days=tuple(DAY + day for day in (0, 6, 13, 20, 28, 35, 43, 50)),
        way="climb", reps=(8, 20), middle=140.0, width=3.5, lapse=0.01, luck=0.3, gain_bpm=4.0,
        step=(4, 125.0, 0.75),
    )  # fmt: skip
    tries = practised(np.random.default_rng(seed), plan).tries
    review = make_review(tries, "cell", agenda=True)
    assert review.sounding is not None and review.sounding.decides == (True, True)
    secure, broken, state = stands_on(review, tries, DAY + 51)
    assert (secure, broken) == (review.secure, review.broken) and state is not None
    asked = questions(Standing("cell", 2.0, 1, review, secure, broken, state))
    assert not any("like any other" in one.text for one in asked)


def test_a_fall_that_nothing_holds_is_known_less_well_the_day_after():
    """Both limits then have wider intervals."""
    review = make_review(STEADY, "cell", agenda=True)
    secure, broken, _ = stands_on(review, STEADY, int(STEADY.day.max()) + 7)
    for now, then in ((secure, review.secure), (broken, review.broken)):
        assert now.high_bpm - now.low_bpm > then.high_bpm - then.low_bpm
