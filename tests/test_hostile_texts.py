"""Texts from elsewhere, planted wherever one can come from: none acts on a terminal, forges a line
or turns the order of reading, on the output, the error output, the screen and in the log."""

from __future__ import annotations

import io
import json
import logging
import unicodedata
from pathlib import Path

import pytest
from takes_on_disk import records_of, take_on_whole_ms, write_session

from livecheck.cli import main
from livecheck.console.model import Model
from livecheck.console.palette import signs_for
from livecheck.console.screen import Screen
from livecheck.console.view import screen_lines
from livecheck.control import Server
from livecheck.core.events import Gap, Link, Mark, Stop
from livecheck.core.plain_text import clean
from livecheck.daemon.logfile import LogFile
from livecheck.files.csvfile import _text
from livecheck.files.journal_reader import read
from livecheck.report.outlet import Outlet, outlet, raw

EVIL = "e\x1b[2J\x1b]0;t\x07\x9b31m\r\nFORGED x\u2028FORGED\x85y\u202e\u2066z\u200f\ufeff\x7f"
NAME = "2026-11-25T18-03-11"


def harmless(text: str) -> None:
    """Only line breaks of our own, and nothing else that does not print."""
    wrong = {sign for sign in text if not sign.isprintable() and sign != "\n"}
    assert not wrong, [unicodedata.name(sign, hex(ord(sign))) for sign in wrong]
    assert not any(line.startswith("FORGED") for line in text.splitlines()), text


@pytest.fixture
def evil(run):
    """A practice folder in which everything has such a name or holds such a text."""
    take = take_on_whole_ms(3, "everything")
    take.records[:] = take.records[:220]
    first, cells, *rest = records_of(take)
    texts = [Link(0.0, True, EVIL), Mark(0.1, EVIL), Gap(0.2, 1, EVIL), Link(0.3, False, EVIL)]
    journal = [first, cells, *texts, *rest[:-1], Stop(rest[-1].t_s, EVIL)]
    write_session(Path("recordings", NAME), journal)
    damaged = write_session(Path("recordings", f"2026-11-26 {EVIL}"), journal)
    log = damaged / "journal-001.log"
    log.write_bytes(log.read_bytes()[:-300] + b"damaged")
    broken = Path("recordings", f"2026-11-27T18-03-11{EVIL}")
    broken.symlink_to("nowhere")
    for folder in ("cells", "rigs"):
        Path("configs", folder, f"{EVIL}.yaml").write_text("name: 7\nslots: nothing\n")
    Path("configs/cells/titled.yaml").write_text(
        Path("configs/cells/six-over-four.yaml")
        .read_text("utf-8")
        .replace("name:", f"title: {json.dumps(EVIL)}\nname:", 1)
    )
    Path(f"{EVIL}.mid").write_bytes(b"no MIDI file")
    return run


COMMANDS = [
    ["sessions"],
    ["sessions", "check"],
    ["sessions", "check", "--salvage"],
    ["sessions", "check", f"2026-11-26 {EVIL}"],
    ["score", NAME],
    ["score", "last"],
    ["score", EVIL],
    ["score", f"{EVIL}.mid", "--cell", "six-over-four"],
    ["replay", NAME, "--fast", "--plain"],
    ["review"],
    ["review", f"2026-11-26 {EVIL}"],
    ["review", "--html", f"{EVIL}/x.html"],
    ["notes", NAME],
    ["compare", NAME, f"2026-11-26 {EVIL}"],
    ["export", f"2026-11-26 {EVIL}", "--csv", f"out {EVIL}", "--midi", f"out {EVIL}"],
    ["cell", "list"],
    ["cell", "show", f"configs/cells/{EVIL}.yaml"],
    ["cell", "show", EVIL],
    ["cell", "show", "titled"],
    ["cell", "check", "configs/cells"],
    ["cell", "check", f"configs/cells/{EVIL}.yaml", EVIL],
    ["rig", "show", f"configs/rigs/{EVIL}.yaml"],
    ["rig", "show", EVIL],
    ["rig", "threshold", NAME],
    ["check"],
    ["listen", EVIL],
    ["daemon", "--port", EVIL, "--print-unit", "systemd"],
    ["demo", EVIL],
    ["sessions", "--home", f"{EVIL}/home"],
    ["sessions", EVIL],
    [EVIL],
    ["sessions", f"--{EVIL}"],
    ["score", "--help"],
]


@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: clean(" ".join(words))[:50])
def test_no_text_from_elsewhere_reaches_a_terminal_raw(evil, words):
    """Names of sessions, files, cells, rigs and ports, titles, marks, and the words typed."""
    status, out, err = evil(*words)
    harmless(out)
    harmless(err)
    assert status in (0, 2), err
    if status == 2 and out == "":
        assert err.count("\n") == err.count("livecheck: ")


@pytest.mark.parametrize("words", [["status"], ["mark", EVIL], ["stop"], ["variant", EVIL]])
def test_no_text_of_a_recorder_reaches_a_terminal_raw(evil, words):
    """The port that it hears, its trouble, its cells, an error of its own, a mark said again."""
    status = {
        "session": f"recordings/{EVIL}", "started": None, "duration_s": 1.0, "played_s": 1.0,
        "silence_s": None, "link": {"up": True, "port": EVIL}, "rig": EVIL,
        "cells": [{"name": EVIL, "variant": EVIL}], "messages": 1, "notes": 1, "dropped": 1,
        "waiting": 1, "trouble": EVIL, "pid": 1, "unsaved": 3,
    }  # fmt: skip
    server = Server(Path.cwd(), lambda command: status)
    if words == ["stop"]:
        server.close()
        server = Server(Path.cwd(), lambda command: server.close() or status)
    try:
        _, out, err = evil(*words)
    finally:
        server.close()
    harmless(out)
    harmless(err)


def test_no_text_reaches_the_screen_raw(evil):
    """Whatever a segment was made of; only what draws is left."""
    model = Model(title=EVIL)
    for record in read(Path("recordings", NAME)):
        model.note(record) if hasattr(model, "note") else None
    model.say_unsaved(EVIL)
    for line in screen_lines(model, 100, 30, signs_for("utf-8", "xterm"), False):
        for segment in line:
            harmless(segment.text)
    out = io.StringIO()
    from rich.segment import Segment

    screen = Screen(out, {"TERM": "xterm", "NO_COLOR": "1"})
    screen.show([[Segment(EVIL)]], (200, 1))
    assert "\x1b]0;t" not in out.getvalue() and "\u202e" not in out.getvalue()
    assert "\n" not in out.getvalue()


def test_no_text_forges_a_line_of_the_log(tmp_path):
    """Also of a traceback."""
    handler = LogFile(tmp_path / "recorder.log")
    log = logging.Logger("test")
    log.addHandler(handler)
    log.info("port open: %s", EVIL)
    try:
        raise ValueError(EVIL)
    except ValueError:
        log.exception("a fault")
    handler.close()
    harmless((tmp_path / "recorder.log").read_text("utf-8"))


def test_a_write_is_a_line(tmp_path):
    """Line breaks at its end are ours; those within it are not. Bytes for a terminal go round
    it."""
    stream = io.StringIO()
    out = outlet(stream)
    assert outlet(out) is out and raw(out) is stream and isinstance(out, Outlet)
    print("a\nb", "c", sep="\n", file=out)
    print(file=out)
    print("", "d", sep="\n", file=out)
    assert stream.getvalue() == "a?b\nc\n\n\nd\n"


def test_help_and_units_keep_their_lines():
    """Texts of our own of several lines come out as they are."""
    out = io.StringIO()
    assert main(["--help"], out, out) == 0
    assert out.getvalue().count("\n") > 20 and "?" not in out.getvalue().split("options")[0][:40]


def test_no_cell_of_a_table_is_a_formula():
    """Names that begin as one does get an apostrophe before them; numbers stay numbers."""
    told = _text(["a"], [["=1+1"], ["+x"], ["-x"], ["@x"], ["x=1"], [-1.5], [None], [True]])
    assert told.split() == ["a", "'=1+1", "'+x", "'-x", "'@x", "x=1", "-1.5", '""', "1"]
