"""The belief about a break, and the rules that follow it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from livecheck.measures.climb.answer import advice, limits
from livecheck.measures.climb.belief import PLACES, Belief, Known, Tried
from livecheck.measures.climb.rules import (
    BURST,
    EASY,
    LEAP,
    LEAP_MOST,
    RAISE,
    WARM_UP,
    Played,
    answered,
    easy_tempo,
    first_tempo,
    next_block,
)
from livecheck.measures.review.curve import fit_curve

KNOWN = Known(secure=120.0, break_bpm=140.0, low=134.0, high=146.0)


def ladder(break_bpm: float, width: float, seed: int, reps: int = 20) -> list[Tried]:
    """Blocks at thirteen tempos about a break, without luck."""
    rng = np.random.default_rng(seed)
    blocks = []
    for bpm in np.linspace(0.8 * break_bpm, 1.2 * break_bpm, 13):
        p = 0.98 / (1.0 + math.exp(-math.log(break_bpm / bpm) / width))
        blocks.append(Tried(float(bpm), reps, int(rng.binomial(reps, p))))
    return blocks


@pytest.mark.parametrize("seed", range(6))
def test_a_full_ladder_gives_the_break_of_a_maximum_likelihood_fit(seed: int) -> None:
    """Within one per cent of the review's own curve (checked against R's and scipy's fits)."""
    width = (0.02, 0.04, 0.06)[seed % 3]
    blocks = ladder(90.0 + 15.0 * seed, width, seed)
    curve, _ = fit_curve(
        [math.log(one.bpm) for one in blocks],
        [one.clean for one in blocks],
        [one.reps for one in blocks],
        floor=0.0,
    )
    at = curve.x_at(0.5)
    found = Belief(blocks, start=80.0).break_tempo()
    assert at is not None and found.bpm == pytest.approx(math.exp(at), rel=0.015)
    assert found.low < math.exp(at) < found.high


@pytest.mark.long
def test_a_full_ladder_gives_the_threshold_of_a_library_for_psychometric_functions() -> None:
    """psignifit (Schuett and others 2016) on the same blocks: within one and a half per cent, each
    inside the other's interval."""
    psignifit = pytest.importorskip("psignifit")
    for break_bpm, width in ((120.0, 0.04), (140.0, 0.02)):
        blocks = ladder(break_bpm, width, 0)
        data = np.array([[-math.log(one.bpm), one.clean, one.reps] for one in blocks])
        fit = psignifit.psignifit(data, sigmoid="logistic", experiment_type="yes/no", thresh_PC=0.5)
        theirs = math.exp(-fit.parameter_estimate["threshold"])
        ends = sorted(math.exp(-x) for x in fit.confidence_intervals["threshold"]["0.95"])
        ours = Belief(blocks, start=80.0).break_tempo()
        assert ours.bpm == pytest.approx(theirs, rel=0.015)
        assert ends[0] < ours.bpm < ends[1] and ours.low < theirs < ours.high


def plain_posterior(blocks: list[Tried], prior: np.ndarray) -> np.ndarray:
    """The posterior of a break for a player of one known curve, as QUEST has it: Bayes on a grid of
    thresholds (A. B. Watson, D. G. Pelli, Perception & Psychophysics 33 (1983) 113-120)."""
    weights = prior.copy()
    for one in blocks:
        p = 1.0 / (1.0 + np.exp(-(PLACES - math.log(one.bpm)) / 0.05))
        weights = weights * p**one.clean * (1.0 - p) ** (one.reps - one.clean)
    return weights / weights.sum()


def test_it_agrees_with_a_plain_estimate_on_a_grid_of_thresholds() -> None:
    """On blocks of a player of that very curve both medians lie within two per cent."""
    for seed in range(5):
        blocks = ladder(130.0, 0.05, seed, reps=12)
        weights = plain_posterior(blocks, np.ones(len(PLACES)))
        median = math.exp(PLACES[int(np.searchsorted(np.cumsum(weights), 0.5))])
        assert Belief(blocks, start=90.0).break_tempo().bpm == pytest.approx(median, rel=0.02)


def test_two_clean_halves_about_a_bad_span_tell_of_an_awkward_range() -> None:
    """And one fall tells of none; a block beyond it that holds turns the belief."""
    fall = [Tried(90, 6, 6), Tried(100, 6, 6), Tried(110, 6, 1), Tried(114, 6, 0)]
    before = Belief(fall, start=80.0)
    assert before.awkward_chance < 0.25 and before.break_tempo().bpm < 111
    after = Belief([*fall, Tried(140, 6, 6)], start=80.0)
    assert after.awkward_chance > 0.9 and after.break_tempo().bpm > 140
    low, high = after.awkward()
    assert 99 < low < 115 and 108 < high < 140


def test_the_gain_is_largest_where_the_break_may_be() -> None:
    """Nothing is learned far below and little far above."""
    belief = Belief([Tried(100, 6, 6), Tried(140, 6, 0)], start=80.0)
    far_below, near, far_above = belief.gains([60.0, 120.0, 200.0], 6)
    assert far_below < 0.1 * near and far_above < near


def test_a_climb_begins_below_what_is_secure() -> None:
    """With a start asked for, there, but not above what is known to be secure."""
    assert first_tempo(None, KNOWN) == 102.0
    assert first_tempo(90.0, KNOWN) == 90.0
    assert first_tempo(150.0, KNOWN) == 120.0
    assert first_tempo(88.0, Known()) == 88.0
    for rule in ("search", "steps", "bursts", "free"):
        assert next_block(rule, [], 6, None, KNOWN).kind == WARM_UP


@pytest.mark.parametrize("rule", ["search", "steps", "bursts"])
def test_a_tempo_is_raised_by_degrees(rule: str) -> None:
    """None begins above the tempo that was asked for, and no block but a leap is faster than the
    fastest that held by more than a fifth; a leap goes over what went badly within that."""
    for seed in range(2):
        rng = np.random.default_rng(seed)
        played: list[Played] = []
        for _ in range(14):
            ahead = next_block(rule, played, 6, 80.0, seed=seed)
            held = [one.bpm for one in played if one.share >= 0.75]
            most = LEAP_MOST * RAISE if ahead.kind == LEAP else RAISE
            assert ahead.bpm <= (most * max(held) if held else 80.0) + 1.0
            p = 0.98 / (1.0 + math.exp(-math.log(130.0 / ahead.bpm) / 0.03))
            played.append(
                Played(ahead.bpm, ahead.reps, int(rng.binomial(ahead.reps, p)), ahead.kind)
            )


@pytest.mark.parametrize("rule", ["search", "steps", "bursts"])
def test_an_easy_block_follows_two_that_went_badly(rule: str) -> None:
    """It lies below the fastest that held."""
    played = [Played(100, 6, 6, WARM_UP), Played(120, 6, 1), Played(112, 6, 2)]
    ahead = next_block(rule, played, 6, 100.0)
    assert ahead.kind == EASY and ahead.bpm < 100
    assert ahead.bpm == round(easy_tempo(played, 100.0, Known()))


def test_bursts_are_short_and_well_above_and_come_back() -> None:
    """A third of the repetitions at most a sixth faster; the base goes up when they held."""
    played = [Played(100, 6, 6, WARM_UP)]
    burst = next_block("bursts", played, 6, 100.0)
    assert (burst.kind, burst.reps, burst.bpm) == (BURST, 2, 115.0)
    back = next_block("bursts", [*played, Played(115, 2, 2, BURST)], 6, 100.0)
    assert back.reps == 6 and 100.0 < back.bpm < 115.0
    same = next_block("bursts", [*played, Played(115, 2, 0, BURST)], 6, 100.0)
    assert same.bpm == 100.0


def test_free_sets_nothing() -> None:
    """The tempo stays whatever comes of it."""
    for clean in (0, 6):
        assert next_block("free", [Played(97, 6, clean)] * 3, 6, 97.0).bpm == 97.0


def test_the_same_seed_gives_the_same_climb() -> None:
    """Of equally good tempos the seed takes one."""
    played = [Played(100, 6, 6, WARM_UP), Played(120, 6, 5)]
    tempos = {next_block("search", played, 6, 100.0, seed=seed).bpm for seed in range(12)}
    again = {next_block("search", played, 6, 100.0, seed=3).bpm for _ in range(3)}
    assert len(again) == 1 and len(tempos) >= 1


def test_no_tempo_is_told_that_was_not_reached() -> None:
    """Above all tempos, below all, too few; and found with an interval within those tried."""
    held = [Played(80, 6, 6), Played(96, 6, 6), Played(115, 6, 6)]
    secure, broken = limits(held, start=80.0)
    assert (broken.status, broken.bpm, broken.low_bpm) == ("above_range", None, 115)
    bad = [Played(80, 6, 0), Played(70, 6, 0), Played(60, 6, 0)]
    assert limits(bad, start=80.0)[1].status == "below_range"
    assert limits(held[:0])[1].status == limits([Played(80, 4, 4)])[1].status == "too_few"
    some = [*held, Played(130, 6, 2), Played(124, 6, 4), Played(127, 6, 3)]
    secure, broken = limits(some, start=80.0)
    assert broken.status == "found" and broken.bpm is not None and 118 < broken.bpm < 130
    assert broken.low_bpm is not None and broken.low_bpm <= broken.bpm
    for pair in ((secure, broken), limits(held), limits(bad), limits([])):
        assert advice(*pair)
    assert "if nothing hurts" in advice(secure, broken)


def test_the_question_is_answered_when_the_break_is_known_and_a_leap_was_tried() -> None:
    """Not after a few blocks."""
    few = [Played(100, 6, 6), Played(120, 6, 3)]
    assert not answered(few, Known(), 100.0)
    many = [Played(bpm, 12, clean) for bpm, clean in ((100, 12), (118, 11), (120, 6), (122, 2)) * 4]
    assert answered([*many, Played(150, 6, 0, LEAP)], Known(), 100.0)
