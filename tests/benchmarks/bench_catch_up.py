"""How long a viewer that comes late needs until it shows the session so far.

    python tests/benchmarks/bench_catch_up.py [--hours H] [--rate NOTES_PER_S] [--plain]

A minute of play with all faults is written into a journal over and over, as the recorder does, and
then followed from its start on a terminal of 120 × 40: the time until the practice log is on the
screen. With ``--plain`` until the last line is printed.
"""

from __future__ import annotations

import argparse
import io
import os
import sys
import tempfile
import time
from contextlib import redirect_stdout
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench_console import TERMINAL, on_terminal
from soak_player import CELL, CONVERTER, rounds

from livecheck.console.keys import Keys
from livecheck.console.live import run_console
from livecheck.console.source import Following
from livecheck.core.events import UseCells, UseRig
from livecheck.files.journal import Follower, Journal, head_now
from livecheck.files.records import to_dict
from livecheck.player.takes import rig_for


def write(folder: Path, seconds: float, notes_per_s: float) -> int:
    """A session that began so long ago and goes on; returns its messages."""
    head = head_now("benchmark")
    head = replace(head, perf_ns=head.perf_ns - int(seconds * 1e9))
    journal = Journal.create(folder, head)
    count = 0
    for record in (
        UseRig(0.0, rig_for(CELL, CONVERTER)),
        UseCells(0.0, (CELL,)),
        *rounds(seconds, notes_per_s),
    ):
        fields = to_dict(record)
        journal.append(fields.pop("type"), head.perf_ns + int(record.t_s * 1e9), fields)
        count += 1
    return count


class UntilThere(Keys):
    """Presses q in the second turn in which nothing is left to catch up with."""

    def __init__(self, source: Following) -> None:
        super().__init__(io.StringIO())
        self._following = source
        self._there = 0
        self.longest_s, self._before_s = 0.0, time.perf_counter()

    def wait(self, seconds: float) -> str:
        now_s = time.perf_counter()
        self.longest_s, self._before_s = max(self.longest_s, now_s - self._before_s), now_s
        self._there += self._following.certain_s() is not None
        return "q" if self._there > 1 else ""


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--hours", type=float, default=3.0)
    parser.add_argument("--rate", type=float, default=8.0)
    parser.add_argument("--plain", action="store_true")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as home:
        folder = Path(home) / "session"
        count = write(folder, asked.hours * 3600, asked.rate)
        source = Following(Follower(folder))
        keys = UntilThere(source)
        began_s, began_cpu = time.perf_counter(), time.process_time()
        if asked.plain:
            with open(os.devnull, "w", encoding="utf-8") as out:
                summary = run_console(source, plain=True, out=out, keys=keys)
        else:
            with on_terminal(120, 40) as out, redirect_stdout(io.StringIO()):
                summary = run_console(source, out=out, keys=keys, environment=TERMINAL)
        took_s, cpu_s = time.perf_counter() - began_s, time.process_time() - began_cpu
    print(
        f"{asked.hours:g} h, {count} messages, {summary.model.reps} repetitions: {took_s:.1f} s, "
        f"{cpu_s:.1f} s of it "
        f"on the processor; longest turn of the loop {1e3 * keys.longest_s:.0f} ms; load "
        f"{os.getloadavg()[0]:.1f}"
    )


if __name__ == "__main__":
    main()
