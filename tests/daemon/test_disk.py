"""A recorder on a real disk that fills up, and on one that is read-only.

A small file system in memory is mounted for it, which takes the right to mount; without it these
are skipped.
"""

from __future__ import annotations

import contextlib
import io
import subprocess
import sys
import time

import pytest
from jack import eventually
from test_service import fake, notes, numbers, read_to_end, recording

from livecheck.cli import main
from livecheck.control import Client
from livecheck.core.events import Gap, Stop
from livecheck.daemon.process import start_recorder
from livecheck.errors import BadInput

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="mounts a Linux file system")


def mount(*words: str) -> None:
    done = subprocess.run(["mount", *words], capture_output=True, text=True)
    if done.returncode:
        pytest.skip(f"nothing may be mounted here: {done.stderr.strip()}")


@pytest.fixture
def home(tmp_path, short_path, monkeypatch):
    """A practice folder on a disk of a megabyte."""
    (short_path / "run").mkdir()
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_path / "run"))
    folder = tmp_path / "small"
    folder.mkdir()
    mount("-t", "tmpfs", "-o", "size=1m", "tmpfs", str(folder))
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=False)


def trouble(client: Client) -> str | None:
    told: str | None = client.ask({"command": "status"})["trouble"]
    return told


def all_there(folder) -> None:
    """Every message once, in order, no gap, and an orderly end."""
    (arrived,) = numbers(folder).values()
    assert arrived == list(range(len(arrived))) and len(arrived) > 100
    records = read_to_end(folder)
    assert isinstance(records[-1], Stop) and not [
        record for record in records if isinstance(record, Gap)
    ]


def test_a_disk_that_fills_up_and_has_room_again(home):
    """Status says so while messages wait; with room again everything is written."""
    ballast = home / "ballast"
    ballast.write_bytes(bytes(700_000))
    with recording(fake(home, "--pause", "0.001")) as recorder:
        client = Client(home)
        eventually(lambda: trouble(client), within_s=60)
        assert "No space left" in str(trouble(client))
        before = notes(client)
        eventually(lambda: notes(client) > before + 100)
        assert (
            client.ask({"command": "status"})["waiting"] > 0
            and client.ask({"command": "status"})["dropped"] == 0
        )
        ballast.unlink()
        eventually(lambda: trouble(client) is None)
        eventually(lambda: client.ask({"command": "status"})["waiting"] == 0)
        client.ask({"command": "stop"})
        eventually(lambda: recorder.poll() is not None)
    all_there(recorder.session)


def filled_up(home, client) -> None:
    """Take all the room that is left, and wait until the recorder lacks it."""
    with open(home / "ballast", "wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(bytes(512))
    eventually(lambda: trouble(client), within_s=60)


def test_what_a_full_disk_lost_is_told_by_the_answer_the_exit_status_and_the_session(home):
    """`stop` says how many records are lost and ends with 1; the session holds a gap record that
    says as many, and its orderly end, though nothing else had room."""
    with recording(fake(home, "--pause", "0.002")) as recorder:
        client = Client(home)
        eventually(lambda: notes(client) > 50)
        filled_up(home, client)
        before = notes(client)
        eventually(lambda: notes(client) > before + 300)
        out, err = io.StringIO(), io.StringIO()
        assert main(["stop", "--home", str(home)], out, err) == 1, err.getvalue()
        eventually(lambda: recorder.poll() is not None)
        recorder.stop()
    records = read_to_end(recorder.session)
    (arrived,) = numbers(recorder.session).values()
    lost = [record for record in records if isinstance(record, Gap)]
    assert isinstance(records[-1], Stop) and len(lost) == 1
    assert lost[0].dropped == recorder.unsaved > 100
    assert arrived == list(range(len(arrived)))
    assert f"NOT SAVED: {recorder.unsaved} records of what was played (No space left" in (
        out.getvalue().replace(f"{recorder.session}/journal-001.log: ", "")
    )
    assert "not whole" in ran("sessions", "--home", str(home))
    checked = ran("sessions", "check", "--home", str(home))
    assert f"{recorder.unsaved} records could not be kept" in checked


@pytest.mark.long
def test_a_console_says_what_a_full_disk_lost(home):
    """`demo` stands for `listen`: its last lines and its exit status tell. What is kept in reserve
    holds some twenty seconds of play, so it takes longer than that."""
    command = [sys.executable, "-m", "livecheck", "demo", "twin-a", "--seconds", "45", "--plain"]
    process = subprocess.Popen([*command, "--home", str(home)], stdout=subprocess.PIPE, text=True)
    eventually(lambda: Client(home).is_there() and notes(Client(home)) > 3, within_s=30)
    filled_up(home, Client(home))
    told = process.communicate(timeout=90)[0]
    assert process.returncode == 1 and "NOT SAVED: " in told and "disk not saved: " in told, told


def test_starting_on_a_full_disk_gives_the_reason_and_the_remedy(home):
    """In one line, with and without a terminal."""
    with open(home / "ballast", "wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(bytes(512))
    for words in (["demo", "--seconds", "3", "--plain"], ["listen", "twin-a"]):
        done = subprocess.run(
            [sys.executable, "-m", "livecheck", *words, "--home", str(home)],
            capture_output=True,
            text=True,
            timeout=30,
        )
        assert done.returncode == 2 and done.stderr.count("\n") == 1, (words, done.stderr)
        assert "No space left on device" in done.stderr and "--home" in done.stderr


def ran(*words: str) -> str:
    out = io.StringIO()
    main(words, out, out)
    return out.getvalue()


@pytest.mark.long
def test_what_was_shown_while_the_disk_was_full_is_what_the_session_says_later(home):
    """Half a minute of play, half of it on a full disk: nothing was taken for silence."""
    ballast = home / "ballast"
    command = [sys.executable, "-m", "livecheck"]
    words = [*command, "demo", "twin-a", "--seconds", "35", "--plain", "--home", str(home)]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    time.sleep(10)
    with open(ballast, "wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(bytes(4096))
    eventually(lambda: trouble(Client(home)), within_s=15)
    time.sleep(6)
    ballast.unlink()
    live = process.communicate(timeout=60)[0]
    assert "disk not saved: " in live and "disk saved again" in live
    words = [*command, "replay", "last", "--fast", "--plain", "--home", str(home)]
    later = subprocess.run(words, check=True, capture_output=True, text=True).stdout
    told = [
        [line for line in text.splitlines() if line.startswith("rep ")] for text in (live, later)
    ]
    assert len(told[0]) > 10 and told[0] == told[1]


def test_a_read_only_disk_is_told_at_the_start(home):
    """One line with what to do, and nothing is left running."""
    mount("-o", "remount,ro", str(home))
    with pytest.raises(BadInput, match="Read-only file system; choose another folder by --home"):
        start_recorder(fake(home))
    done = subprocess.run(
        [sys.executable, "-m", "livecheck", "daemon", "--home", str(home)],
        capture_output=True,
        text=True,
        timeout=30,
    )
    assert done.returncode == 2 and done.stderr.count("\n") == 1, done.stderr
    assert "Read-only file system" in done.stderr
