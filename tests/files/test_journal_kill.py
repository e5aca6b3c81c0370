"""Killing the writer at random: every line it had acknowledged is there, once."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from livecheck.core.events import Mark
from livecheck.files.journal import read

pytestmark = pytest.mark.skipif(
    not hasattr(signal, "SIGKILL"), reason="this system kills no process by signal 9"
)

WRITER = """
import os, sys
from pathlib import Path
sys.path.insert(0, sys.argv[1])
from journals import HEAD, clock_ns
from livecheck.files.journal import Journal
os.write(1, b"0\\n")
for session in range(1000):
    journal = Journal.create(Path(sys.argv[2]) / str(session), HEAD, file_bytes=100_000)
    for number in range(2000):
        if journal.append("mark", clock_ns(number / 1000), {"text": f"{session}:{number}"}):
            os.write(1, b"%d\\n" % (session * 2000 + number + 1))
    journal.close()
"""


def killed_writer(folder: Path, chance: random.Random) -> list[str]:
    """Let a writer run for up to 60 ms after its start, kill it; returns the texts that it
    acknowledged."""
    folder.mkdir()
    command = [sys.executable, "-c", WRITER, str(Path(__file__).parent), str(folder)]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as writer:
        assert writer.stdout is not None
        first = os.read(writer.stdout.fileno(), 2)
        assert first == b"0\n"
        until = time.monotonic() + chance.uniform(0.0, 0.06)
        seen = b""
        while time.monotonic() < until:
            seen += os.read(writer.stdout.fileno(), 1 << 16)
        writer.send_signal(signal.SIGKILL)
        seen += writer.stdout.read()
    whole = seen[: seen.rfind(b"\n") + 1].split()
    count = int(whole[-1]) if whole else 0
    return [f"{number // 2000}:{number % 2000}" for number in range(count)]


def survive(folder: Path, kills: int, seed: int) -> int:
    """Kill so many writers; returns how many records they had acknowledged."""
    chance = random.Random(seed)
    total = 0
    for kill in range(kills):
        acknowledged = killed_writer(folder / str(kill), chance)
        found = []
        for session in sorted((folder / str(kill)).iterdir(), key=lambda path: int(path.name)):
            if not any(session.iterdir()):
                continue  # killed between the folder and its first file
            reading = read(session)
            found += [record.text for record in reading if isinstance(record, Mark)]
            assert not (
                reading.account.missing or reading.account.damaged or reading.account.repeated
            ), kill
        assert found[: len(acknowledged)] == acknowledged, kill
        assert len(found) - len(acknowledged) <= 1, (
            f"kill {kill}: one more may be written and not yet told"
        )
        total += len(acknowledged)
    return total


def test_a_killed_writer_has_lost_nothing_that_it_acknowledged(tmp_path):
    """Ten kills with signal 9 at random moments."""
    assert survive(tmp_path, kills=10, seed=1) > 500


@pytest.mark.long
def test_many_killed_writers(tmp_path):
    """Four hundred kills."""
    print(survive(tmp_path, kills=400, seed=2), "records acknowledged")
