"""The process that follows another program's MIDI clock, and tells each of its beats as a click.

A process of its own as the reader is, with a port of its own. Frames go to standard output: the
port opened or lost, a beat with its time and tempo, and that the clock is lost or back. It ends
when its standard input closes.

    python -m livecheck.daemon.clock_reader [--driver NAME] [--port TEXT]
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from queue import Empty, SimpleQueue
from typing import Any, NoReturn

from ..core.clock_in import ClockIn
from . import drivers, ports
from .child import POLL_S, Stop, live
from .frames import Beat, Down, Sender, Up
from .reader import Keeper
from .spawn import at_port

_START, _CONTINUE, _STOP, _CLOCK, _POSITION = 0xFA, 0xFB, 0xFC, 0xF8, 0xF2
LOST = "the MIDI clock has stopped coming"
COUNTED_IN = 4
"""Beats of our own clicks that are a count-in; a followed clock has none of ours, so its beats are
told from here on."""


class _Stamped:
    """An input that stamps what comes and hands it on."""

    def __init__(self, midi: drivers.Input, clock_ns: Callable[[], int]) -> None:
        self.queue: SimpleQueue[tuple[int, bytes]] = SimpleQueue()
        self._midi = midi
        self._clock_ns = clock_ns

    def names(self) -> list[str]:
        return self._midi.names()

    def open(self, index: int, _callback: Callable[[Any, Any], None]) -> None:
        def heard(event: Any, _data: Any) -> None:
            self.queue.put((self._clock_ns(), bytes(event[0])))

        self._midi.open(index, heard)

    def is_connected(self) -> bool:
        return self._midi.is_connected()

    def shut(self) -> None:
        self._midi.shut()


class Follower:
    """Messages in, frames out."""

    def __init__(self, sender: Sender, port: str | None) -> None:
        self._clock = ClockIn()
        self._sender = sender
        self._port = port or "MIDI clock"
        self._lost = False

    def take(self, t_ns: int, data: bytes) -> None:
        """One message of the port."""
        kind = data[0] if data else 0
        if kind == _CLOCK:
            if self._lost:
                self._lost = False
                self._sender.tell(Up(t_ns, self._port))
            for one in self._clock.clock(t_ns):
                self._sender.tell(Beat(one.t_ns, COUNTED_IN + one.beat, one.bpm))
        elif kind == _START:
            self._clock.start()
        elif kind == _CONTINUE:
            self._clock.resume()
        elif kind == _STOP:
            self._clock.stop()
        elif kind == _POSITION and len(data) == 3:
            self._clock.position(data[1] | data[2] << 7)

    def tick(self, now_ns: int) -> None:
        """Time passed."""
        if not self._lost and self._clock.is_lost(now_ns):
            self._lost = True
            self._sender.tell(Down(now_ns, LOST))


def main(argv: Sequence[str] | None = None) -> NoReturn:
    sys.setswitchinterval(0.0005)
    live("livecheck.daemon.clock_reader", argv, drivers.Input, _follow)


def _follow(midi: drivers.Input, wanted: str | None, sender: Sender, stop: Stop) -> None:
    """Keep the port open, and tell its beats, to the end."""
    midi.hear_clock()
    stamped = _Stamped(midi, time.perf_counter_ns)
    keeper = Keeper(stamped, wanted, sender, time.perf_counter_ns, ports.choose)
    follower = Follower(sender, wanted)
    looked_s = 0.0
    while not stop.within(0.02):
        if time.monotonic() - looked_s > POLL_S:
            looked_s = time.monotonic()
            keeper.look()
        while True:
            try:
                follower.take(*stamped.queue.get_nowait())
            except Empty:
                break
        follower.tick(time.perf_counter_ns())
    keeper.shut()


def clock_command(driver: str | None, port: str | None) -> list[str]:
    """The command that follows a MIDI clock."""
    return at_port("livecheck.daemon.clock_reader", driver, port)


if __name__ == "__main__":
    main()
