"""The course over days on planted practice."""

from __future__ import annotations

import numpy as np
import pytest
from ladders import sigmoid, table

from livecheck.measures.review.answers import make_review
from livecheck.measures.review.course import course


def practice(moves, seed=1, days=None):
    """A ladder of ten tempos each day, its fall moved by so many bpm; exact counts."""
    rng = np.random.default_rng(seed)
    rows = []
    for day, move in enumerate(moves):
        for bpm in np.linspace(90, 190, 10):
            p = sigmoid((140.0 + move - bpm) / 5.0)
            rows.append((len(rows), bpm, 20, rng.binomial(20, p), 739_000 + 3 * day))
    take, bpm, n, clean, day = zip(*rows)
    return table(take, bpm, n, clean, day=np.array(day), sitting=np.array(day))


def test_progress_is_followed_to_the_last_day():
    """Five bpm a day: now is the last day's, earlier the first day's."""
    review = make_review(practice(np.arange(8) * 5.0), "six")
    assert review.broken.bpm == pytest.approx(175.0, rel=0.02)
    assert review.earlier.day == 739_000 and review.as_of.day == 739_021
    assert review.earlier.break_bpm == pytest.approx(140.0, rel=0.03)


def test_no_progress_has_no_earlier():
    """Eight days alike: nothing moved."""
    assert make_review(practice(np.zeros(8)), "six").earlier is None


def test_a_bad_day_moves_the_others_little():
    """Day 4 of 8 lies 15 bpm lower: the course finds it there, the others stay."""
    moves = np.where(np.arange(8) == 3, -15.0, 0.0)
    found = course(tries := practice(moves), tries.clean, tries.n)
    assert found.move[3] == pytest.approx(-15.0, abs=5.0)
    assert np.abs(np.delete(found.move, 3)).max() < 3.0


def test_one_day_has_no_course():
    """Neither has practice without dates."""
    tries = practice([0.0])
    assert course(tries, tries.clean, tries.n) is None
