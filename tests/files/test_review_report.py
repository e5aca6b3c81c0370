"""The review's JSON has exactly the published shape."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
from ladders import figure, layout, sigmoid, simple

from livecheck.files.review_report import comparison_to_dict, review_to_dict
from livecheck.measures.review.answers import make_review
from livecheck.measures.review.compare import compare, verdict
from livecheck.measures.review.table import together

KEYS = [
    "format",
    "about",
    "cell",
    "takes",
    "reps",
    "tempo_range_bpm",
    "sentence",
    "secure",
    "break",
    "as_of",
    "earlier",
    "awkward",
    "suspected",
    "first_to_go",
    "first_to_go_why",
    "even",
    "changes",
    "by_tempo",
    "wear",
    "progress",
    "odd_even",
    "by_start",
    "seam",
    "left_out",
]
FORMATS = Path(__file__).parents[2] / ".docs" / "formats.md"


def tries():
    rng = np.random.default_rng(5)
    rows = layout(rng, np.arange(90, 181, 7.5), 24, "many")
    faults = [
        ("missed", 5, lambda bpm: 0.99 * sigmoid((bpm - 147) / 4)),
        ("noise", 4, lambda bpm: np.where(bpm > 155, 0.45, 0.01)),
    ]
    return figure(rng, rows, faults, 0.4)


def test_the_review_object_has_the_published_keys():
    """Keys, order and kinds of formats.md's livecheck-review/1."""
    told = review_to_dict(make_review(tries(), "six"))
    assert list(told) == KEYS and told["format"] == "livecheck-review/1"
    assert told["cell"] == {"name": "six", "slots": 6}
    assert (
        list(told["break"]) == ["status", "bpm", "low_bpm", "high_bpm"]
        and told["break"]["status"] == "found"
    )
    assert list(told["first_to_go"]) == ["slot", "string", "fault", "from_bpm", "chance"]
    assert list(told["changes"][0]) == [
        "what",
        "slot",
        "string",
        "from_bpm",
        "low_bpm",
        "high_bpm",
        "before",
        "after",
        "share",
        "between_bpm",
    ]
    assert list(told["by_tempo"][0]) == ["bpm", "reps", "complete", "clean", "cv_pct"]
    assert sum(rung["reps"] for rung in told["by_tempo"]) == told["reps"] == 312
    assert told == json.loads(json.dumps(told))


def test_an_empty_review_has_the_same_keys():
    """Nothing known is null, not left out."""
    told = review_to_dict(make_review(None, "six"))
    assert list(told) == KEYS
    assert told["break"] == {"status": "too_few", "bpm": None, "low_bpm": None, "high_bpm": None}
    assert told["changes"] == [] and told["tempo_range_bpm"] is None


HIGH, LOW = (simple([(bpm, clean, 10) for bpm in range(100, 181, 10)]) for clean in (9, 3))


def everything():
    """A month of a cell whose strokes swap, with an awkward range, a slot that goes first and a
    string that sounds."""
    rng = np.random.default_rng(5)
    days = []
    for day in range(5):
        rows = layout(rng, np.arange(90, 181, 7.5), 12, "many")
        faults = [
            ("missed", 5, lambda bpm, at=day: 0.99 * sigmoid((bpm - 130 - 4 * at) / 4)),
            ("wrong", 2, lambda bpm: np.where((bpm > 104) & (bpm < 121), 0.5, 0.01)),
            ("noise", 4, lambda bpm: np.where(bpm > 155, 0.45, 0.01)),
        ]
        one = figure(rng, rows, faults, 0.3)
        count = len(one.bpm)
        in_turn = {
            "minute": rng.permutation(np.linspace(1, 50, count)),
            "parity": np.arange(count) % 2 + 1,
            "begun": np.arange(count) % 2 + 1,
        }
        of = np.repeat(one.n[:, None], 6, axis=1)
        up = in_turn["begun"] == 2
        wrong = one.wrong.copy()
        wrong[:, 5] = np.where(up & (one.bpm < 110), np.round(0.2 * one.n), 0.0)
        in_turn |= {"wrong": wrong, "went_on": one.n}
        in_turn |= {"downs": np.where(up[:, None], 0.0, of), "ups": np.where(up[:, None], of, 0.0)}
        when = {"day": np.full(count, 739_000 + 2 * day), "sitting": np.full(count, day)}
        one.timing_sum[:, 3] += 15.0 * one.timing_n[:, 3]
        days.append(replace(one, cv_sum=5 * one.n, cv_n=one.n.astype(float), **in_turn, **when))
    return make_review(together(days), "six", variant="hammered")


def keys_of(value):
    if isinstance(value, list):
        return set().union(*map(keys_of, value))
    return set(value).union(*map(keys_of, value.values())) if isinstance(value, dict) else set()


def documented(section):
    """Keys that a section of formats.md writes: quoted words that are no values."""
    text = FORMATS.read_text("utf-8").partition(f"## `{section}`")[2].partition("\n## ")[0]
    return set(re.findall(r'(?<!: )"(\w+)"', text))


def test_every_key_is_documented_and_every_documented_key_is_there():
    """formats.md and what is printed name the same keys, of the review and of the comparison."""
    told = review_to_dict(everything(), "practised last, six")
    seldom = {"suspected", "first_to_go_why", "left_out"}  # not beside what this one has
    assert all(told[key] for key in KEYS if key not in seldom)
    seldom_keys = {"clean", "reps_to_know", "begins", "turns"}
    compared = comparison_to_dict(compare(HIGH, LOW), "a", "b", "words")
    assert compared["clearest"] is not None
    of_compare = documented("livecheck compare --json")
    assert keys_of(compared) == of_compare
    difference = keys_of(compared["overall"])
    assert (
        keys_of(told) | seldom_keys | difference
        == documented("livecheck review --json") | difference
    )


def test_a_comparison_is_told_with_its_verdict():
    """Two equal groups: an overall difference of nothing, no part that clearly differs."""
    found = compare(tries(), tries())
    told = comparison_to_dict(found, "a", "b", verdict(found, "a", "b"))
    assert told["overall"]["points"] == 0 and told["clearest"] is None
    assert json.dumps(comparison_to_dict(None, "a", "b", "nothing in common"))
