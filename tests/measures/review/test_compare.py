"""Two ways of playing where the answer is plain; coverage is the benchmark's."""

from __future__ import annotations

import numpy as np
import pytest
from ladders import table
from statsmodels.stats.proportion import confint_proportions_2indep

from livecheck.measures.review.compare import compare, verdict

BPM = np.repeat(np.arange(100, 181, 10.0), 5)


def group(shares):
    """Five takes of ten at each of nine tempos, one repetition of luck between them."""
    luck = np.tile([0, 1, -1, 0, 0], 9)
    clean = np.clip(np.round(10 * np.repeat(shares, 5)) + luck, 0, 10)
    return table(range(45), BPM, np.full(45, 10), clean)


PICKED = group([0.9, 0.9, 0.9, 0.9, 0.6, 0.5, 0.4, 0.3, 0.2])
HAMMERED = group([0.9, 0.9, 0.9, 0.9, 0.9, 0.8, 0.7, 0.6, 0.5])


def test_the_better_way_is_told_with_its_tempos():
    """Alike up to 130, thirty points better from 140 up."""
    found = compare(HAMMERED, PICKED)
    assert (found.clearest.from_bpm, found.clearest.to_bpm) == (140, 180)
    assert found.clearest.points == pytest.approx(30, abs=2)
    assert found.clearest.low < 30 < found.clearest.high and found.clearest.low > 5
    assert verdict(found, "hammered", "picked").startswith(
        "hammered is cleaner than picked from 140 bpm up: +"
    )


def test_the_other_way_round_is_the_same_the_other_way_round():
    """Swapping the groups turns the sign, and the sentence names the same way as the cleaner
    one."""
    assert compare(PICKED, HAMMERED).clearest.points == pytest.approx(
        -compare(HAMMERED, PICKED).clearest.points
    )
    assert verdict(compare(PICKED, HAMMERED), "picked", "hammered").startswith(
        "hammered is cleaner than picked from"
    )


def test_alike_is_said_to_be_alike():
    """The same counts differ by nothing, and no part of the ladder is picked out."""
    found = compare(PICKED, PICKED)
    assert found.clearest is None and found.overall.points == 0
    assert found.overall.low < 0 < found.overall.high
    assert verdict(found, "a", "b").startswith(
        "No clear difference between a and b at 100 to 180 bpm"
    )


def test_equal_tempo_means_equal_tempo():
    """One way was mostly played slow, the other fast: at equal tempo they are the same."""
    share = np.repeat([0.9, 0.9, 0.9, 0.9, 0.6, 0.5, 0.4, 0.3, 0.2], 5)
    many, few = np.where(BPM < 140, 20, 4), np.where(BPM < 140, 4, 20)
    slow, fast = (table(range(45), BPM, n, np.round(n * share)) for n in (many, few))
    assert abs(compare(slow, fast).overall.points) < 8
    bare = slow.clean.sum() / slow.n.sum() - fast.clean.sum() / fast.n.sum()
    assert bare > 0.25


def test_a_single_tempo_is_no_narrower_than_independent_shares():
    """At one tempo the interval comes near Newcombe's for independent repetitions (S-13, first
    pair), or is wider."""
    first = table(range(7), [120.0] * 7, [10] * 7, [8] * 7)
    second = table(range(8), [120.0] * 8, [10] * 8, [6] * 8)
    found = compare(first, second).overall
    low, high = confint_proportions_2indep(56, 70, 48, 80, method="newcomb", compare="diff")
    assert found.points == pytest.approx(20)
    assert found.high - found.low >= 0.95 * 100 * (high - low)


def test_tempos_that_barely_overlap_are_told():
    """One up to 150, the other from 130: only what both tried counts, and the verdict says how much
    that is."""
    slow, fast = HAMMERED.where(BPM <= 150), PICKED.where(BPM >= 130)
    text = verdict(compare(slow, fast), "hammered", "picked")
    assert "barely overlap" not in text
    slow = HAMMERED.where(BPM <= 140)
    text = verdict(compare(slow, fast), "hammered", "picked")
    assert text.endswith(
        "Their tempos barely overlap: 100 of 250 and 100 of 300 repetitions were at tempos that "
        "both tried."
    )
    assert "barely overlap" not in verdict(compare(HAMMERED, PICKED), "hammered", "picked")


def test_a_difference_that_leaves_nought_out_is_not_called_unclear():
    """Five points better at every tempo, in many takes: clear as a whole though in no part of the
    ladder by itself."""
    rng = np.random.default_rng(3)
    bpm, n = np.tile(np.arange(100, 181, 10.0), 12), np.full(108, 12)
    one, other = (table(range(108), bpm, n, rng.binomial(n, share)) for share in (0.80, 0.73))
    found = compare(one, other)
    assert found.overall.low > 0 and found.clearest == found.overall
    assert verdict(found, "a", "b").startswith(
        "a is cleaner than b at every tempo that both tried, 100 to 180 bpm: +"
    )


def test_a_single_tempo_is_told_as_one():
    """No 120 to 120."""
    one, other, same = (table(range(8), [120.0] * 8, [10] * 8, [k] * 8) for k in (9, 2, 9))
    text = verdict(compare(one, other), "a", "b")
    assert text.startswith(
        "a is cleaner than b at 120 bpm, the only tempo that both tried: +70 points, "
    )
    assert " at 120 bpm, the only tempo that both tried: +0 points, -" in verdict(
        compare(one, same), "a", "b"
    )


def test_nothing_in_common_cannot_be_compared():
    """No shared tempo, or too few repetitions."""
    slow, fast = PICKED.where(BPM < 130), PICKED.where(BPM > 150)
    assert compare(slow, fast) is None
    assert (
        compare(
            PICKED.where(np.arange(45) == 0).where(np.array([True])), table([0], [100.0], [3], [3])
        )
        is None
    )
