"""What practice says of the rig's delay is offered, never applied; and old sessions are judged anew
by one command."""

from __future__ import annotations

import atexit
import io
import json
import shutil
import sys
import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

import pytest
from takes_on_disk import write_session

from livecheck.cli import main
from livecheck.core.cell import make_cell
from livecheck.core.events import Stop, UseCells, UseRig
from livecheck.core.rig import Delay, Rig
from livecheck.files.config import dump_cell, dump_rig, load_rig
from livecheck.files.midifile import write_midi
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import perform

CELLS = (
    make_cell("up and down", [(6, 5), (5, 7), (4, 5), (3, 7), (2, 5), (1, 8), (2, 8), (4, 7)]),
    make_cell("inside out", [(3, 5), (4, 7), (2, 6), (5, 5), (1, 7), (6, 8)]),
    make_cell(
        "skipping", [(6, 3), (4, 2), (5, 3), (3, 4), (4, 5), (2, 3), (3, 5), (1, 3), (2, 5), (6, 7)]
    ),
    make_cell("low and high", [(6, 2), (1, 2), (5, 4), (2, 4), (4, 2), (3, 2)]),
)
TRUE = Conversion(fixed_ms=4.0, periods=1.8, sends_rpn=False)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    folder = tmp_path / "home"
    (folder / "recordings").mkdir(parents=True)
    (folder / "configs" / "cells").mkdir(parents=True)
    return folder


@cache
def recordings(rig: Rig, cells: int) -> Path:
    """A session a cell, recorded with a rig, each slot's own habit small; judged once, so that its
    counts are kept."""
    rng = Random(7)
    home = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, home, ignore_errors=True)
    for at, cell in enumerate(CELLS[:cells]):
        hands = Habits(notes_per_s=6.0, reps=30, gallop_pct=0.3, scatter_pct=2.0)
        take = perform(cell, hands, TRUE, rng)
        records = [
            UseRig(0.0, rig),
            UseCells(0.0, (cell,)),
            *take.records,
            Stop(take.records[-1].t_s, "done"),
        ]
        write_session(home / "recordings" / f"2025-11-{10 + at}T18-00-00", records)
    main(["review", "--home", str(home), "--json"], io.StringIO(), io.StringIO())
    return home / "recordings"


def practised(home: Path, rig: Rig, cells: int = len(CELLS)) -> None:
    """Practice of so many cells with a rig, as if it had been reviewed before."""
    shutil.copytree(recordings(rig, cells), home / "recordings", dirs_exist_ok=True)


def told(text: str) -> str:
    """The hint among what was printed, in one line."""
    at = text.find("Practice suggests another conversion delay")
    return " ".join(text[at:].split()) if at >= 0 else ""


def test_a_review_offers_what_practice_says_of_the_delay(run, home):
    """No delay in the rig, 1.8 periods in the notes: string 6, its interval, and the command that
    writes it."""
    practised(home, Rig())
    shown = run("review", "--home", home, "--cell", "inside out")
    assert shown.status == 0, shown.err
    hint = told(shown.out)
    assert "string 6 comes" in hint and "later, against the others, than the rig takes off" in hint
    assert "rig latency --last 4` shows it" in hint
    assert max(map(len, shown.out.splitlines()[-3:])) <= 80
    assert not (home / "configs" / "rig.yaml").exists()


def test_the_command_that_it_names_shows_and_writes_it(run, home):
    """From all four sessions, with an interval that holds the truth; afterwards nothing is offered
    any more."""
    practised(home, Rig())
    found = json.loads(run("rig", "latency", "--last", "4", "--home", home, "--json").out)
    assert found["how"] == "practice"
    assert found["periods"]["low"] < TRUE.periods < found["periods"]["high"]
    shown = run("rig", "latency", "--last", "4", "--home", home)
    assert (
        "Not written; --write writes it." in shown.out
        and not (home / "configs" / "rig.yaml").exists()
    )
    assert run("rig", "latency", "--last", "4", "--home", home, "--write").status == 0
    assert load_rig(home / "configs" / "rig.yaml").delay.periods == pytest.approx(
        TRUE.periods, abs=0.5
    )
    assert told(run("review", "--home", home, "--cell", "inside out").out) == ""
    again = run("rig", "latency", "--last", "4", "--home", home).out
    assert "No string is off by more than 2 ms for sure: the rig may stay as it is." in again


def test_a_rig_that_fits_is_left_in_peace(run, home):
    """The delay that the notes have: no offer."""
    practised(home, Rig(delay=Delay(TRUE.fixed_ms, TRUE.periods)))
    assert told(run("review", "--home", home, "--cell", "inside out").out) == ""


def test_another_rig_s_practice_says_nothing_of_this_one(run, home):
    """The sessions were played through other channels, or through a rig of another name."""
    practised(home, Rig("old box", channels=(11, 12, 13, 14, 15, 16)), 1)
    (home / "configs" / "rig.yaml").write_text(dump_rig(Rig("new box")), "utf-8")
    assert told(run("review", "--home", home).out) == ""


def test_a_review_of_a_file_is_about_the_file(run, home):
    """What sessions say of the rig has nothing to do with it."""
    practised(home, Rig())
    take = perform(CELLS[0], Habits(notes_per_s=6.0, reps=12), TRUE, Random(1))
    write_midi(home / "take.mid", take.records)
    (home / "cell.yaml").write_text(dump_cell(CELLS[0]), "utf-8")
    shown = run("review", home / "take.mid", "--cell", home / "cell.yaml", "--home", home)
    assert shown.status == 0 and told(shown.out) == ""


def test_json_and_judging_anew_offer_nothing(run, home):
    """An object is for other programs; with another rig named the player knows already."""
    practised(home, Rig())
    (home / "rig.yaml").write_text(dump_rig(Rig("try")), "utf-8")
    json.loads(run("review", "--home", home, "--json").out)
    assert told(run("review", "--home", home, "--rig", home / "rig.yaml").out) == ""


def test_check_offers_it_at_its_end(run, home, monkeypatch):
    """After looking at the strings."""
    practised(home, Rig())
    monkeypatch.setattr(
        "livecheck.commands.rig_input.reader_command",
        lambda driver, port: [sys.executable, "-m", "livecheck.player.feed", "--seconds", "20"],
    )
    assert "string 6 comes" in told(
        run("rig", "check", "--home", home, "--seconds", "1", "--plain").out
    )


def test_a_damaged_session_spoils_nothing(run, home):
    """The review says what it can; no offer is made of what cannot be read."""
    practised(home, Rig(), 1)
    bad = home / "recordings" / "2025-11-20T18-00-00"
    bad.mkdir()
    (bad / "journal-001.log").write_bytes(b"\xff\x00 not a journal\n")
    assert run("review", "--home", home).status == 0


def test_one_command_reviews_all_sessions_anew_with_another_rig(run, home):
    """`review --rig FILE`: the same playing is more even once the strings' delays are taken off;
    nothing is kept."""
    practised(home, Rig(), 1)
    better = home / "better.yaml"
    better.write_text(dump_rig(replace(Rig(), delay=Delay(TRUE.fixed_ms, TRUE.periods))), "utf-8")

    def unevenness(*words: object) -> float:
        review = json.loads(run("review", "--home", home, "--json", *words).out)
        return sum(one["cv_pct"] * one["reps"] for one in review["by_tempo"]) / review["reps"]

    before, after = unevenness(), unevenness("--rig", better)
    assert after < 0.85 * before
    assert unevenness() == before
