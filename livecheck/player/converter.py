"""A simulated pitch-to-MIDI converter in Mode 4: from sounds to messages, one channel a string.

Owns conversion delay, ghosts, double triggers, octave errors, legato by note or by bend alone,
vibrato and note ends.
A string is mono: a new note ends the one sounding. ``wire.py`` puts the messages on the cable.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from random import Random

from ..core.cell import Cell
from ..core.events import ARTEFACT, HIT
from ..core.pitch import period_s
from ..core.rig import Gate
from ..core.wire import CENTRE
from .habits import Conversion
from .sounds import Label, Sound, extra_kind

_LEGATO = ("hammer", "pull", "slide", "tap")
_NEVER_S = 1e9


@dataclass(slots=True)
class Message:
    """One message when it is ready to be sent, with the sound it reports where it begins a note."""

    ready_s: float
    data: bytes
    label: Label | None = None  # of the note that it begins
    sound: Sound | None = None  # None for what the converter makes by itself
    by: str = "note"


def convert(
    cell: Cell, sounds: Sequence[Sound], how: Conversion, rng: Random, gate: Gate | None = None
) -> list[Message]:
    """Messages for the sounds, sorted by the time at which each is ready."""
    gate = gate or Gate()
    ghosts = _ghosts(cell, sounds, how, rng, gate)
    messages: list[Message] = []
    for string in range(1, len(cell.tuning) + 1):
        own = sorted(
            (sound for sound in [*sounds, *ghosts] if sound.string == string),
            key=lambda sound: sound.t_s,
        )
        messages += _String(string, how, rng, gate).run(own)
    return sorted(messages, key=lambda message: message.ready_s)


def delay_s(pitch: float, how: Conversion, rng: Random) -> float:
    """One note's conversion delay: fixed, plus one to two and a half periods, plus jitter
    (sources.md C-01 to C-05)."""
    periods = min(max(how.periods + rng.gauss(0.0, how.jitter_periods), 1.0), 2.5)
    return max(
        0.0005,
        how.fixed_ms / 1000.0 + periods * period_s(pitch) + rng.gauss(0.0, how.jitter_ms / 1000.0),
    )


def _ghosts(
    cell: Cell, sounds: Sequence[Sound], how: Conversion, rng: Random, gate: Gate
) -> list[Sound]:
    """Short, soft notes that nobody played: neighbours shaken by a stroke, the pick touching, a
    finger leaving."""
    ghosts: list[Sound] = []
    spans: dict[int, list[tuple[float, float]]] = {}
    for sound in sounds:
        spans.setdefault(sound.string, []).append(
            (sound.t_s - 0.04, max(sound.end_s, sound.t_s + 0.03))
        )
    for at, sound in enumerate(sounds):
        if rng.random() >= how.ghost:
            continue
        other = sound.string + rng.choice((-2, -1, -1, 1, 1, 2))
        same = rng.random() < 0.25 or not 1 <= other <= len(cell.tuning)
        string = sound.string if same else other
        before = sounds[at - 1].string if at else None
        kind = extra_kind(cell, string, before, sound.string)
        under = same or rng.random() < 0.75
        if under:
            kind = ARTEFACT
        short = gate.length_ms / 1000.0
        velocity = rng.randint(1, gate.velocity + 12)
        length = (
            rng.uniform(0.3, 0.85) * short
            if velocity >= gate.velocity
            else rng.uniform(0.3, 1.6) * short
        )
        if not under:
            velocity, length = (
                rng.randint(gate.velocity + 1, gate.velocity + 20),
                short * rng.uniform(1.2, 1.8),
            )
        t_s = sound.t_s + rng.uniform(-0.6, 1.0) * 0.03
        if same:
            t_s = sound.t_s - rng.uniform(0.006, 0.018)
        elif any(start < t_s < end for start, end in spans.get(string, ())):
            continue  # the string is heard already, or is about to be
        open_pitch = cell.tuning[string - 1] + cell.capo
        pitch = min(open_pitch + rng.choice((0, 0, 12, 19, rng.randint(1, 15))), 127)
        ghosts.append(
            Sound(t_s, t_s + length, string, pitch, velocity, "ghost", Label(None, None, kind))
        )
    return ghosts


class _String:
    """One string's channel: what sounds on it, and how far it is bent."""

    def __init__(self, string: int, how: Conversion, rng: Random, gate: Gate) -> None:
        self.channel = how.first_channel - 1 + string - 1
        self.how, self.rng, self.gate = how, rng, gate
        self.out: list[Message] = []
        self.key: int | None = None  # sounding
        self.off_s = -1.0
        self.bend = 0.0
        self.late: tuple[int, float] | None = None  # an off still owed to an older note
        self.last_s = -1.0
        self.source: Sound | None = None
        self.octave = False

    def run(self, sounds: list[Sound]) -> list[Message]:
        """All messages of this string, in no particular order."""
        arrivals = []
        for sound in sounds:
            self.last_s = max(
                sound.t_s + delay_s(sound.pitch, self.how, self.rng), self.last_s + 0.004
            )
            arrivals.append(self.last_s)
        for at, sound in enumerate(sounds):
            following_s = arrivals[at + 1] if at + 1 < len(sounds) else _NEVER_S
            if self._bends_to(sound, arrivals[at]):
                self._bend_note(sound, arrivals[at], following_s)
            else:
                self._note(sound, arrivals[at], following_s)
        self._end_before(_NEVER_S)
        return self.out

    # ------------------------------------------------------------------------------- legato by bend

    def _bends_to(self, sound: Sound, t_s: float) -> bool:
        source = self.source
        if (
            self.key is None
            or source is None
            or source.label.slot is None
            or self.octave
            or t_s >= self.off_s - 0.002
        ):
            return False
        if sound.label.slot is None or sound.stroke not in _LEGATO or sound.pitch == source.pitch:
            return False
        reach = min(self.how.bend_range - 0.5, 7 if sound.stroke == "slide" else 5)
        return abs(sound.pitch - self.key) <= reach and self.rng.random() < self.how.bend_legato

    def _bend_note(self, sound: Sound, t_s: float, following_s: float) -> None:
        rng, key = self.rng, self.key
        assert key is not None
        target, origin = float(sound.pitch - key), self.bend
        way = target - origin
        path: list[tuple[float, float]] = []  # (seconds after arrival, bend)
        drawn = rng.random()
        if sound.stroke == "slide" or drawn < self.how.glide:
            room = max(0.012, min(0.07, (following_s - t_s) * 0.5))
            if rng.random() < 0.5:
                steps, each = round(abs(way)), rng.uniform(0.005, 0.018)
            else:
                steps, each = max(2, round(abs(way) * 4)), rng.uniform(0.002, 0.005)
            each = min(each, room / max(steps, 1))
            path = [(each * step, origin + way * (step + 1) / steps) for step in range(steps)]
        elif drawn < 0.6 and abs(way) >= 1:
            path = [
                (0.0, origin + way * rng.uniform(0.5, 0.9)),
                (rng.uniform(0.002, 0.006), target),
            ]
        else:
            path = [(0.0, target)]
        settle = rng.uniform(-0.12, 0.12)
        path[-1] = (path[-1][0], path[-1][1] + settle)
        begun = False
        for after, bend in path:
            reached = not begun and abs(bend - target) <= 0.5
            begun = begun or reached
            self._send_bend(t_s + after, bend, sound if reached else None)
        self.bend = target + settle
        self.source = sound
        self.off_s = max(self._ends(sound, t_s), t_s + path[-1][0] + 0.012)
        self._sway(sound, t_s + path[-1][0], following_s)

    def _send_bend(self, t_s: float, semitones: float, begins: Sound | None = None) -> None:
        value = min(max(round(CENTRE + semitones / self.how.bend_range * CENTRE), 0), 16383)
        data = bytes((0xE0 | self.channel, value & 0x7F, value >> 7))
        self.out.append(Message(t_s, data, begins.label if begins else None, begins, "bend"))

    def _sway(self, sound: Sound, t_s: float, following_s: float) -> None:
        """Vibrato on a long note, or the tiny unrest that some converters send all the time."""
        rng, until = self.rng, min(self.off_s, following_s - 0.004, t_s + 3.0)
        if sound.long and rng.random() < self.how.vibrato:
            at, rate, depth = (
                t_s + rng.uniform(0.05, 0.12),
                rng.uniform(0.09, 0.15),
                self.how.vibrato_semitones,
            )
            up_only = rng.random() < 0.6
            phase = 0.0
            while at < until - 0.01:
                swing = 1.0 - abs(2.0 * (phase % 1.0) - 1.0)
                self._send_bend(at, self.bend + depth * (swing if up_only else 2.0 * swing - 1.0))
                step = rng.uniform(0.008, 0.013)
                at, phase = at + step, phase + step / (2 * rate)
            if at > t_s + 0.13:
                self._send_bend(min(at, until - 0.002), self.bend)
        elif rng.random() < self.how.chatter:
            at = t_s + rng.uniform(0.008, 0.02)
            while at < min(until, t_s + 0.3):
                self._send_bend(at, self.bend + rng.uniform(-0.1, 0.1))
                at += rng.uniform(0.01, 0.02)

    # --------------------------------------------------------------------------------- note by note

    def _note(self, sound: Sound, t_s: float, following_s: float) -> None:
        rng, how = self.rng, self.how
        legato = sound.stroke in _LEGATO
        lasts_s = min(sound.end_s - sound.t_s, following_s - t_s - 0.006)
        if (
            sound.stroke == "slide"
            and self.source
            and self.key is not None
            and rng.random() < how.chromatic_slide
        ):
            t_s = self._chromatic(sound, t_s, following_s)
            lasts_s = min(sound.end_s - sound.t_s, following_s - t_s - 0.006)
        hit = sound.label.slot is not None and sound.label.verdict == HIT
        drawn = rng.random()
        interval = rng.choices((12, 19, 24), (6, 3, 1))[0]
        octave_possible = hit and sound.pitch + interval <= 127
        self.octave = False
        if octave_possible and drawn < how.octave_held:
            self._on(sound, t_s, sound.pitch + interval, sound.velocity, legato)
            self.octave = True
        elif (
            octave_possible
            and drawn < how.octave_held + how.octave_corrected
            and lasts_s > 0.045 + self.gate.length_ms / 1000.0
        ):
            wrong = replace(sound, label=Label(None, None, ARTEFACT))
            self._on(
                wrong,
                t_s,
                sound.pitch + interval,
                max(1, int(sound.velocity * rng.uniform(0.6, 1.0))),
                legato,
            )
            t_s += rng.uniform(0.012, 0.038)
            self._on(sound, t_s, sound.pitch, sound.velocity, legato)
        else:
            self._on(sound, t_s, sound.pitch, sound.velocity, legato)
        again_s = t_s + rng.uniform(0.02, 0.058)
        room = again_s < t_s + lasts_s - 0.012
        if sound.label.slot is not None and room and not self.octave and rng.random() < how.double:
            doubled = replace(sound, label=Label(None, None, ARTEFACT), stroke="double")
            velocity = max(1, int(sound.velocity * rng.uniform(0.35, 0.95)))
            self._on(doubled, again_s, sound.pitch, velocity, False)
            self.source = sound
        self.off_s = self._ends(sound, t_s)
        if self.off_s < self.out[-1].ready_s + 0.004:
            self.off_s = self.out[-1].ready_s + 0.012
        self._sway(sound, t_s, following_s)

    def _chromatic(self, sound: Sound, t_s: float, following_s: float) -> float:
        """Each semitone of a slide as a note of its own, too short to count; returns when the
        target's note begins."""
        assert self.source is not None
        way = sound.pitch - self.source.pitch
        each = min(
            self.rng.uniform(0.008, 0.018), max(0.005, (following_s - t_s) * 0.3 / max(abs(way), 1))
        )
        for step in range(1, abs(way)):
            passing = replace(sound, label=Label(None, None, ARTEFACT), stroke="passing")
            key = self.source.pitch + (step if way > 0 else -step)
            self._on(passing, t_s, key, max(1, sound.velocity - 5), False, keep_source=True)
            t_s += each
        return t_s

    def _on(
        self,
        sound: Sound,
        t_s: float,
        key: int,
        velocity: int,
        legato: bool,
        keep_source: bool = False,
    ) -> None:
        """Begin a note; whatever sounds on the string ends, before or (legato) just after."""
        rng = self.rng
        self._end_before(
            t_s, overlapped=legato and rng.random() < self.how.overlapped and key != self.key
        )
        reset_s = None
        if self.bend != 0.0:
            late = rng.random() < self.how.late_reset
            reset_s = t_s + rng.uniform(0.0004, 0.003) if late else t_s - rng.uniform(0.0001, 0.001)
            self.bend = 0.0
        elif self.how.bend_first:
            reset_s = t_s - 0.0001
        if reset_s is not None:
            self._send_bend(reset_s, 0.0)
        data = bytes((0x90 | self.channel, key, min(max(velocity, 1), 127)))
        own = sound.stroke in ("ghost", "double", "passing") or (
            sound.label.verdict == ARTEFACT and key != sound.pitch
        )
        self.out.append(Message(t_s, data, sound.label, None if own else sound))
        self.key, self.off_s = key, t_s + 1.0
        if not keep_source:
            self.source = sound

    def _ends(self, sound: Sound, t_s: float) -> float:
        """When the note's off is due, if nothing on the string comes before."""
        length = sound.end_s - sound.t_s
        if (
            sound.label.slot is None and sound.stroke != "noodle"
        ) or length < 2.0 * self.gate.length_ms / 1000.0:
            return t_s + length
        if self.rng.random() < self.how.missing_off:
            return _NEVER_S
        late = (
            self.rng.uniform(0.05, 0.4)
            if self.rng.random() < self.how.late_off
            else self.rng.uniform(0.0, 0.02)
        )
        return t_s + length + late

    def _end_before(self, t_s: float, overlapped: bool = False) -> None:
        """Send the offs that are owed before a new note at ``t_s`` begins."""
        if self.late is not None:
            key, off_s = self.late
            self._off(min(off_s, t_s - 0.0005), key)
            self.late = None
        if self.key is None:
            return
        if self.off_s < t_s - 0.003:
            self._off(self.off_s, self.key)
        elif overlapped:
            long_after = self.rng.random() < self.how.late_off
            self.late = (
                self.key,
                t_s
                + (self.rng.uniform(0.03, 0.2) if long_after else self.rng.uniform(0.001, 0.012)),
            )
        elif t_s < _NEVER_S / 2 and (
            self.off_s < _NEVER_S / 2 or self.rng.random() >= self.how.missing_off
        ):
            self._off(t_s - self.rng.uniform(0.0003, 0.0025), self.key)
        self.key = None

    def _off(self, t_s: float, key: int) -> None:
        if self.rng.random() < self.how.zero_velocity_off:
            data = bytes((0x90 | self.channel, key, 0))
        else:
            data = bytes((0x80 | self.channel, key, 64))
        self.out.append(Message(t_s, data))
