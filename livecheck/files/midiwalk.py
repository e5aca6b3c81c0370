"""The bytes of a Standard MIDI File as messages with times.

Every mistake is told with its place; no bytes can make it hang or take more than some 150 MB; an
hour of notes takes a quarter of a second. What is read: channel messages and SysEx of all tracks,
running status spelt out. What is passed over: texts and other meta events, unknown chunks, escapes
(F7), and whatever follows a track's end or the tracks that the header promises. Refused are bytes
that could only be guessed at.
"""

from __future__ import annotations

import struct
from operator import itemgetter
from typing import NamedTuple

from ..core.events import Midi

MOST_TRACKS = 1000
MOST_MESSAGES = 1_000_000  # seven hours at 20 notes a second
MOST_NOTES = 200_000  # nearly three hours; to judge so many takes some 190 MB and 7 s
MOST_TEMPOS = 100_000
TEMPO_US = 500_000  # a quarter note, until the file says otherwise (sources.md M-38)

_DATA_BYTES = (2, 2, 2, 2, 1, 1, 2)  # of status 8n to En (sources.md M-04)
_STATUS = [bytes([status]) for status in range(256)]
_EXPORT = "export it again as a Standard MIDI File"


class Unreadable(Exception):
    """What is wrong with the bytes, and where."""


def messages(data: bytes) -> list[Midi]:
    """The messages of a whole file in the order of their times, in seconds from its start.

    At one moment a track's own order is kept, and across tracks note-offs come first, then the
    tracks in order. Raises Unreadable.
    """
    division, tracks = _chunks(data)
    events: list[tuple[int, bytes]] = []
    tempos: list[tuple[int, int]] = []
    for number, (at, end) in enumerate(tracks, 1):
        _Track(data, at, end, number).read(events, tempos)
        if len(events) > MOST_MESSAGES:
            raise Unreadable(f"holds more than {MOST_MESSAGES} messages; split it")
    _refuse_too_many(events)
    if len(tracks) > 1:
        events.sort(key=itemgetter(0))
    tempos.sort(key=itemgetter(0))
    return _timed(events, tempos, division)


def _refuse_too_many(events: list[tuple[int, bytes]]) -> None:
    if len(events) > MOST_NOTES:
        notes = sum(message[0] & 0xF0 == 0x90 and message[2] > 0 for _, message in events)
        if notes > MOST_NOTES:
            raise Unreadable(f"holds {notes} notes; at most {MOST_NOTES} are judged; split it")


class Track(NamedTuple):
    """One track as it is written: ticks, and nothing left out."""

    events: list[tuple[int, bytes]]  # channel messages, by tick
    metas: list[tuple[int, int, bytes]]  # tick, kind, content
    end: int  # tick


def tracks(data: bytes) -> tuple[int, list[Track]]:
    """Ticks a quarter note, and every track of a whole file with its meta events. Raises
    Unreadable."""
    division, places = _chunks(data)
    found = []
    count = 0
    for number, (at, end) in enumerate(places, 1):
        track = _Track(data, at, end, number)
        events: list[tuple[int, bytes]] = []
        metas: list[tuple[int, int, bytes]] = []
        track.read(events, [], metas)
        count += len(events)
        if count > MOST_MESSAGES:
            raise Unreadable(f"holds more than {MOST_MESSAGES} messages; split it")
        ordered = [(key >> 1, message) for key, message in events if message[0] < 0xF0]
        found.append(Track(ordered, metas, track.tick))
    return division, found


def _chunks(data: bytes) -> tuple[int, list[tuple[int, int]]]:
    """Ticks a quarter note, and where each track's events begin and end."""
    if data[:4] == b"RIFF":
        raise Unreadable(f"is wrapped in RIFF; {_EXPORT}")
    if data[:4] != b"MThd":
        raise Unreadable("does not begin with MThd: no Standard MIDI File")
    if len(data) < 14:
        raise Unreadable("is cut short: its header ends too early")
    size, form, promised, division = struct.unpack_from(">LHHH", data, 4)
    if size < 6:
        raise Unreadable(f"byte 4: a header of {size} bytes; it has at least 6")
    if form > 1:
        raise Unreadable(f"byte 8: format {form} is not read; {_EXPORT} of format 0 or 1")
    if promised > MOST_TRACKS or (form == 0 and promised != 1):
        raise Unreadable(
            f"byte 10: {promised} tracks; format 0 has one, format 1 at most {MOST_TRACKS}"
        )
    if division & 0x8000:
        raise Unreadable(
            f"byte 12: counts time in film frames (SMPTE); {_EXPORT} with ticks per quarter note"
        )
    if division == 0:
        raise Unreadable("byte 12: 0 ticks per quarter note; there is at least 1")
    tracks: list[tuple[int, int]] = []
    at = 8 + size
    while len(tracks) < promised:
        if at + 8 > len(data):
            raise Unreadable(
                f"byte {min(at, len(data))}: ends after {len(tracks)} of {promised} tracks"
            )
        kind, size = struct.unpack_from(">4sL", data, at)
        at += 8
        if at + size > len(data):
            raise Unreadable(
                f"byte {at - 4}: is cut short: {size} bytes should follow, {len(data) - at} do"
            )
        if kind == b"MTrk":
            tracks.append((at, at + size))
        at += size
    return division, tracks


class _Track:
    """One track's events, read in order."""

    def __init__(self, data: bytes, at: int, end: int, number: int) -> None:
        self.data, self.at, self.end, self.number = data, at, end, number
        self.tick = 0  # where the track ends, once it was read

    def read(
        self,
        events: list[tuple[int, bytes]],
        tempos: list[tuple[int, int]],
        metas: list[tuple[int, int, bytes]] | None = None,
    ) -> None:
        """Add the track's messages to ``events`` and its tempo changes (tick, µs) to ``tempos``.

        A message comes with twice its tick, plus one unless it is a note-off that only note-offs of
        the track precede at that tick: sorted by that number, all tracks together are in the order
        that ``messages`` promises.
        """
        data, end = self.data, self.end
        known: dict[bytes, bytes] = {}  # one object for equal messages
        status = tick = 0
        silent = True  # nothing but note-offs so far at this tick
        packets = b""  # a SysEx that goes on in a later event
        at = self.at
        while at < end:
            step = data[at]
            at += 1
            if step >= 0x80:
                self.at = at - 1
                step = self.number_at()
                at = self.at
            if step:
                tick += step
                self.tick = tick
                silent = True
            if at >= end:
                raise self.cut_short(end)
            first = data[at]
            if first >= 0x80:
                at += 1
                if first >= 0xF0:
                    self.at = at
                    kind, body = self.long_event(first)
                    at = self.at
                    if first == 0xFF:
                        if metas is not None:
                            metas.append((tick, kind, body))
                        if kind == 0x2F:
                            return
                        if kind == 0x51:
                            tempos.append((tick, self.tempo(body)))
                            if len(tempos) > MOST_TEMPOS:
                                raise self.wrong(at, f"more than {MOST_TEMPOS} tempo changes")
                        continue
                    status = 0
                    if first == 0xF7 and not packets:
                        continue  # an escape
                    packets = packets + body if first == 0xF7 else b"\xf0" + body
                    if packets[-1] == 0xF7:
                        events.append((2 * tick + 1, self.sysex(packets)))
                        packets = b""
                        silent = False
                    continue
                status = first
            elif not status:
                raise self.wrong(at, f"data byte {first:02X} where a message should begin")
            stop = at + _DATA_BYTES[(status >> 4) - 8]
            body = data[at:stop]
            if stop > end:
                raise self.cut_short(end)
            if not body.isascii():
                bad = next(index for index, byte in enumerate(body) if byte >= 0x80)
                raise self.wrong(
                    at + bad, f"{body[bad]:02X} inside a message; data bytes are below 80"
                )
            at = stop
            message = _STATUS[status] + body
            message = known.setdefault(message, message)
            if silent and (status < 0x90 or (status < 0xA0 and body[1] == 0)):
                events.append((2 * tick, message))
            else:
                silent = False
                events.append((2 * tick + 1, message))
            if len(events) > MOST_MESSAGES:
                return

    def number_at(self) -> int:
        """A variable-length quantity (M-35)."""
        value = 0
        for at in range(self.at, min(self.at + 4, self.end)):
            byte = self.data[at]
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                self.at = at + 1
                return value
        if self.at + 4 > self.end:
            raise self.cut_short(self.end)
        raise self.wrong(self.at, "a number of more than four bytes")

    def long_event(self, first: int) -> tuple[int, bytes]:
        """Kind (0 for a SysEx) and content of a meta event, SysEx or escape whose first byte has
        been read."""
        kind = 0
        if first == 0xFF:
            if self.at >= self.end:
                raise self.cut_short(self.end)
            kind = self.data[self.at]
            self.at += 1
        elif first not in (0xF0, 0xF7):
            raise self.wrong(self.at - 1, f"{first:02X} may not stand in a file")
        start = self.at
        size = self.number_at()
        body = self.data[self.at : self.at + size]
        if self.at + size > self.end:
            raise self.wrong(start, f"is cut short: {size} bytes should follow in this track")
        self.at += size
        return kind, body

    def tempo(self, body: bytes) -> int:
        value = int.from_bytes(body, "big")
        if len(body) != 3 or value == 0:
            raise self.wrong(self.at - len(body), f"{body[:8].hex(' ').upper()!r} is no tempo")
        return value

    def sysex(self, message: bytes) -> bytes:
        if not message[1:-1].isascii():
            raise self.wrong(self.at, "the SysEx before holds bytes over 7F")
        return message

    def cut_short(self, at: int) -> Unreadable:
        return self.wrong(at, "the track ends inside an event")

    def wrong(self, at: int, what: str) -> Unreadable:
        return Unreadable(f"byte {at}, track {self.number}: {what}")


def _timed(
    events: list[tuple[int, bytes]], tempos: list[tuple[int, int]], division: int
) -> list[Midi]:
    """Ticks to seconds. Exact: whole microseconds × ticks are counted, and divided once."""
    # taken over place by place: half the memory
    timed: list[Midi] = events  # type: ignore[assignment]
    unit = division * 1_000_000
    # the stretch under way: first tick, µs × division there, µs a quarter
    begin, done, tempo = 0, 0, TEMPO_US
    changes = iter([*tempos, (1 << 62, TEMPO_US)])
    change, following = next(changes)
    for index, (key, message) in enumerate(events):
        tick = key >> 1
        while tick >= change:
            done += (change - begin) * tempo
            begin, tempo = change, following
            change, following = next(changes)
        timed[index] = Midi((done + (tick - begin) * tempo) / unit, message)
    return timed
