"""A process that plays a take into a virtual MIDI port: ``python port_sender.py NAME FILE SPEED``.

Prints ``ready`` when the port is there, waits for a line, plays, and prints the moments of sending
as JSON.
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path

from virtual import sends

from livecheck.files.midifile import read_midi

TAIL_S = 0.5


def main(name: str, path: str, speed: float) -> None:
    records = read_midi(Path(path))
    port = sends(name, "out")
    print("ready", flush=True)
    sys.stdin.readline()
    begun_ns = time.perf_counter_ns() + 200_000_000
    sent_ns = []
    for record in records:
        due_ns = begun_ns + int(record.t_s / speed * 1e9)
        while (left_ns := due_ns - time.perf_counter_ns()) > 0:
            time.sleep(left_ns / 1e9)
        sent_ns.append(time.perf_counter_ns())
        port.send(record.data)
    time.sleep(TAIL_S)
    print(json.dumps(sent_ns), flush=True)
    sys.stdin.readline()  # the port goes only when everything has arrived
    port.delete()
    os._exit(0)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], float(sys.argv[3]))
