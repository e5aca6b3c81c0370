"""Standard MIDI Files: read a take with every guard, write a session for any sequencer.

Reading is ``midiwalk.py``'s own walk over the bytes (mido needs 300 MB for 3 MB of notes, and can
be made to hang). mido checks and encodes what is written.

A session is written as format 1: track 1 has the tempo, the marks and SysEx, then comes one track
for each channel in use, all ending with the session. 480 ticks a quarter note at 125 bpm make one
tick a millisecond, in whole numbers that sequencers and libraries read without loss. Each time is
converted by itself, so rounding does not add up.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

from ..core.events import Mark, Midi, Record, UseRig
from ..core.rig import Rig
from ..errors import BadInput
from .atomic import write_whole
from .midiwalk import Unreadable, messages
from .ordinary import NotOrdinary, contents, reason

LARGEST_BYTES = 16 << 20
TICKS_PER_QUARTER = 480
TEMPO_US = 480_000
LONGEST_DELTA = 0x0FFFFFFF  # ticks; what four bytes hold (sources.md M-35)


def read_midi(path: str | os.PathLike[str]) -> list[Midi]:
    """The channel messages and SysEx of a file in the order of their times, in seconds from its
    start.

    At one moment a track's own order is kept, and across tracks note-offs come first, then the
    tracks in order. Raises BadInput with one line: file, byte, what is wrong.
    """
    try:
        return messages(_contents(Path(path)))
    except OSError as error:
        raise BadInput(f"{path}: cannot be read: {error.strerror or error}") from error
    except Unreadable as wrong:
        raise BadInput(f"{path}: {wrong}") from None


def _contents(path: Path) -> bytes:
    try:
        data = contents(path, LARGEST_BYTES, follow=True)
    except IsADirectoryError:
        raise Unreadable("is a folder, not a MIDI file") from None
    except NotOrdinary as error:
        raise Unreadable(reason(error)) from None
    if len(data) > LARGEST_BYTES:
        raise Unreadable(f"is larger than {LARGEST_BYTES >> 20} MB; split it")
    return data


def write_midi(path: str | os.PathLike[str], records: Iterable[Record]) -> int:
    """Write the messages and marks of a session; the file appears whole or not at all.

    Returns how many messages had no place in a file: real-time and broken ones. Raises BadInput
    where the file cannot be written.
    """
    path = Path(path)
    data, skipped = midi_bytes(records)
    try:
        write_whole(path, data)
    except OSError as error:
        raise BadInput(f"{path}: cannot be written: {error.strerror or error}") from error
    return skipped


class _TrackBytes:
    """A track under construction: one growing run of bytes, since a day of notes as objects would
    fill the memory."""

    def __init__(self) -> None:
        self.data = bytearray()
        self.tick = 0

    def add(self, tick: int, message: bytes) -> None:
        """Append a message; one that comes before the last one's tick is moved there."""
        step = max(tick - self.tick, 0)
        # more than 74 hours of silence: an empty text stands in between
        while step > LONGEST_DELTA:
            self.data += quantity(LONGEST_DELTA) + _meta("text", text="")
            step -= LONGEST_DELTA
        self.data += quantity(step) + message
        self.tick = max(tick, self.tick)

    def chunk(self, end_tick: int) -> bytes:
        self.add(end_tick, _meta("end_of_track"))
        return b"MTrk" + len(self.data).to_bytes(4, "big") + self.data


def midi_bytes(records: Iterable[Record]) -> tuple[bytes, int]:
    """The whole file and how many messages were left out."""
    first = _TrackBytes()
    first.add(0, _meta("track_name", name="livecheck"))
    first.add(0, _meta("set_tempo", tempo=TEMPO_US))
    tracks: dict[int, _TrackBytes] = {}  # by channel, from 1
    rig: Rig | None = None
    end = skipped = 0
    for record in records:
        tick = max(round(record.t_s * 1000), 0)
        end = max(end, tick)
        if isinstance(record, Midi):
            message = _storable(record.data)
            if message is None:
                skipped += 1
            elif message[0] == 0xF0:
                first.add(tick, message)
            else:
                channel = (message[0] & 0x0F) + 1
                if channel not in tracks:
                    tracks[channel] = _TrackBytes()
                    tracks[channel].add(0, _meta("track_name", name=_name(channel, rig)))
                tracks[channel].add(tick, message)
        elif isinstance(record, Mark):
            first.add(tick, _meta("marker", text=record.text.encode("utf-8", "replace").decode()))
        elif isinstance(record, UseRig) and rig is None:
            rig = record.rig
    ordered = [first, *(tracks[channel] for channel in sorted(tracks))]
    header = b"MThd" + struct.pack(">LHHH", 6, 1, len(ordered), TICKS_PER_QUARTER)
    return header + b"".join(track.chunk(end) for track in ordered), skipped


def _name(channel: int, rig: Rig | None) -> str:
    string = rig.string_of(channel) if rig else None
    return f"channel {channel}" if string is None else f"string {string}"


@lru_cache(maxsize=16384)
def _storable(data: bytes) -> bytes | None:
    """The message as it stands in a file; None for one that may not stand there or is no
    message."""
    from mido import Message

    try:
        message = Message.from_bytes(data)
    except (ValueError, LookupError):
        return None
    if data[0] < 0xF0:
        return data
    return b"\xf0" + quantity(len(data) - 1) + data[1:] if message.type == "sysex" else None


def _meta(kind: str, **values: object) -> bytes:
    """A meta event; text in UTF-8."""
    from mido import MetaMessage
    from mido.midifiles.meta import meta_charset

    with meta_charset("utf-8"):
        return bytes(MetaMessage(kind, **values).bytes())


def quantity(value: int) -> bytes:
    """A variable-length quantity.

    >>> quantity(0x2000).hex(), quantity(0x0FFFFFFF).hex()
    ('c000', 'ffffff7f')
    """
    out = bytearray([value & 0x7F])
    while value := value >> 7:
        out.append(value & 0x7F | 0x80)
    return bytes(reversed(out))
