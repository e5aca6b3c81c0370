"""The profile of a take as JSON: each stroke and each string passed over, and sums that agree with
them."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from random import Random

import pytest
from played_ladder import CELL, RIG, climb, falling
from takes_on_disk import write_session

from livecheck.core.cell import make_cell
from livecheck.core.events import UseCells, UseRig
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
    return json.loads(run("notes", *words, "--json").out)


def test_each_stroke_is_told_with_its_chance(profile):
    """30 repetitions of 6 slots; counts are of the strokes, and nothing is told that is not nine in
    ten sure."""
    assert len(profile["strokes"]) == 180
    for slot in profile["attack"]:
        own = [one for one in profile["strokes"] if one["slot"] == slot["slot"]]
        assert Counter(one["told"] for one in own)["picked"] == slot["picked"]
        assert slot["chance_picked"] == pytest.approx(
            sum(one["chance_picked"] for one in own) / len(own)
        )
    for one in profile["strokes"]:
        sure = max(one["chance_picked"], 1 - one["chance_picked"]) >= 0.9
        assert (one["told"] is not None) == sure
    assert profile["attack"][5]["hammered"] > 25 and profile["attack"][0]["picked"] > 25


def test_each_passage_is_told_and_the_sums_agree(profile):
    """String 4 is passed over twice a repetition, 3 once; 1 and 6 are watched, once a
    repetition."""
    by_string: dict[int, Counter] = {}
    for one in profile["passages"]:
        by_string.setdefault(one["string"], Counter())[one["kind"]] += 1
    assert {string: sum(counts.values()) for string, counts in by_string.items()} == {
        1: 30,
        3: 30,
        4: 60,
        6: 30,
    }
    for share in profile["strings"]:
        own = by_string[share["string"]]
        assert {kind: own[kind] for kind in share["counts"]} == share["counts"]
        assert share["cannot_tell"] == own[None] and share["of"] == sum(own.values())
    assert by_string[4]["brushed"] + by_string[4]["struck"] > 3


SECOND = make_cell("low run", [(6, 3), (6, 5), (5, 2), (5, 3), (5, 5), (4, 2)])


@pytest.fixture
def session(tmp_path):
    """A session in which one cell was played twenty times, then another nine times."""
    first = climb(Random("one of two"), [100, 120], 10, falling(400, 4.0))
    second = climb(Random("the other"), [110], 9, falling(400, 4.0), cell=SECOND)
    gap = first.records[-1].t_s + 10.0
    later = [one._replace(t_s=one.t_s + gap) for one in second.records]
    records = [UseRig(0.0, RIG), UseCells(0.0, (CELL, SECOND)), *first.records, *later]
    write_session(tmp_path / "practice/recordings/2026-11-20T18-03-11", records)


def test_of_several_cells_the_one_most_played_is_taken_and_the_others_are_told(
    run, session, tmp_path
):
    """As a review does; --cell chooses another by its name or by its file."""
    status, out, err = run("notes", "last")
    assert (status, out.splitlines()[0]) == (0, "six across a skip: 20 repetitions")
    assert (
        err
        == "livecheck: cells: six across a skip (20), low run (9); --cell chooses another than the "
        "first\n"
    )
    (tmp_path / "cell.yaml").write_text(dump_cell(SECOND), "utf-8")
    for named in ("low-run", "Low run", tmp_path / "cell.yaml"):
        status, out, err = run("notes", "last", "--cell", named)
        assert (status, out.splitlines()[0], err) == (0, "low run: 9 repetitions", "")


def test_a_cell_whose_file_was_changed_judges_the_session_anew(run, session, tmp_path):
    """The file says what was to be played; the name alone would not."""
    longer = make_cell("low run", [(6, 3), (6, 5), (5, 2), (5, 3), (5, 5), (4, 2), (4, 3)])
    (tmp_path / "cell.yaml").write_text(dump_cell(longer), "utf-8")
    told = json.loads(run("notes", "last", "--cell", tmp_path / "cell.yaml", "--json").out)
    assert told["cell"]["slots"] == len(told["timing"]) == 7


def test_of_several_ways_of_playing_the_one_most_played_is_taken(run, tmp_path):
    """--variant chooses another, without --cell; one that was not played is told with what there
    is."""
    cell = replace(CELL, variants={"hammered": {6: "hammer"}})
    records, at_s = [UseRig(0.0, RIG)], 0.0
    for variant, reps in (("hammered", 12), (None, 9)):
        played = climb(Random(f"variant {variant}"), [100], reps, falling(400, 4.0))
        records.append(UseCells(at_s, (cell.with_variant(variant),)))
        records += [one._replace(t_s=one.t_s + at_s) for one in played.records]
        at_s = records[-1].t_s + 10.0
    write_session(tmp_path / "practice/recordings/2026-11-20T18-03-11", records)
    status, out, err = run("notes", "last")
    assert (status, out.splitlines()[0]) == (0, "six across a skip, hammered: 12 repetitions")
    assert err.endswith(
        "variants: hammered (12), as written (9); --variant chooses another than the first\n"
    )
    status, out, err = run("notes", "last", "--variant", "as written")
    assert (status, out.splitlines()[0], err) == (0, "six across a skip: 9 repetitions", "")
    status, out, err = run("notes", "last", "--variant", "other")
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert "variant 'other' was not played there; there is: as written, hammered" in err
