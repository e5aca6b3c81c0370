"""The whole chain on a real virtual MIDI port: a sender, ``livecheck listen``, the journal, the
verdicts."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

import pytest
from conftest import ROOT

from livecheck.core.cell import Cell
from livecheck.core.events import Mark, Midi, Stop, UseRig
from livecheck.core.rig import Rig
from livecheck.files.config import dump_cell, dump_rig
from livecheck.files.journal_reader import read
from livecheck.files.midifile import read_midi, write_midi
from livecheck.player.takes import make_take

pytestmark = [pytest.mark.jack, pytest.mark.usefixtures("jack_server")]

NAME = f"Hex {os.getpid()}"
PATIENCE_S = 30
ENVIRONMENT = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "tests")])}


def started(*words: object) -> subprocess.Popen[str]:
    """The program as a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "livecheck", *map(str, words)],
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env=ENVIRONMENT,
    )  # fmt: skip


def sending(midi: Path, speed: float) -> subprocess.Popen[str]:
    """A process that will play a file into a port of its own."""
    sender = subprocess.Popen(
        [sys.executable, str(ROOT / "tests/port_sender.py"), NAME, str(midi), str(speed)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=ENVIRONMENT,
    )  # fmt: skip
    assert sender.stdout is not None
    assert sender.stdout.readline() == "ready\n"
    return sender


def end(*processes: subprocess.Popen[str] | None) -> None:
    """Leave nothing running."""
    for process in processes:
        if process is not None and process.poll() is None:
            process.kill()
            process.communicate()


def listened(
    home: Path, midi: Path, cell: Path, rig: Path, speed: float = 1.0
) -> tuple[Path, list[int], str]:
    """Play a file into ``livecheck listen``; the session, the moments of sending (ns), and what was
    printed."""
    sender, listener = sending(midi, speed), None
    try:
        assert sender.stdin is not None and sender.stdout is not None
        words = ("--rig", rig, "--driver", "jack", "--port", NAME, "--plain", "--home", home)
        listener = started("listen", cell, *words)
        assert listener.stdout is not None
        printed = ""
        while f"listening to {NAME}" not in printed:
            line = listener.stdout.readline()
            assert line, listener.communicate()
            printed += line
        print("go", file=sender.stdin, flush=True)
        sent_ns = json.loads(sender.stdout.readline())
        listener.send_signal(signal.SIGINT)
        rest, complaints = listener.communicate(timeout=PATIENCE_S)
        assert (listener.returncode, complaints) == (0, "")
    finally:
        end(sender, listener)
    (session,) = (home / "recordings").iterdir()
    return session, sent_ns, printed + rest


def verdicts(score: dict[str, Any]) -> Any:
    """Everything of a score that is no time."""
    return [
        (
            [
                (slot["slot"], slot["verdict"], slot["note"], slot["velocity"])
                for slot in rep["slots"]
            ],
            [(extra["string"], extra["note"], extra["kind"]) for extra in rep["extras"]],
            rep["complete"],
            rep["clean"],
        )
        for rep in score["reps"]
    ], [(extra["string"], extra["note"]) for extra in score["outside"]]


def written(folder: Path, cell: Cell, rig: Rig) -> tuple[Path, Path]:
    """Cell and rig as files."""
    (folder / "cell.yaml").write_text(dump_cell(cell), "utf-8")
    (folder / "rig.yaml").write_text(dump_rig(rig), "utf-8")
    return folder / "cell.yaml", folder / "rig.yaml"


def test_a_take_through_a_real_port_gets_the_verdicts_of_its_file(run, tmp_path):
    """Every message sent is in the journal once, in order, its stamp right; live, session and file
    agree."""
    take = make_take(4, "clean")
    cell, rig = written(tmp_path, take.cell, take.rig)
    # clock is not passed on
    heard = [record for record in take.records if record.data[0] < 0xF0 and record.t_s < 25.0]
    write_midi(tmp_path / "take.mid", heard)

    session, sent_ns, printed = listened(tmp_path / "home", tmp_path / "take.mid", cell, rig)

    reading = read(session)
    records = list(reading)
    arrived = [record for record in records if isinstance(record, Midi)]
    assert reading.whole
    assert isinstance(records[0], UseRig) and isinstance(records[-1], Stop)
    assert [record.data for record in arrived] == [record.data for record in heard]
    assert reading.head is not None
    begun_ns = reading.head.perf_ns
    late_ms = [
        record.t_s * 1e3 - (ns - begun_ns) / 1e6
        for record, ns in zip(arrived, sent_ns, strict=True)
    ]
    assert min(late_ms) >= 0.0
    assert median(late_ms) < 50.0  # on a busy machine too; bench_latency.py measures

    words = ("--cell", cell, "--rig", rig, "--json")
    from_session = json.loads(run("score", session, "--json").out)
    from_file = json.loads(run("score", tmp_path / "take.mid", *words).out)
    from_export = json.loads(run("score", session / "session.mid", *words).out)
    assert from_session["totals"]["complete"] >= 3
    assert verdicts(from_session) == verdicts(from_file) == verdicts(from_export)
    assert (
        sum(line.startswith("rep ") for line in printed.splitlines())
        == from_session["totals"]["reps"]
    )


def test_a_real_improvisation_holds_no_repetition_of_a_cell(run, tmp_path, shared):
    """All 71 notes of an open per-string recording arrive once; none of its play is taken for the
    cell.

    Source: sources.md G-01, G-02, G-04 (GuitarSet, Xi and others, ISMIR 2018, CC BY 4.0).
    """
    (midi,) = (shared / "data/guitarset").glob("*.mid")
    cell, rig = ROOT / "configs/cells/six-over-four.yaml", tmp_path / "rig.yaml"
    rig.write_text(dump_rig(Rig("open data")), "utf-8")
    session, _, printed = listened(tmp_path / "home", midi, cell, rig, speed=4.0)
    arrived = [record.data for record in read(session) if isinstance(record, Midi)]
    assert arrived == [record.data for record in read_midi(midi)]
    assert sum(data[0] & 0xF0 == 0x90 and data[2] > 0 for data in arrived) == 71
    score = json.loads(run("score", session, "--json").out)
    assert score["totals"]["complete"] == 0
    assert "No repetition" in printed


def until(what: str, found: Callable[[], Any]) -> Any:
    """Wait for something that has to come."""
    latest = time.monotonic() + PATIENCE_S
    while time.monotonic() < latest:
        if value := found():
            return value
        time.sleep(0.05)
    pytest.fail(f"waited {PATIENCE_S} s for {what}")


def test_a_recorder_left_running_is_spoken_to_and_watched(run, tmp_path):
    """It waits for its port, then records; commands reach it, a viewer shows the session, and it
    ends in good order."""
    take = make_take(4, "clean")
    cell, rig = written(tmp_path, take.cell, take.rig)
    write_midi(tmp_path / "take.mid", [record for record in take.records if record.t_s < 8.0])
    home = tmp_path / "home"
    daemon = started("daemon", "--rig", rig, "--driver", "jack", "--port", NAME, "--home", home)
    sender = viewer = None

    def status() -> dict[str, Any]:
        answer = run("status", "--home", home, "--json")
        return json.loads(answer.out) if answer.status == 0 else {}

    try:
        assert until("an answer", status)["link"]["up"] is False
        viewer = started("watch", "--plain", "--home", home)
        sender = sending(tmp_path / "take.mid", 1.0)
        assert sender.stdin is not None and sender.stdout is not None
        until("the link", lambda: status()["link"]["up"])
        assert run("cell", "use", cell, "--home", home).status == 0
        assert status()["session"] is None
        print("go", file=sender.stdin, flush=True)
        session = Path(until("a session", lambda: status()["session"]))
        assert run("mark", "thumb", "lower", "--home", home).status == 0
        assert run("variant", "no-such", "--home", home).status == 2
        sender.stdout.readline()
        assert run("stop", "--home", home).out.startswith("stopped; the session is in ")
        assert daemon.wait(PATIENCE_S) == 0
        shown, complaints = viewer.communicate(timeout=PATIENCE_S)
        assert (viewer.returncode, complaints) == (0, "")
    finally:
        end(daemon, sender, viewer)

    reading = read(session)
    records = list(reading)
    assert reading.whole
    assert [record.text for record in records if isinstance(record, Mark)] == ["thumb lower"]
    score = json.loads(run("score", session, "--json").out)
    assert score["totals"]["reps"] >= 1
    assert sum(line.startswith("rep ") for line in shown.splitlines()) == score["totals"]["reps"]
    assert "thumb lower" in shown
