"""A player who hears a click and plays to it: ``python click_player.py NAME FILE``.

Two virtual ports: the click comes in at ``NAME synth:click``, what the converter sends goes out
from ``NAME:Hex out``. The file is JSON, a list of ``[seconds after the first click, message in
hex]``. Prints ``ready``; then obeys a word a line: ``plug``, ``unplug`` (the port of the click),
``clicks`` (print the moments at which clicks came in, in ns).
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from pathlib import Path
from typing import Any

from virtual import hears, sends

from livecheck.daemon.drivers import Input

TAIL_S = 0.3


def main(name: str, path: str) -> None:
    messages = [
        (due_s, bytes.fromhex(data)) for due_s, data in json.loads(Path(path).read_text("utf-8"))
    ]
    heard: list[int] = []
    first = threading.Event()

    def click(event: Any, _data: Any) -> None:
        now_ns = time.perf_counter_ns()
        if event[0][0] == 0x99:
            heard.append(now_ns)
            first.set()

    synth: Input | None = hears(f"{name} synth", "click", click)
    guitar = sends(name, "Hex out")
    print("ready", flush=True)

    def play() -> None:
        first.wait()
        begun_ns = heard[0]
        for due_s, data in messages:
            due_ns = begun_ns + int(due_s * 1e9)
            while (left_ns := due_ns - time.perf_counter_ns()) > 0:
                time.sleep(left_ns / 1e9)
            guitar.send(data)

    threading.Thread(target=play, daemon=True).start()
    for line in sys.stdin:
        if line.strip() == "unplug" and synth is not None:
            synth.delete()
            synth = None
        elif line.strip() == "plug":
            synth = hears(f"{name} synth", "click", click)
        elif line.strip() == "clicks":
            print(json.dumps(heard), flush=True)
    time.sleep(TAIL_S)
    if synth is not None:
        synth.delete()
    guitar.delete()
    os._exit(0)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
