"""Comparing MIDI files, which do not say how they were played."""

from __future__ import annotations

import json
from dataclasses import replace
from random import Random

from played_ladder import CELL, climb, falling

from livecheck.files.config import dump_cell
from livecheck.files.midifile import write_midi

LADDER = [100, 112, 124, 132, 140, 148, 156, 168]
HAMMERED = replace(CELL, variants={"hammered": {6: "hammer"}})


def played(seed: int, break_bpm: float = 140.0, times: int = 3):
    return climb(Random(f"review {seed}"), LADDER * times, 12, falling(break_bpm, 4.0), slot=5)


def test_each_of_two_files_is_judged_in_its_own_variant(run, tmp_path):
    """The first in the first variant, the second in the second; other counts of files are told what
    to do."""
    (tmp_path / "cell.yaml").write_text(dump_cell(HAMMERED), "utf-8")
    for name, breaks in (("a.mid", 132.0), ("b.mid", 152.0)):
        write_midi(tmp_path / name, played(8, breaks).records)
    how = ("--variants", "as written", "hammered", "--cell", tmp_path / "cell.yaml")
    status, out, err = run("compare", *how, tmp_path / "a.mid", tmp_path / "b.mid")
    assert (status, err) == (0, "") and out.startswith("hammered is cleaner than as written ")
    titles = [line for line in out.splitlines() if ".mid" in line]
    assert titles == [
        f"six across a skip: {tmp_path}/a.mid",
        f"six across a skip, hammered: {tmp_path}/b.mid",
    ]
    assert "● as written   ◆ hammered   ◈ both" in out
    both = (tmp_path / "a.mid", tmp_path / "b.mid")
    assert run("compare", *how, *both, "--html", tmp_path / "two.html").status == 0
    page = (tmp_path / "two.html").read_text("utf-8")
    assert page.startswith("<!DOCTYPE html>") and "hammered is cleaner than as written" in page
    assert page.count('<polyline class="fit"') == page.count('<polyline class="limit"') == 1
    for files in (["a.mid"], ["a.mid", "b.mid", "b.mid"]):
        status, out, err = run("compare", *how, *(tmp_path / name for name in files))
        assert (status, out) == (2, "") and err == (
            "livecheck: MIDI files do not say in which variant they were played; name two of them, "
            "the first played as written, the second in 'hammered'\n"
        )


def test_columns_of_files_are_headed_by_their_short_names(run, tmp_path):
    """A path of any length does not spread the table; where both names are alike the paths are
    kept."""
    (tmp_path / "cell.yaml").write_text(dump_cell(CELL), "utf-8")
    deep = tmp_path / "one folder" / ("long" * 20)
    deep.mkdir(parents=True)
    for number, path in enumerate((deep / "a.mid", deep / "b.mid", tmp_path / "b.mid")):
        write_midi(path, played(number, times=1).records)
    lines = run(
        "compare", deep / "a.mid", deep / "b.mid", "--cell", tmp_path / "cell.yaml"
    ).out.splitlines()
    assert lines[lines.index("Clean repetitions") + 1].split() == ["bpm", "a.mid", "b.mid"]
    alike = (deep / "b.mid", tmp_path / "b.mid")
    told = json.loads(run("compare", *alike, "--cell", tmp_path / "cell.yaml", "--json").out)
    assert (told["first"], told["second"]) == tuple(map(str, alike))
