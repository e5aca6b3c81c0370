"""`today` and `week`, from sessions on disk."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from random import Random

import pytest
from played_ladder import CELL, climb, falling
from takes_on_disk import HEAD, append

from livecheck.cli import main
from livecheck.commands import today
from livecheck.core.events import Mark
from livecheck.files.journal import Journal
from livecheck.measures.agenda.blocks import Block

TODAY = date(2026, 11, 29)


@pytest.fixture(autouse=True)
def fixed_day(monkeypatch):
    """The day on which it is asked."""
    monkeypatch.setattr("livecheck.commands.agenda.today_number", TODAY.toordinal)
    for module in ("today", "week"):
        monkeypatch.setattr(f"livecheck.commands.{module}.today_number", TODAY.toordinal)


def session(days_ago: int, breaks_at: float, mark: str = "thumb lower") -> None:
    """A short climb so many days ago."""
    day = TODAY - timedelta(days=days_ago)
    climbed = climb(Random(days_ago), [88, 100, 112, 126, 140], 4, falling(breaks_at, 6.0))
    folder = Path("recordings") / f"{day.isoformat()}T18-00-00"
    journal = Journal.create(folder, replace(HEAD, wall=f"{day.isoformat()}T18:00:00+01:00"))
    records = climbed.session()
    append(journal, [*records[:-1], Mark(records[-1].t_s, mark), records[-1]])
    journal.close()


def test_an_empty_folder_is_told_how_to_begin(run):
    """No session: a line that says what to do, and an empty list."""
    done = run("today")
    assert done.status == 0 and "livecheck listen CELL" in done.out
    assert json.loads(run("today", "--json").out) == {
        "date": "2026-11-29",
        "cells": [],
        "turns": [],
        "minutes": 0.0,
    }


def test_today_says_where_a_cell_stands_and_what_to_play(run):
    """State, open question and block, in words and as published JSON."""
    session(3, 118.0)
    done = run("today", "--json", "--minutes", "20")
    (cell,) = json.loads(done.out)["cells"]
    assert cell["name"] == CELL.name and cell["days_since"] == 3
    assert set(cell["break"]) == {"status", "bpm", "low_bpm", "high_bpm"}
    assert cell["break"]["low_bpm"] < cell["break"]["bpm"] < cell["break"]["high_bpm"]
    assert set(cell["block"]) >= {"kind", "bpm", "reps", "minutes"}
    text = run("today", "--why").out
    assert "3 days ago" in text and "Stop at pain" in text and "not known yet" in text


def test_a_week_on_a_page(run, tmp_path):
    """Minutes by day, marks, what is open; the page holds the same and opens without a script."""
    session(9, 112.0)
    session(2, 120.0, "<b>elbow</b>")
    page = tmp_path / "week.html"
    done = run("week", "--json", "--html", str(page))
    week = json.loads(done.out)
    assert (week["from"], week["to"], len(week["days"])) == ("2026-11-23", "2026-11-29", 7)
    assert week["minutes"] == pytest.approx(sum(day["minutes"] for day in week["days"]), abs=0.4)
    assert [mark["text"] for mark in week["marks"]] == ["<b>elbow</b>"]
    assert week["days"][4]["cells"][0]["name"] == CELL.name
    assert [one["name"] for one in week["moved"]] == [CELL.name]
    text = page.read_text("utf-8")
    assert "&lt;b&gt;elbow" in text and "<script" not in text and "<b>elbow" not in text


def test_a_damaged_file_of_names_is_told_and_hides_nothing_else(run):
    """The names of a cell's ways are a file at the side: the day and the week are told without
    it, `ways` of the cell is one line with the place."""
    session(3, 118.0)
    names = Path("configs/ways/six-across-a-skip.json")
    names.parent.mkdir()
    names.write_text("{\n{bad", "utf-8")
    wanted = f"{names}:2: holds no names of ways, since it is no JSON from column 1 on; mend it"
    for command in ("today", "week"):
        done = run(command)
        assert done.status == 0 and CELL.name in done.out
        assert wanted in done.err and done.err.count("\n") == 1
    done = run("ways", CELL.name)
    assert (done.status, done.out) == (2, "") and wanted in done.err


def test_a_week_without_practice_is_told_in_a_sentence(run, tmp_path):
    """As plain lines and on the page, which draws no bar."""
    page = tmp_path / "week.html"
    lines = run("week", "--html", str(page)).out.splitlines()
    assert lines[-2] == "Nothing was played in these seven days."
    text = page.read_text("utf-8")
    assert "<p>Nothing was played in these seven days.</p>" in text and 'class="bar"' not in text


def test_a_day_that_is_none_is_one_line(run):
    """What is wrong and how a day is written."""
    done = run("week", "--to", "yesterday")
    assert done.status == 2 and done.err.count("\n") == 1 and "2026" in done.err


def block(kind: str, **how) -> Block:
    return Block(kind, 140.0, 12, 1.0, **how)


def test_each_kind_of_block_is_a_command():
    """A part names its notes, two variants are played one after the other at the same tempos."""
    part = block("part", tempos=(140.0, 150.0), notes=(2, 3, 4))
    both = block("both", tempos=(140.0,) * 4, variants=("", "economy"))
    told = [" ".join(words) for one in (part, both) for words in today.commands_of("seven", one)]
    assert told == [
        "climb seven --reps 6 --notes 2-4 --tempos 140,150",
        "climb seven --reps 6 --tempos 140,140",
        "climb seven --reps 6 --variant economy --tempos 140,140",
    ]
    search = "climb seven --reps 6 --rule search --start 140 --blocks 2"
    assert [" ".join(words) for words in today.commands_of("seven", block("search"))] == [search]
    assert list(today.commands_of("seven", Block("rig", None, None, 4.0))) == [["rig", "latency"]]


def test_start_plays_one_block_after_the_other_until_one_is_stopped(run, monkeypatch):
    """Each is a command that the program knows; the first that fails ends the day."""
    session(3, 118.0)
    played: list[list[str]] = []

    class Done:
        returncode = 0

    def ran(words: list[str]) -> Done:
        played.append(words[3:])
        Done.returncode = 3 if len(played) == 2 else 0
        return Done()

    monkeypatch.setattr(today.subprocess, "run", ran)
    monkeypatch.setattr(today, "practised", there(today.practised))
    done = run("today", "--start", "--minutes", "60", "--driver", "jack", "--port", "Hex")
    assert done.out.startswith("1 of ") and played[0][0] == "climb"
    assert played[0][-4:] == ["--port", "Hex", "--driver", "jack"]
    assert done.status == (3 if len(played) == 2 else 0) and len(played) <= 2
    for words in played:
        assert main([*words, "--help"]) == 0


def there(practised):
    """The cells, as if their files were there."""
    return lambda *asked: [replace(one, file=CELL) for one in practised(*asked)]
