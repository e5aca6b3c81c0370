"""The profile of a take as JSON: each stroke and each string passed over, and sums that agree with them."""

from __future__ import annotations

import json
from collections import Counter
from random import Random

import pytest

from livecheck.core.cell import make_cell
from livecheck.files.config import dump_cell, dump_rig
from livecheck.files.midifile import write_midi
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import perform


@pytest.fixture
def profile(run, tmp_path):
    """The profile of a played take."""
    cell = make_cell("six", [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 10, "pull")])
    take = perform(cell, Habits(notes_per_s=6.0, reps=30, clipped=0.2), Conversion(), Random(5))
    (tmp_path / "cell.yaml").write_text(dump_cell(cell), "utf-8")
    (tmp_path / "rig.yaml").write_text(dump_rig(take.rig), "utf-8")
    write_midi(tmp_path / "take.mid", take.records)
    words = [
        tmp_path / "take.mid",
        "--cell",
        tmp_path / "cell.yaml",
        "--rig",
        tmp_path / "rig.yaml",
        "--home",
        tmp_path,
    ]
    return json.loads(run("profile", *words, "--json").out)


def test_each_stroke_is_told_with_its_chance(profile):
    """30 repetitions of 6 slots; counts are of the strokes, and nothing is told that is not nine in ten sure."""
    assert len(profile["strokes"]) == 180
    for slot in profile["attack"]:
        own = [one for one in profile["strokes"] if one["slot"] == slot["slot"]]
        assert Counter(one["told"] for one in own)["picked"] == slot["picked"]
        assert slot["chance_picked"] == pytest.approx(sum(one["chance_picked"] for one in own) / len(own))
    for one in profile["strokes"]:
        sure = max(one["chance_picked"], 1 - one["chance_picked"]) >= 0.9
        assert (one["told"] is not None) == sure
    assert profile["attack"][5]["hammered"] > 25 and profile["attack"][0]["picked"] > 25


def test_each_passage_is_told_and_the_sums_agree(profile):
    """String 4 is passed over twice a repetition, 3 once; 1 and 6 are watched, once a repetition."""
    by_string: dict[int, Counter] = {}
    for one in profile["passages"]:
        by_string.setdefault(one["string"], Counter())[one["kind"]] += 1
    assert {string: sum(counts.values()) for string, counts in by_string.items()} == {1: 30, 3: 30, 4: 60, 6: 30}
    for share in profile["strings"]:
        own = by_string[share["string"]]
        assert {kind: own[kind] for kind in share["counts"]} == share["counts"]
        assert share["cannot_tell"] == own[None] and share["of"] == sum(own.values())
    assert by_string[4]["brushed"] + by_string[4]["struck"] > 3
