"""Viewers: any number of them, at any time; they see each session from its start and go on to the
next; what becomes of them is nothing to the recording."""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import signal
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path

import pytest
from jack import eventually
from takes_on_disk import records_of, take_on_whole_ms, write_session
from test_service import fake, heard, home, numbers, reader_pid, recording, sent

from livecheck.cli import main
from livecheck.commands.live import Showing, show_sessions
from livecheck.control import Client
from livecheck.core.events import Gap, Midi, Stop
from livecheck.daemon.options import Options
from livecheck.daemon.process import start_recorder
from livecheck.errors import NoDevice
from livecheck.files.config import cell_to_dict, rig_to_dict
from livecheck.files.journal import read
from livecheck.files.library import PracticeFolder
from livecheck.player.demo import CELL, demo_rig

__all__ = ["home"]  # the fixture

TESTS = Path(__file__).parents[1]
TWO_SITTINGS = """
import sys, time
from livecheck.core.events import Midi
from livecheck.daemon.frames import Sender
from livecheck.player.demo import demo_take
from livecheck.player.feed import _input_open, play_into

records = demo_take(seconds=6.0).records
later = records[-1].t_s + 3.0
both = [*records, *(Midi(record.t_s + later, record.data) for record in records)]
play_into(Sender(1), [both], speed=1.0, clock_ns=time.perf_counter_ns, wait=_input_open)
time.sleep(0.5)
"""


@contextlib.contextmanager
def watching(home, out, *words):
    """A viewer that prints into a file."""
    with out.open("w") as file:
        command = [
            sys.executable,
            "-m",
            "livecheck",
            "watch",
            "--plain",
            "--home",
            str(home),
            *words,
        ]
        viewer = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=file,
            stderr=subprocess.STDOUT,
            cwd=TESTS.parent,
        )
    try:
        yield viewer
    finally:
        viewer.kill()
        viewer.wait()


def reps(out):
    return [line for line in out.read_text().splitlines() if line.startswith("rep ")]


def test_two_viewers_see_one_session_after_the_other_from_its_start(home, tmp_path):
    """One was there before the first note, the other comes late; a long silence between begins a
    new session."""
    told = Options(
        home,
        rig=rig_to_dict(demo_rig(CELL)),
        cells=({**cell_to_dict(CELL), "variant": None},),
        source=(sys.executable, "-c", TWO_SITTINGS),
        silence_s=1.5,
        export=False,
    )
    early, late = tmp_path / "early", tmp_path / "late"
    recorder = start_recorder(told)
    try:
        with watching(home, early) as first:
            eventually(lambda: reps(early), within_s=90)
            with watching(home, late) as second:
                assert first.wait(120) == 0 and second.wait(120) == 0
    finally:
        recorder.stop()
    one, two = sorted((home / "recordings").iterdir())
    shown = early.read_text()
    assert shown.count("a long silence") == 1 and "the take is over" in shown
    half = shown.index("a long silence")
    assert "rep 1 " in shown[:half] and "rep 1 " in shown[half:]
    assert reps(early) == reps(late)
    assert read_whole(one) and read_whole(two)


def read_whole(folder):
    reading = read(folder)
    return bool(list(reading)) and reading.whole


def test_a_viewer_goes_over_to_the_recorder_that_follows_a_dead_one(home, tmp_path):
    """A killed recorder is started again by the service manager; who watches need not care."""
    out = tmp_path / "out"
    with contextlib.ExitStack() as both:
        first = both.enter_context(recording(fake(home)))
        viewer = both.enter_context(watching(home, out))
        eventually(lambda: "listening to" in out.read_text(), within_s=90)
        os.kill(first.pid, signal.SIGKILL)
        eventually(lambda: "the recorder has ended" in out.read_text(), within_s=90)
        both.enter_context(recording(fake(home, "--notes", "3000", "--pause", "0.002")))
        assert viewer.wait(120) == 0
    assert "the take is over" in out.read_text()


def kill_viewers(home, tmp_path, times, seed):
    """Kill one of two viewers at random moments under load; what is recorded does not change by
    it."""
    moments = random.Random(seed)
    with recording(fake(home, "--pause", "0.002")) as recorder:
        pid = eventually(lambda: reader_pid(recorder))
        heard(recorder, 20)
        with watching(home, tmp_path / "stays") as stays:
            for _ in range(times):
                with watching(home, tmp_path / "killed") as viewer:
                    time.sleep(moments.random())
                    os.kill(viewer.pid, signal.SIGKILL)
            assert stays.poll() is None and recorder.poll() is None
        assert reader_pid(recorder) == pid
    arrived = numbers(recorder.session)[pid]
    assert arrived == list(range(sent(home, pid)[0])), f"seed {seed}"
    assert read_whole(recorder.session) and not [
        one for one in read(recorder.session) if isinstance(one, Gap)
    ]


@pytest.mark.skipif(sys.platform != "linux", reason="finds the reader's process through /proc")
def test_killed_viewers_do_not_disturb_the_recording(home, tmp_path):
    """Every message sent is there once, in order, from the same reader; the other viewer stays."""
    kill_viewers(home, tmp_path, 5, seed=21)


@pytest.mark.long
@pytest.mark.skipif(sys.platform != "linux", reason="finds the reader's process through /proc")
def test_many_killed_viewers_do_not_disturb_the_recording(home, tmp_path):
    """200 kills at random moments."""
    kill_viewers(home, tmp_path, 200, seed=22)


def ran_demo(home, seconds, then):
    """A demo in a process of its own, to whose recorder something happens; its status and what it
    said."""
    command = [sys.executable, "-m", "livecheck", "demo", "--plain", "--seconds", str(seconds)]
    process = subprocess.Popen([*command, "--home", str(home)], stdout=subprocess.PIPE, text=True)
    client = Client(home)
    eventually(lambda: client.is_there() and client.ask({"command": "status"})["notes"] > 2, 30)
    then(client.ask({"command": "status"})["pid"])
    told = process.communicate(timeout=60)[0]
    return process.returncode, told


def test_a_recorder_that_dies_is_started_again(home):
    """Whoever plays on is recorded; both sessions are there, what happened is said, and the exit
    status is 1."""
    status, told = ran_demo(home, 10, lambda pid: os.kill(pid, signal.SIGKILL))
    assert status == 1 and "The recorder ended unexpectedly." in told
    assert "It has been started again." in told and told.count("Saved in ") == 2
    first, second = sorted((home / "recordings").iterdir())
    assert not read_whole(first) and read_whole(second)


def test_a_demo_s_end_is_no_trouble(home):
    """Between the last record and the look for a living recorder there is always a moment: all is
    saved, so nothing else is said."""
    take = take_on_whole_ms(3)
    folder = write_session(home / "recordings/2026-11-25T18-03-11", records_of(take))
    for looks in range(3):
        client = Status(home, *[folder] * looks)
        out = io.StringIO()
        shown = show_sessions(folder, client, Showing(plain=True), out, lambda: False)
        assert shown == ([folder], "end")
        assert "not saved" not in out.getvalue() and "take is over" in out.getvalue()


def test_where_only_controllers_came_nothing_is_said_of_notes(home):
    """The summary and what is said of keeping agree."""
    take = take_on_whole_ms(3)
    begun = records_of(take)[:2]
    folder = home / "recordings/2026-11-25T18-03-11"
    write_session(folder, [*begun, Midi(0.5, b"\xb0\x01\x40"), Stop(1.0, "stopped")])
    out = io.StringIO()
    show_sessions(folder, Status(home), Showing(plain=True), out, lambda: False)
    assert "No repetition: messages came, but no note." in out.getvalue()


def test_a_long_demo_plays_from_its_first_second(home):
    """Three quarters of an hour are not made before the first note."""

    def stop(_pid):
        assert main(["stop", "--home", str(home)], io.StringIO(), io.StringIO()) == 0

    status, told = ran_demo(home, 2700, stop)
    assert status == 0 and "Saved in " in told and "not saved" not in told


class Status:
    """A recorder's answers, one after the other; then it is gone."""

    def __init__(self, home, *sessions):
        self.home = home
        self._sessions = list(sessions)

    def ask(self, command, timeout_s=0.0):
        if not self._sessions:
            raise NoDevice("gone")
        told = self._sessions.pop(0)
        return {"session": told and str(told), "trouble": None, "waiting": 0}

    def is_there(self):
        return bool(self._sessions)


def test_a_console_goes_on_after_the_computer_slept(home):
    """The recorder ends the session then; the console says why, waits, and shows the one that
    follows."""
    take = take_on_whole_ms(3)
    *records, _ = records_of(take)
    folders = [
        home / "recordings" / name for name in ("2026-11-25T18-03-11", "2026-11-25T19-03-11")
    ]
    for folder, why in zip(folders, ("the computer slept for 3000 s", "stopped")):
        write_session(folder, [*records, Stop(records[-1].t_s, why)])
    out = io.StringIO()
    client = Status(home, folders[0], None, None, folders[1], folders[1])
    shown = show_sessions(folders[0], client, Showing(plain=True), out, lambda: True)
    assert shown.folders == folders
    lines = out.getvalue().splitlines()
    slept = next(at for at, line in enumerate(lines) if "the computer slept for 3000 s" in line)
    waited = next(
        at for at, line in enumerate(lines) if line.startswith("waiting for the first note")
    )
    assert slept < waited and sum(line.startswith("rep 1 ") for line in lines[waited:]) == 1


def test_the_time_asked_for_holds_over_sessions_and_while_it_waits(home):
    """``--seconds`` is for the whole of it."""
    begun = time.monotonic()
    showing = Showing(seconds=0.3, plain=True)
    client = Status(home, *[None] * 1000)
    assert show_sessions(None, client, showing, io.StringIO(), lambda: True).folders == []
    assert 0.3 <= time.monotonic() - begun < 5


def test_status_tells_the_time_played_today(home, tmp_path):
    """Of this session and of those that began today; a silence is not counted, another day's
    sessions neither."""
    take = take_on_whole_ms(3)
    today = f"{datetime.now():%Y-%m-%d}"
    for name in (f"{today}T00-00-01", "2020-01-01T10-00-00"):
        write_session(home / "recordings" / name, records_of(take))
    earlier_s = PracticeFolder(home).played_s(today)
    assert (
        1.0 < earlier_s <= take.records[-1].t_s
        and PracticeFolder(home).played_s("2020-01-01") == earlier_s
    )
    with recording(fake(home)) as recorder:
        heard(recorder, 200)
        out = io.StringIO()
        assert main(["status", "--json", "--home", str(home)], out, out) == 0
        told = json.loads(out.getvalue())
        assert told["played_s"] > 0.0
        assert told["played_today_s"] == pytest.approx(earlier_s + told["played_s"], abs=0.11)
        assert main(["status", "--home", str(home)], out, out) == 0
    assert "played today: " in out.getvalue() and "disk: everything is saved" in out.getvalue()
