"""Repetitions weighed against ways that are known, one after the other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from test_fit import practice

from livecheck.measures.ways.features import Features
from livecheck.measures.ways.find import find_ways
from livecheck.measures.ways.known import Known, from_dict, to_dict
from livecheck.measures.ways.marks import Marks


@pytest.fixture(scope="module")
def known() -> Known:
    """Learned from one practice, as kept and read again."""
    found = find_ways(practice(1, 12.0)[0])
    assert found.known is not None
    return from_dict(to_dict(found.known))


def marked(known: Known, features: Features) -> list[tuple[int, float]]:
    """Way and chance of each row, in order, each with what came before it alone."""
    marks, told = Marks(known), []
    for at in range(1, len(features) + 1):
        one = marks.weigh(features.where(np.arange(len(features)) < at))
        assert one is not None
        told.append((one.way, one.chance))
    return told


def test_sure_marks_of_another_day_are_right(known):
    """Other strings and another rig: louder, later, ringing longer; that is found out and taken
    off. Sure from .9 on; then nearly always right."""
    features, way = practice(7, 12.0)
    rng = np.random.default_rng(0)
    features = replace(
        features,
        loud=features.loud + 0.2 + rng.normal(0, 0.05, 6),
        late=features.late + rng.normal(0, 1.0, 6),
        ring=features.ring + 9.0,
    )
    some = np.arange(len(features)) < 120
    told = marked(known, features.where(some))
    sure = [(a, b) for (a, chance), b in zip(told, way[some]) if chance >= 0.9]
    right = sum(a == b for a, b in sure)
    turned = max(right, len(sure) - right)
    assert len(sure) > 80 and turned / len(sure) >= 0.95


def test_a_mark_does_not_depend_on_what_comes_later(known):
    """Told row by row, the first forty are the same with eighty after them or none."""
    features, _ = practice(8, 12.0)
    first = features.where(np.arange(len(features)) < 40)
    more = features.where(np.arange(len(features)) < 60)
    assert marked(known, first) == marked(known, more)[:40]


def test_ways_that_differ_at_the_seam_alone_mark_nothing():
    """The gap after a repetition is known from the next one: nothing is kept to mark by."""
    features, way = practice(5, 0.0)
    found = find_ways(replace(features, seam=features.seam + 30.0 * way))
    assert [one.what for one in found.ways[1].differs] == ["seam"]
    assert found.known is None


def test_what_says_nothing_is_not_marked(known):
    """A repetition of which only the tempo is known has no mark."""
    features, _ = practice(9, 12.0)
    empty = {
        name: np.full_like(getattr(features, name), np.nan) for name in ("late", "loud", "ring")
    }
    first = replace(features, **empty).where(np.arange(len(features)) < 1)
    assert Marks(known).weigh(first) is None


def test_what_was_kept_is_checked_when_it_is_read(known):
    """A part that is missing, too long or no number is refused."""
    told = to_dict(known)
    assert to_dict(from_dict(told)) == told
    for name, value in (
        ("coef", {"shape": [1, 1], "of": [0.0]}),
        ("usual", {"shape": [2], "of": [float("nan"), 0.0]}),
        ("columns", [["timing", 99]] * len(known.columns)),
        ("stay", 1.5),
    ):
        with pytest.raises((KeyError, TypeError, ValueError)):
            from_dict({**told, name: value})
    with pytest.raises(KeyError):
        from_dict({name: value for name, value in told.items() if name != "share"})
