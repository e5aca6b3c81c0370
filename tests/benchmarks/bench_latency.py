"""How long a note takes from the sender to its stamp, and to its line in the journal, on a real JACK port.

    python tests/benchmarks/bench_latency.py [--notes N] [--rate NOTES_PER_S]

Notes come one by one with a burst of six (a strum) each second. The time of a line's being written is read from the
journal as a viewer that looks each half millisecond sees it, so that it is late by up to that much.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from jack import guitar, jack_server

from livecheck.core.events import Midi
from livecheck.daemon.options import Options
from livecheck.daemon.process import start_recorder
from livecheck.files.journal import Follower

LOOK_S = 0.0005


def notes(count: int, rate: float) -> list[tuple[float, bytes]]:
    """Times in seconds and messages; each second ends in six notes at once."""
    found: list[tuple[float, bytes]] = []
    number = 0
    while len(found) < count:
        t_s = number / rate
        burst = 6 if number % int(rate) == 0 else 1
        found += [(t_s, bytes([0x90 + string, 40 + number % 40, 100])) for string in range(burst)]
        number += 1
    return found[:count]


def percentiles(name: str, values_ms: list[float]) -> str:
    ordered = sorted(values_ms)
    p50, p99 = (ordered[int(share * (len(ordered) - 1))] for share in (0.5, 0.99))
    return f"{name:<28} p50 {p50:5.2f}  p99 {p99:5.2f}  max {ordered[-1]:5.2f} ms"


def cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--notes", type=int, default=1000)
    parser.add_argument("--rate", type=float, default=20.0)
    asked = parser.parse_args()
    with jack_server() as server, guitar(server) as player, tempfile.TemporaryDirectory() as home:
        os.environ.update({key: server.environment[key] for key in ("JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER")})
        recorder = start_recorder(
            Options(Path(home), driver="jack", port="Hex", at_once=True, need_port=True, export=False)
        )
        assert recorder.session is not None
        reader = int(Path(f"/proc/{recorder.pid}/task/{recorder.pid}/children").read_text().split()[0])
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
        before = {pid: cpu_s(pid) for pid in (recorder.pid, reader)}
        begun = time.monotonic()
        sent_ns = player.play(notes(asked.notes, asked.rate))
        time.sleep(0.3)
        seconds = time.monotonic() - begun
        used = {pid: 100 * (cpu_s(pid) - before[pid]) / seconds for pid in before}
        done.set()
        thread.join()
        head = follower.head
        recorder.stop()
    assert head is not None
    print(f"{len(sent_ns)} notes sent, {len(stamped)} in the journal, load {os.getloadavg()[0]:.1f}")
    stamped_ms = [t_s * 1e3 - (ns - head.perf_ns) / 1e6 for t_s, ns in zip(stamped, sent_ns, strict=True)]
    seen_ms = [(seen - ns) / 1e6 for seen, ns in zip(seen_ns, sent_ns, strict=True)]
    print(percentiles("sent to stamped", stamped_ms))
    print(percentiles("sent to seen in the journal", seen_ms))
    print(f"CPU: recorder {used[recorder.pid]:.1f} %, reader {used[reader]:.1f} %")


if __name__ == "__main__":
    main()
