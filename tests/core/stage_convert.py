"""The stage's converter: the bytes that a hexaphonic pickup would send for what the hands did.

Owns conversion faults and the arrival of every message, and carries the truth over to single
note-ons: what the converter adds is an artefact (or noise, where it stays above the gate on a
string that should be silent), and what falls under the gate can be no slot.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

from stage_play import Hands, Rep, Sound

from livecheck.core.cell import Cell
from livecheck.core.events import Midi
from livecheck.core.rig import Delay, Rig


@dataclass
class Faults:
    """Rates of one take, each a chance per sound."""

    jitter_ms: float = 0.4
    ghost: float = 0.0
    double: float = 0.0
    octave_held: float = 0.0
    octave_corrected: float = 0.0
    bend_alone: float = 0.0
    overlap: float = 0.3  # legato note-ons that come before the old note's end
    late_off: float = 0.0
    no_off: float = 0.0
    velocity_zero: float = 0.5
    vibrato: float = 0.0
    lost: float = 0.0
    serial: bool = True
    announce_range: bool = False


@dataclass
class Sent:
    """One note-on, or one bend that is a note, with the truth about it."""

    t: float
    string: int
    key: int
    pitch: int
    velocity: int | None
    ok: set[str]
    why: str
    by: str = "note"
    off: float | None = None
    rep: int | None = None
    slot: int | None = None
    arrival: float = 0.0
    ended: float | None = None  # arrival of the note-off
    retriggered: bool = False


@dataclass
class Take:
    """What is fed to the program, and what is true of it."""

    name: str
    seed: int
    cell: Cell
    rig: Rig
    records: list[Midi]
    sent: list[Sent]
    reps: list[Rep]
    step_s: float
    about: str = ""


class Converter:
    """Turns sounds into messages, string by string, then puts them on one wire."""

    def __init__(
        self, rng: random.Random, cell: Cell, rig: Rig, delay: Delay, faults: Faults
    ) -> None:
        self.rng, self.cell, self.rig, self.delay, self.faults = rng, cell, rig, delay, faults
        self.sent: list[Sent] = []
        self.bends: list[tuple[float, int, float]] = []  # time, string, semitones

    def send(self, hands: Hands) -> tuple[list[Midi], list[Sent]]:
        rng, faults = self.rng, self.faults
        for string in range(1, len(self.cell.tuning) + 1):
            self._string([sound for sound in hands.sounds if sound.string == string], hands)
        for sound in hands.sounds:
            if rng.random() < faults.ghost:
                self._ghost(sound)
        return self._wire()

    # ----------------------------------------------------------------------------------- one string

    def _arrives(self, sound: Sound) -> float:
        late = self.delay.seconds(sound.string, sound.pitch) + self.rng.gauss(
            0, self.faults.jitter_ms / 1000.0
        )
        return sound.t + max(0.0005, late)

    def _string(self, sounds: list[Sound], hands: Hands) -> None:
        rng, faults, gate = self.rng, self.faults, self.rig.gate
        timed = sorted(
            ((self._arrives(sound), sound) for sound in sounds), key=lambda pair: pair[0]
        )
        sounding: Sent | None = None  # the last one sent, still sounding
        bent = 0.0
        free = 0.0  # nothing may be sent before
        for at, (t, sound) in enumerate(timed):
            t = max(t, free)
            follows = timed[at + 1][0] if at + 1 < len(timed) else t + 3.0
            room = max(0.0, follows - t)
            if rng.random() < faults.lost and sound.why == "soft":
                continue
            before = timed[at - 1][1] if at else None
            if (
                sounding is not None
                and before is not None
                and sound.legato
                and before.rep == sound.rep
                and before.slot is not None
                and not before.muffed
                and sound.slot == before.slot + 1
                and 0 < abs(sound.pitch - sounding.key) <= min(5, self.rig.bend_range - 1)
                and sounding.key - before.pitch + bent == 0
                and t - sounding.t > 0.035
                and room > 0.035
                and rng.random() < faults.bend_alone
            ):
                bent = self._bend(sounding, sound, t, bent)
                sounding.off = self._ends(t, sound, room)
                free = t + 0.001
                continue
            if bent:
                self.bends.append((t + rng.choice((-0.002, -0.001, 0.0015)), sound.string, 0.0))
                bent = 0.0
            self._close(sounding, t, sound.legato and rng.random() < faults.overlap)
            sounding = self._note(sound, t, room)
            free = sounding.t + 0.002
            if (
                sound.legato is False
                and sounding.t == t
                and room > 0.3
                and rng.random() < faults.vibrato
            ):
                wide, when = rng.uniform(0.1, 0.4), t + 0.08
                while when < min(t + sound.length, t + room - 0.03):
                    self.bends.append((when, sound.string, wide * rng.choice((-1, 0, 1))))
                    when += rng.uniform(0.01, 0.03)
                self.bends.append((when, sound.string, 0.0))
            if (
                sounding.off is not None
                and abs(sounding.off - sounding.t - gate.length_ms / 1000) < 0.004
            ):
                sounding.off += 0.009

    def _ends(self, t: float, sound: Sound, room: float) -> float | None:
        """When the note-off comes; None where it never does."""
        rng, faults = self.rng, self.faults
        if room > 0.05 and rng.random() < faults.no_off:
            return None
        length = sound.length + (
            rng.uniform(0.02, 0.6) if rng.random() < faults.late_off else rng.uniform(0, 0.012)
        )
        return t + max(0.034, length)

    def _close(self, sounding: Sent | None, t: float, overlapped: bool) -> None:
        """A mono channel ends its note before the next one, or just after it (legato)."""
        if sounding is None or sounding.off is None or sounding.off < t - 0.0005:
            return
        sounding.off = t + 0.003 if overlapped else t - 0.0004

    def _note(self, sound: Sound, t: float, room: float) -> Sent:
        rng, faults, gate = self.rng, self.faults, self.rig.gate
        velocity, key, ok, why = sound.velocity, sound.pitch, set(sound.ok), sound.why
        off = self._ends(t, sound, room)
        if sound.muffed:
            if rng.random() < 0.5:
                velocity = rng.randint(1, gate.velocity - 1)
            else:
                off = t + rng.uniform(0.008, gate.length_ms / 1000 - 0.005)
            return self._add(t, sound, key, velocity, {"artefact"}, why, off)
        fault = rng.random()
        places = {(slot.string, slot.pitch) for slot in self.cell.slots}
        if fault < faults.octave_held and sound.slot is not None:
            up = rng.choice((12, 12, 12, 19, 24, -12))
            if (sound.string, key + up) not in places and key + up <= 127:
                # seldom, and not among the errors named
                ok = ok if up > 0 else ok | {f"{sound.slot} wrong", "stray"}
                return self._add(
                    t, sound, key + up, velocity, ok, f"{why} octave held {up:+d}", off
                )
        elif (
            fault < faults.octave_held + faults.octave_corrected
            and room > 0.075
            and sound.slot is not None
        ):
            up = rng.choice((12, 12, 19, 24))
            if (sound.string, key + up) not in places and key + up <= 127:
                again = t + rng.uniform(0.012, min(0.038, room - 0.036))
                self._add(
                    t,
                    sound,
                    key + up,
                    velocity,
                    {"artefact"},
                    f"octave {up:+d}, corrected",
                    again - 0.0004,
                    extra=True,
                )
                return self._add(
                    again,
                    sound,
                    key,
                    velocity,
                    ok,
                    f"{why} after the octave",
                    off and max(off, again + 0.034),
                )
        elif fault < faults.octave_held + faults.octave_corrected + faults.double and room > 0.1:
            again = t + rng.uniform(0.015, min(0.055, 0.55 * room))
            short = again - t < gate.length_ms / 1000 + 0.004
            number = f"{sound.slot} hit" if sound.slot else "noise"
            first = self._add(
                t,
                sound,
                key,
                velocity,
                ok | ({"artefact"} if short else set()),
                why,
                again - 0.0004,
            )
            first.retriggered = True
            if short and rng.random() < 0.7:
                first.off = again + 0.02
                first.ok = ok
                short = False
            second = {"artefact"} | (ok | {number} if short else set())
            if sound.slot is None:
                second |= ok
            return self._add(
                again,
                sound,
                key,
                max(20, velocity - rng.randint(0, 40)),
                second,
                "double trigger",
                off and max(off, again + 0.034),
                extra=True,
            )
        return self._add(t, sound, key, velocity, ok, why, off)

    def _add(
        self,
        t: float,
        sound: Sound,
        key: int,
        velocity: int,
        ok: set[str],
        why: str,
        off: float | None,
        extra: bool = False,
    ) -> Sent:
        sent = Sent(t, sound.string, key, sound.pitch, velocity, ok, why.strip(), off=off)
        if not extra and not sound.muffed:
            sent.rep, sent.slot = sound.rep, sound.slot
        self.sent.append(sent)
        return sent

    def _bend(self, sounding: Sent, sound: Sound, t: float, bent: float) -> float:
        """Reach the next pitch without a note-on: at once, or gliding through the semitones
        between."""
        rng = self.rng
        goal = float(sound.pitch - sounding.key)
        glide = rng.choice((0.0, 0.0, 0.006, 0.015))
        parts = max(1, round(glide / 0.003))
        for part in range(1, parts + 1):
            share = part / parts
            self.bends.append(
                (
                    t - glide * (1 - share),
                    sound.string,
                    bent + (goal - bent) * share + rng.gauss(0, 0.06),
                )
            )
        self.sent.append(
            Sent(
                t,
                sound.string,
                sound.pitch,
                sound.pitch,
                None,
                set(sound.ok),
                "bend alone",
                "bend",
                None,
                sound.rep,
                sound.slot,
            )
        )
        return goal

    # ----------------------------------------------------------------------------- beside the notes

    def _ghost(self, near: Sound) -> None:
        """A short soft sound on a neighbouring string, shaken by the stroke."""
        rng, cell, gate = self.rng, self.cell, self.rig.gate
        string = near.string + rng.choice((-2, -1, 1, 2))
        if not 1 <= string <= len(cell.tuning):
            return
        pitch = cell.tuning[string - 1] + cell.capo + rng.choice((0, 0, rng.randint(0, 14)))
        t = near.t + self.delay.seconds(string, pitch) + rng.uniform(0.0, 0.03)
        busy = [sent for sent in self.sent if sent.string == string and sent.by == "note"]
        if any(sent.t - 0.06 < t < (sent.off or sent.t + 0.5) + 0.01 for sent in busy):
            return
        if any(string == other and t - 0.06 < when < t + 0.06 for when, other, _ in self.bends):
            return
        if (string, pitch) in {(slot.string, slot.pitch) for slot in cell.slots}:
            return
        under = rng.random() < 0.7
        velocity, length = (
            rng.randint(gate.velocity + 1, 40),
            rng.uniform(gate.length_ms + 4, 50) / 1000,
        )
        if under and rng.random() < 0.5:
            velocity = rng.randint(1, gate.velocity - 1)
        elif under:
            length = rng.uniform(0.006, gate.length_ms / 1000 - 0.004)
        ok = {"artefact"} if under else {"noise"} if string in cell.quiet else {"noise", "stray"}
        self.sent.append(Sent(t, string, pitch, pitch, velocity, ok, "ghost", off=t + length))

    # ------------------------------------------------------------------------------------- the wire

    def _wire(self) -> tuple[list[Midi], list[Sent]]:
        rng, rig, faults = self.rng, self.rig, self.faults
        queue: list[tuple[float, int, bytes, Sent | None]] = []
        for sent in self.sent:
            channel = rig.channels[sent.string - 1] - 1
            if sent.by == "bend":
                continue
            queue.append((sent.t, 2, bytes((0x90 | channel, sent.key, sent.velocity or 1)), sent))
            if sent.off is not None:
                zero = rng.random() < faults.velocity_zero
                off = (
                    bytes((0x90 | channel, sent.key, 0))
                    if zero
                    else bytes((0x80 | channel, sent.key, 64))
                )
                queue.append((sent.off, 0, off, sent))
        for t, string, semitones in self.bends:
            value = min(16383, max(0, round(8192 + semitones / rig.bend_range * 8192)))
            queue.append(
                (t, 1, bytes((0xE0 | rig.channels[string - 1] - 1, value & 127, value >> 7)), None)
            )
        if faults.announce_range:
            for channel in rig.channels:
                for controller, value in ((101, 0), (100, 0), (6, round(rig.bend_range)), (38, 0)):
                    queue.append((0.0, -1, bytes((0xB0 | channel - 1, controller, value)), None))
        queue.sort(key=lambda one: (one[0], one[1]))
        records: list[Midi] = []
        last = 0.0
        for t, order, data, sent_one in queue:
            last = max(t, last + 0.00096) if faults.serial else max(last, round(t, 3))
            records.append(Midi(last, data))
            if sent_one is not None and order == 2:
                sent_one.arrival = last
            elif sent_one is not None:
                sent_one.ended = last
        for sent in self.sent:
            if sent.by == "bend":
                sent.arrival = sent.t
        self.sent.sort(key=lambda sent: sent.arrival)
        return records, self.sent


def weigh(sent: list[Sent], reps: list[Rep], rig: Rig) -> None:
    """Apply the gate to what was really sent, and say what became of every slot that was listed."""
    for one in sent:
        if one.by == "bend" or one.ended is None:
            continue
        beyond_ms = (one.ended - one.arrival) * 1000 - rig.gate.length_ms
        if beyond_ms < 2.5 and one.retriggered:
            # cut short by its own second trigger: either of the two may be the slot's
            one.ok.add("artefact")
        elif beyond_ms < -2.5:
            # cut short by another sound of its string, which may stand in its place
            for other in sent:
                if (
                    one.slot
                    and other.string == one.string
                    and 0 < other.arrival - one.arrival < 0.06
                ):
                    other.ok.add(f"{one.slot} wrong")
                    reps[one.rep or 0].doubtful = True
            one.ok, one.rep, one.slot = {"artefact"}, None, None
        elif beyond_ms < 2.5:
            one.ok.add("artefact")
            if one.rep is not None:
                reps[one.rep].doubtful = True
    for i, one in enumerate(sent):
        same = [o for o in sent[max(0, i - 6) : i] if (o.string, o.key) == (one.string, one.key)]
        if one.slot is None and same and one.arrival - same[-1].arrival < 0.07:
            one.ok.add("artefact")  # the same again: a double trigger by definition
    for index, rep in enumerate(reps):
        for number in range(1, rep.last + 1):
            rep.verdicts[number] = "missed"
        for one in sent:
            if one.rep == index and one.slot is not None:
                told = [label for label in one.ok if label.startswith(f"{one.slot} ")]
                rep.verdicts[one.slot] = told[0].split()[1]
                rep.doubtful |= len(one.ok) > 1
        if rep.broken:
            while rep.last and rep.verdicts[rep.last] == "missed":
                del rep.verdicts[rep.last]
                rep.last -= 1
