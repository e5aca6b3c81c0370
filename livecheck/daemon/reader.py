"""The process that owns the MIDI input: stamp each message where it arrives and send it down the
pipe.

Nothing else runs here. Closing a port can hang the whole process and a dead sound server can crash
it, so whoever started this process ends it by its pid when its heartbeat stops, and starts another.
It ends when its standard input closes, so that it never outlives the recorder. Frames go to
standard output (``frames.py``), complaints of the C libraries to standard error.

    python -m livecheck.daemon.reader [--driver NAME] [--port TEXT]
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from typing import Any, NoReturn, Protocol

from ..errors import LivecheckError
from . import drivers, ports
from .child import POLL_S, Stop, live
from .frames import CLOSED, Down, Sender, Up


class MidiInput(Protocol):
    """What is needed of a driver."""

    def names(self) -> list[str]: ...
    def open(self, index: int, callback: Callable[[Any, Any], None]) -> None: ...
    def is_connected(self) -> bool: ...
    def shut(self) -> None: ...


class Keeper:
    """Keep the wanted port open: open it when it is there, notice when it goes, open it again when
    it is back.

    The driver tells none of this: a port whose cable was pulled stays "open" and silent. So the
    list of names is looked at, and the port opened anew; also where another port has taken its name
    meanwhile.
    """

    def __init__(
        self,
        midi: MidiInput,
        wanted: str | None,
        sender: Sender,
        clock: Callable[[], int],
        choose: Callable[[Sequence[str], str | None, str | None], int] = ports.choose,
    ) -> None:
        self._choose = choose
        self._midi = midi
        self._wanted = wanted
        self._sender = sender
        self._clock = clock
        self._open: str | None = None  # the open port's name as listed
        self._before: str | None = None
        self._told: str | None = None  # why there is no port, as told last

    def look(self) -> None:
        """One look at the ports."""
        names = self._midi.names()
        if self._open is not None:
            if self._open in names and self._midi.is_connected():
                return
            self._lose(f"{ports.plain_name(self._open)} was unplugged")
        try:
            index = self._choose(names, self._wanted, self._before)
        except LivecheckError as error:
            if self._before is None:  # later, that it was unplugged is the better news
                self._say(str(error))
            return
        try:
            self._take(index, names[index])
        except LivecheckError as error:
            self._say(str(error))

    def shut(self) -> None:
        """Close the port for good."""
        if self._open is not None:
            self._lose(CLOSED)

    def _take(self, index: int, name: str) -> None:
        self._midi.open(index, self._heard)
        now = self._midi.names()
        # the list changed meanwhile: it may be another one's port
        if index >= len(now) or now[index] != name:
            self._midi.shut()
            return
        self._open = self._before = name
        self._told = None
        self._sender.tell(Up(self._clock(), ports.plain_name(name)))

    def _lose(self, why: str) -> None:
        t_ns = self._clock()
        self._midi.shut()
        self._open = None
        self._told = why
        self._sender.tell(Down(t_ns, why))

    def _say(self, why: str) -> None:
        if why != self._told:
            self._told = why
            self._sender.tell(Down(self._clock(), why))

    def _heard(self, event: Any, _data: Any) -> None:
        """In the driver's thread: an exception here would vanish without a trace, so it is
        counted."""
        try:
            t_ns = self._clock()
            self._sender.message(t_ns, bytes(event[0]))
        except BaseException:
            self._sender.errors += 1


def main(argv: Sequence[str] | None = None) -> NoReturn:
    sys.setswitchinterval(0.0005)
    live("livecheck.daemon.reader", argv, drivers.Input, _listen)


def _listen(midi: drivers.Input, wanted: str | None, sender: Sender, stop: Stop) -> None:
    """Keep the port open to the end."""
    keeper = Keeper(midi, wanted, sender, time.perf_counter_ns)
    keeper.look()
    while not stop.within(POLL_S):
        keeper.look()
    keeper.shut()


if __name__ == "__main__":
    main()
