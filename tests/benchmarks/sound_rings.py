"""A second, independent simulation of strings that the hand passes over, and what perfect knowledge
could tell of them.

Built from how strings are left and ring, not from the kinds: a finger lets go, a note rings on and
dies by itself, a hand passes at some moment and stops what still sounds; the converter adds its own
time to every note-off. Natural ends fall into crossings as chance has it. Other families than in
``sound_strings.py``: gamma delays, lognormal or Weibull ring lengths, Student-like slips, velocity
curves that compress or come in steps.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log
from random import Random

from livecheck.core.cell import Cell, Slot, make_cell
from livecheck.core.events import Midi, RepDone, Repetition
from livecheck.core.pitch import STANDARD_TUNING, period_s
from livecheck.core.rig import Delay, Rig
from livecheck.measures.noise.crossings import Crossing, crossings
from livecheck.measures.noise.passed_over import BRUSHED, CUT_OFF, SILENT, STRUCK
from livecheck.session import Session

UNSURE_S = 0.030
"""A cut that shortens a note by less than this is no different from its own end: such passages are
not scored."""
DRAWS = 3000
"""Draws by which the chance of a cut is worked out with perfect knowledge."""

Key = tuple[int, int, int]  # repetition, slot before, string


@dataclass(slots=True)
class Rung:
    """What was judged; the truth by (repetition, slot before, string), None where no listener can
    be asked; and for each passage behind which a note-off came in question the chance that the
    string was cut, all distributions known.
    """

    reps: list[Repetition]
    truth: dict[Key, str | None]
    cut_chance: dict[Key, float]


@dataclass(slots=True)
class _Ring:
    on_s: float
    key: int
    velocity: int
    end_s: float  # when the string stops
    off_s: float  # when the note-off is due
    slot: int | None = None


def rung(seed: int, wide: int = 0) -> Rung:
    """One take."""
    return _Hands(Random(f"rings {seed} {wide}"), wide).play()


def curve(rng: Random) -> Callable[[float], int]:
    """A converter's velocity curve: from strength (1 is a usual stroke) to velocity."""
    kind = rng.choice(("linear", "linear", "compressed", "steps", "hard", "fixed"))
    top = rng.uniform(75, 105)

    def velocity(strength: float) -> int:
        value = top * max(0.02, strength)
        if kind == "compressed":
            value = 127 * (value / 127) ** 0.45
        elif kind == "hard":
            value = 127 * (value / 127) ** 1.6
        elif kind == "steps":
            value = 16 * round(value / 16)
        elif kind == "fixed":
            value = 100
        return max(13, min(127, round(value)))

    return velocity


class _Hands:
    def __init__(self, rng: Random, wide: int) -> None:
        self.rng = rng
        self.fewest = 10 - 2 * wide  # repetitions
        self.cell = _cell(rng)
        self.ways = {way.before: way for way in crossings(self.cell)}
        self.step = 1.0 / rng.uniform(3.5, 10.0 + 3.0 * wide)
        strings = range(1, 7)
        self.fixed_s, self.periods = rng.uniform(0.002, 0.008), rng.uniform(1.0, 2.2)
        lag = rng.uniform(0.005 - 0.001 * wide, 0.060 + 0.006 * wide)  # the converter's note-off
        self.lag = {string: max(0.003, lag + rng.gauss(0.0, 0.004)) for string in strings}
        self.lag_shape, self.lag_scale = rng.uniform(1.0, 3.0), rng.uniform(0.001, 0.004)
        # in steps after leaving
        self.lift, self.lift_sd = rng.uniform(-0.35, 0.15), rng.uniform(0.03, 0.15)
        self.ring_share = {slot.number: self._ring_share() for slot in self.cell.slots}
        self.ring_s = exp(rng.uniform(log(0.25 - 0.07 * wide), log(4.0 + 2.0 * wide)))
        self.ring_shape, self.weibull = rng.uniform(0.3, 0.8), rng.random() < 0.4
        self.cut = {
            string: rng.choice((0.0, rng.uniform(0.02, 0.5 + 0.1 * wide))) for string in strings
        }
        self.brush = {string: rng.choice((0.0, rng.uniform(0.02, 0.25))) for string in strings}
        self.strike = {string: rng.choice((0.0, rng.uniform(0.02, 0.15))) for string in strings}
        # Beta: when in a crossing the hand passes
        self.when = rng.uniform(2.0, 6.0), rng.uniform(1.5, 3.0)
        self.curve = curve(rng)
        self.gain = {string: exp(rng.gauss(0.0, 0.15)) for string in strings}
        self.soft, self.short_s = rng.uniform(0.15, 0.45), rng.uniform(0.015, 0.045)
        self.hard, self.long_s = rng.uniform(0.75, 1.05), rng.uniform(0.13, 0.4)
        self.rings: dict[int, list[_Ring]] = {string: [] for string in strings}
        self.truth: dict[Key, str | None] = {}
        self.chances: dict[Key, float] = {}

    def _ring_share(self) -> float:
        drawn = self.rng.random()
        return (
            self.rng.uniform(0.8, 1.0)
            if drawn < 0.3
            else self.rng.uniform(0.05, 0.4)
            if drawn < 0.7
            else 0.0
        )

    # -------------------------------------------------------------------------------------- playing

    def play(self) -> Rung:
        rng, cell = self.rng, self.cell
        clock, reps = 1.0, rng.randint(self.fewest, 60)
        onsets = [
            (
                rep,
                slot,
                clock
                + ((rep - 1) * cell.steps + slot.start) * self.step
                + rng.gauss(0.0, 0.025 * self.step),
            )
            for rep in range(1, reps + 1)
            for slot in cell.slots
        ]
        for at, (rep, slot, on_s) in enumerate(onsets):
            last = at + 1 == len(onsets)
            next_s = on_s + self.step if last else onsets[at + 1][2]
            later = cell.slots[slot.number % len(cell.slots)]
            self._slot(slot, later, on_s, next_s)
            if slot.number in self.ways and not last:
                self._cross(rep, self.ways[slot.number], on_s, next_s)
        records = self._send()
        rig = Rig(delay=Delay(1000 * self.fixed_s, self.periods))
        told = [
            one.repetition
            for one in Session(cell, rig).feed_all(records)
            if isinstance(one, RepDone)
        ]
        return Rung(told, self.truth, self.chances)

    def _slot(self, slot: Slot, later: Slot, on_s: float, next_s: float) -> None:
        self._end(slot.string, on_s)
        end_s = self._natural(slot, later, on_s, next_s)
        self._sound(
            slot.string, on_s, slot.pitch, self.rng.gammavariate(60, 1 / 60), end_s, slot.number
        )

    def _natural(self, slot: Slot, later: Slot, on_s: float, next_s: float) -> float:
        """When a slot's note stops if nothing else stops it."""
        rng = self.rng
        if later.string == slot.string:
            return next_s
        if rng.random() < self.ring_share[slot.number]:
            long_s = self.ring_s * exp(rng.gauss(0.0, self.ring_shape))
            if self.weibull:
                long_s = rng.weibullvariate(1.2 * self.ring_s, 1.0 + self.ring_shape)
            return next_s + max(0.01, long_s)
        slip = 3.0 if rng.random() < 0.05 else 1.0
        return max(
            on_s + 0.35 * (next_s - on_s),
            next_s + self.step * rng.gauss(self.lift, self.lift_sd * slip),
        )

    def _sound(
        self, string: int, on_s: float, key: int, strength: float, end_s: float, slot: int | None
    ) -> None:
        velocity = self.curve(strength * self.gain[string])
        self.rings[string].append(
            _Ring(on_s, key, velocity, end_s, end_s + self._late(string), slot)
        )

    def _late(self, string: int) -> float:
        return self.lag[string] + self.rng.gammavariate(self.lag_shape, self.lag_scale)

    def _end(self, string: int, at_s: float) -> None:
        for ring in self.rings[string][-1:]:
            if ring.end_s > at_s - 0.001:
                ring.end_s = at_s - 0.001
                ring.off_s = at_s - 0.001

    def _cross(self, rep: int, way: Crossing, begin_s: float, end_s: float) -> None:
        for string in way.over:
            self.truth[rep, way.before, string] = self._pass(rep, way, string, begin_s, end_s)

    def _pass(
        self, rep: int, way: Crossing, string: int, begin_s: float, end_s: float
    ) -> str | None:
        rng = self.rng
        when_s = begin_s + (end_s - begin_s) * rng.betavariate(*self.when)
        drawn = rng.random()
        if drawn < self.brush[string] + self.strike[string]:
            full = drawn >= self.brush[string]
            self._end(string, when_s)
            if full:
                strength, length = (
                    rng.gammavariate(20, self.hard / 20),
                    rng.gammavariate(5, self.long_s / 5),
                )
            else:
                strength, length = (
                    rng.gammavariate(8, self.soft / 8),
                    rng.gammavariate(6, self.short_s / 6),
                )
            key = self.cell.tuning[string - 1] + rng.choice((0, 0, 5, 7, 12))
            self._sound(string, when_s, key, strength, when_s + max(0.02, length), None)
            own = self.rings[string][-1]
            own.off_s = max(own.off_s, own.on_s + 0.030)
            return STRUCK if full else BRUSHED
        ring = self.rings[string][-1] if self.rings[string] else None
        kind: str | None = SILENT
        natural_s = ring.end_s if ring is not None else 0.0
        if ring is not None and natural_s > when_s and rng.random() < self.cut[string]:
            ring.end_s, ring.off_s = when_s, when_s + self._late(string)
            kind = CUT_OFF if natural_s > when_s + UNSURE_S else None
        if (
            ring is not None
            and ring.slot is not None
            and begin_s < ring.off_s < end_s + 0.12
            and natural_s > begin_s
        ):
            self.chances[rep, way.before, string] = self._cut_chance(
                ring, way, string, begin_s, end_s
            )
        return kind

    # ------------------------------------------------------------------ what could be known at best

    def _cut_chance(
        self, ring: _Ring, way: Crossing, string: int, begin_s: float, end_s: float
    ) -> float:
        """The chance of a cut, given when the note-off comes and every distribution, by drawing.

        Notes that were to be damped by their own string's next stroke are not drawn anew: they end
        there.
        """
        assert ring.slot is not None
        slot = self.cell.slots[ring.slot - 1]
        later = self.cell.slots[slot.number % len(self.cell.slots)]
        left_s = ring.on_s + slot.length * self.step
        if way.before == later.number:
            left_s = begin_s
        state, near, cut, all_of_them = self.rng.getstate(), 0.003, 1e-3, 2e-3
        for _ in range(DRAWS):
            natural_s = self._natural(slot, later, ring.on_s, left_s)
            when_s = begin_s + (end_s - begin_s) * self.rng.betavariate(*self.when)
            is_cut = natural_s > when_s and self.rng.random() < self.cut[string]
            off_s = (when_s if is_cut else natural_s) + self._late(string)
            if abs(off_s - ring.off_s) <= near:
                all_of_them += 1
                cut += is_cut and natural_s > when_s + UNSURE_S
        self.rng.setstate(state)
        return cut / all_of_them

    def _send(self) -> list[Midi]:
        records = []
        for string, own in self.rings.items():
            own.sort(key=lambda ring: ring.on_s)
            for ring, later in zip(own, [*own[1:], None]):
                on_s = self._arrives(ring) + self.rng.gauss(0.0, 0.0008)
                off_s = max(on_s + 0.027, ring.off_s)
                if later is not None:
                    off_s = min(off_s, self._arrives(later) - 0.0025)
                records.append(Midi(on_s, bytes((0x90 | string - 1, ring.key, ring.velocity))))
                records.append(Midi(off_s, bytes((0x80 | string - 1, ring.key, 64))))
        return sorted(records)

    def _arrives(self, ring: _Ring) -> float:
        return ring.on_s + self.fixed_s + self.periods * period_s(ring.key)


def _cell(rng: Random) -> Cell:
    """Slots that skip strings, going back over strings of their own."""
    while True:
        count = rng.randint(3, 10)
        base, places, string = rng.randint(1, 12), list[tuple[int, int]](), rng.randint(1, 6)
        while len(places) < count:
            for _ in range(rng.choice((1, 1, 2, 3))):
                places.append((string, base + rng.randint(0, 4)))
            string = min(max(string + rng.choice((-3, -2, -1, 1, 2, 3)), 1), 6)
        places = places[:count]
        if len({*places}) < 3:
            continue
        cell = make_cell("rings", places, grid=4, tuning=STANDARD_TUNING)
        over = {string for way in crossings(cell) for string in way.over}
        if over & set(cell.strings):
            return cell
