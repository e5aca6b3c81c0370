"""A robot that hears a click and nothing else, and plays a cell to it with a break of its own.

    python robot.py NAME FILE

Two virtual ports: the click comes in at ``NAME synth:click``, what a converter would send goes out
from ``NAME:Hex out``. FILE is JSON: ``cell`` (slots as [string, pitch, start, length] in grid
steps, steps, grid), ``break_bpm``, ``width`` (of the logarithm of tempo), ``lapse``, ``quiet`` (a
string it touches now and then when it fails, or null), ``reps`` (that it counts to), ``offset_ms``,
``jitter_ms``, ``seed``. It takes the tempo from the count-in, begins on the beat after it, and
plays repetitions as long as it hears clicks. Prints ``ready``; then obeys a word a line: ``plug``,
``unplug`` (the port of the click), ``unplug-guitar``, ``plug-guitar``, ``report`` (prints JSON:
``heard`` [[ns, note]], ``clock`` [[ns, status]], ``played`` [[bpm, clean, ns of its last note]]).
"""

from __future__ import annotations

import json
import math
import os
import queue
import random
import sys
import threading
import time
from pathlib import Path
from typing import Any

from virtual import hears, sends

from livecheck.core.click import NOTES
from livecheck.daemon import drivers

TAIL_S = 0.2
LISTEN_S = 0.004


def main(name: str, path: str) -> None:
    asked: dict[str, Any] = json.loads(Path(path).read_text("utf-8"))
    heard: list[tuple[int, int]] = []
    clock: list[tuple[int, int]] = []
    clicks: queue.SimpleQueue[int] = queue.SimpleQueue()
    played: list[tuple[float, bool, int]] = []
    guitar_lock = threading.Lock()
    guitar: list[drivers.Output | None] = [None]

    def click(event: Any, _data: Any) -> None:
        now_ns = time.perf_counter_ns()
        data = event[0]
        if data[0] >= 0xF8:
            clock.append((now_ns, data[0]))
        if data[0] == 0x99 and data[2]:
            heard.append((now_ns, data[1]))
            if data[1] in NOTES:
                clicks.put(now_ns)

    def plugged() -> drivers.Input:
        return hears(f"{name} synth", "click", click)

    def plug_guitar() -> None:
        guitar[0] = sends(name, "Hex out")

    def send(data: bytes) -> None:
        with guitar_lock:
            if guitar[0] is not None:
                guitar[0].send(data)

    synth: drivers.Input | None = plugged()
    plug_guitar()
    print("ready", flush=True)
    threading.Thread(target=play, args=(asked, clicks, send, played), daemon=True).start()
    for line in sys.stdin:
        word = line.strip()
        if word == "unplug" and synth is not None:
            synth.delete()
            synth = None
        elif word == "plug":
            synth = plugged()
        elif word == "unplug-guitar":
            with guitar_lock:
                out, guitar[0] = guitar[0], None
            assert out is not None
            out.delete()
        elif word == "plug-guitar":
            plug_guitar()
        elif word == "report":
            print(json.dumps({"heard": heard, "clock": clock, "played": played}), flush=True)
    time.sleep(TAIL_S)
    if synth is not None:  # in order: a server stands still for 5 s where a client was killed
        synth.delete()
    with guitar_lock:
        if guitar[0] is not None:
            guitar[0].delete()
    os._exit(0)


def play(
    asked: dict[str, Any], clicks: queue.SimpleQueue[int], send: Any, played: list[Any]
) -> None:
    """Wait for a count-in, play to it, and so on."""
    rng = random.Random(asked["seed"])
    while True:
        beats = [clicks.get()]
        while len(beats) < 4:
            try:
                beats.append(clicks.get(timeout=3.0))
            except queue.Empty:
                break
        if len(beats) < 4:
            continue
        beat_s = (beats[3] - beats[0]) / 3e9
        block(asked, beats[3] / 1e9 + beat_s, beat_s, clicks, send, played, rng)


def block(
    asked: dict[str, Any],
    begin_s: float,
    beat_s: float,
    clicks: queue.SimpleQueue[int],
    send: Any,
    played: list[Any],
    rng: random.Random,
) -> None:
    """Repetitions until no click comes any more, or as many as are counted to."""
    marks = [
        (k - 4, begin_s + (k - 4) * beat_s) for k in range(4)
    ]  # clicks by their number, from the one play begins on
    first_s = begin_s
    for rep in range(asked["reps"] or 10**6):
        beats = rep * asked["cell"]["steps"] / asked["cell"]["grid"]
        wait_until(first_s + beats * beat_s + LISTEN_S)
        while True:
            try:
                at_s = clicks.get_nowait() / 1e9
            except queue.Empty:
                break
            marks.append((round((at_s - first_s) / beat_s), at_s))
        behind = beats - marks[-1][0]
        if behind > 2.5 or (not asked["reps"] and behind > 0.98):
            break  # the beat it begins on, or in, was not clicked
        if len(marks) >= 4:
            first_s, beat_s = line(marks)
        bpm, step_s = 60.0 / beat_s, beat_s / asked["cell"]["grid"]
        start_s = first_s + beats * beat_s
        z = math.log(asked["break_bpm"] / bpm) / asked["width"]
        clean_chance = (1.0 - asked["lapse"]) / (1.0 + math.exp(-z))
        clean = rng.random() < clean_chance
        slots = asked["cell"]["slots"]
        missed = None if clean else rng.randrange(len(slots))
        touched = asked["quiet"] if not clean and rng.random() < 0.3 else None
        last_ns = 0
        for number, (string, pitch, start, length) in enumerate(slots):
            offset_s = (asked["offset_ms"] + rng.gauss(0.0, asked["jitter_ms"])) / 1e3
            at_s = start_s + start * step_s + offset_s
            if number == missed and touched is None:
                continue
            wait_until(at_s)
            send(bytes((0x90 | string - 1, pitch, rng.randint(75, 105))))
            last_ns = time.perf_counter_ns()
            if number == missed and touched is not None:
                send(bytes((0x90 | touched - 1, 50, 60)))
            ends(send, string, pitch, at_s + 0.85 * length * step_s)
            if number == missed and touched is not None:
                ends(send, touched, 50, at_s + 0.85 * length * step_s)
        played.append((bpm, clean, last_ns))
    while True:  # until the click is over
        try:
            clicks.get(timeout=1.5 * beat_s)
        except queue.Empty:
            return


def line(marks: list[tuple[int, float]]) -> tuple[float, float]:
    """Where beat 0 lies and how long a beat is, by least squares, as the ear makes it."""
    mean_k = sum(k for k, _ in marks) / len(marks)
    mean_t = sum(t for _, t in marks) / len(marks)
    over = sum((k - mean_k) * (t - mean_t) for k, t in marks)
    beat_s = over / sum((k - mean_k) ** 2 for k, _ in marks)
    return mean_t - mean_k * beat_s, beat_s


_later: queue.PriorityQueue[tuple[float, bytes]] = queue.PriorityQueue()


def ends(send: Any, string: int, pitch: int, at_s: float) -> None:
    """A note's end, sent by ``wait_until`` when it is due."""
    _later.put((at_s, bytes((0x80 | string - 1, pitch, 64))))
    wait_until.send = send  # type: ignore[attr-defined]


def wait_until(at_s: float) -> None:
    """Until a time of the clock; note ends due meanwhile are sent."""
    while True:
        now_s = time.perf_counter()
        while not _later.empty() and _later.queue[0][0] <= max(now_s, at_s - 1e-4):
            due_s, data = _later.get()
            if due_s > now_s:
                time.sleep(due_s - now_s)
            wait_until.send(data)  # type: ignore[attr-defined]
            now_s = time.perf_counter()
        if now_s >= at_s:
            return
        time.sleep(min(at_s - now_s, 0.02))


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
