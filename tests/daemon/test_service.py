"""The recorder as a process: it starts, obeys, survives its reader, ends in order, and loses
nothing.

A reader that invents numbered messages takes the place of the MIDI port.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import signal
import socket
import struct
import subprocess
import sys
import time
from pathlib import Path

import pytest
from fake_reader import number_of
from jack import eventually

from livecheck.control import Client, state_folder
from livecheck.core.events import Gap, Link, Mark, Midi, Stop, UseCells, UseRig
from livecheck.daemon.options import Options, to_arguments
from livecheck.daemon.process import start_recorder
from livecheck.errors import BadInput, NoDevice
from livecheck.files.journal import Follower, read

FAKE = str(Path(__file__).with_name("fake_reader.py"))


@pytest.fixture
def home(tmp_path, short_path, monkeypatch):
    """A practice folder, and a runtime folder of the test's own."""
    (short_path / "run").mkdir()
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_path / "run"))
    folder = tmp_path / "home"
    folder.mkdir()
    return folder


def fake(home, *words, **options):
    """Options that record from a fake reader."""
    source = (sys.executable, FAKE, str(home), *words)
    return Options(home, source=source, at_once=True, export=False, **options)


@contextlib.contextmanager
def recording(options):
    """A recorder at work; stopped in the end."""
    recorder = start_recorder(options)
    try:
        yield recorder
    finally:
        recorder.stop()


def reader_pid(recorder):
    """The process that the recorder listens to."""
    children = Path(f"/proc/{recorder.pid}/task/{recorder.pid}/children").read_text().split()
    return int(children[0]) if children else None


def numbers(folder):
    """What arrived: numbers by process."""
    found = {}
    for record in read(folder):
        if isinstance(record, Midi) and (told := number_of(record.data)) is not None:
            found.setdefault(told[0], []).append(told[1])
    return found


def sent(home, pid):
    """How many messages a fake reader had sent, and how many of them the pipe refused."""
    life = home / f"life-{pid}"
    return struct.unpack(
        "<QQ", life.read_bytes() if life.exists() and life.stat().st_size else bytes(16)
    )


def heard(recorder, count):
    """Wait until so many messages are in the journal."""
    follower = Follower(recorder.session)
    found = []
    eventually(lambda: found.extend(follower.poll()) or len(found) >= count)
    return found


def test_a_take_is_recorded_to_its_end_and_the_recorder_ends_with_it(home):
    """Every message once, in order, and an orderly end."""
    with recording(fake(home, "--notes", "500", "--pause", "0")) as recorder:
        eventually(lambda: recorder.poll() is not None)
        assert recorder.poll() == 0
    reading = read(recorder.session)
    records = list(reading)
    assert list(numbers(recorder.session).values()) == [list(range(500))]
    assert records[-1].why == "the take is over" and reading.whole


def test_the_console_s_end_is_the_recorder_s(home):
    """Stopped through its standard input, it writes what was on its way, then the end."""
    with recording(fake(home)) as recorder:
        heard(recorder, 50)
        pid = reader_pid(recorder)
        begun = time.monotonic()
        assert recorder.stop() == 0
        assert time.monotonic() - begun < 5
    assert numbers(recorder.session)[pid] == list(range(sent(home, pid)[0]))
    assert list(read(recorder.session))[-1].why == "the console ended"
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_it_in_order(home, number):
    """As a service manager and a terminal do."""
    with recording(fake(home)) as recorder:
        heard(recorder, 20)
        os.kill(recorder.pid, number)
        assert eventually(lambda: recorder.poll() is not None) and recorder.poll() == 0
    assert read_to_end(recorder.session)[-1].why == "stopped"


def read_to_end(folder):
    return list(read(folder))


def test_a_second_signal_is_obeyed_at_once(home):
    """Whatever the first one waits for: here a reader that does not end, which would take 1.5 s."""
    with recording(fake(home, "--hang-after", "30")) as recorder:
        heard(recorder, 40)
        reader = reader_pid(recorder)
        os.kill(recorder.pid, signal.SIGTERM)
        time.sleep(0.3)
        assert recorder.poll() is None
        os.kill(recorder.pid, signal.SIGTERM)
        eventually(lambda: recorder.poll() is not None, within_s=0.8)
        assert recorder.poll() == 128 + signal.SIGTERM
    assert eventually(lambda: gone(reader), within_s=1.0)


HANGING = """
import time
from livecheck.daemon import child
from livecheck.daemon.frames import Sender

child.HUNG_S = 1.0
stop = child.Stop(Sender(1))
while True:
    stop.within(0.05)
    if HANGS:
        time.sleep(60)
"""


@pytest.mark.parametrize("hangs", [True, False])
def test_a_process_that_hangs_does_not_outlive_a_recorder_that_was_killed(hangs):
    """It has set itself an alarm that the system keeps; one that goes on waiting in time is left
    alone."""
    with subprocess.Popen(
        [sys.executable, "-c", HANGING.replace("HANGS", str(hangs))],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
    ) as process:
        try:
            if hangs:
                assert process.wait(10) == -signal.SIGALRM
            else:
                with pytest.raises(subprocess.TimeoutExpired):
                    process.wait(2.5)
        finally:
            process.kill()


def test_commands_reach_it(home):
    """Mark, status, stop; and a line for what it does not know."""
    with recording(fake(home)) as recorder:
        heard(recorder, 20)
        client = Client(home)
        client.ask({"command": "mark", "text": "here"})
        status = client.ask({"command": "status"})
        assert (
            status["session"] == str(recorder.session)
            and status["pid"] == recorder.pid
            and status["notes"] > 0
        )
        with pytest.raises(BadInput, match="knows no command 'sing'"):
            client.ask({"command": "sing"})
        client.ask({"command": "stop"})
        assert eventually(lambda: recorder.poll() is not None) and recorder.poll() == 0
        with pytest.raises(NoDevice, match="nothing is recording"):
            client.ask({"command": "status"})
    records = read_to_end(recorder.session)
    assert [record.text for record in records if isinstance(record, Mark)] == ["here"]
    assert records[-1].why == "stopped by command"


def test_many_large_cells_reach_it(home):
    """More than a command line or a pipe's buffer holds, at its start and by command; they stand in
    the journal."""
    cells = tuple(
        {"name": f"cell {at}", "slots": [[2, 13, "down"]] * 64, "variant": None}
        for at in range(400)
    )
    assert len(json.dumps(cells)) > 400_000
    with recording(fake(home, cells=cells)) as recorder:
        client = Client(home)
        assert len(client.ask({"command": "status"})["cells"]) == 400
        client.ask({"command": "cells", "cells": cells[:300]})
    counts = [
        len(record.cells) for record in read(recorder.session) if isinstance(record, UseCells)
    ]
    assert counts == [400, 300]


def test_there_is_one_recorder_for_a_practice_folder(home):
    """The second one is told who the first is; when that is killed, the place is free at once."""
    with recording(fake(home)) as recorder:
        with pytest.raises(BadInput, match=f"recording in .* already \\(process {recorder.pid}\\)"):
            start_recorder(fake(home))
        os.kill(recorder.pid, signal.SIGKILL)
        eventually(lambda: recorder.poll() is not None)
        with recording(fake(home)) as second:
            heard(second, 20)


def test_a_reader_that_hangs_is_ended_and_another_one_started(home):
    """Closing a port can hang a process for good; three seconds without a heartbeat tell."""
    with recording(fake(home, "--hang-after", "40")) as recorder:
        first = eventually(lambda: reader_pid(recorder))
        second = eventually(
            lambda: (pid := reader_pid(recorder)) not in (None, first) and pid, within_s=8
        )
        eventually(lambda: (home / f"life-{second}").exists())
        eventually(lambda: sent(home, second)[0] > 20)
    arrived = numbers(recorder.session)
    assert arrived[first] == list(range(41)) and len(arrived[second]) > 20
    links = [
        (record.up, record.port) for record in read(recorder.session) if isinstance(record, Link)
    ]
    assert links[:3] == [
        (True, f"fake {first}"),
        (False, "the process that listens was ended by signal 9"),
        (True, f"fake {second}"),
    ]


def test_a_recorder_that_is_held_up_loses_nothing_and_blames_nobody(home):
    """By a slow disk or a busy machine: the pipe holds what comes meanwhile, and the reader is left
    alone."""
    with recording(fake(home, "--pause", "0.002")) as recorder:
        heard(recorder, 50)
        pid = reader_pid(recorder)
        for _ in range(2):
            os.kill(recorder.pid, signal.SIGSTOP)
            time.sleep(4.0)
            os.kill(recorder.pid, signal.SIGCONT)
            time.sleep(0.5)
        assert reader_pid(recorder) == pid
        assert recorder.stop() == 0
    assert sent(home, pid)[1] == 0
    assert numbers(recorder.session)[pid] == list(range(sent(home, pid)[0]))


def test_a_reader_that_sends_nonsense_is_ended(home):
    """What cannot be trusted any more is started anew."""
    with recording(fake(home, "--nonsense")) as recorder:
        eventually(lambda: len(list(home.glob("life-*"))) >= 2)
    links = [record.port for record in read(recorder.session) if isinstance(record, Link)]
    assert any("sent nonsense" in port for port in links)


def test_a_source_that_says_nothing_ends_the_recorder(home):
    """A wrong command would fail again and again."""
    options = Options(
        home, source=(sys.executable, "-c", "raise SystemExit(3)"), at_once=True, export=False
    )
    with recording(options) as recorder:
        assert eventually(lambda: recorder.poll() is not None) and recorder.poll() == 0


FALTERING = """
import sys, time
from pathlib import Path
from livecheck.daemon.frames import Sender, Up

folder = Path(sys.argv[1])
turn = len(list(folder.glob("turn-*")))
(folder / f"turn-{turn}").touch()
if turn != 1:
    Sender(1).tell(Up(time.perf_counter_ns(), f"turn {turn}"))
if turn > 1:
    sys.stdin.read()
"""


def test_a_source_that_was_heard_before_may_die_without_a_word(home):
    """It is started again: only one that never spoke is taken for a wrong command."""
    options = Options(
        home, source=(sys.executable, "-c", FALTERING, str(home)), at_once=True, export=False
    )
    with recording(options) as recorder:
        eventually(
            lambda: (
                Client(home).ask({"command": "status"})["link"] == {"up": True, "port": "turn 2"}
            )
        )
        assert recorder.poll() is None


def test_a_practice_folder_that_cannot_be_used_is_told(tmp_path):
    """One line, not a traceback in a log."""
    (tmp_path / "file").write_text("")
    with pytest.raises(BadInput, match="--home"):
        start_recorder(Options(tmp_path / "file"))
    home = tmp_path / "home"
    home.mkdir()
    (home / "recordings").write_text("")
    with pytest.raises(BadInput, match="recordings"):
        start_recorder(fake(home))


def test_its_files_are_closed_to_others(home):
    """Practice is private."""
    with recording(fake(home)) as recorder:
        heard(recorder, 20)
        files = [
            path
            for path in (*recorder.session.iterdir(), *state_folder(home).iterdir())
            if path.is_file()
        ]
        assert len(files) >= 4
        assert all(path.stat().st_mode & 0o077 == 0 for path in files), files


def test_an_orderly_end_leaves_a_midi_file(home):
    """For any sequencer; written by a process of its own."""
    source = (sys.executable, FAKE, str(home), "--notes", "40", "--pause", "0")
    with recording(Options(home, source=source, at_once=True)) as recorder:
        eventually(lambda: recorder.poll() is not None)
    assert (recorder.session / "session.mid").read_bytes()[:4] == b"MThd"


def test_it_tells_the_service_manager_how_it_is(home, monkeypatch):
    """Ready once it records, alive while it does, and that it stops (systemd's sd_notify)."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(home / "notify"))
        manager.settimeout(5)
        monkeypatch.setenv("NOTIFY_SOCKET", str(home / "notify"))
        with recording(fake(home)):
            assert manager.recv(1000) == b"READY=1\nSTATUS=recording"
            assert manager.recv(1000) == b"WATCHDOG=1"
        said = []
        while said[-1:] != [b"STOPPING=1"]:
            said.append(manager.recv(1000))


def test_a_daemon_ignores_its_terminal_and_goes_on_after_a_hang_up(home):
    """Without a console it has no parent to end with, and the end of a terminal is no reason to
    stop."""
    options = fake(home)
    process = subprocess.Popen(
        [sys.executable, "-m", "livecheck.daemon", *to_arguments(options)],
        stdin=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )
    client = Client(home)
    try:
        eventually(lambda: notes(client) > 5)
        os.kill(process.pid, signal.SIGHUP)
        before = notes(client)
        eventually(lambda: notes(client) > before + 5)
        assert process.poll() is None
    finally:
        process.terminate()
        process.communicate(timeout=20)
    assert process.returncode == 0


RELOADING = """
import json, sys
from dataclasses import replace
from pathlib import Path
from livecheck.daemon.options import from_arguments
from livecheck.daemon.service import run_recorder
from livecheck.errors import BadInput

options, _ = from_arguments(sys.argv[2:])

def load():
    try:
        return replace(options, **json.loads(Path(sys.argv[1]).read_text()))
    except ValueError as error:
        raise BadInput("broken") from error

run_recorder(options, reload=load)
"""


def test_a_hang_up_signal_reads_the_configuration_again(home):
    """A new rig holds from then on, and goes into the journal; a broken one is not used, and play
    is recorded on."""
    file = home / "configuration"
    process = subprocess.Popen(
        [sys.executable, "-c", RELOADING, str(file), *to_arguments(fake(home))],
        stdin=subprocess.DEVNULL,
        start_new_session=True,
    )
    client = Client(home)

    def status():
        return client.ask({"command": "status"})

    log = state_folder(home) / "recorder.log"
    try:
        eventually(lambda: notes(client) > 5)
        folder = Path(status()["session"])
        for turn, text in enumerate(
            (
                '{"rig": {"name": "new"}, "silence_s": 60.0}',
                "{",
                '{"silence_s": 1.0, "rig": {"bend_range": "wide"}}',
            )
        ):
            file.write_text(text)
            os.kill(process.pid, signal.SIGHUP)
            if turn == 0:
                eventually(lambda: status()["rig"] == "new")
            else:
                eventually(
                    lambda turn=turn: (
                        log.read_text().count("the new configuration is not used") == turn
                    )
                )
        before = notes(client)
        eventually(lambda: notes(client) > before + 5)
        assert status()["rig"] == "new" and Path(status()["session"]) == folder
        assert status()["silence_s"] == 60.0
    finally:
        process.terminate()
        process.communicate(timeout=20)
    assert [record.rig.name for record in read(folder) if isinstance(record, UseRig)] == ["new"]


SLEEPING = """
import sys
from pathlib import Path
from livecheck.daemon import service
from livecheck.daemon.options import from_arguments
from livecheck.daemon.suspend import SuspendCheck

options, _ = from_arguments(sys.argv[2:])
service.SuspendCheck = lambda: SuspendCheck(lambda: int(Path(sys.argv[1]).read_text() or 0))
service.run_recorder(options)
"""


def test_after_the_computer_slept_play_goes_on_in_a_new_session_with_a_new_reader(home):
    """The clock of the stamps stood still, so the first session ends there; the port is opened
    anew."""
    file = home / "slept"
    file.write_text("0")
    process = subprocess.Popen(
        [sys.executable, "-c", SLEEPING, str(file), *to_arguments(fake(home))],
        stdin=subprocess.DEVNULL,
        start_new_session=True,
    )
    client = Client(home)
    try:
        eventually(lambda: notes(client) > 5)
        first = Path(client.ask({"command": "status"})["session"])
        file.with_suffix(".new").write_text("7200000000000")
        file.with_suffix(".new").replace(file)
        eventually(lambda: client.ask({"command": "status"})["session"] not in (None, str(first)))
        eventually(lambda: len(list(home.glob("life-*"))) == 2)
        before = notes(client)
        eventually(lambda: notes(client) > before + 5)
        second = Path(client.ask({"command": "status"})["session"])
    finally:
        process.terminate()
        assert process.wait(20) == 0
    records = read_to_end(first)
    assert records[-1].why == "the computer slept for 7200 s"
    assert [record.port for record in records if isinstance(record, Link)][
        -1
    ] == "the computer slept for 7200 s"
    assert any(isinstance(record, Link) and record.up for record in read_to_end(second))


def notes(client):
    try:
        return client.ask({"command": "status"})["notes"]
    except NoDevice:
        return 0


def kill_readers(home, times, seed):
    """Kill the reader at random moments under load: what it had sent is in the journal, each once,
    in order."""
    moments = random.Random(seed)
    with recording(fake(home, "--pause", "0.0005")) as recorder:
        killed = []
        for _ in range(times):
            pid = eventually(
                lambda: (
                    (pid := reader_pid(recorder))
                    and pid not in killed
                    and sent(home, pid)[0]
                    and pid
                ),
                within_s=30,
            )
            time.sleep(moments.random() * 0.2)
            os.kill(pid, signal.SIGKILL)
            killed.append(pid)
    arrived = numbers(recorder.session)
    for pid in killed:
        count, dropped = sent(home, pid)
        got = arrived.get(pid, [])
        assert dropped == 0 and got == list(range(len(got))), f"seed {seed}, process {pid}"
        assert len(got) in (count, count + 1), (
            f"seed {seed}, process {pid}: {count} sent, {len(got)} arrived"
        )
    assert not [record for record in read(recorder.session) if isinstance(record, Gap)]
    assert isinstance(read_to_end(recorder.session)[-1], Stop)


def kill_recorders(home, times, seed):
    """Kill the recorder at random moments under load: what a viewer has seen is there, each once,
    in order."""
    moments = random.Random(seed)
    for _ in range(times):
        recorder = start_recorder(fake(home, "--pause", "0.0005"))
        pid = eventually(lambda recorder=recorder: reader_pid(recorder))
        follower = Follower(recorder.session)
        seen = []
        until = time.monotonic() + moments.random() * 0.25
        while time.monotonic() < until:
            seen += follower.poll()
        os.kill(recorder.pid, signal.SIGKILL)
        recorder.stop()
        kept = read_to_end(recorder.session)
        assert kept[: len(seen)] == seen, f"seed {seed}"
        arrived = numbers(recorder.session).get(pid, [])
        assert arrived == list(range(len(arrived))), f"seed {seed}"
        eventually(lambda pid=pid: gone(pid))  # the reader does not outlive it


def gone(pid):
    """The process has ended; nobody may have asked for its status yet."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except OSError:
        return True


@pytest.mark.skipif(sys.platform != "linux", reason="finds the reader's process through /proc")
def test_a_killed_reader_loses_nothing_that_it_had_sent(home):
    """A crash of the sound system's library costs the note it fell on at most."""
    kill_readers(home, 5, seed=11)


@pytest.mark.skipif(sys.platform != "linux", reason="finds the reader's process through /proc")
def test_a_killed_recorder_loses_nothing_that_was_shown(home):
    """What a viewer has read is on disk, and the reader ends with its recorder."""
    kill_recorders(home, 5, seed=12)


@pytest.mark.long
def test_hundreds_of_killed_readers_lose_nothing(home):
    """600 kills at random moments, four for each recorder: later ones are started again ever more
    slowly."""
    for turn in range(150):
        folder = home / str(turn)
        folder.mkdir()
        kill_readers(folder, 4, seed=1300 + turn)


@pytest.mark.long
def test_hundreds_of_killed_recorders_lose_nothing(home):
    """600 kills at random moments."""
    kill_recorders(home, 600, seed=14)
