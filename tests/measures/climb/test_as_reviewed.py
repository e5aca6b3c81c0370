"""What a climb says at its end, and what a review says of the same repetitions, are one story."""

from __future__ import annotations

import math

import numpy as np
import pytest
from ladders import simple

from livecheck.measures.climb.answer import limits
from livecheck.measures.climb.rules import Played, next_block
from livecheck.measures.review.answers import make_review

BLOCKS, REPS = 14, 6


def climbed(seed: int, rule: str) -> tuple[list[Played], float]:
    """Blocks of a player who breaks at a tempo of his own, in as many as a sitting has; and the
    tempo he began at."""
    rng = np.random.default_rng(seed)
    start = float(rng.uniform(60.0, 110.0))
    broken, width = start * rng.uniform(1.15, 1.8), rng.uniform(0.015, 0.05)
    blocks: list[Played] = []
    for _ in range(BLOCKS):
        ahead = next_block(rule, blocks, REPS, start)
        assert ahead is not None
        p = 0.98 / (1.0 + math.exp(-math.log(broken / ahead.bpm) / width))
        blocks.append(Played(ahead.bpm, ahead.reps, int(rng.binomial(ahead.reps, p)), ahead.kind))
    return blocks, start


@pytest.mark.parametrize(("seed", "rule"), [(4, "search"), (5, "steps")])
def test_break_and_secure_are_those_of_the_review(seed: int, rule: str) -> None:
    """Within three per cent (break) and six (secure), each inside the other's interval."""
    blocks, start = climbed(seed, rule)
    own = limits(blocks, start=start)
    review = make_review(simple([(one.bpm, one.clean, one.reps) for one in blocks]), "cell")
    for climb, reviewed, near in zip(own, (review.secure, review.broken), (0.06, 0.03)):
        assert climb.status == reviewed.status == "found"
        assert climb.bpm is not None and reviewed.bpm is not None
        assert climb.bpm == pytest.approx(reviewed.bpm, rel=near)
        assert reviewed.low_bpm is not None and reviewed.high_bpm is not None
        assert climb.low_bpm is not None and climb.high_bpm is not None
        assert reviewed.low_bpm <= climb.bpm <= reviewed.high_bpm
        assert climb.low_bpm <= reviewed.bpm <= climb.high_bpm
