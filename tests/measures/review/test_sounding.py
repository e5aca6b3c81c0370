"""A string that sounds where it should be silent: at every tempo, or from a slow one on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from practices import practised
from test_moves import WEEKS

from livecheck.measures.review.answers import make_review
from livecheck.measures.review.sounding import sounding_string

ALWAYS = replace(WEEKS, step=(4, 60.0, 0.55))
"""In more than half of the repetitions, however slow."""


@pytest.mark.parametrize("seed", [11, 13])
def test_where_a_string_always_sounds_nothing_holds(seed: int):
    """No tempo has more than half clean, and none is told to."""
    one = practised(np.random.default_rng(seed), ALWAYS)
    assert sounding_string(one.tries) == (4, True)
    review = make_review(one.tries, "six")
    assert review.secure.status == review.broken.status == "below_range"
    assert review.earlier is None


@pytest.mark.parametrize("seed", [21, 22])
def test_where_hardly_anything_was_played_below_it_begins_there_all_the_same(seed: int):
    """It sounds as often in slow and fast repetitions, but for the slowest few."""
    plan = replace(WEEKS, tempos=WEEKS.tempos[[0, *range(4, 14)]], step=(4, 110.0, 0.35))
    one = practised(np.random.default_rng(seed), plan)
    assert sounding_string(one.tries) == (4, False)
    review = make_review(one.tries, "six")
    assert review.secure.bpm == pytest.approx(110.0, rel=0.06)
    assert review.broken.bpm == pytest.approx(one.broken, rel=0.05)
