"""Where both tempos lay on earlier days, beside a string that begins to sound where it always
did."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from practices import FIRST_DAY, Plan, practised

from livecheck.measures.review.answers import make_review

WEEKS = Plan(
    tempos=np.round(100.0 * np.geomspace(1.0, 1.9, 14), 1),
    days=tuple(FIRST_DAY + day for day in (0, 6, 13, 20, 28, 35, 43, 50)),
    way="climb", reps=(8, 20), middle=140.0, width=3.5, lapse=0.01, luck=0.3, gain_bpm=4.0,
    step=(4, 125.0, 0.75),
)  # fmt: skip
"""Four bpm faster each week; string 4 sounds in three of four repetitions from 125 on."""


@pytest.mark.parametrize("seed", [1, 2])
def test_a_string_that_always_sounds_from_there_on_holds_both(seed):
    """Secure and break lie where the string begins, then as now: nothing has moved, whatever the
    fall behind it does."""
    review = make_review(practised(np.random.default_rng(seed), WEEKS).tries, "six")
    assert review.broken.bpm == pytest.approx(125.0, rel=0.03)
    assert review.secure.bpm == pytest.approx(125.0, rel=0.03)
    assert review.earlier is None
    assert all(abs(day.break_bpm - review.broken.bpm) < 3.0 for day in review.by_day)


@pytest.mark.parametrize("seed", [3, 4])
def test_the_break_moves_where_the_string_spares_most_repetitions(seed):
    """It sounds in a third: what is secure stays where it begins, the break goes with the fall."""
    plan = replace(WEEKS, step=(4, 125.0, 0.33))
    one = practised(np.random.default_rng(seed), plan)
    review = make_review(one.tries, "six")
    assert review.secure.bpm == pytest.approx(one.secure, rel=0.03)
    assert review.broken.bpm == pytest.approx(one.broken, rel=0.03)
    assert review.earlier is not None
    assert review.earlier.break_bpm == pytest.approx(one.first_broken, rel=0.04)
    assert review.earlier.secure_bpm == pytest.approx(one.first_secure, rel=0.04)


@pytest.mark.parametrize("seed", [5, 6])
def test_what_holds_both_may_lie_below_all_that_was_played_in_the_frame_of_today(seed):
    """With the fall forty beats faster each earlier tempo counts as a faster one today; the string
    was heard at those that were played, so secure and break are not below all of them."""
    plan = replace(WEEKS, gain_bpm=6.0, way="around")
    review = make_review(practised(np.random.default_rng(seed), plan).tries, "six")
    assert review.broken.status == review.secure.status == "found"
    assert review.broken.bpm == pytest.approx(125.0, rel=0.04)
    assert review.first_to_go is not None and review.first_to_go.string == 4
    assert review.first_to_go.from_bpm == pytest.approx(125.0, rel=0.04)
