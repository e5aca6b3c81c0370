"""A recorder on a real disk that fills up, and on one that is read-only.

A small file system in memory is mounted for it, which takes the right to mount; without it these
are skipped.
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
import time

import pytest
from jack import eventually
from test_service import fake, notes, numbers, read_to_end, recording

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
def home(tmp_path, monkeypatch):
    """A practice folder on a disk of a megabyte."""
    (tmp_path / "run").mkdir()
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "run"))
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
