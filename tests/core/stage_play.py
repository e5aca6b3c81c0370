"""The stage's guitarist: what the hands do, with the truth of every sound.

Owns human timing and human faults. A label is written as the score says it: ``3 hit``, ``3 wrong``,
``noise``, ``stray`` or ``artefact``; a sound about which no listener could decide carries several.
Times are those of the strokes.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field

from stage_cells import letters, telling

from livecheck.core.cell import Cell


@dataclass
class Sound:
    """One sound of a string."""

    t: float
    string: int
    pitch: int
    velocity: int
    length: float
    ok: set[str]
    why: str  # for the reader of an error
    rep: int | None = None  # index of the truth's repetition, for a slot's sound
    slot: int | None = None
    legato: bool = False
    muffed: bool = False  # meant to stay under the gate


@dataclass
class Rep:
    """One repetition as it was played."""

    complete: bool = True
    # slot number -> stroke time it was meant for
    due: dict[int, float] = field(default_factory=dict)
    last: int = 0  # last slot number listed
    end: float = 0.0
    broken: bool = False
    doubtful: bool = False  # something about it cannot be decided
    verdicts: dict[int, str] = field(default_factory=dict)  # filled in by the converter


@dataclass
class Habits:
    """Rates of one take, each a chance per slot or per repetition."""

    notes_per_s: float = 8.0
    reps: int = 8
    scatter: float = 0.025  # of a step
    heavy: float = 0.0  # chance of a late or early outlier of 2 to 3 times the scatter
    walk: float = 0.006
    gallop: float = 0.0
    drop: float = 0.0
    wrong: float = 0.0
    other_string: float = 0.0
    misplaced: float = 0.0
    soft: float = 0.0
    muffed: float = 0.0
    clip: float = 0.0
    ring: float = 0.0
    brk: float = 0.0  # per repetition, like the next five
    cut: float = 0.0
    pause: float = 0.0
    jump: float = 0.0
    stop: float = 0.0
    noodle: float = 0.0
    entry: float = 0.0  # per take


class Hands:
    """Plays one take. ``sounds`` and ``reps`` hold it afterwards."""

    def __init__(self, rng: random.Random, cell: Cell, habits: Habits) -> None:
        self.rng, self.cell, self.habits = rng, cell, habits
        self.step = 1.0 / habits.notes_per_s
        self.sounds: list[Sound] = []
        self.reps: list[Rep] = []
        self.clock = 0.5 + rng.random()
        self.limp = [rng.gauss(0, 1) * habits.gallop for _ in cell.slots]
        self.loud = {string: rng.randint(60, 105) for string in range(1, len(cell.tuning) + 1)}
        self.safe = 3  # slots to come without a fault
        self.held: dict[int, int] = {}  # last pitch fretted on each string
        self.stops: list[tuple[float, float]] = []

    # ------------------------------------------------------------------------------- the whole take

    def take(self) -> None:
        rng, habits, cell = self.rng, self.habits, self.cell
        if rng.random() < habits.noodle:
            self._noodle()
        n = len(cell.slots)
        entries = [k for k in range(1, n - 2) if telling(cell, k)]
        at = rng.choice(entries) if entries and rng.random() < habits.entry else 0
        while len(self.reps) < habits.reps:
            at = self._rep(at, last=len(self.reps) == habits.reps - 1)
        if rng.random() < habits.noodle:
            self.clock += max(0.6, 1.5 * cell.grid * self.step)
            self._noodle()
        self.sounds.sort(key=lambda sound: sound.t)
        self._doubts()

    def _rep(self, at: int, last: bool) -> int:
        """Play from a slot index on; returns where the next repetition starts."""
        rng, habits, cell = self.rng, self.habits, self.cell
        n = len(cell.slots)
        rep = Rep()
        index = len(self.reps)
        self.reps.append(rep)
        self._walk()
        for k in range(at):
            rep.due[k + 1] = self.clock - (cell.slots[at].start - cell.slots[k].start) * self.step
        event, where = self._event(at)
        if last and event in ("break", "cut"):
            event = None  # nothing would follow that says so
        stops = not (event or last or at) and rng.random() < habits.stop and telling(cell, 0)
        beat = cell.grid * self.step
        for k in range(at, n):
            slot = cell.slots[k]
            if event == "pause" and k == where:
                extra = self._odd_wait(rng.uniform(0.3, 2.0))
                self.stops.append((self.clock, self.clock + extra))
                self.clock += extra
                self.safe = 3
            if event == "jump" and k == where:
                self._tempo(rng.choice((0.62, 0.75, 0.85, 1.15, 1.3, 1.6)))
                self.safe = max(self.safe, 2)
            if event in ("break", "cut") and k == where:
                return self._leave(rep, k, event)
            near_event = event is not None and where - 2 <= k < where
            closing = (last or stops) and k >= n - 2
            rep.due[k + 1] = self.clock
            self._slot(index, k, faultless=self.safe > 0 or near_event or closing)
            self.safe -= 1
            rep.last = k + 1
            step_to = (cell.slots[k + 1].start if k + 1 < n else cell.steps) - slot.start
            self.clock += step_to * self.step * math.exp(rng.gauss(0, habits.walk))
        rep.end = self.clock
        if stops:
            if rng.random() < habits.noodle:
                self.clock += max(1.3 * beat, 0.5)
                self._noodle()
            else:
                self.clock += self._odd_wait(beat * 1.2 + rng.uniform(0.2, 4.0))
            if rng.random() < 0.4:
                self._tempo(rng.choice((0.8, 0.9, 1.1, 1.25)))
            self.safe = 3
        return 0

    def _event(self, at: int) -> tuple[str | None, int]:
        """What interrupts this repetition, and before which slot index."""
        rng, habits, cell = self.rng, self.habits, self.cell
        n = len(cell.slots)
        chances = (
            ("break", habits.brk),
            ("cut", habits.cut),
            ("pause", habits.pause),
            ("jump", habits.jump),
        )
        for kind, chance in chances:
            if rng.random() < chance:
                if n - at < 6:  # too little before and after it to know the place by
                    return None, 0
                where = rng.randint(at + 3, n - 3)
                if kind == "pause" and not telling(cell, where):
                    return None, 0
                if kind in ("break", "cut") and (not telling(cell, 0) or where - at < 2):
                    return None, 0
                return kind, where
        return None, 0

    def _leave(self, rep: Rep, k: int, event: str) -> int:
        """Give the repetition up before slot index k and begin another."""
        rng, cell = self.rng, self.cell
        slots = cell.slots
        # the first note of a restart would be the note that comes anyway
        if letters(cell)[0] == letters(cell)[k]:
            event = "cut"
        # where slot 1 would come round
        due = self.clock + (cell.steps - slots[k].start) * self.step
        self.safe = 3
        if event == "cut":  # the end is left out, the next repetition comes on its time
            for i in range(k, len(slots)):
                rep.due[i + 1] = self.clock + (slots[i].start - slots[k].start) * self.step
            rep.last = len(slots)
            rep.end = due
            self.clock = due + rng.uniform(-0.25, 0.25) * self.step
            return 0
        places = letters(cell)
        back = [i for i in range(1, k - 1) if telling(cell, i) and places[i] != places[k]]
        to = rng.choice(back) if back and rng.random() < 0.35 else 0
        comes = due + slots[to].start * self.step
        period = cell.steps * self.step
        for _ in range(50):
            wait = 0.0 if rng.random() < 0.4 else rng.uniform(0.2, 2.0)
            off = (self.clock + wait - comes + period / 2) % period - period / 2
            if abs(off) > min(0.8 * self.step, 0.3 * period):
                break
        else:
            return self._leave(rep, k, "cut")
        rep.complete, rep.broken = False, True
        rep.end = self.clock - self.step
        if wait:
            self.stops.append((self.clock, self.clock + wait))
        self.clock += wait
        return to

    def _odd_wait(self, wait: float) -> float:
        """A wait that is no whole number of repetitions, so that it cannot be taken for slots left
        out."""
        period = self.cell.steps * self.step
        while abs((wait + period / 2) % period - period / 2) < min(0.6 * self.step, 0.3 * period):
            wait += 0.37 * self.step
        return wait

    def _walk(self) -> None:
        self.step *= math.exp(self.rng.gauss(0, self.habits.walk))

    def _tempo(self, factor: float) -> None:
        rate = min(20.5, max(2.8, factor / self.step))
        self.step = 1.0 / rate

    # -------------------------------------------------------------------------------- single sounds

    def _jitter(self) -> float:
        spread = max(0.003, self.habits.scatter * self.step)
        if self.rng.random() < self.habits.heavy:
            return self.rng.choice((-1, 1)) * spread * self.rng.uniform(2.0, 3.0)
        return self.rng.gauss(0, spread)

    def _slot(self, index: int, k: int, faultless: bool) -> None:
        rng, habits, cell = self.rng, self.habits, self.cell
        slot = cell.slots[k]
        t = self.clock + self._jitter() + self.limp[k] * self.step
        steps = (cell.slots[k + 1].start if k + 1 < len(cell.slots) else cell.steps) - slot.start
        length = max(0.034, min(slot.length, steps) * self.step * rng.uniform(0.75, 1.0))
        velocity = self._velocity(slot.string, 1.0 if slot.picked else rng.uniform(0.35, 0.9))
        sound = Sound(
            t, slot.string, slot.pitch, velocity, length, {f"{k + 1} hit"}, "", index, k + 1
        )
        sound.legato = not slot.picked
        chance = 1.0 if faultless else rng.random()
        for fault in ("drop", "wrong", "other_string", "misplaced", "soft", "muffed"):
            chance -= getattr(habits, fault)
            if chance < 0:
                if not getattr(self, "_" + fault)(sound):
                    return
                break
        if not faultless and rng.random() < habits.clip:
            self._clip(k, t)
        if not faultless and rng.random() < habits.ring:
            self._ring(t)
        self.sounds.append(sound)
        self.held[sound.string] = sound.pitch

    def _velocity(self, string: int, share: float) -> int:
        return max(
            32, min(127, round(self.loud[string] * share * math.exp(self.rng.gauss(0, 0.12))))
        )

    def _drop(self, sound: Sound) -> bool:
        return False

    def _wrong(self, sound: Sound) -> bool:
        lowest = self.cell.tuning[sound.string - 1] + self.cell.capo
        by = self.rng.choice([by for by in (-3, -2, -1, 1, 2, 3, 4) if sound.pitch + by >= lowest])
        sound.pitch += by
        sound.ok, sound.why, sound.legato = {f"{sound.slot} wrong"}, f"wrong fret {by:+d}", False
        return True

    def _other_string(self, sound: Sound) -> bool:
        """The pitch in another place of the neck."""
        cell = self.cell
        options = [
            string
            for string, pitch in enumerate(cell.tuning, 1)
            if string != sound.string
            and 0 <= sound.pitch - pitch - cell.capo <= 22
            and abs(string - sound.string) <= 2
        ]
        if options:
            sound.string = self.rng.choice(options)
            sound.ok, sound.why, sound.legato = (
                {f"{sound.slot} wrong"},
                "pitch on another string",
                False,
            )
        return True

    def _misplaced(self, sound: Sound) -> bool:
        """The pick meets the neighbouring string instead, at whatever pitch it has."""
        cell = self.cell
        string = sound.string + self.rng.choice((-1, 1))
        if not 1 <= string <= len(cell.tuning):
            return True
        lowest = cell.tuning[string - 1] + cell.capo
        pitch = self.rng.choice(
            (lowest, self.held.get(string, lowest), lowest + self.rng.randint(0, 12))
        )
        if pitch == sound.pitch or (string, pitch) in self._around(sound.slot or 1, 2):
            return True
        sound.string, sound.pitch, sound.slot, sound.rep, sound.legato = (
            string,
            pitch,
            None,
            None,
            False,
        )
        sound.ok = {"noise"} if string in cell.quiet else {"noise", "stray"}
        sound.why = "misplaced pick"
        return True

    def _around(self, number: int, reach: int) -> set[tuple[int, int]]:
        places = letters(self.cell)
        return {places[(number - 1 + by) % len(places)] for by in range(-reach, reach + 1)}

    def _soft(self, sound: Sound) -> bool:
        sound.velocity, sound.why = self.rng.randint(18, 34), "soft"
        return True

    def _muffed(self, sound: Sound) -> bool:
        sound.muffed, sound.why, sound.legato = True, "muffed under the gate", False
        return True

    def _clip(self, k: int, t: float) -> None:
        """A string brushed on the way to slot index k: between the strings, or one passed over
        beyond."""
        rng, cell = self.rng, self.cell
        here, there = cell.slots[k - 1].string, cell.slots[k].string
        between = list(range(min(here, there) + 1, max(here, there)))
        passed = bool(between) and rng.random() < 0.8
        # the string beyond: the hand does not pass over it, so only a quiet one is surely noise
        if not passed:
            beyond = (there - 1, there + 1)
            between = [
                string
                for string in beyond
                if 1 <= string <= len(cell.tuning) and string not in (here, there)
            ]
        if not between:
            return
        string = rng.choice(between)
        lowest = cell.tuning[string - 1] + cell.capo
        pitch = self.held.get(string, lowest) if rng.random() < 0.7 else lowest
        at = t - (
            rng.uniform(0.002, 0.02) if rng.random() < 0.5 else rng.uniform(0.1, 0.7) * self.step
        )
        kinds = {"noise"} if string in cell.quiet or passed else {"noise", "stray"}
        self.sounds.append(
            Sound(at, string, pitch, rng.randint(20, 50), rng.uniform(0.035, 0.09), kinds, "clip")
        )

    def _ring(self, t: float) -> None:
        rng, cell = self.rng, self.cell
        string = rng.randint(1, len(cell.tuning))
        pitch = cell.tuning[string - 1] + cell.capo
        at = t + rng.uniform(0.05, 0.9) * self.step
        kinds = {"noise"} if string in cell.quiet else {"noise", "stray"}
        self.sounds.append(
            Sound(
                at, string, pitch, rng.randint(20, 60), rng.uniform(0.1, 0.8), kinds, "open string"
            )
        )

    def _noodle(self) -> None:
        """Something else for a while, away from the figure's own notes, with a breath before and
        after."""
        rng, cell = self.rng, self.cell
        places = set(letters(cell))
        for _ in range(rng.randint(2, 14)):
            string = rng.randint(1, len(cell.tuning))
            pitch = cell.tuning[string - 1] + cell.capo + rng.randint(0, 15)
            wait = rng.uniform(0.08, 0.4)
            if (string, pitch) not in places:
                kinds = {"noise"} if string in cell.quiet else {"stray"}
                if string not in cell.quiet and string not in cell.strings:
                    kinds = {"noise", "stray"}
                length = wait * rng.uniform(0.5, 0.9)
                self.sounds.append(
                    Sound(self.clock, string, pitch, rng.randint(40, 100), length, kinds, "noodle")
                )
            self.clock += wait
        self.clock += self._odd_wait(max(0.5, 1.3 * cell.grid * self.step) + rng.uniform(0, 1.5))
        self.safe = 3

    # --------------------------------------------------------------------------------------- doubts

    def _doubts(self) -> None:
        """Widen the labels where an extra lies so near a slot that nobody could tell which it
        was."""
        slots = {slot.number: slot for slot in self.cell.slots}
        played = {(sound.rep, sound.slot): sound for sound in self.sounds if sound.slot is not None}
        for extra in self.sounds:
            if extra.slot is not None:
                continue
            for index, rep in enumerate(self.reps):
                for number, due in rep.due.items():
                    slot = slots[number]
                    gap = abs(extra.t - due)
                    if gap > max(self.step, 0.1):
                        continue
                    string, pitch = extra.string == slot.string, extra.pitch == slot.pitch
                    heard = played.get((index, number))
                    if heard is None or heard.muffed:
                        if (string or pitch) and gap < 0.8 * self.step:
                            extra.ok.add(f"{number} hit" if string and pitch else f"{number} wrong")
                            rep.doubtful = True
                    elif string and pitch and abs(extra.t - heard.t) < 0.07:
                        extra.ok |= {"artefact"} | heard.ok
                        heard.ok |= {"artefact"} | extra.ok
                        rep.doubtful = True
                    elif (
                        string
                        and pitch
                        and gap < 0.5 * self.step
                        and abs(heard.t - due) > 0.5 * gap
                    ):
                        extra.ok |= heard.ok
                        heard.ok |= extra.ok
                        rep.doubtful = True
