"""The click on a real port: its process may be held up or killed, and the beats stay where they
were."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import ROOT
from jack import jack_server, leave

from livecheck.control import Client
from livecheck.core.events import Click, ClickLink
from livecheck.daemon.options import Options
from livecheck.daemon.process import start_recorder
from livecheck.files.journal_reader import read

pytestmark = pytest.mark.jack

BEAT_S = 0.25


def clicked(
    home: Path, monkeypatch: pytest.MonkeyPatch, trouble: Callable[[int], None]
) -> list[Click | ClickLink]:
    """What a session holds of a click of 240 whose process meets with some trouble after two
    seconds."""
    # else the server itself waits for a process that is held up
    monkeypatch.setenv("JACK_MIDI_ASYNC", "1")
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(home / "run"))
    (home / "run").mkdir()
    (home / "notes.json").write_text(
        json.dumps([(0.2 * at, "903c64") for at in range(60)]), "utf-8"
    )
    with jack_server() as server:
        for key in ("JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER"):
            monkeypatch.setenv(key, server.environment[key])
        player = subprocess.Popen(
            [
                sys.executable,
                str(ROOT / "tests/click_player.py"),
                "tester",
                str(home / "notes.json"),
            ],
            env={**server.environment, "PYTHONPATH": str(ROOT)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            assert player.stdout is not None and player.stdout.readline() == "ready\n"
            recorder = start_recorder(
                Options(
                    home, driver="jack", port="tester:", at_once=True, need_port=True, export=False
                )
            )
            try:
                Client(home).ask(
                    {"command": "click", "schedule": {"bpm": 60.0 / BEAT_S}, "port": "synth:"}
                )
                time.sleep(2.0)
                children = (
                    Path(f"/proc/{recorder.pid}/task/{recorder.pid}/children").read_text().split()
                )
                names = {int(pid): Path(f"/proc/{pid}/cmdline").read_text() for pid in children}
                trouble(next(pid for pid, name in names.items() if "clicker" in name))
                time.sleep(2.0)
            finally:
                recorder.stop()
        finally:
            leave(player)
    assert recorder.session is not None
    return [record for record in read(recorder.session) if isinstance(record, (Click, ClickLink))]


def on_the_beat(clicks: list[Click]) -> bool:
    """Every click lies where its number says, as counted from the first."""
    return all(abs(one.t_s - clicks[0].t_s - BEAT_S * one.beat) < 0.1 for one in clicks)


def test_a_click_that_was_held_up_makes_up_for_nothing(tmp_path, monkeypatch):
    """A second and a half without a processor, as after a suspend: beats are missing, none comes in
    a burst."""

    def hold_up(pid: int) -> None:
        os.kill(pid, signal.SIGSTOP)
        time.sleep(1.5)
        os.kill(pid, signal.SIGCONT)

    clicks = [one for one in clicked(tmp_path, monkeypatch, hold_up) if isinstance(one, Click)]
    gaps = [later.beat - one.beat for one, later in zip(clicks, clicks[1:])]
    assert max(gaps) >= 5 and on_the_beat(clicks)
    assert min(later.t_s - one.t_s for one, later in zip(clicks, clicks[1:])) > 0.5 * BEAT_S


def test_a_click_whose_process_was_killed_goes_on_with_the_same_beats(tmp_path, monkeypatch):
    """Another process takes over; both are said."""
    records = clicked(tmp_path, monkeypatch, lambda pid: os.kill(pid, signal.SIGKILL))
    clicks = [one for one in records if isinstance(one, Click)]
    assert on_the_beat(clicks) and clicks[-1].beat >= 12
    links = [one for one in records if isinstance(one, ClickLink)]
    assert [one.up for one in links] == [True, False, True, False]
    assert links[1].port == "the process that clicks has ended"
