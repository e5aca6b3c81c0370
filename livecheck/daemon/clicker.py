"""The process that owns the MIDI output of the click: send each beat at its time, and tell when it
was sent.

A process of its own for the same reasons as the reader's, and so that neither disturbs the other.
What is told goes to
standard output as frames: the port opened or lost, and each click with the clock's reading right
before it was handed to the driver. While there is no port nothing is sent and nothing told; the
beats go on being counted. It ends when its standard input closes.

    python -m livecheck.daemon.clicker --begin NANOSECONDS --bpm BPM [--driver NAME] [--port TEXT]
"""

from __future__ import annotations

import argparse
import gc
import os
import signal
import time
from collections.abc import Callable, Sequence
from typing import Any, Protocol

from ..errors import LivecheckError
from . import drivers, ports, spawn
from .child import POLL_S, Stop, own_output, wait_for
from .click import LENGTH_NS, Click, off, on
from .frames import Beat, Down, Sender
from .reader import Keeper

NEAR_NS = 20_000_000  # so near to a deadline nothing else is begun


class MidiOutput(Protocol):
    """What is needed of a driver."""

    def names(self) -> list[str]: ...
    def open(self, index: int) -> None: ...
    def is_connected(self) -> bool: ...
    def shut(self) -> None: ...
    def send(self, data: bytes) -> None: ...


class Speaker:
    """An output as ``Keeper`` keeps it open: nothing is heard from it, but whether it is open is
    known."""

    def __init__(self, midi: MidiOutput) -> None:
        self.is_open = False
        self._midi = midi

    def names(self) -> list[str]:
        return self._midi.names()

    def open(self, index: int, _callback: Callable[[Any, Any], None]) -> None:
        self._midi.open(index)
        self.is_open = True

    def is_connected(self) -> bool:
        return self._midi.is_connected()

    def shut(self) -> None:
        self.is_open = False
        self._midi.shut()

    def send(self, data: bytes) -> None:
        if self.is_open:
            self._midi.send(data)


def run(
    click: Click,
    midi: MidiOutput,
    wanted: str | None,
    sender: Sender,
    clock_ns: Callable[[], int],
    over: Callable[[float], bool],
) -> None:
    """Click until ``over(seconds)``, which waits so long, gives True."""
    speaker = Speaker(midi)
    keeper = Keeper(speaker, wanted, sender, clock_ns, ports.choose_output)
    keeper.look()
    looked_ns = clock_ns()
    beat, sounding, off_ns = -1, -1, 0
    while True:
        now_ns = clock_ns()
        ahead = click.next_beat(beat, now_ns)
        due_ns = click.due_ns(ahead)
        if now_ns >= due_ns:
            beat = ahead
            if speaker.is_open:
                sent_ns = clock_ns()
                speaker.send(on(beat))
                sender.tell(Beat(sent_ns, beat))
                sounding, off_ns = beat, sent_ns + LENGTH_NS
            continue
        if sounding >= 0 and now_ns >= off_ns:
            speaker.send(off(sounding))
            sounding = -1
            continue
        if due_ns - now_ns > NEAR_NS and now_ns - looked_ns > POLL_S * 1e9:
            keeper.look()
            looked_ns = now_ns
            continue
        until_ns = min(due_ns, off_ns) if sounding >= 0 else due_ns
        if over(min(until_ns - now_ns, POLL_S * 1e9) / 1e9):
            break
    if sounding >= 0:
        speaker.send(off(sounding))
    keeper.shut()


def main(argv: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="livecheck.daemon.clicker")
    parser.add_argument("--begin", type=int, required=True)
    parser.add_argument("--bpm", type=float, required=True)
    parser.add_argument("--driver")
    parser.add_argument("--port")
    asked = parser.parse_args(argv)
    sender = Sender(own_output())
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    gc.disable()  # nothing here makes cycles
    stop = Stop(sender)
    try:
        midi = wait_for(drivers.Output, drivers.chosen_api(asked.driver), sender, stop)
        if midi is not None:
            run(
                Click(asked.begin, asked.bpm),
                midi,
                asked.port,
                sender,
                time.perf_counter_ns,
                stop.within,
            )
            midi.delete()
    except LivecheckError as error:
        sender.tell(Down(time.perf_counter_ns(), str(error)))
    sender.flush()
    os._exit(0)  # the driver's threads are left where they are: joining them is what can hang


def clicker_command(click: Click, driver: str | None, port: str | None) -> list[str]:
    """The command that clicks on a MIDI port."""
    words = [f"--begin={click.begin_ns}", f"--bpm={click.bpm!r}"]
    words += [f"--driver={driver}"] if driver else []
    words += [f"--port={port}"] if port else []
    return spawn.module("livecheck.daemon.clicker", *words)


if __name__ == "__main__":
    raise SystemExit(main())
