"""How fast takes are judged: notes a second, milliseconds a note live, memory over a million notes.

    python tests/benchmarks/bench_speed.py                 speed of scoring and live feeding
    python tests/benchmarks/bench_speed.py --million       memory over a million notes too (minutes)

Times are of one process; run it on a quiet machine. The median is over takes, each with a cell of
its own.
"""

from __future__ import annotations

import argparse
import gc
import json
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from bench_matcher import quantile

from livecheck.core.events import Midi
from livecheck.player.takes import MIXES, Take, make_take, write_take
from livecheck.session import Session

FIRST_SEED = 500_000


def records_to_outcomes(take: Take) -> float:
    """Seconds to judge a take whole."""
    session = Session(take.cell, take.rig)
    gc.collect()
    started = time.perf_counter()
    for record in take.records:
        session.feed(record)
    session.finish()
    return time.perf_counter() - started


def file_to_json(take: Take) -> float | None:
    """Seconds from a Standard MIDI File to the score's text; None where the command is not
    there."""
    try:
        from livecheck.cli import main
    except ImportError:
        return None
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_take(take, folder)
        files = [
            "--cell",
            str(folder / "cell.yaml"),
            "--rig",
            str(folder / "rig.yaml"),
            str(folder / "take.mid"),
        ]
        with open(folder / "score.json", "w", encoding="utf-8") as out:
            started = time.perf_counter()
            status = main(["score", *files, "--json"], out=out)
            took = time.perf_counter() - started
        if status != 0:
            return None
        json.loads((folder / "score.json").read_text(encoding="utf-8"))
        return took


def live_ms(take: Take) -> list[float]:
    """Milliseconds of work for each note: its own message, and the messages and ticks up to the
    next note-on."""
    session, out = Session(take.cell, take.rig), [0.0]
    for record in take.records:
        if record.data[0] >> 4 == 9 and record.data[2]:
            out.append(0.0)
        started = time.perf_counter()
        session.tick(record.t_s)
        session.feed(record)
        out[-1] += (time.perf_counter() - started) * 1000.0
    session.finish()
    return out[1:]


def million(notes: int) -> None:
    """Feed the same take again and again, later each time, and show the process's memory."""
    take = make_take(FIRST_SEED, "everything")
    each = len(take.truth.notes)
    session, shift_s, fed, mark = Session(take.cell, take.rig), 0.0, 0, 0
    length_s = take.records[-1].t_s + 5.0
    started = time.perf_counter()
    while fed < notes:
        for record in take.records:
            session.feed(Midi(record.t_s + shift_s, record.data))
        shift_s, fed = shift_s + length_s, fed + each
        if fed >= mark:
            peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (
                1 << 20 if sys.platform == "darwin" else 1 << 10
            )
            print(
                f"  {fed:9d} notes, peak {peak_mb:6.1f} MB, "
                f"{fed / (time.perf_counter() - started):8.0f} notes/s",
                flush=True,
            )
            mark += notes // 5
    session.finish()


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description="How fast takes are judged.")
    parser.add_argument("--takes", type=int, default=6, help="takes a mix")
    parser.add_argument("--million", action="store_true")
    parser.add_argument("--notes", type=int, default=1_000_000)
    asked = parser.parse_args(arguments)
    print(
        f"{'mix':12}{'notes':>7}{'notes/s':>10}{'slowest':>10}{'file>json':>11}"
        f"{'p50 ms':>9}{'p99 ms':>9}{'max ms':>9}"
    )
    speeds: list[float] = []
    files: list[float] = []
    waits: list[float] = []
    for mix in MIXES:
        takes = [make_take(FIRST_SEED + at, mix) for at in range(asked.takes)]
        counts = [len(take.truth.notes) for take in takes]
        own = [
            count / min(records_to_outcomes(take) for _ in range(2))
            for count, take in zip(counts, takes)
        ]
        told = [(count, file_to_json(take)) for count, take in zip(counts[:2], takes)]
        own_files = [count / took for count, took in told if took]
        own_waits = [wait for take in takes for wait in live_ms(take)]
        speeds, files, waits = speeds + own, files + own_files, waits + own_waits
        _line(mix, sum(counts), own, own_files, own_waits)
    _line("all", len(waits), speeds, files, waits)
    if asked.million:
        million(asked.notes)


def _line(
    name: str, notes: int, speeds: list[float], files: list[float], waits: list[float]
) -> None:
    file_speed = f"{statistics.median(files):.0f}" if files else "-"
    print(
        f"{name:12}{notes:7d}{statistics.median(speeds):10.0f}{min(speeds):10.0f}{file_speed:>11}"
        f"{quantile(waits, 0.5):9.3f}{quantile(waits, 0.99):9.3f}{max(waits):9.3f}"
    )


if __name__ == "__main__":
    main()
