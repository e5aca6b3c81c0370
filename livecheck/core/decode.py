"""From MIDI messages to sounded notes of strings.

Owns what a hexaphonic converter's messages mean: which string a channel is, velocity 0 as note-off,
overlapped legato, pitch bend and its range, legato that comes as a bend alone, the noise gate, and
an octave error that corrects itself. A note is handed on only when nothing that still comes can
change what it is: after the gate's length, and when every note that was struck before it must have
arrived (low strings arrive later). That takes some 25 to 50 ms.
"""

from __future__ import annotations

from collections.abc import Collection
from heapq import heappop, heappush
from math import ceil, floor

from .events import Note
from .rig import Rig
from .wire import CENTRE, Wire

SETTLE_S = 0.005
"""A bend this soon after a note-on belongs to it (the converter puts its wheel back). Common
practice, no source."""

BEND_HOLD_S = 0.020
"""A bent pitch that does not stay this long was only passed on the way (formats.md, slots)."""

OCTAVE_HOLD_S = 0.045
"""Within this an octave error corrects itself ('some 40 ms', formats.md, extras)."""

RETRIGGER_S = 0.060
"""The same string and pitch again within this is the converter's doing ('some 60 ms', formats.md,
extras)."""

LATE_OFF_S = 0.060
"""A note-off for the older of two notes of one key comes within this; later it is the newer one's.
No source."""

OCTAVE_ERRORS = (12, 19, 24)
"""Semitones by which a converter may read a harmonic for the string's pitch (formats.md,
extras)."""

# half a semitone and the wheel's coarseness: a step of 14 bits is 0.003 semitones at a range of 24
_HALF = 0.505
_ROUNDING_S = 1e-6  # times are sums of ticks: a length that meets a limit exactly is not under it


def is_double(before: Note | None, note: Note) -> bool:
    """Whether a note is the one before it on its string, triggered twice by the converter."""
    return (
        before is not None
        and before.pitch == note.pitch
        and note.onset_s - before.onset_s <= RETRIGGER_S
    )


class _String:
    """What one string's channel is doing."""

    __slots__ = (
        "bend",
        "entry",
        "heard",
        "lasting",
        "note",
        "owed",
        "range",
        "rpn",
        "settled",
        "sounding",
    )

    def __init__(self, bend_range: float) -> None:
        self.bend = 0.0  # semitones
        self.range = bend_range
        self.rpn: list[int] = [127, 127]
        self.sounding: dict[int, Note] = {}  # by key
        self.owed: dict[int, Note] = {}  # by key: struck again before its note-off came
        self.note: Note | None = None  # the note-on that the bend acts on
        self.heard: Note | None = None  # the last note-on, ended or not
        self.settled = 0  # semitone that the string is known to sound
        self.lasting: _Waiting | None = None  # waiting entry of a bent pitch that may not last
        self.entry: _Waiting | None = None  # waiting entry of the last note-on


class _Waiting:
    """A note on its way, ``dropped`` once it has come to nothing."""

    __slots__ = ("corrected_s", "dropped", "due_s", "note", "serial")

    def __init__(self, corrected_s: float, serial: int, due_s: float, note: Note) -> None:
        self.corrected_s = corrected_s
        self.serial = serial  # of two at once the first to arrive goes first
        self.due_s = due_s
        self.note = note
        self.dropped = False

    def __lt__(self, other: _Waiting) -> bool:
        if self.corrected_s != other.corrected_s:
            return self.corrected_s < other.corrected_s
        return self.serial < other.serial


class Decoder:
    """Turn messages into notes, in the order in which they were struck.

    ``feed`` takes messages, ``due_s`` says when the next note can be handed on, ``release`` hands
    it on. ``foreign`` counts messages on channels that are no string, ``damaged`` those that could
    not be read.
    """

    def __init__(
        self, rig: Rig, lowest: Collection[tuple[int, int]], plan: Collection[tuple[int, int]] = ()
    ) -> None:
        """``lowest``: (string, lowest pitch) pairs; ``plan``: (string, pitch) pairs that the cell
        sounds."""
        self.foreign = 0
        self.damaged = 0
        self._rig = rig
        self._wire = Wire()
        self._gate_s = rig.gate.length_ms / 1000.0 - _ROUNDING_S
        self._hold_s = rig.gate.length_ms / 1000.0
        self._strings = {channel - 1: number for number, channel in enumerate(rig.channels, 1)}
        self._state = {channel: _String(rig.bend_range) for channel in self._strings}
        self._longest_s = max(
            (rig.delay.seconds(string, pitch) for string, pitch in lowest), default=0.0
        )
        self._delays: dict[tuple[int, int], float] = {}
        self._plan = frozenset(plan)
        self._suspects = (
            frozenset((string, pitch + off) for string, pitch in plan for off in OCTAVE_ERRORS)
            - self._plan
        )
        self._waiting: list[_Waiting] = []  # a heap, the earliest stroke first
        self._serial = 0
        self.due_s: float | None = None

    # ------------------------------------------------------------------------------------- messages

    def feed(self, t_s: float, data: bytes) -> None:
        """Take one message that arrived at ``t_s``. Everything due before must have been
        released."""
        if len(data) == 3 and 0x80 <= data[0] < 0xF0 and data[1] < 0x80 and data[2] < 0x80:
            self._message(t_s, data[0], data[1], data[2])
        elif data and data[0] >= 0xF8 and len(data) == 1:
            return
        else:
            self._odd(t_s, data)

    def _odd(self, t_s: float, data: bytes) -> None:
        if data[:1] == b"\xf0" and data[-1:] == b"\xf7" and max(data[1:-1], default=0) < 0x80:
            return
        ignored = self._wire.ignored
        messages = self._wire.feed(data)
        for message in messages:
            if len(message) == 3:
                self._message(t_s, *message)
            elif message[0] & 0x0F not in self._strings:
                self.foreign += 1
        if self._wire.ignored > ignored or not data:
            self.damaged += 1

    def _message(self, t_s: float, status: int, first: int, second: int) -> None:
        channel = status & 0x0F
        state = self._state.get(channel)
        if state is None:
            self.foreign += 1
            return
        kind = status & 0xF0
        if kind == 0x90 and second:
            self._note_on(t_s, self._strings[channel], state, first, second)
        elif kind == 0x80 or kind == 0x90:
            note = state.sounding.get(first)
            if note is not None:
                self._note_off(t_s, state, first, note)
        elif kind == 0xE0:
            self._bend(t_s, self._strings[channel], state, (second << 7) + first)
        elif kind == 0xB0:
            self._control(t_s, state, first, second)

    def silence(self, t_s: float) -> None:
        """The cable was pulled or the port closed: whatever sounds ends, wheels and their ranges
        are forgotten."""
        for state in self._state.values():
            self._end_all(t_s, state)
            state.bend, state.range, state.rpn = 0.0, self._rig.bend_range, [127, 127]

    # ---------------------------------------------------------------------------------------- notes

    def _note_on(self, t_s: float, string: int, state: _String, key: int, velocity: int) -> None:
        pitch = floor(key + state.bend + 0.5)
        note = Note(t_s, string, pitch, key, velocity, gated=velocity < self._rig.gate.velocity)
        before = state.heard
        corrected = None
        old = state.sounding.get(key)
        if old is not None:
            state.owed[key] = old
        if before is not None:
            since_s = t_s - before.onset_s
            # one voice a string: the new note takes it over
            if before.end_s is None and before.key != key:
                before.end_s = t_s
            if since_s < RETRIGGER_S:
                corrected = self._correct(state, before, note, since_s)
        self._drop_lasting(state, t_s)
        hold_s = self._hold_s if (string, pitch) not in self._suspects else OCTAVE_HOLD_S
        state.entry = self._wait(note, hold_s)
        if corrected is not None:
            note.struck_s = corrected
        state.sounding[key] = note
        state.note = state.heard = note
        state.settled = pitch

    def _correct(self, state: _String, before: Note, note: Note, since_s: float) -> float | None:
        """A note so soon after another of its string says something of the one before, or when it
        was itself struck."""
        if since_s < OCTAVE_HOLD_S and before.pitch - note.pitch in OCTAVE_ERRORS:
            if (
                (before.string, before.pitch) in self._suspects
                and state.entry is not None
                and state.entry.note is before
            ):
                before.gated = True
                return before.corrected_s
        elif (
            before.key == note.key
            and since_s < self._gate_s
            and not before.gated
            and (before.velocity or 0) >= 0.5 * (note.velocity or 0)
        ):
            before.end_s = None  # tracking was lost and found again: the first one did sound on
        return None

    def _note_off(self, t_s: float, state: _String, key: int, note: Note) -> None:
        """A key that was struck again while it sounded has two note-offs coming, the older note's
        first (M-12)."""
        older = state.owed.pop(key, None) if state.owed else None
        if older is not None and t_s - note.onset_s < LATE_OFF_S:
            self._end(t_s, state, older)
        else:
            del state.sounding[key]
            self._end(t_s, state, note)

    def _end(self, t_s: float, state: _String, note: Note) -> None:
        if note.end_s is None:
            note.end_s = t_s
        if state.note is note:
            self._drop_lasting(state, t_s, SETTLE_S)  # it sounded to its end
            state.note = None

    def _end_all(self, t_s: float, state: _String) -> None:
        for note in list(state.sounding.values()):
            self._end(t_s, state, note)
        state.sounding.clear()
        state.owed.clear()

    # ---------------------------------------------------------------------------------------- bends

    def _bend(self, t_s: float, string: int, state: _String, value: int) -> None:
        state.bend = (value - CENTRE) / CENTRE * state.range
        note = state.note
        if note is None:
            return
        sounding = note.key + state.bend
        # half a semitone away is near enough to count for the next one
        pitch = ceil(sounding - _HALF) if sounding < state.settled else floor(sounding + _HALF)
        if t_s - note.onset_s < SETTLE_S:
            if pitch != note.pitch:
                note.pitch = state.settled = pitch
                if state.entry is not None and state.entry.note is note:
                    note.corrected_s = note.struck_s = note.onset_s - self.delay_s(string, pitch)
            return
        lasting = state.lasting
        if lasting is not None:
            bent = lasting.note
            if bent.pitch == pitch:
                return
            if t_s - bent.onset_s >= BEND_HOLD_S - _ROUNDING_S:
                state.settled = bent.pitch
                bent.end_s = t_s
            else:
                lasting.dropped = True
            state.lasting = None
        if pitch != state.settled:
            bent = Note(t_s, string, pitch, pitch, None, by="bend")
            state.lasting = self._wait(bent, BEND_HOLD_S)

    def _drop_lasting(self, state: _String, t_s: float, least_s: float = BEND_HOLD_S) -> None:
        """Another event ends the bent pitch; it counts only if it has lasted."""
        lasting = state.lasting
        if lasting is not None:
            bent = lasting.note
            if t_s - bent.onset_s < least_s - _ROUNDING_S:
                lasting.dropped = True
            else:
                state.settled = bent.pitch
                bent.end_s = t_s
            state.lasting = None

    def _control(self, t_s: float, state: _String, number: int, value: int) -> None:
        if number == 101:
            state.rpn[0] = value
        elif number == 100:
            state.rpn[1] = value
        elif number in (98, 99):  # a non-registered parameter takes over data entry
            state.rpn = [127, 127]
        elif number == 6 and state.rpn == [0, 0]:
            state.range = value + state.range % 1.0
        elif number == 38 and state.rpn == [0, 0]:
            state.range = floor(state.range) + min(value, 99) / 100.0
        elif number == 120 or number >= 123:
            self._end_all(t_s, state)

    # -------------------------------------------------------------------------------------- waiting

    def delay_s(self, string: int, pitch: int) -> float:
        """How late a note arrives, by the rig."""
        delay = self._delays.get((string, pitch))
        if delay is None:
            delay = self._delays[string, pitch] = min(self._rig.delay.seconds(string, pitch), 0.25)
        return delay

    def _wait(self, note: Note, hold_s: float) -> _Waiting:
        corrected = note.onset_s - self.delay_s(note.string, note.pitch)
        note.corrected_s = note.struck_s = corrected
        due = max(note.onset_s + max(hold_s, SETTLE_S), corrected + self._longest_s)
        self._serial += 1
        entry = _Waiting(corrected, self._serial, due, note)
        heappush(self._waiting, entry)
        self.due_s = self._waiting[0].due_s
        return entry

    def release(self) -> tuple[float, Note | None]:
        """The first waiting note and the time at which it became due; the note is None where it
        came to nothing."""
        entry = heappop(self._waiting)
        note = None if entry.dropped else entry.note
        self.due_s = self._waiting[0].due_s if self._waiting else None
        if note is not None and not note.gated and note.by == "note":
            end_s = note.end_s
            if end_s is not None and end_s - note.onset_s < self._gate_s:
                note.gated = True
        return entry.due_s, note

    def due(self, now_s: float) -> list[Note]:
        """The notes that became due up to a time, oldest first; what came to nothing is left
        out."""
        notes: list[Note] = []
        while self.due_s is not None and self.due_s <= now_s:
            _, note = self.release()
            if note is not None:
                notes.append(note)
        return notes

    def arrived_before(self, time_s: float) -> bool:
        """Is there a waiting note that arrived before?"""
        return any(not entry.dropped and entry.note.onset_s < time_s for entry in self._waiting)
