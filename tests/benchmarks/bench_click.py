"""How late the click is sent, and how unevenly it arrives at the other end of a real JACK port.

    python tests/benchmarks/bench_click.py [--seconds N] [--bpm N] [--busy N]

The recorder clicks while 20 notes a second come in. ``--busy`` runs so many processes beside it
that do nothing but compute. *late* is the moment written in the journal minus the deadline;
*arrival* is what another program saw of it.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from jack import jack_server

from livecheck.control import Client
from livecheck.core.events import Click, Midi
from livecheck.daemon.options import Options
from livecheck.daemon.process import start_recorder
from livecheck.files.journal_reader import read

PLAYER = str(Path(__file__).resolve().parents[1] / "click_player.py")


def percentiles(name: str, values_ms: list[float]) -> str:
    ordered = sorted(values_ms)
    p50, p99 = (ordered[int(share * (len(ordered) - 1))] for share in (0.5, 0.99))
    return f"{name:<24} p50 {p50:5.2f}  p99 {p99:5.2f}  max {ordered[-1]:5.2f} ms"


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--bpm", type=float, default=300.0)
    parser.add_argument("--busy", type=int, default=0)
    asked = parser.parse_args()
    with jack_server() as server, tempfile.TemporaryDirectory() as home:
        os.environ.update(
            {
                key: server.environment[key]
                for key in ("JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER")
            }
        )
        os.environ["PYTHONPATH"] = str(Path(__file__).resolve().parents[2])
        notes = [
            (at / 20.0, bytes([0x90 + at % 6, 60, 100]).hex())
            for at in range(int(20 * asked.seconds))
        ]
        (Path(home) / "notes.json").write_text(json.dumps(notes), "utf-8")
        player = subprocess.Popen(
            [sys.executable, PLAYER, "tester", str(Path(home) / "notes.json")],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert player.stdin is not None and player.stdout is not None
        player.stdout.readline()
        recorder = start_recorder(
            Options(
                Path(home),
                driver="jack",
                port="tester:Hex",
                at_once=True,
                need_port=True,
                export=False,
            )
        )
        assert recorder.session is not None
        busy = [
            subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(asked.busy)
        ]
        Client(Path(home)).ask(
            {"command": "click", "schedule": {"bpm": asked.bpm}, "port": "synth:"}
        )
        time.sleep(asked.seconds)
        print("clicks", file=player.stdin, flush=True)
        heard_ns: list[int] = json.loads(player.stdout.readline())
        for process in busy:
            process.kill()
            process.wait()
        recorder.stop()
        player.kill()
        reading = read(recorder.session)
        records = list(reading)
        assert reading.head is not None
        clicks = [record for record in records if isinstance(record, Click)][: len(heard_ns)]
        print(
            f"{len(clicks)} clicks and {sum(isinstance(one, Midi) for one in records)} notes, ",
            end="",
        )
        print(f"beats left out {clicks[-1].beat + 1 - len(clicks)}, load {os.getloadavg()[0]:.1f}")
        step_s = 60.0 / asked.bpm
        lateness = [1e3 * (one.t_s - one.beat * step_s) for one in clicks]
        late_ms = [value - min(lateness) for value in lateness]
        heard_ms = [
            (ns - reading.head.perf_ns) / 1e6 - 1e3 * one.t_s for ns, one in zip(heard_ns, clicks)
        ]
        gaps_ms = [
            abs(1e3 * (later.t_s - one.t_s) - 1e3 * step_s * (later.beat - one.beat))
            for one, later in zip(clicks, clicks[1:])
        ]
        print(percentiles("late, from the earliest", late_ms))
        print(percentiles("interval off by", gaps_ms))
        print(percentiles("sent to arrival", heard_ms))


if __name__ == "__main__":
    main()
