"""The review's JSON has exactly the published shape."""

from __future__ import annotations

import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "measures"))

import numpy as np
from ladders import figure, layout, sigmoid

from livecheck.files.review_report import comparison_to_dict, review_to_dict
from livecheck.measures.compare import compare, verdict
from livecheck.measures.review import make_review

KEYS = [
    "format",
    "cell",
    "takes",
    "reps",
    "tempo_range_bpm",
    "sentence",
    "secure",
    "break",
    "awkward",
    "first_to_go",
    "changes",
    "by_tempo",
    "wear",
    "progress",
]


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
    assert list(told["break"]) == ["status", "bpm", "low_bpm", "high_bpm"] and told["break"]["status"] == "found"
    assert list(told["first_to_go"]) == ["slot", "string", "fault", "from_bpm"]
    assert list(told["changes"][0]) == ["what", "slot", "string", "from_bpm", "low_bpm", "high_bpm", "before", "after"]
    assert list(told["by_tempo"][0]) == ["bpm", "reps", "complete", "clean", "cv_pct"]
    assert sum(rung["reps"] for rung in told["by_tempo"]) == told["reps"] == 312
    assert told == json.loads(json.dumps(told))


def test_an_empty_review_has_the_same_keys():
    """Nothing known is null, not left out."""
    told = review_to_dict(make_review(None, "six"))
    assert list(told) == KEYS
    assert told["break"] == {"status": "too_few", "bpm": None, "low_bpm": None, "high_bpm": None}
    assert told["changes"] == [] and told["tempo_range_bpm"] is None


def test_a_comparison_is_told_with_its_verdict():
    """Two equal groups: an overall difference of nothing, no part that clearly differs."""
    found = compare(tries(), tries())
    told = comparison_to_dict(found, "a", "b", verdict(found, "a", "b"))
    assert told["overall"]["points"] == 0 and told["clearest"] is None
    assert json.dumps(comparison_to_dict(None, "a", "b", "nothing in common"))
