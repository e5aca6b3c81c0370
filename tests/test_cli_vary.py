"""`livecheck cell vary` and what `cell check` says of a cell, from the outside."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from livecheck.core.cell import Cell, make_cell
from livecheck.core.vary import family_of
from livecheck.files.config import load_cell
from livecheck.report.cell_remarks import facts, remarks


def test_all_that_makes_sense_is_offered_and_nothing_written(run):
    """Sets of strings, beginnings, reversed, doubled; as JSON the cells themselves."""
    out = run("cell", "vary", "odd-five").out
    assert "odd five on strings 2 3" in out and "odd five from note 5" in out
    assert "10 cells; --write keeps them" in out
    told = json.loads(run("cell", "vary", "odd-five", "--json").out)
    assert told["family"] == "odd five" and len(told["cells"]) == 10 and told["written"] == []
    assert {cell["family"] for cell in told["cells"]} == {"odd five"}
    assert not list(Path("configs/cells").glob("odd-five-*"))


def test_a_family_is_written_into_a_folder_and_told_apart_by_its_files(run):
    """Sound files with sensible names; nothing is written over, and all or none."""
    made = run("cell", "vary", "odd-five", "--strings", "all", "--out", "family")
    assert made.status == 0
    files = sorted(Path("family").iterdir())
    assert [path.name for path in files] == [
        f"odd-five-on-strings-{one}-{one + 1}.yaml" for one in range(2, 6)
    ]
    assert {family_of(load_cell(path)) for path in files} == {"odd five"}
    assert run("cell", "check", "family").status == 0
    files[2].unlink()
    again = run("cell", "vary", "odd-five", "--strings", "all", "--out", "family")
    assert again.status == 2 and "there already" in again.err and not files[2].exists()
    assert run("cell", "vary", "odd-five", "--double", "--write").status == 0
    assert run("cell", "show", "odd-five-doubled").status == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--frets", "30"], "nothing to make of it: +30 frets: leaves the neck"),
        (["--start", "9"], "there is no note 9; the cell has 5"),
        (["--rhythm", "0,1"], "a rhythm is made of lengths in grid steps"),
        (["--frets", "a"], "'a' are no whole numbers"),
    ],
)
def test_what_cannot_be_made_is_told(run, words, said):
    """One line, status 2."""
    failed = run("cell", "vary", "odd-five", *words)
    assert (failed.status, failed.out, failed.err.count("\n")) == (2, "", 1) and said in failed.err


def test_of_two_that_are_alike_one_is_made(run):
    """A cell that is the same backwards, and one that repeats itself."""
    Path("same.yaml").write_text("slots: [[1, 5], [1, 8], [1, 5], [1, 8]]\n", "utf-8")
    told = json.loads(run("cell", "vary", "same.yaml", "--start", "all", "--json").out)
    assert [cell["name"] for cell in told["cells"]] == ["same from note 2"]
    assert "from note 3: is the same as another" in told["notes"]


# --------------------------------------------------------------------------------- what is checked


def checked(*places: object, **how: object) -> list[str]:
    cell: Cell = make_cell("x", places, **how)  # type: ignore[arg-type]
    return [*facts(cell), *remarks(cell)]


@pytest.mark.parametrize(
    ("told", "line"),
    [
        (checked((1, 5), (1, 8)), "the fretting hand stays in one place, frets 5-8"),
        (checked((1, 5), (2, 9)), "a stretch over 5 frets: notes 1 and 2, frets 5-9"),
        (checked((1, 5), (1, 12)), "the fretting hand shifts twice each repetition: after note 1 "
                                   "(fret 5 to fret 12), after note 2 (fret 12 to fret 5)"),
        (checked((1, 5), (1, 12, "tap")), "the fretting hand stays in one place, fret 5"),
        (checked((1, 5), (4, 5), quiet=[2]), "string 2 must not sound"),
        (checked((1, 5), (2, 5), (3, 5)),
         "string 2 is played, and passed over between notes 3 and 1"),
        (checked((1, 5), (4, 5), quiet=[2]),
         "strings 5 and 6: neither played nor quiet, nor passed over"),
        (checked((1, 5), tempo_bpm=120), "at 120 bpm a note every step is 8 notes a second"),
        (checked((1, 5, "hammer"), (2, 5)),
         "note 1: nothing lower sounds before it on string 1 to hammer on from"),
        (checked((1, 25)), "note 1: fret 25 lies beyond the 24 of most guitars"),
        (checked((1, 23), capo=3),
         "note 1: fret 23 (with the capo 26) lies beyond the 24 of most guitars"),
        (checked((1, 0, "tap"), (2, 5)), "note 1: an open string cannot be tapped"),
        (checked((1, 5), (2, 5, "slide")), "note 2: a slide comes from another fret of its string"),
        (checked(*[(1, 5)] * 4, tempo_bpm=300), "at 300 bpm it is 20 notes a second, faster than "
                                                "hands; check tempo and grid"),
        (checked((1, 5, None, 8), tempo_bpm=40),
         "at 40 bpm it is a note in 3.0 s; check tempo and grid"),
        (checked((1, 5, None, 2), (1, 7, None, 2)), "all starts and lengths are multiples of 2 "
                                                    "grid steps; a note every step would say the "
                                                    "same"),
        (checked((1, 5), (1, 7), variants={"a": {1: "down"}}),
         "variant 'a' has the strokes of 'as written'"),
    ],
)  # fmt: skip
def test_what_can_be_said_beforehand_is_said(told, line):
    """Hand, strings, slurs, neck, tempo, grid, variants."""
    assert line in told


def test_an_ordinary_cell_has_nothing_to_remark_upon():
    """Facts alone."""
    cell = make_cell("x", [(2, 13), (2, 10), (3, 12), (3, 10)], tempo_bpm=100, quiet=[4])
    assert remarks(cell) == []


def test_no_shipped_cell_has_anything_to_remark_upon(run):
    """What is shipped is as it is meant."""
    told = json.loads(run("cell", "check", "configs/cells", "--json").out)
    assert len(told) >= 15
    assert {one["path"]: one["notes"] for one in told if one["notes"]} == {}
    assert all(one["facts"] and one["second"] for one in told)
