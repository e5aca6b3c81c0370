"""What a change of strings does, told over the cells of a family."""

from __future__ import annotations

import json
from pathlib import Path
from random import Random

import pytest
from played_ladder import CELL, climb, falling
from takes_on_disk import write_session

from livecheck.core.vary import moved_strings
from livecheck.files.config import dump_cell

LADDER = [100, 112, 124, 132, 140, 148, 156, 168]
LOWER = moved_strings(CELL, 1)


@pytest.fixture
def practised(tmp_path, request):
    """A cell that breaks at 150 and its fellow one string lower that breaks at 126, each played so
    many times from slow to fast."""
    cells = tmp_path / "practice/configs/cells"
    for number, (cell, breaks) in enumerate(((CELL, 150.0), (LOWER, 126.0)), 1):
        (cells / f"cell-{number}.yaml").write_text(dump_cell(cell), "utf-8")
        played = climb(
            Random(f"family {number}"),
            LADDER * request.param,
            12,
            falling(breaks, 4.0),
            slot=5,
            cell=cell,
        )
        folder = tmp_path / f"practice/recordings/2026-11-2{number}T18-00-00"
        write_session(folder, played.session(cell))


@pytest.mark.parametrize("practised", [3], indirect=True)
def test_a_fellow_that_breaks_earlier_is_told(run, practised):
    """By family, by a cell of it, by its file; the difference planted lies in the interval."""
    status, out, err = run("compare", "--family", "six across a skip")
    assert (status, err) == (0, "")
    assert out.startswith("six across a skip on strings 3 4 6 breaks ")
    assert "bpm earlier than six across a skip" in out and "secure up to" in out
    for name in ("cell-2", "configs/cells/cell-1.yaml"):
        assert run("compare", "--family", name).out == out
    shown = run("compare", "--family", "six across a skip", "--html", "family.html").out
    assert "◆ secure   ● breaks" in shown and shown.endswith("The page: family.html\n")
    page = Path("family.html").read_text("utf-8")
    assert page.startswith("<!DOCTYPE html>") and page.count('class="fit"') == 2
    assert "six across a skip on strings 3 4 6" in page and "breaks" in page
    told = json.loads(run("compare", "--family", "cell-1", "--json").out)
    assert (told["format"], told["family"]) == ("livecheck-family/1", "six across a skip")
    first, second = told["members"]
    assert first["break_difference"] is None and second["break"]["status"] == "found"
    difference = second["break_difference"]
    assert difference["low"] < -24.0 < difference["high"] < 0.0


@pytest.mark.parametrize("practised", [1], indirect=True)
def test_a_family_is_known_from_what_was_practised(run, practised):
    """Where a cell's file is gone, and where all are; of one member there is nothing to compare."""
    told = run("compare", "--family", "six across a skip").out
    Path("configs/cells/cell-2.yaml").unlink()
    assert run("compare", "--family", "cell-1").out == told
    Path("configs/cells/cell-1.yaml").unlink()
    assert run("compare", "--family", "Six across a skip").out == told
    alone = run("compare", "--family", "six across a skip", "2026-11-21T18-00-00")
    assert alone.status == 2 and "only 'six across a skip' was practised" in alone.err


@pytest.mark.parametrize("practised", [1], indirect=True)
def test_a_family_of_which_nothing_was_practised_is_told(run, practised):
    """And one that is not there."""
    nothing = run("compare", "--family", "odd-five")
    assert nothing.status == 2 and "none was practised" in nothing.err
    assert run("compare", "--family", "nowhere").status == 2
