"""Sessions from the outside: whose they are, which one is meant, what is said of one that is not
whole."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from takes_on_disk import records_of, take_on_whole_ms, write_session
from test_session_cells import FAR, SIX, messages

from livecheck.cli import main
from livecheck.control import Server
from livecheck.core.events import Link, Midi, Stop, UseCells, UseRig
from livecheck.core.playing import BUILT_IN
from livecheck.core.rig import Rig
from livecheck.files.library import PracticeFolder

TODAY = f"{datetime.now():%Y-%m-%d}"
DEMO, OWN, EMPTY = f"{TODAY}T00-00-01", f"{TODAY}T00-00-02", f"{TODAY}T00-00-03"


@pytest.fixture
def sessions(run):
    """Of the same playing a demo and the player's own."""
    records = records_of(take_on_whole_ms(3))
    for name, port in ((DEMO, BUILT_IN), (OWN, "Hex 20:0")):
        write_session(Path("recordings", name), [*records[:2], Link(0.0, True, port), *records[2:]])
    return PracticeFolder(Path.cwd())


def test_a_demo_is_nobodys_practice(run, sessions):
    """It is marked, and neither reviewed nor counted as played today unless it is named."""
    assert [info.demo for info in sessions.sessions()] == [True, False]
    assert sessions.played_s(TODAY) == sessions.sessions()[1].played_s > 0.0
    assert [path.name for path in sessions.own_paths()] == [OWN]
    lines = run("sessions").out.splitlines()
    assert lines[1].endswith("demo") and "demo" not in lines[2]
    for _ in range(2):  # judged, then out of the index
        own, both = (json.loads(run("review", *words, "--json").out) for words in ((), (DEMO, OWN)))
        assert 2 * own["reps"] == both["reps"] > 0


def test_where_only_demos_are_one_must_be_named(run, sessions):
    """The review of nothing but demos says so."""
    Path("recordings", OWN).rename("elsewhere")
    assert "only demos; `livecheck review last` looks at the last" in run("review").err
    ways = run("ways", "odd five").err
    assert "only demos; `livecheck ways 'odd five' last` looks at the last" in ways
    pair = run("compare", "--variants", "a", "b").err
    assert "only demos; `livecheck compare … last` looks at the last" in pair
    late = run("rig", "latency", "--last", "6").err
    assert "only demos; `livecheck rig latency last` looks at the last" in late
    assert run("review", DEMO).status == 0


def test_the_last_session_is_one_in_which_something_was_played(run, sessions):
    """One that has just begun has nothing to be looked at; the list says that it is being
    recorded."""
    records = records_of(take_on_whole_ms(3))
    live = write_session(
        Path("recordings", EMPTY),
        [record for record in records[:-1] if not isinstance(record, Midi)],
    )
    assert "not whole" in run("sessions").out
    assert sessions.session("last").name == OWN
    server = Server(Path.cwd(), lambda command: {"session": str(live)})
    try:
        line = run("sessions").out.splitlines()[-1]
        checked = run("sessions", "check", EMPTY)
    finally:
        server.close()
    assert checked.status == 0 and checked.out.endswith("lines: being recorded now\n")
    assert run("sessions", "check", EMPTY).out.endswith("ends without its last record\n")
    assert line.startswith(EMPTY) and line.endswith("recording now")


def test_what_is_damaged_is_told_before_what_is_left_of_it(sessions, run):
    """On one stream the warning comes first; list, check and review agree that a copy of what is
    good is not whole."""
    journal = Path("recordings", OWN, "journal-001.log")
    journal.write_bytes(journal.read_bytes().replace(b"midi", b"mudi", 1))
    for words in (("score", OWN), ("score", OWN, "--json"), ("replay", OWN, "--fast", "--plain")):
        both = io.StringIO()
        assert main(words, both, both) == 0
        assert both.getvalue().startswith(
            "livecheck: the session is not whole: 1 damaged line, 1 line missing\n"
        )
        assert both.getvalue().count("not whole") == 1
    run("sessions", "check", OWN, "--salvage")
    saved = f"{OWN}-salvaged"
    assert "not whole" in run("review", saved).err
    (listed,) = (one for one in json.loads(run("sessions", "--json").out) if one["name"] == saved)
    (checked,) = json.loads(run("sessions", "check", saved, "--json").out)
    assert (listed["whole"], checked["whole"], checked["damaged"]) == (False, False, False)


def test_of_several_cells_the_list_names_those_that_were_played(run):
    """Candidates that were never played are no practice; a name with a comma stands in quotation
    marks."""
    slow = replace(SIX, name="six, slow")
    played = [UseCells(0.0, (slow, FAR)), *messages(slow, 4, 1.0)]
    write_session(Path("recordings", OWN), [UseRig(0.0, Rig()), *played, Stop(9.0, "done")])
    (told,) = json.loads(run("sessions", "--json").out)
    assert told["cells"] == ["six, slow"]
    assert '"six, slow"' in run("sessions").out
    assert json.loads(run("sessions", "--json").out)[0]["cells"] == ["six, slow"]  # as kept
