"""How long a note takes from the sender to its stamp, its line in the journal, its verdict, and the
screen.

    python tests/benchmarks/bench_latency.py [--notes N] [--rate NOTES_PER_S]

A cell is played round and round into a real JACK port, with five notes more at one moment of each
second on channels that are no string. A console follows on a terminal of 120 × 40 and redraws. The
time of a line's being written is read from the journal as a viewer that looks each half millisecond
sees it, so that it is late by up to that much. A verdict waits for what may still change it, mostly
the next note; ``judged`` is when the note itself reached judgment, ``struck on the screen`` the
first frame after that. ``certain to on the screen`` counts from when the last message was sent that
a verdict waited for. The first ``--warm`` seconds are left out. The aims: struck 60 ms, certain 100
ms (p99), 5 % of a core for the console; run it on a machine that does nothing else (load under 1).
"""

from __future__ import annotations

import argparse
import fcntl
import json
import os
import pty
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from jack import guitar, jack_server

import livecheck.console.live as live
from livecheck.console.screen import Screen
from livecheck.console.source import Following
from livecheck.core.cell import make_cell
from livecheck.core.events import Midi, Outcome, Record, SlotTold
from livecheck.core.playing import is_note
from livecheck.daemon.options import Options
from livecheck.daemon.process import start_recorder
from livecheck.files.config import cell_to_dict
from livecheck.files.journal import Follower
from livecheck.session import Session

LOOK_S = 0.0005
READY, LONGEST_START_S = ".ready", 120.0  # written by the console with its first frame
CELL = make_cell(
    "eight without a rest",
    [(2, 13), (2, 10), (3, 12), (3, 10), (4, 12), (4, 10), (3, 10), (3, 12)],
    tempo_bpm=300.0,
)


def messages(count: int, rate: float) -> list[tuple[float, bytes]]:
    """Times in seconds and messages of so many notes of the cell, and what comes beside them."""
    found: list[tuple[float, bytes]] = []
    for number in range(count):
        slot = CELL.slots[number % len(CELL.slots)]
        t_s = number / rate
        if number % int(rate) == 0:
            found += [(t_s, bytes([0x96 + channel, 40, 100])) for channel in range(5)]
        found.append((t_s, bytes([0x8F + slot.string, slot.pitch, 100])))
        found.append((t_s + 0.8 / rate, bytes([0x7F + slot.string, slot.pitch, 0])))
    return sorted(found, key=lambda one: one[0])


# -------------------------------------------------------------------------------------- the console


class Timed:
    """A session that writes down when each note reached it, and when its verdict was told and
    drawn."""

    def __init__(self) -> None:
        self._session = Session()
        self.times_ns: dict[float, list[int]] = {}  # by the note's stamp: judged, told, drawn
        self.undrawn: list[list[int]] = []
        self.struck_ns: dict[float, int] = {}  # by the note's stamp: the first frame with it
        self.unseen: list[float] = []
        self.by: dict[float, float] = {}  # by the note's stamp: of the message that made it certain
        self._last_s = 0.0

    def __getattr__(self, name: str) -> Any:
        return getattr(self._session, name)

    def feed(self, record: Record) -> list[Outcome]:
        if isinstance(record, Midi) and is_note(record.data):
            self.times_ns[record.t_s] = [time.perf_counter_ns()]
            self.unseen.append(record.t_s)
        self._last_s = record.t_s
        return self._told(self._session.feed(record))

    def tick(self, now_s: float) -> list[Outcome]:
        return self._told(self._session.tick(now_s))

    def _told(self, outcomes: list[Outcome]) -> list[Outcome]:
        for outcome in outcomes:
            if (
                isinstance(outcome, SlotTold)
                and outcome.note is not None
                and outcome.note.onset_s in self.times_ns
            ):
                times = self.times_ns[outcome.note.onset_s]
                if len(times) == 1:
                    times.append(time.perf_counter_ns())
                    self.undrawn.append(times)
                    self.by[outcome.note.onset_s] = self._last_s
        return outcomes


def view(session: Path, result: Path) -> None:
    """Follow a session on this terminal until it ends; then write down the times."""
    timed = Timed()
    drawn_before: list[bool] = []

    class TimedScreen(Screen):
        def show(self, lines: Any, size: tuple[int, int]) -> None:
            super().show(lines, size)
            now_ns = time.perf_counter_ns()
            if not drawn_before:
                result.with_suffix(READY).touch()
                drawn_before.append(True)
            for times in timed.undrawn:
                times.append(now_ns)
            timed.undrawn.clear()
            timed.struck_ns.update(dict.fromkeys(timed.unseen, now_ns))
            timed.unseen.clear()

    live.Screen = TimedScreen  # type: ignore[misc]
    live.run_console(Following(Follower(session)), session=timed)
    found = (timed.times_ns, timed.struck_ns, timed.by)
    result.write_text(json.dumps([list(one.items()) for one in found]))


def start_view(session: Path, result: Path) -> tuple[subprocess.Popen[bytes], int]:
    """The console as a process on a terminal that somebody reads."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 120, 0, 0))
    process = subprocess.Popen(
        [sys.executable, __file__, "--view", str(session), str(result)],
        stdin=theirs,
        stdout=theirs,
        env={**os.environ, "TERM": "xterm-256color"},
    )
    os.close(theirs)

    def drain() -> None:
        try:
            while os.read(ours, 1 << 16):
                pass
        except OSError:
            return

    threading.Thread(target=drain, daemon=True).start()
    return process, ours


# ------------------------------------------------------------------------------------------ figures


def percentiles(name: str, values_ms: list[float]) -> str:
    ordered = sorted(values_ms)
    p50, p99 = (ordered[int(share * (len(ordered) - 1))] for share in (0.5, 0.99))
    return (
        f"sent to {name:<20} p50 {p50:6.2f}  p99 {p99:6.2f}  max {ordered[-1]:6.2f} ms   "
        f"({len(ordered)})"
    )


def cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--notes", type=int, default=1000)
    parser.add_argument("--rate", type=float, default=20.0)
    parser.add_argument("--warm", type=float, default=5.0)
    parser.add_argument("--view", nargs=2, type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.view:
        view(*asked.view)
        return
    with jack_server() as server, guitar(server) as player, tempfile.TemporaryDirectory() as home:
        os.environ.update(
            {
                key: server.environment[key]
                for key in ("JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER")
            }
        )
        cells = ({**cell_to_dict(CELL), "variant": None},)
        recorder = start_recorder(
            Options(
                Path(home),
                driver="jack",
                port="Hex",
                cells=cells,
                at_once=True,
                need_port=True,
                export=False,
            )
        )
        assert recorder.session is not None
        result = Path(home) / "times.json"
        console, _terminal = start_view(recorder.session, result)
        reader = int(
            Path(f"/proc/{recorder.pid}/task/{recorder.pid}/children").read_text().split()[0]
        )
        follower = Follower(recorder.session)
        stamped: list[float] = []
        seen_ns: list[int] = []
        done = threading.Event()

        def follow() -> None:
            while not done.is_set():
                found = [record for record in follower.poll() if isinstance(record, Midi)]
                now_ns = time.perf_counter_ns()
                stamped.extend(record.t_s for record in found)
                seen_ns.extend([now_ns] * len(found))
                time.sleep(LOOK_S)

        thread = threading.Thread(target=follow)
        thread.start()
        until = time.monotonic() + LONGEST_START_S
        while not result.with_suffix(READY).exists() and time.monotonic() < until:
            time.sleep(0.1)
        time.sleep(1.0)
        pids = {"recorder": recorder.pid, "reader": reader, "console": console.pid}
        before = {name: cpu_s(pid) for name, pid in pids.items()}
        begun = time.monotonic()
        sent = messages(asked.notes, asked.rate)
        sent_ns = player.play(sent)
        time.sleep(1.5)
        seconds = time.monotonic() - begun
        used = {name: 100 * (cpu_s(pid) - before[name]) / seconds for name, pid in pids.items()}
        done.set()
        thread.join()
        head = follower.head
        recorder.stop()
        console.wait(30)
        times_ns, struck_ns, by = map(dict, json.loads(result.read_text()))
    assert head is not None
    print(
        f"{len(sent_ns)} messages sent, {len(stamped)} in the journal, load "
        f"{os.getloadavg()[0]:.1f}"
    )
    stamped_ms = [
        t_s * 1e3 - (ns - head.perf_ns) / 1e6 for t_s, ns in zip(stamped, sent_ns, strict=True)
    ]
    seen_ms = [(seen - ns) / 1e6 for seen, ns in zip(seen_ns, sent_ns, strict=True)]
    print(percentiles("stamped", stamped_ms))
    print(percentiles("seen in the journal", seen_ms))
    own = [
        (t_s, sent_at)
        for (at_s, data), t_s, sent_at in zip(sent, stamped, sent_ns, strict=True)
        if is_note(data) and data[0] < 0x96 and t_s in times_ns and at_s >= asked.warm
    ]
    for at, name in enumerate(("judged", "verdict told", "on the screen")):
        waits = [(times_ns[t_s][at] - ns) / 1e6 for t_s, ns in own if len(times_ns[t_s]) > at]
        print(percentiles(name, waits))
    waits = [(struck_ns[t_s] - ns) / 1e6 for t_s, ns in own if t_s in struck_ns]
    print(percentiles("struck on the screen", waits))
    sent_at = dict(zip(stamped, sent_ns))
    waits = [
        (times_ns[t_s][2] - sent_at[by[t_s]]) / 1e6
        for t_s, _ in own
        if len(times_ns[t_s]) > 2 and by.get(t_s) in sent_at
    ]
    print(percentiles("certain on the screen", waits))
    print("CPU: " + ", ".join(f"{name} {share:.1f} %" for name, share in used.items()))


if __name__ == "__main__":
    main()
