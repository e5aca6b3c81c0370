"""Several cells on the command line, in the console and in the score."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from conftest import ROOT
from takes_on_disk import write_session
from test_session_cells import CELLS, FAR, SIX, messages, noodle

from livecheck.cli import main
from livecheck.commands.choice import MOST_CELLS, Choice, cells_of
from livecheck.commands.record import as_told, recording
from livecheck.console.feed import Feed
from livecheck.console.model import Model
from livecheck.console.plain import plain_line
from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Record, Stop, UseCells
from livecheck.core.rig import Rig
from livecheck.errors import BadInput
from livecheck.files.config import dump_cell
from livecheck.files.midifile import write_midi
from livecheck.session import Session

SHIPPED = ROOT / "configs" / "cells"


def choice(home: Path, *cells: object, variant: str | None = None) -> Choice:
    return Choice(home=str(home), cells=tuple(map(str, cells)), variant=variant)


def session_records() -> list[Record]:
    """Two cells, each for a while, and unrelated notes at the end."""
    played = messages(SIX, 6, 1.0) + messages(FAR, 6, 10.0) + noodle(40, 20.0)
    return [UseCells(0.0, CELLS), *played, Stop(60.0, "the take is over")]


def test_a_folder_gives_all_its_cells_and_names_may_be_mixed(tmp_path):
    """In the order of their files."""
    err = io.StringIO()
    cells = cells_of(choice(tmp_path, SHIPPED, "odd-five"), None, err)
    assert len(cells) == len(list(SHIPPED.glob("*.yaml"))) + 1 and cells[-1].name == "odd five"
    assert err.getvalue() == ""
    assert len(recording(tmp_path, cells, None).cells) == len(cells)


def test_cells_of_a_folder_that_the_rig_cannot_play_are_left_out_and_said(tmp_path):
    """Seven strings on a rig of six; named by itself it is a mistake."""
    err = io.StringIO()
    cells = cells_of(choice(tmp_path, SHIPPED), Rig(), err)
    assert all(cell.strings[-1] <= 6 for cell in cells)
    assert err.getvalue().count("\n") == 1 and "seven-strings.yaml is left out" in err.getvalue()
    with pytest.raises(BadInput, match="plays string 7"):
        recording(tmp_path, cells_of(choice(tmp_path, "seven-strings"), Rig(), err), Rig())


def test_an_empty_folder_and_too_many_cells_are_told(tmp_path):
    """One line each."""
    with pytest.raises(BadInput, match="holds no cell file"):
        cells_of(choice(tmp_path, tmp_path), None, io.StringIO())
    for number in range(MOST_CELLS + 1):
        (tmp_path / f"{number}.yaml").write_text(dump_cell(SIX), "utf-8")
    with pytest.raises(BadInput, match="too many"):
        cells_of(choice(tmp_path, tmp_path), None, io.StringIO())


def test_of_several_cells_those_that_have_the_variant_are_played_in_it(tmp_path):
    """The others as written; a variant that none has is a mistake, and what there is is told."""
    cells = cells_of(choice(tmp_path, SHIPPED, variant="slurred"), None, io.StringIO())
    having = [cell for cell in cells if "slurred" in cell.variants]
    assert 0 < len(having) < len(cells)
    assert all(cell.variant == ("slurred" if cell in having else None) for cell in cells)
    with pytest.raises(
        BadInput, match=r"none of the \d+ cells has a variant 'blown'; there is: .*slurred"
    ):
        cells_of(choice(tmp_path, SHIPPED, variant="blown"), None, io.StringIO())
    with pytest.raises(
        BadInput,
        match=r"cell 'odd five' has no variant 'blown'; there is: as written, pulled, turned",
    ):
        cells_of(choice(tmp_path, "odd-five", variant="blown"), None, io.StringIO())


def large(number: int) -> Cell:
    """A cell as large as cells may be."""
    slots = [(1 + at % 6, (at + number) % 24) for at in range(64)]
    ways = {f"{way:040}": {at: "hammer" for at in range(1, 65)} for way in range(32)}
    return make_cell(f"large {number}", slots, variants=ways)


def test_cells_too_large_for_a_record_are_told():
    """Some of the largest go through; more is one line, before anything is recorded."""
    few, many = [large(number) for number in range(20)], [large(number) for number in range(32)]
    assert len(as_told(few)) == 20
    with pytest.raises(
        BadInput, match=r"these 32 cells are too much for one record \(\d+ KB; at most 900 KB\)"
    ):
        as_told(many)


def test_the_console_says_which_cell_is_played():
    """A line for each change, the cell in force for the picture."""
    model = Model()
    feed = Feed(Session(), model)
    lines = [plain_line(item) for item in feed.take(session_records())]
    told = [line.split(" ", 2)[2] for line in lines if line.startswith("cell ")]
    assert told == ["six; twin; far", "six", "far", "none of them"]
    assert model.cell is None and [tally.reps for tally in model.tallies.values()] == [6, 6]


def test_the_score_of_a_session_with_several_cells_says_which_repetition_is_of_which(
    tmp_path, capsys
):
    """``cell`` is the last one that was played."""
    folder = write_session(tmp_path / "2026-11-25T18-03-11", session_records())
    assert main(["score", str(folder), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["cell"]["name"] == "far"
    assert [cell["name"] for cell in told["cells"]] == ["six", "far"]
    assert [rep["cell"] for rep in told["reps"]] == [1] * 6 + [2] * 6
    assert main(["score", str(folder), "--json", "--cell", "six-strings"]) == 0


def test_of_a_midi_file_the_cell_is_recognised_among_those_that_are_named(tmp_path, capsys):
    """By several ``--cell`` or a folder; what it says is what a session recorded with them says."""
    files = []
    for cell in CELLS:
        files.append(tmp_path / f"{cell.name}.yaml")
        files[-1].write_text(dump_cell(cell), "utf-8")
    write_midi(tmp_path / "take.mid", session_records())
    assert main(["score", str(tmp_path / "take.mid"), "--json", "--cell", str(tmp_path)]) == 0
    of_folder = json.loads(capsys.readouterr().out)
    assert [cell["name"] for cell in of_folder["cells"]] == ["six", "far"]
    assert [rep["cell"] for rep in of_folder["reps"]] == [1] * 6 + [2] * 6
    several = [word for file in sorted(files) for word in ("--cell", str(file))]
    assert main(["score", str(tmp_path / "take.mid"), "--json", *several]) == 0
    assert json.loads(capsys.readouterr().out) == of_folder


def test_where_none_of_several_cells_was_played_the_score_has_none(tmp_path, capsys):
    """Unrelated notes alone: ``cell`` is null, every note lies outside; the tables need a cell, and
    say so."""
    records = [UseCells(0.0, CELLS), *noodle(30, 1.0), Stop(60.0, "the take is over")]
    folder = write_session(tmp_path / "2026-11-25T18-03-11", records)
    assert main(["score", str(folder), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["cell"], told["reps"], len(told["outside"])) == (None, [], 30)
    assert main(["export", str(folder), "--csv", str(tmp_path / "tables")]) == 2
    assert "no cell was chosen or recognised" in capsys.readouterr().err


def test_all_files_of_a_folder_are_checked_and_check_names_the_broken_one(run):
    """A broken file keeps ``listen`` from the whole folder: it is told where one looks for what is
    wrong."""
    assert run("cell", "check", "configs/cells").out.count(": sound\n") == len(
        list(SHIPPED.glob("*.yaml"))
    )
    assert not [line for line in run("check").out.splitlines() if line.split()[1] == "cell"]
    Path("configs/cells/broken.yaml").write_text("slots: [[1, 3, dwon]]\n", "utf-8")
    status, out, _ = run("cell", "check", "configs/cells")
    assert (
        status == 2
        and "configs/cells/broken.yaml:1: slots[1].stroke" in out
        and "odd-five.yaml: sound" in out
    )
    (line,) = (line for line in run("check").out.splitlines() if line.split()[1] == "cell")
    assert line.startswith("note ") and "broken.yaml:1: slots[1].stroke" in line
    assert "holds no cell file" in run("cell", "check", "recordings").err


def test_a_slur_from_nothing_is_remarked_upon(run):
    """It is no mistake: a finger may pluck or tap as it lands. The loop's end comes before its
    beginning."""
    Path("loop.yaml").write_text("slots: [[2, 10, pull], [2, 12, hammer], [3, 9]]\n", "utf-8")
    Path("odd.yaml").write_text(
        "slots: [[2, 12, pull], [2, 10], [3, 9, hammer]]\nvariants: {b: {2: hammer, 1: down}}\n",
        "utf-8",
    )
    status, out, err = run("cell", "check", "loop.yaml", "odd.yaml")
    assert (status, err) == (0, "")
    turned = (
        "  the second repetition begins with an up stroke: 1 note is picked, an odd number, and "
        "the picking turns round"
    )
    facts = ("fretting hand", "must not sound", "a stretch")
    assert [line for line in out.splitlines() if not any(fact in line for fact in facts)] == [
        "loop.yaml: sound",
        turned,
        "odd.yaml: sound",
        turned,
        "  remark: note 1: nothing higher sounds before it on string 2 to pull off from",
        "  remark: note 3: nothing lower sounds before it on string 3 to hammer on from",
        "  remark: note 2, variant 'b': nothing lower sounds before it on string 2 to hammer on "
        "from",
    ]
    told = json.loads(run("cell", "check", "loop.yaml", "odd.yaml", "--json").out)
    assert [len(one["notes"]) for one in told] == [0, 3]


def test_the_list_of_cells_has_titles_and_tempos(run):
    """The name is what commands take, the title what the cell calls itself."""
    assert any(
        line.split()[:4] == ["odd-five", "odd", "five", "84"]
        for line in run("cell", "list").out.splitlines()
    )
    assert {one["name"]: one["tempo"] for one in json.loads(run("cell", "list", "--json").out)}[
        "odd-five"
    ] == 84
