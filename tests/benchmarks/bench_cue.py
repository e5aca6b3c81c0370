"""How long after the end of a block its cue arrives at the other end of a real JACK port.

    python tests/benchmarks/bench_cue.py [--blocks N] [--reps N] [--bpm N]

A robot hears the click and plays to it. *cue* is the moment at which the robot's port got the first
note of a cue, less the end of the block that it tells; *with the last note* counts only blocks
whose last note was played (where it is not, the cue waits for it). *judged* is the same up to the
moment at which the cue was handed to the driver.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench_click import percentiles
from jack import jack_server
from test_climb_port import CUES, Sitting

from livecheck.core.events import Block, Cue
from livecheck.files.journal_reader import read


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--blocks", type=int, default=40)
    parser.add_argument("--reps", type=int, default=2)
    parser.add_argument("--bpm", type=float, default=200.0)
    parser.add_argument("--cell", default="six-over-four")
    asked = parser.parse_args()
    words = ["climb", "--json", "--rule", "free", "--start", f"{asked.bpm:g}", "--rest", "never"]
    words += ["--reps", str(asked.reps), "--blocks", str(asked.blocks)]
    with jack_server() as server, tempfile.TemporaryDirectory() as home:
        one = Sitting(server, Path(home), asked.cell, words, reps=asked.reps, seed=1)
        try:
            out, err = one.climb.communicate()
            heard = one.report()["heard"]
        finally:
            one.kill()
        told = json.loads(out)
        reading = read(next((Path(home) / "recordings").iterdir()))
        records = list(reading)
    assert reading.head is not None, err
    zero_ns = reading.head.perf_ns
    cues_s = [(ns - zero_ns) / 1e9 for ns, note in heard if note in CUES]
    handed_s = [record.t_s for record in records if isinstance(record, Cue)]
    blocks = [record for record in records if isinstance(record, Block)]
    rows: list[tuple[float, float, bool]] = []
    for block, how in zip(blocks, told["blocks"]):
        got = [t_s for t_s in cues_s if t_s > block.until_s]
        sent = [t_s for t_s in handed_s if t_s > block.until_s]
        if got and sent and how["counted"]:
            whole = how["clean"] == how["reps"]
            rows.append((1e3 * (got[0] - block.until_s), 1e3 * (sent[0] - block.until_s), whole))
    print(f"{len(rows)} blocks of {asked.reps}, load {os.getloadavg()[0]:.1f}")
    print(percentiles("cue", [cue for cue, _, _ in rows]))
    if with_last := [cue for cue, _, whole in rows if whole]:
        print(percentiles("with the last note", with_last))
    print(percentiles("judged", [judged for _, judged, _ in rows]))


if __name__ == "__main__":
    main()
