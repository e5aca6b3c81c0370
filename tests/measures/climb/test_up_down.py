"""Transformed up-down rules against the published examples."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.measures.climb.up_down import moves, next_level, reversals

ONE_UP = "CCIIIICCIIICCCCCIIICCIII"
TWO_UP = "CCCCICIICICCCCCIIICCCCCC"


def answers(text: str) -> list[bool]:
    return [sign == "C" for sign in text]


def mid_runs(text: str, in_a_row: int, runs: list[int]) -> list[float]:
    """Middle levels of some runs: start 0, step 1, harder is lower."""
    level, levels = 0.0, []
    for move in moves(answers(text), in_a_row):
        levels.append(level)
        level -= move
    turned = [0, *reversals(answers(text), in_a_row), len(text)]
    return [
        (max(part) + min(part)) / 2.0
        for run in runs
        for part in [levels[max(turned[run - 1] - 1, 0) : turned[run]]]
    ]


def test_levitts_example_of_one_up_one_down() -> None:
    """sources.md S-17: reversals at trials 3 7 9 12 17 20 22; mid-run levels of runs 2, 4, 6: 0,
    1.5, -0.5."""
    assert reversals(answers(ONE_UP), 1) == [3, 7, 9, 12, 17, 20, 22]
    assert mid_runs(ONE_UP, 1, [2, 4, 6]) == [0.0, 1.5, -0.5]


def test_levitts_example_of_one_up_two_down() -> None:
    """sources.md S-18: reversals at trials 5 12 16 20; mid-run levels of runs 2 to 4: 0, 1.0,
    1.5."""
    assert reversals(answers(TWO_UP), 2) == [5, 12, 16, 20]
    assert mid_runs(TWO_UP, 2, [2, 3, 4]) == [0.0, 1.0, 1.5]


@pytest.mark.parametrize(("in_a_row", "at"), [(1, 0.5), (2, 0.7071), (3, 0.7937), (4, 0.8409)])
def test_where_a_rule_settles(in_a_row: int, at: float) -> None:
    """sources.md S-16: where so many right in a row are as likely as not: a long run of trials of a
    player on a logit line lies about there."""
    rng = np.random.default_rng(in_a_row)
    level, since, chances = 0.0, [], []
    for _ in range(20_000):
        p = 1.0 / (1.0 + np.exp(level))
        chances.append(p)
        since.append(bool(rng.random() < p))
        if move := moves(since, in_a_row)[-1]:
            level, since = level + 0.05 * move, []
    assert np.mean(chances[2000:]) == pytest.approx(at, abs=0.012)


def test_until_the_first_failure_each_success_goes_up() -> None:
    """After it so many in a row are needed."""
    assert next_level([True, True, True], 2) == 1
    assert next_level([True, False], 2) == -1
    assert next_level([True, False, True], 2) == 0
    assert next_level([True, False, True, True], 2) == 1
