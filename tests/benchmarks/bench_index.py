"""How long years take: sessions of an hour, judged for the first time and read from the index.

    python tests/benchmarks/bench_index.py [COLD] [KEPT] [FOLDER]

COLD sessions (100) are judged anew, KEPT sessions (1000) are reviewed from the index; FOLDER is
where they are written (a temporary one is made and removed). Each session is a simulated hour of
20,000 notes in 64 takes. Those read from the index share a journal file with one of the first and
have a copy of its index with a key and a day of their own.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from played_ladder import climb, falling

from livecheck.core.events import Midi, Record
from livecheck.files.lines import Head, body_of, file_name, line_of
from livecheck.files.records import to_dict

NOTES = 20_000
DIFFERENT = 4  # hours that are simulated; the others repeat them on other days


def an_hour(seed: int) -> list[Record]:
    """A climb up and down until 20,000 notes have been played."""
    rng = Random(f"hour {seed}")
    tempos = [84 + 6 * step for step in range(16)]
    # a spoilt repetition misses one of its six notes
    reps = round(NOTES / 5.71 / (4 * len(tempos)))
    return climb(rng, tempos * 4, reps, falling(rng.uniform(135, 150), 5.0), slot=5).session()


def journal_bytes(records: list[Record], started: datetime) -> bytes:
    """The journal's one file."""
    zero = 5_000_000_000_000
    lines = [(zero, "head", Head(started.isoformat(), zero, "boot", "bench").fields(1))]
    for record in records:
        fields = to_dict(record)
        lines.append((zero + round(record.t_s * 1e9), fields.pop("type"), fields))
    return b"".join(
        line_of(seq, body_of(kind, t_ns, fields)) for seq, (t_ns, kind, fields) in enumerate(lines)
    )


def folder_of(home: Path, number: int) -> tuple[Path, datetime]:
    """The folder of a session, three a day, and when it began."""
    started = datetime(2024, 1, 1, 9 + 3 * (number % 3)) + timedelta(days=number // 3)
    folder = home / "recordings" / started.strftime("%Y-%m-%dT%H-%M-%S")
    folder.mkdir(parents=True)
    return folder, started


def write_sessions(home: Path, count: int) -> None:
    """So many sessions, each with a journal of its own."""
    hours = [an_hour(seed) for seed in range(DIFFERENT)]
    notes = sum(
        type(one) is Midi and one.data[0] & 0xF0 == 0x90 and one.data[2] > 0 for one in hours[0]
    )
    print(f"an hour: {notes} notes, {len(hours[0])} records, {hours[0][-1].t_s / 60:.0f} minutes")
    data = [journal_bytes(records, datetime(2024, 1, 1)) for records in hours]
    for number in range(count):
        folder, started = folder_of(home, number)
        body = data[number % DIFFERENT]
        first = body.index(b"\n") + 1
        head = journal_bytes([], started)
        (folder / file_name(1)).write_bytes(head + body[first:])


def timed(home: Path, *words: str) -> tuple[float, float, str]:
    """Seconds of the whole command in a process of its own, start-up included: by the clock, and of
    all processors together, which a busy machine does not change; and what it printed.
    """
    began, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [sys.executable, "-m", "livecheck", "review", "--home", str(home), *words]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    took, after = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    worked = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return took, worked, done.stdout


def most_mb() -> float:
    """The largest memory of any process run so far."""
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def add_kept(home: Path, first: int, count: int) -> None:
    """More sessions that are in the index already, alike to the first ones but for the day."""
    from livecheck.files import index, kept

    folders = sorted((home / "recordings").iterdir())[:DIFFERENT]
    made = [index.kept_judged(folder) for folder in folders]
    for number in range(first, count):
        folder, started = folder_of(home, number)
        os.link(folders[number % DIFFERENT] / file_name(1), folder / file_name(1))
        judged = made[number % DIFFERENT]
        assert judged is not None
        dated = replace(judged, day=started.toordinal())
        index._keep(folder, kept.key_of(folder), dated)


def main() -> None:
    cold, many = (int(word) for word in (sys.argv[1:3] + ["100", "1000"][len(sys.argv[1:3]) :]))
    home = Path(sys.argv[3]) if len(sys.argv) > 3 else Path(tempfile.mkdtemp())
    cores = len(os.sched_getaffinity(0))
    print(f"python {sys.version.split()[0]}, {cores} processors, load {os.getloadavg()[0]:.1f}")
    try:
        write_sessions(home, cold)
        took, worked, _ = timed(home)
        print(
            f"{cold} sessions judged for the first time: {took:.1f} s; work {worked:.1f} s of a "
            "processor; "
            f"{most_mb():.0f} MB in the largest process"
        )
        add_kept(home, cold, many)
        took, worked, told = min(timed(home) for _ in range(3))
        print(
            f"{many} sessions from the index: {took:.2f} s; work {worked:.2f} s of a processor; "
            f"{most_mb():.0f} MB in the largest process"
        )
        print(told.splitlines()[1])
    finally:
        if len(sys.argv) <= 3:
            shutil.rmtree(home)


if __name__ == "__main__":
    main()
