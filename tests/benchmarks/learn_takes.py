"""Figures played a few times slowly, for the benchmark of learning: by the built-in player, and by
a second simulation that shares nothing with it but the bytes of MIDI.

Every take is given with its truth: (string, pitch) of each slot, and steps to the next one's stroke
without a common factor.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import reduce
from math import exp, gcd
from random import Random
from typing import Any

from livecheck.core.cell import Cell
from livecheck.core.events import Midi
from livecheck.player import pulse
from livecheck.player.cells import is_its_own_rotation, random_cell
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import perform

OPEN = (64, 59, 55, 50, 45, 40)
Slots = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """A take, and what was meant by it. ``reps``: complete ones; None where nothing was meant."""

    records: list[Midi]
    tuning: tuple[int, ...]
    capo: int
    first_channel: int
    slots: Slots | None
    steps: tuple[int, ...]
    reps: int


def lowest(steps: list[int]) -> tuple[int, ...]:
    common = reduce(gcd, steps)
    return tuple(one // common for one in steps)


def steps_of(cell: Cell) -> tuple[int, ...]:
    starts = [slot.start for slot in cell.slots]
    after = [*starts[1:], cell.steps + starts[0]]
    return lowest([next_start - start for start, next_start in zip(starts, after)])


# ------------------------------------------------------------------------------ the built-in player


def by_player(seed: int, faults: bool) -> Shown:
    """3 to 5 repetitions of a random cell, 2 to 6 grid steps a second, through the converter."""
    rng = Random(f"learn {seed} {faults}")
    while True:
        cell = random_cell(rng, least_slots=3, legato=rng.choice((0.0, 0.0, 0.2)))
        if len(cell.tuning) == 6 and not is_its_own_rotation(cell):
            break
    end = rng.choice(("complete", "complete", "first"))
    habits = Habits(
        notes_per_s=rng.uniform(2.0, 6.0),
        reps=rng.randint(3, 5) + (end == "first"),
        scatter_pct=rng.uniform(1.5, 4.0),
        timekeeper=rng.uniform(0.2, 1.2),
        gallop_pct=rng.uniform(0.0, 3.0),
        end=end,
        **(_habits(rng, len(cell.slots)) if faults else {"walk_pct": rng.uniform(0.1, 0.4)}),
    )
    how = Conversion(
        fixed_ms=rng.uniform(1.0, 8.0),
        periods=rng.uniform(1.0, 2.5),
        jitter_ms=rng.uniform(0.2, 1.5),
        overlapped=rng.choice((0.0, 0.3, 1.0)),
        serial=rng.random() < 0.6,
        **_conversion(rng) if faults else {},
    )
    slowest, pulse.SLOWEST = pulse.SLOWEST, 1.0  # slower than practice is meant
    try:
        take = perform(cell, habits, how, rng)
    finally:
        pulse.SLOWEST = slowest
    truth = tuple((slot.string, slot.pitch) for slot in cell.slots)
    reps = sum(rep.complete for rep in take.truth.reps)
    return Shown(take.records, cell.tuning, cell.capo, 1, truth, steps_of(cell), reps)


def _habits(rng: Random, slots: int) -> dict[str, Any]:
    """About one to three faults in a take."""
    one = 1.0 / (4.0 * slots)
    return {
        "dropped": rng.choice((0.0, 0.7, 1.0)) * one,
        "wrong_fret": rng.choice((0.0, 0.7, 1.0)) * one,
        "brushed": rng.choice((0.0, 0.5)) * one,
        "ringing": rng.choice((0.0, 0.5)) * one,
        "break_off": rng.choice((0.0, 0.1, 0.25)),
        "stumble": rng.choice((0.0, 0.1)),
        "walk_pct": rng.uniform(0.2, 1.0),
        "noodle_before": rng.choice((0, 0, 0, 3)),
    }


def _conversion(rng: Random) -> dict[str, Any]:
    return {
        "ghost": rng.choice((0.0, 0.02)),
        "double": rng.choice((0.0, 0.02)),
        "octave_held": rng.choice((0.0, 0.01)),
        "octave_corrected": rng.choice((0.0, 0.02)),
    }


# ---------------------------------------------------------------------------- the second simulation


def _figure(rng: Random) -> tuple[list[tuple[int, int]], list[int]]:
    """(string, fret) and steps to the next stroke, never a figure played several times over."""
    while True:
        count = rng.randint(3, 16)
        low = rng.choice((0, rng.randint(1, 12)))
        kind = rng.choice(("one string", "pairs", "run", "any", "motif", "pedal", "arpeggio"))
        string = rng.randint(1, 6)
        if kind == "one string":
            notes = [(string, low + rng.choice((0, 1, 2, 3, 5))) for _ in range(count)]
        elif kind == "pairs":
            two = rng.sample(range(1, 7), 2)
            notes = [(rng.choice(two), low + rng.randint(0, 4)) for _ in range(count)]
        elif kind == "run":
            strings = [string + at // 3 for at in range(count)]
            notes = [((one - 1) % 6 + 1, low + rng.choice((0, 1, 2, 3, 4))) for one in strings]
        elif kind == "motif":
            part = [(string, low + rng.randint(0, 4)) for _ in range(rng.randint(2, 4))]
            notes = [note for _ in range(count) for note in part][:count]
            for _ in range(rng.randint(1, 2)):
                notes[rng.randrange(count)] = (rng.randint(1, 6), low + rng.randint(0, 4))
        elif kind == "pedal":
            pedal = (string, low)
            others = [(rng.randint(1, 6), low + rng.randint(0, 4)) for _ in range(count)]
            notes = [pedal if at % 2 else other for at, other in enumerate(others)]
        elif kind == "arpeggio":
            shape = [low + rng.randint(0, 3) for _ in range(6)]
            places = [*range(string, 7), *range(5, 0, -1)] * 4
            notes = [(one, shape[one - 1]) for one in places[:count]]
        else:
            notes = [(rng.randint(1, 6), low + rng.randint(0, 4)) for _ in range(count)]
        style = rng.choice(("even", "even", "last long", "some", "gallop", "rests"))
        steps = [1] * count
        if style == "last long":
            steps[-1] = rng.choice((2, 3, 4, 5))
        elif style == "some":
            steps = [rng.choice((1, 1, 1, 2, 2, 3)) for _ in range(count)]
        elif style == "gallop":
            steps = [2 if at % 3 == 0 else 1 for at in range(count)]
        elif style == "rests":
            for at in range(count):
                if rng.random() < 0.2:
                    steps[at] += rng.choice((1, 2, 3))
        whole = list(zip(notes, steps))
        if all(whole[by:] + whole[:by] != whole for by in range(1, count)):
            return notes, steps


class _Hand:
    """Writes notes as they would come from six channels."""

    def __init__(self, rng: Random) -> None:
        self.rng = rng
        self.fixed_s = rng.uniform(0.002, 0.01)
        self.low_s = rng.uniform(0.0, 0.02)  # the lowest string comes so much later
        self.loud = [rng.randint(60, 110) for _ in range(6)]
        # begins, ends, channel, key, velocity
        self.events: list[tuple[float, float, int, int, int]] = []

    def note(self, t_s: float, string: int, key: int, length_s: float, loud: float = 1.0) -> None:
        rng = self.rng
        key = min(max(key, 0), 127)
        late_s = self.fixed_s + self.low_s * (string - 1) / 5 + abs(rng.gauss(0.0, 0.001))
        velocity = int(min(127, max(1, self.loud[string - 1] * loud * exp(rng.gauss(0.0, 0.12)))))
        channel = string - 1
        on_s = t_s + late_s
        self.events.append((on_s, on_s + max(length_s, 0.012), channel, key, velocity))

    def records(self) -> list[Midi]:
        """One voice a channel: a note still sounding ends when the next one begins."""
        out: list[Midi] = []
        for channel in range(6):
            own = sorted(event for event in self.events if event[2] == channel)
            after = [*(event[0] for event in own[1:]), 1e9]
            for (on_s, off_s, _, key, velocity), next_s in zip(own, after):
                out.append(Midi(on_s, bytes((0x90 | channel, key, velocity))))
                out.append(Midi(min(off_s, next_s - 1e-4), bytes((0x80 | channel, key, 64))))
        return sorted(out, key=lambda record: record.t_s)


def by_other(seed: int, faults: bool) -> Shown:
    """The second simulation: a figure, a wandering tempo, and faults planted by hand."""
    rng = Random(f"other learn {seed} {faults}")
    notes, steps = _figure(rng)
    reps = rng.randint(3, 5)
    hand = _Hand(rng)
    plan: set[str] = set()
    if faults:
        every = ("missed", "wrong", "ghost", "restart", "drift", "double", "octave", "swapped")
        plan = set(rng.sample(every, rng.randint(1, 3)))
    where = {fault: (rng.randrange(reps), rng.randrange(len(notes))) for fault in plan}
    if where.get("missed") == (0, 0):
        where["missed"] = (1, 0)  # a figure whose first note fails is a figure begun later
    if where.get("wrong") == (0, 0):
        where["wrong"] = (reps - 1, 0)
    step_s = 1.0 / rng.uniform(2.0, 6.0)
    uneven = rng.uniform(0.01, 0.05)
    drift = rng.choice((-1, 1)) * rng.uniform(0.1, 0.3) if "drift" in plan else 0.0
    total = reps * len(notes)
    held = rng.choice((0.5, 0.9, 1.05))
    t_s, played, done = 0.5 + rng.random(), 0, 0
    rep = 0
    while rep < reps:
        broken = "restart" in plan and where["restart"][0] == rep
        for at, ((string, fret), length) in enumerate(zip(notes, steps)):
            local_s = step_s * exp(drift * (played / total - 0.5))
            key = OPEN[string - 1] + fret
            here = (rep, at)
            sound_s = t_s + rng.gauss(0.0, 0.6 * uneven) * local_s
            for_s = held * length * local_s
            if where.get("wrong") == here:
                key += rng.choice((-2, -1, 1, 2)) if fret > 1 else rng.choice((1, 2))
            if where.get("octave") == here:
                hand.note(sound_s, string, key + rng.choice((12, 12, 19)), for_s)
            elif where.get("missed") != here:
                hand.note(sound_s, string, key, for_s)
            if where.get("swapped") == here:  # the pick brushes a neighbour, audibly
                other = string + 1 if string < 6 else 5
                hand.note(sound_s + 0.3 * local_s, other, OPEN[other - 1] + fret, 0.1, 0.7)
            if where.get("ghost") == here:
                other = rng.choice([one for one in range(1, 7) if one != string])
                ghost_s = sound_s + rng.uniform(0.1, 0.9) * local_s
                pitch = OPEN[other - 1] + rng.choice((0, 0, fret, 12))
                hand.note(ghost_s, other, pitch, rng.uniform(0.03, 0.12), rng.uniform(0.15, 0.5))
            if where.get("double") == here:
                hand.note(sound_s + rng.uniform(0.02, 0.045), string, key, for_s)
            t_s += local_s * length * exp(rng.gauss(0.0, 0.8 * uneven))
            played += 1
            if broken and at == where["restart"][1]:
                t_s += rng.uniform(0.4, 2.5)
                where["restart"] = (-1, -1)
                done -= at < len(notes) - 1
                rep -= at < len(notes) - 1  # it is played again from its beginning
                break
        rep += 1
        done += 1
    if rng.random() < 0.3:  # play lands on the first note
        hand.note(t_s, notes[0][0], OPEN[notes[0][0] - 1] + notes[0][1], 0.6)
    truth = tuple((string, OPEN[string - 1] + fret) for string, fret in notes)
    return Shown(hand.records(), OPEN, 0, 1, truth, lowest(steps), done)


def unrelated(seed: int, faults: bool) -> Shown:
    """Play without a figure: a scale run, scattered notes, or a figure played once."""
    rng = Random(f"unrelated {seed}")
    hand = _Hand(rng)
    t_s, step_s = 1.0, 1.0 / rng.uniform(2.0, 6.0)
    kind = rng.choice(("scale", "walk", "any", "once"))
    string, fret = rng.randint(1, 6), rng.randint(0, 7)
    for at in range(rng.randint(3, 50) if kind != "once" else rng.randint(3, 16)):
        if kind == "scale":
            string, fret = 6 - (at // 3) % 6, (0, 2, 3)[at % 3] + (at // 18)
        elif kind == "walk":
            fret = min(max(fret + rng.choice((-2, -1, 0, 1, 2)), 0), 15)
            string = min(max(string + rng.choice((-1, 0, 0, 1)), 1), 6)
        else:
            string, fret = rng.randint(1, 6), rng.randint(0, 12)
        hand.note(t_s, string, OPEN[string - 1] + fret, step_s)
        t_s += step_s * rng.choice((1, 1, 1, 2)) * exp(rng.gauss(0.0, 0.04))
    return Shown(hand.records(), OPEN, 0, 1, None, (), 0)


KINDS: dict[str, tuple[Callable[[int, bool], Shown], bool]] = {
    "player, clean": (by_player, False),
    "player, faults": (by_player, True),
    "other, clean": (by_other, False),
    "other, faults": (by_other, True),
    "unrelated": (unrelated, False),
}
