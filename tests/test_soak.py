"""Hours of practice leave everything as it was: memory, open files, threads; and viewers come and
go unnoticed.

The run in real time has the whole chain: a source, a recorder, a console on a terminal, a viewer
beside it. Run it by itself for its figures: ``python tests/test_soak.py [SECONDS] [NOTES A
SECOND]``.
"""

from __future__ import annotations

import fcntl
import gc
import os
import pty
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
import tracemalloc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import pytest
from soak_player import CELL, CONVERTER, rounds

from livecheck.core.events import Gap, Midi, RepDone, UseCells, UseRig
from livecheck.core.playing import is_note
from livecheck.files.journal_reader import read
from livecheck.player.takes import rig_for
from livecheck.session import Session

TESTS = Path(__file__).parent
PLAYER = TESTS / "soak_player.py"
ENVIRONMENT = {
    **os.environ,
    "PYTHONPATH": os.pathsep.join([str(TESTS.parent), str(TESTS)]),
    "TERM": "xterm-256color",
}
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
CLOCK = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Sample:
    """What a process had in use at a moment."""

    at_s: float
    rss_kb: int
    files: int
    threads: int
    cpu_s: float


@contextmanager
def on_a_terminal(*words: object) -> Iterator[subprocess.Popen[bytes]]:
    """A process on a terminal of 120 × 40 that somebody reads."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 120, 0, 0))
    command = [sys.executable, *map(str, words)]
    process = subprocess.Popen(
        command, stdin=theirs, stdout=theirs, stderr=theirs, env=ENVIRONMENT, close_fds=True
    )
    os.close(theirs)

    def drain() -> None:
        try:
            while os.read(ours, 65536):
                pass
        except OSError:
            return

    reader = threading.Thread(target=drain, daemon=True)
    reader.start()
    try:
        yield process
    finally:
        if process.poll() is None:
            process.kill()
        process.wait()
        reader.join(5)
        os.close(ours)


def children(pid: int) -> list[int]:
    """Processes that a process has started, and theirs."""
    try:
        tasks = Path(f"/proc/{pid}/task").iterdir()
        own = [int(child) for task in tasks for child in (task / "children").read_text().split()]
    except OSError:
        return []
    return own + [below for child in own for below in children(child)]


def role(pid: int) -> str:
    words = Path(f"/proc/{pid}/cmdline").read_bytes().decode().split("\0")
    if "livecheck.daemon" in words:
        return "recorder"
    return "source" if "play" in words else "other"


def sample(pid: int, begun: float) -> Sample | None:
    """None where the process has ended."""
    folder = Path(f"/proc/{pid}")
    try:
        fields = folder.joinpath("stat").read_text().rpartition(")")[2].split()
        files = len(list(folder.joinpath("fd").iterdir()))
    except OSError:
        return None
    if fields[0] == "Z":
        return None
    page_kb = os.sysconf("SC_PAGE_SIZE") // 1024
    cpu_s = (int(fields[11]) + int(fields[12])) / CLOCK
    return Sample(
        time.monotonic() - begun, int(fields[21]) * page_kb, files, int(fields[17]), cpu_s
    )


def soak(home: Path, seconds: float, notes_per_s: float, every_s: float) -> dict[str, list[Sample]]:
    """Run the whole chain so long; samples of each process."""
    samples: dict[str, list[Sample]] = {}
    with on_a_terminal(PLAYER, "listen", home, seconds, notes_per_s) as console:
        begun = time.monotonic()
        until = begun + 30
        while not any(home.glob("recordings/*/journal-001.log")) and time.monotonic() < until:
            time.sleep(0.1)
        with on_a_terminal("-m", "livecheck", "watch", "--home", home) as viewer:
            while console.poll() is None and time.monotonic() < begun + seconds + 60:
                pids = {"console": console.pid, "viewer": viewer.pid}
                pids.update({role(pid): pid for pid in children(console.pid)})
                for name, pid in pids.items():
                    if found := sample(pid, begun):
                        samples.setdefault(name, []).append(found)
                time.sleep(every_s)
            assert console.poll() == 0
    return samples


def check(
    samples: dict[str, list[Sample]], home: Path, notes_per_s: float, seconds: float, grown_kb: int
) -> None:
    """Nothing grows after the first quarter, nothing is lost."""
    assert {"console", "recorder", "source", "viewer"} <= set(samples)
    for name in ("console", "recorder", "source", "viewer"):
        settled = samples[name][len(samples[name]) // 4 : -1]
        third = max(1, len(settled) // 3)
        grown = median(one.rss_kb for one in settled[-third:]) - median(
            one.rss_kb for one in settled[:third]
        )
        assert grown < grown_kb, f"{name}: memory grew by {grown} kB"
        for what in ("files", "threads"):
            first, last = (
                median(getattr(one, what) for one in part)
                for part in (settled[:third], settled[-third:])
            )
            assert last <= first, f"{name}: {what} {first} -> {last}"
    (session,) = (home / "recordings").iterdir()
    reading = read(session)
    records = list(reading)
    notes = sum(isinstance(one, Midi) and is_note(one.data) for one in records)
    assert reading.whole and not [one for one in records if isinstance(one, Gap)]
    assert notes > 0.85 * notes_per_s * seconds


def table(samples: dict[str, list[Sample]]) -> list[str]:
    lines = ["process    RSS first/settled/last/most MB   files  threads   CPU % of a core"]
    for name, found in samples.items():
        settled = found[len(found) // 4 :]
        begun, ended = settled[0], found[-1]
        cpu = 100 * (ended.cpu_s - begun.cpu_s) / max(ended.at_s - begun.at_s, 0.1)
        rss = [found[0].rss_kb, settled[0].rss_kb, ended.rss_kb, max(one.rss_kb for one in found)]
        counts = [
            f"{min(seen)}-{max(seen)}"
            for seen in ([one.files for one in settled], [one.threads for one in settled])
        ]
        memory = " ".join(f"{kb / 1024:7.1f}" for kb in rss)
        lines.append(f"{name:10} {memory}   {counts[0]:>7} {counts[1]:>7} {cpu:10.1f}")
    return lines


def own_kb() -> int:
    """Memory of this process."""
    gc.collect()
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") // 1024


def judged(notes: int, notes_per_s: float = 20.0, parts: int = 20) -> list[tuple[int, float, int]]:
    """Judge so many notes in simulated time, ticks between; (notes, hours, kB) after each part."""
    session, found, heard, reps = Session(), [], 0, 0
    session.feed(UseRig(0.0, rig_for(CELL, CONVERTER)))
    session.feed(UseCells(0.0, (CELL,)))
    for record in rounds(float("inf"), notes_per_s):
        told = [*session.tick(record.t_s - 1e-4), *session.feed(record)]
        reps += sum(isinstance(one, RepDone) for one in told)
        if is_note(record.data):
            heard += 1
            if heard % (notes // parts) == 0:
                found.append((heard, record.t_s / 3600, own_kb()))
            if heard == notes:
                break
    assert reps > 0.8 * notes / len(CELL.slots)
    return found


@LINUX
def test_judgment_lets_go_of_what_is_over():
    """Minutes of steady play: what is over is let go."""
    tracemalloc.start()
    try:
        used = []
        session = Session()
        session.feed(UseRig(0.0, rig_for(CELL, CONVERTER)))
        session.feed(UseCells(0.0, (CELL,)))
        for record in rounds(160.0, 20.0):
            session.feed(record)
            if record.t_s > 40.0 * (len(used) + 1):
                gc.collect()
                used.append(tracemalloc.get_traced_memory()[0])
        assert len(used) == 3 and used[-1] - used[0] < 100_000, used
    finally:
        tracemalloc.stop()


@LINUX
@pytest.mark.long
def test_a_million_notes_leave_memory_as_it_was():
    """Nearly fourteen hours at 20 notes a second."""
    found = judged(1_000_000)
    print(
        *(f"{notes} notes, {hours:.1f} h: {kb / 1024:.1f} MB" for notes, hours, kb in found),
        sep="\n",
    )
    assert found[-1][2] - found[1][2] < 2048


@LINUX
@pytest.mark.long
def test_twenty_minutes_in_real_time_leave_everything_as_it_was(tmp_path):
    """20 notes a second with the console on and a viewer beside it: memory, open files and threads
    stay."""
    samples = soak(tmp_path, 1200.0, 20.0, every_s=10.0)
    print(*table(samples), sep="\n")
    check(samples, tmp_path, 20.0, 1200.0, grown_kb=4096)


if __name__ == "__main__":
    wanted_s, wanted_rate = (
        float(word) for word in (sys.argv[1:] + ["1200", "20"][len(sys.argv) - 1 :])
    )
    with tempfile.TemporaryDirectory() as folder:
        taken = soak(Path(folder), wanted_s, wanted_rate, every_s=min(10.0, wanted_s / 20))
        print(*table(taken), sep="\n", flush=True)
        check(taken, Path(folder), wanted_rate, wanted_s, grown_kb=4096)
        print("nothing grew, nothing was lost")
