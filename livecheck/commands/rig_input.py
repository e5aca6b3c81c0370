"""What comes in for the rig commands: live from a port, or from a file."""

from __future__ import annotations

import time
from argparse import Namespace
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from queue import Empty, SimpleQueue
from typing import Any, NamedTuple

from ..core.events import Midi, Record
from ..core.rig import Rig
from ..daemon.frames import Down, End, Message, Up
from ..daemon.ports import matcher
from ..daemon.source import Ended, Heard, Source, reader_command
from ..errors import NoDevice
from ..files.journal_reader import read
from ..files.lines import file_number
from ..files.midifile import read_midi
from ..files.paths import path_of
from .choice import Choice, practice_folder
from .judging import MIDI_ENDINGS
from .record import Input

TICK_S = 0.05


class Moment(NamedTuple):
    """A message, or with no data only time that passed. Seconds from the beginning."""

    t_s: float
    data: bytes | None
    port: str | None = None  # each time that a port was opened
    lost: str | None = None  # each time that it was lost: why


@dataclass(frozen=True, slots=True, kw_only=True)
class Listening:
    """From where, and for how many seconds (None: until broken off)."""

    heard: Input
    file: str | None = None  # in the place of a port: a MIDI file or session
    seconds: float | None = None

    @classmethod
    def of(cls, options: Namespace) -> Listening:
        """What was typed."""
        return cls(heard=Input.of(options), file=options.source, seconds=options.seconds)


def moments(choice: Choice, listening: Listening, rig: Rig) -> Iterator[Moment]:
    """Everything that comes in, with a tick each 50 ms. Raises NoDevice, BadInput."""
    if listening.file is not None:
        return _from_file(records_of(choice, listening.file), listening.seconds)
    return _live(listening, rig)


def records_of(choice: Choice, name: str) -> Iterable[Record]:
    """The records of a MIDI file or a session, as they stand there. Raises BadInput."""
    path = path_of(name)
    if path.suffix.lower() in MIDI_ENDINGS or (path.is_file() and file_number(path) is None):
        return read_midi(path)
    return read(path if path.is_file() else practice_folder(choice).session(name))


def _from_file(records: Iterable[Record], seconds: float | None) -> Iterator[Moment]:
    now_s = 0.0
    for record in records:
        if not isinstance(record, Midi):
            continue
        if seconds is not None and record.t_s > seconds:
            return
        while now_s + TICK_S < record.t_s:
            now_s += TICK_S
            yield Moment(now_s, None)
        now_s = max(now_s, record.t_s)
        yield Moment(now_s, record.data)


def _live(listening: Listening, rig: Rig) -> Iterator[Moment]:
    wanted = listening.heard.port or rig.port
    if wanted is not None:
        matcher(wanted)
    queue: SimpleQueue[Any] = SimpleQueue()
    source = Source(reader_command(listening.heard.driver, wanted), queue)
    begun_ns = time.perf_counter_ns()
    source.start(begun_ns)
    linked = up = False
    try:
        while True:
            try:
                item = queue.get(timeout=TICK_S)
            except Empty:
                item = None
            now_ns = time.perf_counter_ns()
            source.check(now_ns)
            frame = item.frame if isinstance(item, Heard) else None
            if frame is not None:
                source.seen(now_ns)
            if isinstance(frame, Up) and not linked:
                linked, begun_ns = True, frame.t_ns
            if isinstance(item, Ended):
                source.ended(now_ns)
            gone = (
                item.why
                if isinstance(item, Ended)
                else frame[1]
                if isinstance(frame, (Down, End))
                else None
            )
            if gone is not None and (not linked or isinstance(frame, End)):
                raise NoDevice(gone)
            t_s = max(
                0.0, ((frame.t_ns if isinstance(frame, Message) else now_ns) - begun_ns) / 1e9
            )
            if linked and listening.seconds is not None and t_s > listening.seconds:
                return
            if isinstance(frame, Up):
                up = True
                yield Moment(t_s, None, frame.port)
            elif gone is not None:
                yield Moment(t_s, None, lost=gone if up else None)
                up = False
            elif linked:
                yield Moment(t_s, frame.data if isinstance(frame, Message) else None)
    finally:
        source.stop()
