"""What goes down the pipe from the process that hears the notes to the one that writes them.

A frame is ``length (2 bytes), kind (1), time (8, nanoseconds of perf_counter)`` and a payload,
little-endian. It is never longer than what a pipe takes in one piece (512 bytes everywhere), so
that two threads may write without a lock and a full pipe refuses whole frames. Longer messages
(system exclusive) go as a first, further and a last piece. Pure: the file descriptor is touched in
``Sender`` alone, which never blocks: what does not fit is counted.
"""

from __future__ import annotations

import os
from struct import Struct
from typing import NamedTuple

FRAME_BYTES = 512  # POSIX promises this much in one piece
MESSAGE_BYTES = 64 << 10  # a longer MIDI message is refused and counted
BEAT_S = 1.0  # the sender's heartbeat
SILENT_S = 3.0  # so long without any frame means that the sender hangs

_HEADER = Struct("<HcQ")
_COUNTS = Struct("<QQ")
_CLICK = Struct("<Qd")
_ROOM = FRAME_BYTES - _HEADER.size
_WHOLE, _FIRST, _FURTHER, _LAST = b"m", b"f", b"c", b"l"
_ALIVE, _UP, _DOWN, _BEAT, _CUED, _END = b"a", b"u", b"d", b"b", b"q", b"e"
_KINDS = frozenset((_WHOLE, _FIRST, _FURTHER, _LAST, _ALIVE, _UP, _DOWN, _BEAT, _CUED, _END))


class Message(NamedTuple):
    """One MIDI message with the moment it reached the computer."""

    t_ns: int
    data: bytes


class Alive(NamedTuple):
    """The sender's heartbeat with its counts so far."""

    t_ns: int
    dropped: int  # messages that did not fit into the pipe, or were too long
    errors: int  # faults caught in the driver's callback


class Up(NamedTuple):
    """The port was opened; messages may follow."""

    t_ns: int
    port: str


CLOSED = "stopped"
"""Why there is none where it was closed in order, at the end of a session."""


class Down(NamedTuple):
    """There is no open port, and why."""

    t_ns: int
    why: str


class Beat(NamedTuple):
    """A click was sent at this moment; ``number`` counts from 0 since the click began."""

    t_ns: int
    number: int
    bpm: float


class Cued(NamedTuple):
    """A cue was begun at this moment."""

    t_ns: int
    word: str


class End(NamedTuple):
    """The source has nothing more to send (a played take is over): it is not to be started
    again."""

    t_ns: int
    why: str


Frame = Message | Alive | Up | Down | Beat | Cued | End


class BadFrame(ValueError):
    """The bytes are no frames: the sender is not to be trusted any more."""


def _frame(kind: bytes, t_ns: int, payload: bytes) -> bytes:
    return _HEADER.pack(_HEADER.size + len(payload), kind, t_ns) + payload


def pieces(t_ns: int, data: bytes) -> list[bytes]:
    """The frames of one MIDI message, in order."""
    if len(data) <= _ROOM:
        return [_frame(_WHOLE, t_ns, data)]
    parts = [data[at : at + _ROOM] for at in range(0, len(data), _ROOM)]
    kinds = [_FIRST, *[_FURTHER] * (len(parts) - 2), _LAST]
    return [_frame(kind, t_ns, part) for kind, part in zip(kinds, parts, strict=True)]


def encode(frame: Frame) -> bytes:
    """The bytes of a frame. A text that is too long for one piece is cut.

    >>> Decoder().feed(encode(Up(5, "Hex:out")))
    [Up(t_ns=5, port='Hex:out')]
    """
    if isinstance(frame, Message):
        return b"".join(pieces(frame.t_ns, frame.data))
    if isinstance(frame, Alive):
        return _frame(_ALIVE, frame.t_ns, _COUNTS.pack(frame.dropped, frame.errors))
    if isinstance(frame, Beat):
        return _frame(_BEAT, frame.t_ns, _CLICK.pack(frame.number, frame.bpm))
    kind, text = {Up: _UP, Down: _DOWN, Cued: _CUED, End: _END}[type(frame)], frame[1]
    return _frame(kind, frame.t_ns, text.encode("utf-8", "replace")[:_ROOM])


class Decoder:
    """Turn the pipe's bytes, however they were cut, back into frames."""

    def __init__(self) -> None:
        self.torn = 0  # long messages whose last piece never came
        self._rest = b""
        self._long: bytearray | None = None

    def feed(self, data: bytes) -> list[Frame]:
        """The frames that are whole now.

        Raises BadFrame for bytes that no sender of ours writes; the good frames before them come
        out first.
        """
        rest = self._rest + data
        frames: list[Frame] = []
        at = 0
        while len(rest) - at >= _HEADER.size:
            length, kind, t_ns = _HEADER.unpack_from(rest, at)
            if kind not in _KINDS or not _HEADER.size <= length <= FRAME_BYTES:
                if frames:
                    break
                raise BadFrame(f"no frame: {rest[at : at + _HEADER.size]!r}")
            if len(rest) - at < length:
                break
            frame = self._take(kind, t_ns, rest[at + _HEADER.size : at + length])
            if frame is not None:
                frames.append(frame)
            at += length
        self._rest = rest[at:]
        return frames

    def _take(self, kind: bytes, t_ns: int, payload: bytes) -> Frame | None:
        if kind in (_WHOLE, _FIRST) and self._long is not None:
            self.torn += 1  # the sender counts it among the dropped
            self._long = None
        if kind == _WHOLE:
            return Message(t_ns, payload)
        if kind == _FIRST:
            self._long = bytearray(payload)
            return None
        if kind in (_FURTHER, _LAST):
            return self._longer(kind, t_ns, payload)
        if kind == _ALIVE:
            if len(payload) != _COUNTS.size:
                raise BadFrame(f"no heartbeat: {payload!r}")
            return Alive(t_ns, *_COUNTS.unpack(payload))
        if kind == _BEAT:
            if len(payload) != _CLICK.size:
                raise BadFrame(f"no beat: {payload!r}")
            return Beat(t_ns, *_CLICK.unpack(payload))
        text = payload.decode("utf-8", "replace")
        if kind == _UP:
            return Up(t_ns, text)
        if kind == _CUED:
            return Cued(t_ns, text)
        return Down(t_ns, text) if kind == _DOWN else End(t_ns, text)

    def _longer(self, kind: bytes, t_ns: int, payload: bytes) -> Frame | None:
        if self._long is None:
            return None
        if len(self._long) + len(payload) > MESSAGE_BYTES:
            raise BadFrame("a message without end")
        self._long += payload
        if kind == _FURTHER:
            return None
        whole, self._long = bytes(self._long), None
        return Message(t_ns, whole)


class Sender:
    """The writing end: stamps nothing, never waits, counts what the pipe refuses.

    ``message`` may be called from the driver's thread while another thread calls the rest.
    """

    def __init__(self, fd: int) -> None:
        os.set_blocking(fd, False)
        self.fd = fd
        self.dropped = 0
        self.errors = 0
        self._owed: list[bytes] = []  # events that the pipe refused so far; these must not get lost

    def message(self, t_ns: int, data: bytes) -> None:
        """Hand on one MIDI message, or count it as dropped."""
        if len(data) > MESSAGE_BYTES or not all(self._write(piece) for piece in pieces(t_ns, data)):
            self.dropped += 1

    def tell(self, frame: Frame) -> None:
        """Hand on an event; where the pipe is full it is kept and tried again at the next
        heartbeat."""
        self._owed.append(encode(frame))
        self.flush()

    def beat(self, t_ns: int) -> None:
        """The heartbeat."""
        self.flush()
        self._write(encode(Alive(t_ns, self.dropped, self.errors)))

    def flush(self) -> bool:
        """Try what is owed; True where nothing is."""
        while self._owed and self._write(self._owed[0]):
            del self._owed[0]
        return not self._owed

    def _write(self, piece: bytes) -> bool:
        try:
            return os.write(self.fd, piece) == len(piece)
        except OSError:  # full, or nobody reads any more: the end of standard input tells that
            return False
