"""The click's part of the service: start and end the processes that sound clicks and cues or hear a
pedal, and hand on what they tell.

There is one for each port that is to sound something, and one for a pedal's. It is run as the one
that listens is (``source.py``): ended when it hangs, started again when it is gone, with the same
beats, since they are counted from one moment of a clock that all processes share.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from queue import SimpleQueue
from typing import Any, NamedTuple

from ..core.click import schedule_from
from ..core.cues import as_told, tones_from
from ..core.plain_text import clean
from ..errors import BadInput
from .clicker import clicker_command
from .clock_reader import clock_command
from .frames import Down, Frame
from .ports import matcher
from .recorder import PEDAL
from .source import Ended, Heard, Source, reader_command

LEAD_NS = 1_000_000_000  # from the command to the first beat: the process has to start
WORD_CHARACTERS = 100
PORT_CHARACTERS = 500


class OfClick(NamedTuple):
    """Something in the service's queue that comes from a process that clicks."""

    port: str
    source: Source
    item: Heard | Ended


class _Door:
    """The service's queue as the source of a port sees it."""

    def __init__(self, queue: SimpleQueue[Any], port: str) -> None:
        self._queue = queue
        self._port = port
        self.source: Source | None = None

    def put(self, item: Any) -> None:
        assert self.source is not None
        self._queue.put(OfClick(self._port, self.source, item))

    def qsize(self) -> int:
        return self._queue.qsize()


class Clicking:
    """The click and the cues of a recorder: none at first. ``tell(frame, port)`` is called with
    what is to be written down; port is as it was asked for."""

    def __init__(self, queue: SimpleQueue[Any], tell: Callable[[Frame, str], None]) -> None:
        self._queue = queue
        self._tell = tell
        self._sources: dict[str, Source] = {}

    def command(self, fields: Mapping[str, Any], driver: str | None, now_ns: int) -> dict[str, Any]:
        """Carry out ``click``, ``cue``, ``pedal`` or ``follow-clock``. Raises BadInput.

        ``click`` on ``port`` by ``schedule`` (as ``core.click.Schedule`` has it; without
        ``begin_ns`` a second from now), or with none no longer; the port stays open. Without a port
        all of them are closed.
        ``follow-clock``: tell the beats of the MIDI clock that comes in at ``port`` as clicks.
        ``pedal``: write down what comes in at ``port``, the pedal's own.
        ``cue``: sound ``notes`` on ``port`` at once; ``word`` says what they mean.
        """
        kind, port = fields.get("command"), fields.get("port")
        if kind == "click" and port is None and fields.get("schedule") is None:
            self.stop()
            return {}
        if kind == "cue":
            word = fields.get("word")
            if not isinstance(word, str) or not 0 < len(word) <= WORD_CHARACTERS:
                raise BadInput("cue: a word for it is needed")
            tones = tones_from(fields.get("notes"))
            line = _line({"cue": {"word": word, "notes": as_told(tones)}})
            self._source(port, driver, now_ns, None).say(line)
            return {}
        if kind == "pedal":
            self._source(port, driver, now_ns, None, reader_command, PEDAL)
            return {}
        if kind == "follow-clock":
            self._source(port, driver, now_ns, None, clock_command, "clock ")
            return {}
        told = fields.get("schedule")
        schedule = None if told is None else schedule_from(told, now_ns + LEAD_NS)
        line = _line({"click": None if schedule is None else schedule.to_dict()})
        self._source(port, driver, now_ns, line)
        return {} if schedule is None else {"begin_ns": schedule.begin_ns}

    def take(self, told: OfClick, now_ns: int) -> None:
        """Something of the click came out of the queue."""
        port, source, item = told
        if isinstance(item, Heard):
            source.seen(now_ns)
            self._tell(item.frame, port)
        elif source is self._sources.get(port):
            what = "hears the pedal" if port.startswith(PEDAL) else "clicks"
            self._tell(Down(now_ns, f"the process that {what} has ended"), port)
            source.ended(now_ns)

    def check(self, now_ns: int) -> None:
        """Time passed."""
        for source in self._sources.values():
            source.check(now_ns)

    def kill(self) -> None:
        """No click any more, at once."""
        for source in self._sources.values():
            source.kill()

    def stop(self) -> None:
        """No click any more. What was told of it is in the queue after this."""
        sources, self._sources = self._sources, {}
        for source in sources.values():
            source.stop()

    def _source(
        self,
        port: Any,
        driver: str | None,
        now_ns: int,
        line: bytes | None,
        command: Callable[[str | None, str | None], list[str]] = clicker_command,
        what: str = "",
    ) -> Source:
        """The process of a port, started where there is none, told a line that holds until the
        next. what: goes before the port's name where it is not the click's."""
        if not isinstance(port, str):
            raise BadInput("click: the name of a port is needed")
        if (
            not port.isprintable() or len(port) > PORT_CHARACTERS
        ):  # no argument of a process could be
            raise BadInput(f"click: {clean(port, 40)!r} is no name of a port")
        matcher(port)
        key = f"{what}{port}"
        source = self._sources.get(key)
        if source is None:
            door = _Door(self._queue, key)
            door.source = source = Source(command(driver, port), door)
            source.greeting = line or b""
            source.start(now_ns)
            self._sources[key] = source
        elif line is not None:
            source.greeting = line
            source.say(line)
        return source


def _line(told: Mapping[str, Any]) -> bytes:
    return json.dumps(told).encode("ascii") + b"\n"
