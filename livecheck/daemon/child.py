"""What the processes that own a port have in common: they end with their parent, wait for the MIDI
system, and beat.

Each of them may be killed at any time and started anew; closing a port can hang and a dead sound
server can crash it. One that hangs is ended by its parent, or, where that is gone, by an alarm that
it has set itself.
"""

from __future__ import annotations

import argparse
import gc
import os
import select
import signal
import time
from collections.abc import Callable, Mapping, Sequence
from typing import NoReturn, Protocol, TypeVar

from ..errors import LivecheckError
from . import drivers, jack_watch
from .frames import BEAT_S, SILENT_S, Down, Sender

POLL_S = 0.25  # between two looks at the list of ports (0.03 ms each under JACK)
SERVER_GONE = 4  # exit status
START_S = 20.0  # until the driver is there
HUNG_S = 2 * SILENT_S  # between two waits; the parent has lost its patience long before

_Port = TypeVar("_Port")
_Owned = TypeVar("_Owned", bound="Owned")


class Owned(Protocol):
    """What a process owns: a port of the MIDI system, or what stands in its place."""

    def delete(self) -> None: ...


class Stop:
    """Wait for the end of standard input, beating once a second meanwhile.

    Where the next wait is long in coming the system ends the process (SIGALRM, which a hang cannot
    hold up).
    """

    def __init__(self, sender: Sender, heard: Callable[[bytes], object] | None = None) -> None:
        """heard: is given what comes in on standard input."""
        self.heard = heard
        self._sender = sender
        self._beat_ns = 0
        signal.setitimer(signal.ITIMER_REAL, START_S)

    def within(self, seconds: float) -> bool:
        """True once there is nobody left to work for."""
        signal.setitimer(signal.ITIMER_REAL, seconds + HUNG_S)
        now_ns = time.perf_counter_ns()
        if now_ns - self._beat_ns >= BEAT_S * 1e9:
            self._beat_ns = now_ns
            self._sender.beat(now_ns)
        ready, _, _ = select.select([0], [], [], seconds)
        if not ready:
            return False
        data = os.read(0, 4096)
        if data and self.heard is not None:
            self.heard(data)
        return not data


def live(
    name: str,
    argv: Sequence[str] | None,
    make: Callable[[str, jack_watch.JackWatch | None], _Owned],
    work: Callable[[_Owned, str | None, Sender, Stop], None],
    heard: Callable[[bytes], object] | None = None,
    other: Mapping[str, Callable[[str, jack_watch.JackWatch | None], _Owned]] | None = None,
) -> NoReturn:
    """The life of a process that owns a port: its options, the driver as soon as it answers, its
    work, the end.

    work: is given the driver's input or output, the port that is wanted, where to tell what
    happens, and what says when it is over. heard: is given what comes in on standard input.
    other: ports by name that are none of the MIDI system's, and what makes them.
    """
    parser = argparse.ArgumentParser(prog=name)
    parser.add_argument("--driver")
    parser.add_argument("--port")
    asked = parser.parse_args(argv)
    sender = Sender(own_output())
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    gc.disable()  # nothing here makes cycles
    stop = Stop(sender, heard)
    try:
        if other is not None and asked.port in other:
            midi = wait_for(other[asked.port], asked.port, sender, stop)
        else:
            midi = wait_for(make, drivers.chosen_api(asked.driver), sender, stop)
        if midi is not None:
            work(midi, asked.port, sender, stop)
            midi.delete()
    except LivecheckError as error:
        sender.tell(Down(time.perf_counter_ns(), str(error)))
    sender.flush()
    os._exit(0)  # the driver's threads are left where they are: joining them is what can hang


def wait_for(
    make: Callable[[str, jack_watch.JackWatch | None], _Port], api: str, sender: Sender, stop: Stop
) -> _Port | None:
    """``make(api, …)``, as soon as its MIDI system answers; None where the end came first."""
    jack = jack_watch.library() if api == "jack" else None
    watch = jack_watch.JackWatch(jack, lambda: _server_gone(sender)) if jack is not None else None
    told = None
    while True:
        try:
            if watch is not None and not watch.connect():
                drivers.require_jack()
            return make(api, watch)
        except LivecheckError as error:
            if str(error) != told:
                told = str(error)
                sender.tell(Down(time.perf_counter_ns(), told))
        for _ in range(4):
            if stop.within(POLL_S):
                return None


def _server_gone(sender: Sender) -> None:
    """In a thread of the JACK library: nothing can be closed any more, only a new process is
    safe."""
    sender.tell(Down(time.perf_counter_ns(), "the JACK server has ended"))
    os._exit(SERVER_GONE)


def own_output() -> int:
    """The pipe, moved away from where C libraries print to."""
    fd = os.dup(1)
    os.dup2(2, 1)
    return fd
