"""Forms and days drawn together."""

from __future__ import annotations

import numpy as np
import pytest
from practices import practised, random_plan

from livecheck.measures.review.chains import MOST_ROWS, carried, gathered
from livecheck.measures.review.forms import counts, weigh
from livecheck.measures.review.limits import standing, tempo_limits
from livecheck.measures.stats import sigmoid

TEMPOS = np.linspace(100.0, 180.0, 17)


def drawn(middle: float, width: float, lapse: float, tries: int, takes: int):
    """A fall that is known to many repetitions, each take at one tempo, without luck."""
    bpm = np.repeat(TEMPOS, takes)
    p = (1.0 - lapse) * sigmoid((np.log(middle) - np.log(bpm)) / width)
    of = np.full(len(bpm), float(tries))
    hits, rung = np.round(of * p), np.repeat(np.arange(len(TEMPOS)), takes)
    rng, take = np.random.default_rng(1), np.arange(len(bpm))
    forms = weigh(counts(np.log(TEMPOS), take, rung, hits, of), rng, 400).plain
    return forms, gathered(take, bpm, np.zeros(len(bpm), int), rung, hits, of), rng


@pytest.mark.parametrize("width", [0.017, 0.028])
def test_widths_between_those_of_the_grid_are_found(width):
    """Many repetitions tell a width to a tenth, wherever the grid has its own."""
    forms, rows, rng = drawn(140.0, width, 0.03, 50, 6)
    found = carried(rows, forms, None, rng).forms
    low, high = np.quantile(found.width, [0.05, 0.95])
    assert low < width < high and high / low < 1.5
    assert abs(np.exp(np.median(found.middle)) / 140.0 - 1.0) < 0.01


def test_many_takes_are_counted_together():
    """Three thousand takes at one tempo make no more rows than a few hundred, and lose nothing."""
    take = np.arange(3000)
    bpm, of = 100.0 + take % 40, np.full(3000, 5.0)
    rows = gathered(take, bpm, take // 500, (take % 40).astype(int), np.full(3000, 4.0), of)
    assert len(rows.bpm) <= MOST_ROWS and rows.of.sum() == 15000 and rows.hits.sum() == 12000


def test_each_day_has_its_place_and_what_is_not_known_of_it():
    """Twelve days of progress: the first day's place against the last is known, and the nearer a
    day the better."""
    rng = np.random.default_rng(5)
    one = practised(rng, random_plan(rng, "eight weeks"))
    found = tempo_limits(one.tries, standing(one.tries)).course
    truth = one.shift - one.shift[-1]
    off = np.abs(found.move - truth) / np.maximum(found.sd, 0.3)
    assert found.sd[-1] == 0.0 and found.sd[0] > 0.2 and np.mean(off < 2.0) > 0.8
    assert len(found.move) == len(one.plan.days)
