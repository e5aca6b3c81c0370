"""What the console costs: milliseconds a frame, and the share of a core while a fast player is
followed.

Run by hand: ``python tests/benchmarks/bench_console.py``. The second part replays 20 s of
sixteenths at 300 bpm (15 notes a second and a rest) in real time through judgment, model, view and
a terminal of that size.

The aim is under 5 % of a core, on a machine that does nothing else.
"""

from __future__ import annotations

import fcntl
import os
import pty
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

sys.path.insert(0, str(Path(__file__).parents[1] / "console"))

from console_sample import CELL, filled, long_cell, random_reps

from livecheck.console.lines import Line
from livecheck.console.live import run_console
from livecheck.console.palette import FULL
from livecheck.console.screen import Screen
from livecheck.console.source import Paced
from livecheck.console.view import screen_lines
from livecheck.core.events import Link, Midi, Record, Stop, UseCells, UseRig
from livecheck.core.rig import Rig

TERMINAL = {"TERM": "xterm-256color", "COLORTERM": "truecolor"}
SIZES = ((80, 24), (140, 40), (200, 60))


def frame_ms(
    width: int, height: int, slots: int, far: bool, times: int = 200
) -> tuple[float, float]:
    """Milliseconds of a core to build a frame, and to send one in which every line is new."""
    cell = long_cell(slots)
    model = filled(random_reps(cell, 60, seed=1), cell)
    blank: list[Line] = [[]] * height
    began = time.process_time()
    for _ in range(times):
        lines = screen_lines(model, width, height, FULL, far)
    built = time.process_time()
    with open(os.devnull, "w", encoding="utf-8") as out, Screen(out, TERMINAL) as screen:
        for _ in range(times):
            screen.show(lines, (width, height))
            screen.show(blank, (width, height))
    return (built - began) / times * 1e3, (time.process_time() - built) / times * 1e3


def fast_play(seconds: float, bpm: float = 300.0) -> list[Record]:
    """CELL round and round at a tempo."""
    step_s = 60.0 / bpm / CELL.grid
    records: list[Record] = [UseRig(0.0, Rig()), UseCells(0.0, (CELL,)), Link(0.0, True, "Hex")]
    rep = 0
    while (at := 0.2 + rep * step_s * CELL.steps) < seconds:
        for slot in CELL.slots:
            struck = at + slot.start * step_s
            records.append(Midi(struck, bytes([0x90 + slot.string - 1, slot.pitch, 80])))
            records.append(
                Midi(struck + 0.8 * step_s, bytes([0x80 + slot.string - 1, slot.pitch, 0]))
            )
        rep += 1
    return [*records, Stop(seconds, "end")]


@contextmanager
def on_terminal(width: int, height: int) -> Iterator[TextIO]:
    """A terminal of that size that somebody reads."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", height, width, 0, 0))
    # a process of its own, whose work is not counted
    with subprocess.Popen(
        ["cat"], stdin=ours, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as reader:
        os.close(ours)
        with os.fdopen(theirs, "w", encoding="utf-8") as out:
            yield out
        reader.terminate()


def core_pct(width: int, height: int, seconds: float = 20.0) -> float:
    """Share of a core used while following fast play on a terminal of that size."""
    with on_terminal(width, height) as out:
        began_s, began_cpu = time.perf_counter(), time.process_time()
        run_console(Paced(fast_play(seconds)), out=out, environment=TERMINAL)
        return 100.0 * (time.process_time() - began_cpu) / (time.perf_counter() - began_s)


def main() -> None:
    for width, height in SIZES:
        for slots, far in ((6, False), (16, False), (6, True)):
            build, send = frame_ms(width, height, slots, far)
            view = "far " if far else "near"
            print(
                f"{width:3d} x {height:2d}  {slots:2d} slots  {view}  build {build:.2f} ms  send "
                f"{send:.2f} ms"
            )
    for width, height in SIZES:
        print(
            f"{width:3d} x {height:2d}  fast play followed: {core_pct(width, height):.1f} % of a "
            "core"
        )


if __name__ == "__main__":
    main()
