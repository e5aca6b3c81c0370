"""One line that says what is wrong and how to mend it: options and places of many commands."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from livecheck.cli import main
from livecheck.player.demo import CELL

BAD = [
    (["cell", "plan", "odd-five", "--write", ""], "--write: the name is empty; write one"),
    (["cell", "plan", "odd-five", "--write", "as written"], "'as written' names the cell's own"),
    (["cell", "plan", "odd-five", "--most", "0"], "--most: 0 is none; write 1 or more"),
    (["week", "--to", "0001-01-01"], "--to 0001-01-01: no seven days lie before it"),
    (["week", "--to", "0001-01-07"], "--to 0001-01-07: no seven days lie before it"),
    (["week", "--to", "2026-13-01"], "'2026-13-01' is no day; write it as 2026-01-31; see"),
    (["week", "--to", "2026-11"], "'2026-11' is no day; write it as 2026-01-31; see"),
    (
        ["cell", "export", "odd-five", "--to", "midi", "--out", "configs", "--force"],
        "configs: is a folder; name a file, configs/cell.mid for example",
    ),
    (["cell", "export", "odd-five", "--to", "tab", "--out", "configs"], "configs/cell.txt for"),
    (["cell", "learn", "--from", "x.mid", "--out", "configs"], "configs/learned.yaml for example"),
    (["week", "--html", "configs"], "configs: is a folder; name a file for the page, configs/week"),
    (["compare", "a", "b", "--html", "configs"], "configs/compare.html for example"),
    (["ways"], "required: CELL; see"),
    (["today", "--minutes", "1e9"], "'1e9' is too large; write less than 1000000000"),
    (["demo", "--seconds", "inf"], "'inf' is too large; write less than 1000000000"),
    (["demo", "--variant", "up first"], "as in `livecheck demo seven-across-a-skip --variant 'up"),
    (["today", "--port", "Hex"], "--port goes with --start; alone it does nothing"),
    (["today", "--click-port", "x", "--json"], "--click-port goes with --start; alone it does"),
    (["rig", "setup", "--strings", "six"], "'six' is no whole number from 1 to 8"),
    (["rig", "latency", "x.mid", "--click", "0"], "'0' is no whole number from 1 to 16"),
    (
        ["cell", "import", "x.txt", "--tuning", "drop"],
        "'drop' is no note name: write notes with octaves, as in 'E4 B3 G3 D3 A2 D2', or one of "
        "'standard tuning', 'drop D'",
    ),
    (["review", "last", "--html", ""], "--html: the name is empty; name a file for the page, as"),
]


@pytest.mark.parametrize(("words", "hint"), BAD, ids=[" ".join(words)[:60] for words, _ in BAD])
def test_what_is_wrong_is_said_in_one_line(run, words, hint):
    """Status 2, nothing on the output, one line on the error stream."""
    status, out, err = run(*words)
    assert (status, out) == (2, "")
    assert err.startswith("livecheck: ") and err.count("\n") == 1
    assert hint in err


def test_numbers_as_long_as_they_can_be_are_taken(run):
    """The limit is above a year in seconds."""
    assert run("today", "--minutes", "999999999").status == 0


def test_a_tuning_can_be_named_where_tablature_is_read(run):
    """By the same names as for `cell learn`, however they are spelt."""
    Path("x.txt").write_text("1|--5-7-8--|\n", "utf-8")
    told = json.loads(run("cell", "import", "x.txt", "--tuning", "Drop d", "--json").out)
    assert told["cells"][0]["tuning"] == ["E4", "B3", "G3", "D3", "A2", "D2"]


def test_the_demo_says_how_many_notes_it_plays(run):
    """In its help, as they are in the cell."""
    assert len(CELL.slots) == 7 and "a cell of seven notes" in run("demo", "--help").out


def test_settings_without_effect_are_remarked(run):
    """A gesture on a string that is not there, a cue without a note."""
    Path("configs/settings.yaml").write_text(
        "gestures:\n"
        "  - {string: 9, fret: 0, picks: 3, action: up}\n"
        "  - {string: 1, fret: 0, picks: 3, action: up}\n"
        "cues: {up: []}\n",
        "utf-8",
    )
    told = [
        (one["what"], one["state"], one["found"])
        for one in json.loads(run("check", "--json").out)["checks"]
        if one["what"] in ("gestures", "cues")
    ]
    path = "configs/settings.yaml"
    assert told == [
        ("gestures", "note", f"{path} has one on string 9, and there are 7 strings"),
        ("cues", "note", f"{path} gives `up` no note, so it is silent"),
    ]
    Path("configs/rig.yaml").write_text("channels: [1, 2, 3, 4, 5, 6, 7, 8, 9]\n", "utf-8")
    assert "on string 9" not in run("check").out


class Terminal(io.StringIO):
    """What is printed, as a terminal takes it."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("columns", [60, 80])
@pytest.mark.parametrize(
    "words", [["check"], ["cell", "list"], ["cell", "check", "odd-five", "low-d-ten"]]
)
def test_a_narrow_terminal_breaks_no_word(run, monkeypatch, columns, words):
    """The same words as elsewhere, in lines that fit."""
    monkeypatch.setenv("COLUMNS", str(columns))
    out = Terminal()
    main(words, out, io.StringIO())
    lines = out.getvalue().splitlines()
    assert lines and all(len(line) <= columns or "/" in line for line in lines)  # paths stay whole
    if words[0] == "cell":
        wide, narrow = (
            {word.strip(",;:") for word in text.split()}
            for text in (run(*words).out, out.getvalue())
        )
        assert wide - narrow <= {"title"}


def test_a_name_that_cannot_be_leaves_the_cell_file_as_it_was(run):
    """Nothing is half-written where a variant is refused."""
    Path("mine.yaml").write_text("slots: [[1, 8], [1, 5], [2, 8]]\n", "utf-8")
    before = Path("mine.yaml").read_bytes()
    for name in ("", "  ", "as written"):
        assert run("cell", "plan", "mine.yaml", "--slurs", "1", "--write", name).status == 2
    assert Path("mine.yaml").read_bytes() == before
