"""A simulated guitarist: what the hands make of the plan.

Owns onsets, velocities, faults and unwanted sounds, each with its true label. Motor delays follow
the two-level model (timekeeper plus motor delay; sources.md E-12, E-13), so neighbouring intervals
are negatively correlated.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp
from random import Random

from ..core.cell import Cell, Slot
from ..core.events import ARTEFACT, HIT, NOISE, STRAY, WRONG
from ..core.rig import Gate
from .cells import LAST_FRET, same_pitch_places
from .habits import Habits
from .noodling import noodle_s, noodling
from .picking import strokes_played
from .pulse import motor_sd, plan
from .sounds import Label, Pass, Sound, extra_kind

_LOUDNESS = {"down": 96, "up": 88, "hammer": 58, "pull": 62, "slide": 50, "tap": 66}
_OCTAVES = (12, 19, 24)


@dataclass(slots=True)
class Performance:
    """Sounds in order of time, and the repetitions they belong to."""

    sounds: list[Sound]
    passes: list[Pass]
    strokes: dict[tuple[int, int], str] = field(default_factory=dict)  # by repetition and slot


def play(
    cell: Cell,
    habits: Habits,
    rng: Random,
    gate: Gate | None = None,
    start_s: float = 1.0,
    same_hands: int | None = None,
) -> Performance:
    """Play a cell. Extras carry their kind but no repetition: that follows from the arrival times
    (``truth.py``).

    same_hands: takes played with the same number have the same gallop, accents and loudness of
    strings and strokes.
    """
    lasting = rng if same_hands is None else Random(same_hands)
    hands = _Hands(cell, habits, rng, gate or Gate(), lasting)
    passes = plan(cell, habits, rng, start_s + noodle_s(habits, habits.noodle_before))
    hands.loop(passes)
    hands.sounds += noodling(cell, habits, rng, passes, hands.velocity)
    return Performance(sorted(hands.sounds, key=lambda sound: sound.t_s), passes, hands.strokes)


class _Hands:
    def __init__(
        self, cell: Cell, habits: Habits, rng: Random, gate: Gate, lasting: Random
    ) -> None:
        self.cell, self.habits, self.rng, self.gate = cell, habits, rng, gate
        self.sounds: list[Sound] = []
        self.gallop = {
            slot.number: lasting.gauss(0.0, habits.gallop_pct / 100.0) for slot in cell.slots
        }
        mean = sum(self.gallop.values()) / len(self.gallop)
        self.gallop = {
            number: max(-0.1, min(0.1, part - mean)) for number, part in self.gallop.items()
        }
        self.gain = [lasting.uniform(0.75, 1.15) for _ in cell.tuning]
        self.touch = {
            stroke: loud * lasting.uniform(0.85, 1.15) for stroke, loud in _LOUDNESS.items()
        }
        if habits.up_softer is not None:
            self.touch["up"] = self.touch["down"] * (1.0 - habits.up_softer)
        self.accents = {
            slot.number: exp(lasting.gauss(0.0, habits.accent)) if habits.accent else 1.0
            for slot in cell.slots
        }
        self.strokes: dict[tuple[int, int], str] = {}
        self.places = {(slot.string, slot.pitch) for slot in cell.slots}
        self.down_run = 0  # slots in a row that did not sound

    # ----------------------------------------------------------------------------------- the figure

    def loop(self, passes: list[Pass]) -> None:
        """Play every slot of every repetition, with faults."""
        route = [
            (this, slot)
            for this in passes
            for slot in self.cell.slots
            if slot.number in this.times_s
        ]
        self.strokes = strokes_played(self.cell, self.habits, passes, self.rng)
        onsets = self._onsets(route)
        for at, (this, slot) in enumerate(route):
            nothing = (None, self.cell.slots[0])
            before = route[at - 1][1] if at else None
            ahead_this, ahead = route[at + 1] if at + 1 < len(route) else nothing
            next_s = (
                onsets[at + 1]
                if at + 1 < len(route)
                else onsets[at] + slot.length * this.steps_s[slot.number]
            )
            fault = self._fault(passes, this, slot, before)
            self._slot(this, slot, before, onsets[at], next_s, fault)
            if ahead_this is not None and next_s - onsets[at] < 4.5 * this.steps_s[slot.number]:
                self._crossing(slot, ahead, onsets[at], next_s)
            self._brush(
                slot, ahead, onsets[at], min(next_s, onsets[at] + 4 * this.steps_s[slot.number])
            )

    def _onsets(self, route: list[tuple[Pass, Slot]]) -> list[float]:
        onsets: list[float] = []
        for this, slot in route:
            step = this.steps_s[slot.number]
            onset = this.times_s[slot.number] + self.gallop[slot.number] * step
            onset += self.rng.gauss(0.0, motor_sd(slot.length * step, self.habits))
            if self.strokes[this.rep, slot.number] == "up":
                onset += self.habits.up_late_ms / 1000.0
            if onsets:
                onset = max(onset, onsets[-1] + 0.35 * step)
            onsets.append(onset)
        return onsets

    def _fault(self, passes: list[Pass], this: Pass, slot: Slot, before: Slot | None) -> str:
        """Which fault befalls a slot; "" for none.

        The slot that begins a take, or begins anew, always sounds, and so does the last one before
        play stops: a figure whose first note fails is a figure begun later.
        """
        habits = self.habits
        own = {
            "dropped": habits.dropped,
            "wrong_fret": habits.wrong_fret,
            "wrong_string": habits.wrong_string,
            "misplaced": habits.misplaced,
            "soft": habits.soft,
            "muffed": habits.muffed,
        }
        drawn, fault = self.rng.random(), ""
        for name, chance in own.items():
            if drawn < chance:
                fault = name
                break
            drawn -= chance
        first = this.mended and slot.number == this.entry
        second = this.mended and slot.number == this.entry + 1
        number = max(this.times_s)
        after = passes[this.rep] if this.rep < len(passes) else None
        last = slot.number == number and (after is None or after.mended or this.broken)
        near_pause = this.pause_after is not None and slot.number in (
            this.pause_after,
            this.pause_after + 1,
        )
        silent = fault in ("dropped", "misplaced", "muffed")
        stops = this.broken and slot.number == number
        lost = (
            second and silent,
            stops and fault,
            near_pause and silent and self._has_twin_beside(slot),
        )
        if first or (last and silent) or (any(lost) and not habits.anywhere):
            fault = fault if fault == "soft" else ""
        if silent and self.down_run >= (2 if len(self.cell.slots) > 4 else 1):
            fault = ""
        self.down_run = self.down_run + 1 if fault in ("dropped", "misplaced", "muffed") else 0
        return fault

    def _has_twin_beside(self, slot: Slot) -> bool:
        slots = self.cell.slots
        beside = (slots[slot.number - 2], slots[slot.number % len(slots)])
        return any((one.string, one.pitch) == (slot.string, slot.pitch) for one in beside)

    def _slot(
        self, this: Pass, slot: Slot, before: Slot | None, onset: float, next_s: float, fault: str
    ) -> None:
        rng, step = self.rng, this.steps_s[slot.number]
        string, pitch, verdict = slot.string, slot.pitch, HIT
        stroke = self.strokes[this.rep, slot.number]
        velocity = self.velocity(stroke, string, self.accents[slot.number])
        length = min(next_s - onset, slot.length * step * 1.1) * rng.uniform(0.8, 1.25)
        length = max(length, self.gate.length_ms / 1000.0 + 0.012)
        if fault == "dropped":
            return
        if fault == "wrong_fret":
            pitch, verdict = self._wrong_fret(slot, before), WRONG
        elif fault == "wrong_string":
            twins = same_pitch_places(
                self.cell.tuning, string, slot.pitch - self.cell.tuning[string - 1]
            )
            twins = [(other, fret) for other, fret in twins if fret >= self.cell.capo]
            if twins:
                string, verdict = (
                    min(twins, key=lambda twin: (abs(twin[0] - string), rng.random()))[0],
                    WRONG,
                )
        elif fault == "misplaced":
            self._misplace(slot, before, onset, length)
            return
        elif fault in ("soft", "muffed"):
            velocity = max(self.gate.velocity + 1, int(velocity * rng.uniform(0.15, 0.5)))
            if fault == "muffed":
                shortest = 0.4 if rng.random() < 0.3 else 1.3
                length = self.gate.length_ms / 1000.0 * rng.uniform(shortest, shortest * 1.8)
        this.onsets_s[slot.number] = onset
        label = Label(this.rep, slot.number, verdict)
        long = slot.length * step > 0.25
        self.sounds.append(
            Sound(onset, onset + length, string, pitch, velocity, stroke, label, long)
        )
        if rng.random() < self.habits.ringing and string == slot.string:
            self._ring(slot, onset + length)

    def velocity(self, stroke: str, string: int, accent: float = 1.0) -> int:
        """How hard a stroke of its kind comes on a string."""
        loud = self.touch[stroke] * self.gain[string - 1] * accent * self.rng.uniform(0.85, 1.15)
        return int(max(self.gate.velocity + 6, min(127, loud)))

    def _wrong_fret(self, slot: Slot, before: Slot | None) -> int:
        """Another fret of the slot's string, mostly a neighbour; never one that reads as an octave
        error."""
        open_pitch = self.cell.tuning[slot.string - 1] + self.cell.capo
        while True:
            off = self.rng.choice((-1, 1, -1, 1, -2, 2, -2, 2, -3, 3, 4, -4, 5, 7))
            pitch = slot.pitch + off
            if self.rng.random() < 0.06:
                pitch = open_pitch
            same_as_before = (
                before is not None
                and before.string == slot.string
                and before.pitch == pitch
                and not slot.picked
            )
            if (
                pitch >= open_pitch
                and pitch != slot.pitch
                and pitch - slot.pitch not in _OCTAVES
                and not same_as_before
            ):
                return pitch

    def _misplace(self, slot: Slot, before: Slot | None, onset: float, length: float) -> None:
        """The pick lands on another string, which sounds another pitch: an extra, and the slot is
        missed."""
        strings = [
            other
            for other in range(1, len(self.cell.tuning) + 1)
            if 0 < abs(other - slot.string) <= self.rng.choice((1, 1, 2))
        ]
        string = self.rng.choice(strings)
        pitch = self._lying(string, slot.pitch)
        kind = extra_kind(self.cell, string, before.string if before else None, slot.string)
        label = Label(None, None, kind)
        velocity = self.velocity("down", string)
        sound = Sound(onset, onset + length, string, pitch, velocity, "pick", label)
        self.sounds.append(sound)

    def _lying(self, string: int, never: int | None = None) -> int:
        """A pitch that a string gives when it is struck by mistake: open, under a finger, or a
        slot's."""
        open_pitch = self.cell.tuning[string - 1] + self.cell.capo
        frets = [slot.fret for slot in self.cell.slots]
        drawn = self.rng.random()
        if drawn < 0.35:
            pitch = open_pitch
        elif drawn < 0.7:
            pitch = open_pitch + self.rng.choice(frets)
        else:
            pitch = open_pitch + self.rng.randint(min(frets), min(LAST_FRET, max(frets) + 2))
        return pitch + 1 if pitch == never else pitch

    # ------------------------------------------------------------------------------ unwanted sounds

    def _crossing(self, slot: Slot, ahead: Slot, onset: float, next_s: float) -> None:
        """Strings strictly between two slots' strings may be clipped on the way; the cell's own
        ones too."""
        low, high = sorted((slot.string, ahead.string))
        for string in range(low + 1, high):
            if self.rng.random() >= self.habits.clipped:
                continue
            if self.rng.random() < 0.35:
                t_s = next_s - self.rng.uniform(0.004, 0.02)
            else:
                t_s = onset + (next_s - onset) * self.rng.uniform(0.15, 0.85)
            own = [pitch for place, pitch in sorted(self.places) if place == string]
            pitch = self.rng.choice(own) if own and self.rng.random() < 0.5 else self._lying(string)
            self._extra(t_s, string, pitch, "clip", NOISE)

    def _brush(self, slot: Slot, ahead: Slot, onset: float, next_s: float) -> None:
        """A quiet string sounds, passed over or not."""
        if self.cell.quiet and self.rng.random() < self.habits.brushed:
            near = sorted(
                self.cell.quiet, key=lambda other: abs(other - slot.string) + self.rng.random()
            )
            string = near[0]
            t_s = onset + (next_s - onset) * self.rng.uniform(0.0, 0.9)
            self._extra(t_s, string, self._lying(string), "brush", NOISE)

    def _ring(self, slot: Slot, t_s: float) -> None:
        """The finger leaves and the string rings open."""
        pitch = self.cell.tuning[slot.string - 1] + self.cell.capo
        ahead = self.cell.slots[slot.number % len(self.cell.slots)]
        if slot.fret == 0 or ahead.string == slot.string:
            return
        self._extra(t_s, slot.string, pitch, "ring", STRAY, longest_s=0.5)

    def _extra(
        self, t_s: float, string: int, pitch: int, stroke: str, kind: str, longest_s: float = 0.18
    ) -> None:
        velocity = int(self.rng.triangular(4, 90, 30))
        shortest = self.gate.length_ms / 1000.0
        length = (
            self.rng.uniform(shortest * 1.2, longest_s)
            if self.rng.random() < 0.9
            else shortest * self.rng.uniform(0.3, 0.8)
        )
        if velocity < self.gate.velocity or length < shortest:
            kind = ARTEFACT
        self.sounds.append(
            Sound(t_s, t_s + length, string, pitch, velocity, stroke, Label(None, None, kind))
        )
