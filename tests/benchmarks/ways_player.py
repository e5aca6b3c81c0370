"""Weeks of practice on one cell by a simulated player who has one way of playing it, or several.

Shares nothing with the built-in player but the cell and the messages. A way is a set of lasting
differences: how hard and how late a note is, whether it is picked, which strings are touched, how
long a string rings on, when the next repetition begins. Everything else that can move is planted
beside it or instead of it: courses over the tempo, days, warm-up, wear, new strings, another rig,
faults, the picking of an odd cell that turns round, restarts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import exp, log

import numpy as np

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Midi, Record, Stop, UseCells, UseRig
from livecheck.core.picking import turns_round
from livecheck.core.rig import Rig


@dataclass(slots=True)
class Trait:
    """One thing in which a way differs from the first: ``what`` as the command tells it, ``by`` in
    ms, in log velocity, in ms of ringing on, or the chance of a touch in this way."""

    what: str
    slot: int | None
    string: int | None
    by: float


@dataclass(slots=True)
class Planted:
    """A practice and what is true of it. ``way``, ``bpm``, ``chances``: by session a list, one
    entry a repetition played; ``chances``: of a clean repetition in each way."""

    cell: Cell
    sessions: list[list[Record]]
    traits: list[list[Trait]]  # of the second and later ways
    starts: list[list[float]] = field(default_factory=list)
    way: list[list[int]] = field(default_factory=list)
    bpm: list[list[float]] = field(default_factory=list)
    chances: list[list[tuple[float, ...]]] = field(default_factory=list)
    note: str = ""
    stay: float = 0.0


_STRINGS = (64, 59, 55, 50, 45, 40)


def draw_cell(rng: np.random.Generator) -> Cell:
    """Four to eight notes, mostly two on a string, over two to four strings, some of them apart."""
    while True:
        size = int(rng.integers(4, 10))
        places: list[tuple[int, int]] = []
        strings = list(rng.choice([1, 2, 3, 4, 5, 6], int(rng.integers(2, 5)), replace=False))
        at = 0
        fret = int(rng.integers(5, 13))
        while len(places) < size:
            on = int(rng.integers(1, 4)) if rng.random() < 0.4 else 2
            last = -1
            for _ in range(min(on, size - len(places))):
                this = fret + int(rng.integers(0, 5))
                while this == last:
                    this = fret + int(rng.integers(0, 5))
                places.append((int(strings[at % len(strings)]), this))
                last = this
            at += 1
        if any(a == b for a, b in zip(places, places[1:] + places[:1])):
            continue
        half = len(places) // 2
        if len(places) % 2 == 0 and places[:half] == places[half:]:
            continue
        written = rng.random() < 0.5
        strokes = ["down" if i % 2 == 0 else "up" for i in range(size)]
        some = [(s, f, stroke if written else None) for (s, f), stroke in zip(places, strokes)]
        cell = make_cell("figure", some, tempo_bpm=100)
        if len(cell.strings) > 1:
            return cell


def passed_strings(cell: Cell) -> list[int]:
    """Strings that some way from note to note passes over."""
    found: set[int] = set()
    for slot, after in zip(cell.slots, (*cell.slots[1:], cell.slots[0])):
        low, high = sorted((slot.string, after.string))
        found |= set(range(low + 1, high))
    return sorted(found)


def hammered(cell: Cell, slot: int) -> bool:
    """Whether a note can be hammered or pulled: the note before is on its string, at another
    fret."""
    this, before = cell.slots[slot - 1], cell.slots[slot - 2]
    return this.string == before.string and this.fret != before.fret


def draw_traits(rng: np.random.Generator, cell: Cell, many: int, small: float = 1.0) -> list[Trait]:
    """So many things that differ, each at a place of its own. small: the share of their usual
    size."""
    slots = [slot.number for slot in cell.slots]
    crossing = [
        s.number
        for s, after in zip(cell.slots, (*cell.slots[1:], cell.slots[0]))
        if s.string != after.string
    ]
    touched = passed_strings(cell) or list(cell.quiet)
    found: list[Trait] = []
    while len(found) < many:
        what = str(rng.choice(["attack", "timing", "loudness", "noise", "ring", "seam"]))
        if what == "attack":
            some = [n for n in slots if hammered(cell, n)]
            if not some:
                continue
            one = Trait(what, int(rng.choice(some)), None, log(rng.uniform(0.5, 0.68)))
        elif what == "timing":
            sign = rng.choice([-1, 1])
            one = Trait(
                what, int(rng.choice(slots)), None, float(sign * rng.uniform(6, 16) * small)
            )
        elif what == "loudness":
            sign = rng.choice([-1, 1])
            by = float(sign * rng.uniform(0.14, 0.32) * small)
            one = Trait(what, int(rng.choice(slots)), None, by)
        elif what == "noise":
            one = Trait(what, None, int(rng.choice(touched)), rng.uniform(0.4, 0.95) * small)
        elif what == "ring":
            one = Trait(what, int(rng.choice(crossing)), None, float(rng.uniform(30, 90) * small))
        else:
            sign = rng.choice([-1, 1])
            one = Trait(what, None, None, float(sign * rng.uniform(10, 25) * small))
        fresh = all((one.what, one.slot, one.string) != (t.what, t.slot, t.string) for t in found)
        if fresh and (one.slot is None or all(one.slot != t.slot for t in found)):
            found.append(one)
    return found


def _logistic(value: float) -> float:
    return 1.0 / (1.0 + exp(-min(max(value, -40.0), 40.0)))


class Player:
    """Everything about one player: courses, scatter, days, and the ways."""

    def __init__(
        self,
        rng: np.random.Generator,
        cell: Cell,
        traits: Sequence[Sequence[Trait]],
        extras: frozenset[str],
    ) -> None:
        self.rng, self.cell, self.traits, self.extras = rng, cell, traits, extras
        n = len(cell.slots)
        self.ways = len(traits) + 1
        self.scatter = rng.uniform(2.5, 6.0)  # ms
        self.faster = rng.uniform(0.0, 0.8)  # how much less it scatters when fast
        self.soft = rng.uniform(0.05, 0.11)
        self.habit = rng.normal(0, 4.0, n)
        self.habit_slope = rng.normal(0, 6.0, n) * ("courses" in extras)  # ms an octave of tempo
        self.habit_bend = rng.normal(0, 10.0, n) * ("courses" in extras)
        self.accent = rng.normal(0, 0.12, n)
        self.accent_slope = rng.normal(0, 0.2, n) * ("courses" in extras)
        self.gain = rng.normal(0, 0.12, 6)
        self.ring = rng.normal(-5.0, 12.0, n)
        self.ring_scatter = rng.uniform(8.0, 20.0)
        self.ring_slope = rng.normal(0, 15.0, n) * ("courses" in extras)
        self.seam = rng.normal(0, 4.0)
        self.seam_slope = rng.normal(0, 8.0) * ("courses" in extras)
        self.noise = {
            s: (rng.uniform(-5.5, -2.5), rng.uniform(0.0, 5.0) * ("courses" in extras))
            for s in (passed_strings(cell) or cell.quiet)
        }
        self.up_softer = rng.uniform(0.05, 0.3) if "directions" in extras else rng.uniform(0, 0.05)
        self.up_later = rng.uniform(0.0, 6.0) if "directions" in extras else 0.0
        self.swaps = turns_round(cell)
        self.breaks = [rng.uniform(130, 200)] * self.ways
        self.width = rng.uniform(6, 16)
        self.lapse = rng.uniform(0.01, 0.08)
        self.worst = int(rng.integers(0, n))
        self.broken_off = rng.choice([0.0, 0.0, 0.03, 0.08]) if "faults" in extras else 0.0
        self.luck = rng.uniform(0.1, 0.6)
        self.heavy = rng.choice([0.0, 0.02, 0.05])

    def differ(self, by: float) -> None:
        """The second way breaks so much later (a share of the tempo)."""
        self.breaks = [self.breaks[0] * (1.0 + by * k) for k in range(self.ways)]

    def chance_kept(self, bpm: float, way: int, luck: float) -> float:
        """Of a repetition that no note of which goes wrong."""
        own = _logistic((self.breaks[way] - bpm) / self.width + luck)
        return (1.0 - self.lapse) * own

    def noise_chance(self, string: int, bpm: float, way: int, shift: float) -> float:
        if way:
            for trait in self.traits[way - 1]:
                if trait.what == "noise" and trait.string == string:
                    return trait.by
        base, slope = self.noise.get(string, (-9.0, 0.0))
        return _logistic(base + slope * np.log2(bpm / 110.0) + shift)


@dataclass(slots=True)
class Day:
    """What is particular about one session."""

    late: np.ndarray
    loud: np.ndarray
    ring: np.ndarray
    noise: float
    warm: float
    wear: float
    drift: np.ndarray
    rig_late: np.ndarray
    curve: float
    swing: np.ndarray


def _day(rng: np.random.Generator, cell: Cell, extras: frozenset[str], before: Day | None) -> Day:
    n, on = len(cell.slots), float("days" in extras)
    rig = np.zeros(6) if before is None else before.rig_late
    curve = 1.0 if before is None else before.curve
    ring = np.zeros(n) if before is None else before.ring
    if "rig" in extras and (before is None or rng.random() < 0.25):
        rig, curve = rng.normal(0, 4.0, 6), float(rng.uniform(0.6, 1.2))
    if "strings" in extras and rng.random() < 0.3:
        ring = np.full(n, rng.normal(0, 15.0)) + rng.normal(0, 5.0, n)
    return Day(
        rng.normal(0, 2.0, n) * on, rng.normal(0, 0.06, n) * on, ring,
        float(rng.normal(0, 0.5)) * on,
        float(rng.uniform(0.3, 1.0)) * ("warm" in extras),
        float(rng.uniform(-1, 1)) * ("wear" in extras),
        rng.normal(0, 1.0, 3 * n + 1) * ("wear" in extras or "drift" in extras),
        rig, curve, rng.uniform(0, 6.28, 3 * n + 1),
    )  # fmt: skip


def practise(
    rng: np.random.Generator,
    cell: Cell,
    player: Player,
    *,
    sessions: int,
    takes: int,
    reps: tuple[int, int],
    tempos: Sequence[float],
    share: object,
    stay: float,
) -> Planted:
    """Play: ``share(bpm)`` gives the chance of each way; ``stay`` how surely a way is kept from
    repetition to repetition (0: drawn anew each time)."""
    done = Planted(cell, [], [list(t) for t in player.traits])
    day: Day | None = None
    for _ in range(sessions):
        day = _day(rng, cell, player.extras, day)
        _session(rng, player, day, takes, reps, tempos, share, stay, done)
    return done


def _session(  # type: ignore[no-untyped-def]
    rng, player, day, takes, reps, tempos, share, stay, done
) -> None:
    cell, n = player.cell, len(player.cell.slots)
    now, messages = 1.0, []
    starts, ways, bpms, chances = [], [], [], []
    order = (
        list(rng.choice(tempos, takes)) if rng.random() < 0.4 else sorted(rng.choice(tempos, takes))
    )
    # a note left out at either end is played all the same: nothing fails
    ends = 0.6 * (player.worst in (0, n - 1)) + 0.4 * 2.0 / n
    off = min(5.0 * player.broken_off, 1.0)
    harmless = 0.6 * ends * (1.0 - off)
    spread_out = takes * np.mean(reps) * cell.steps * 60.0 / (np.mean(tempos) * cell.grid)
    for bpm in order:
        count = int(rng.integers(reps[0], reps[1] + 1))
        luck, noise_luck = (
            rng.normal(0, player.luck),
            rng.normal(0, 0.4) * ("faults" in player.extras),
        )
        octave = np.log2(bpm / 110.0)
        base = np.asarray(share(bpm), float)
        way, first_down = int(rng.choice(len(base), p=base)), True
        clock = now
        for _ in range(count):
            if rng.random() >= stay:
                way = int(rng.choice(len(base), p=base))
            traits = {} if way == 0 else {(t.what, t.slot): t.by for t in player.traits[way - 1]}
            pace = bpm * (1 + rng.normal(0, 0.006))
            step = 60.0 / (pace * cell.grid)
            age = (clock - 1.0) / max(spread_out, 60.0)
            phase = day.warm * exp(-6.0 * age) + day.wear * age
            drift = day.drift * (
                phase + 0.6 * np.sin(day.swing + 3.0 * age) * ("drift" in player.extras)
            )
            sd = player.scatter * (step / 0.15) ** player.faster
            kept = player.chance_kept(bpm, way, luck)
            fails = rng.random() > kept
            breaks_off = fails and rng.random() < player.broken_off * 5
            bad = int(player.worst if rng.random() < 0.6 else rng.integers(0, n))
            wrong = rng.random() < 0.4
            clean_chance = kept
            loud_rep = rng.normal(0, 0.05)
            onsets = []
            for i, slot in enumerate(cell.slots):
                down = (i % 2 == 0) == first_down if player.swaps else slot.stroke == "down"
                late = (
                    player.habit[i]
                    + player.habit_slope[i] * octave
                    + player.habit_bend[i] * octave**2
                )
                late += day.late[i] + 3.0 * drift[i] + (0.0 if down else player.up_later)
                late += traits.get(("timing", i + 1), 0.0)
                heavy = 3.0 if rng.random() < player.heavy else 1.0
                late += rng.normal(0, sd * heavy)
                onsets.append(clock + slot.start * step + late / 1000.0)
            due = clock + cell.steps * step
            seam = (
                player.seam
                + player.seam_slope * octave
                + 2.0 * drift[-1]
                + traits.get(("seam", None), 0.0)
            )
            due += (seam + rng.normal(0, 0.8 * sd)) / 1000.0
            starts.append(onsets[0])
            stop_at = int(rng.integers(1, n - 1)) if breaks_off and n > 3 else n
            for i, slot in enumerate(cell.slots[:stop_at]):
                down = (i % 2 == 0) == first_down if player.swaps else slot.stroke == "down"
                if fails and not breaks_off and i == bad and not wrong and i not in (0, n - 1):
                    continue
                loud = (
                    4.45
                    + player.accent[i]
                    + player.accent_slope[i] * octave
                    + player.gain[slot.string - 1]
                )
                loud += (
                    day.loud[i]
                    + 0.08 * drift[n + i]
                    + loud_rep
                    - (0.0 if down else player.up_softer)
                )
                loud += traits.get(("loudness", i + 1), 0.0) + traits.get(("attack", i + 1), 0.0)
                loud += rng.normal(0, player.soft)
                velocity = int(min(max(exp(4.45 + day.curve * (loud - 4.45)), 16), 127))
                after = onsets[i + 1] if i + 1 < n else due
                over = (
                    player.ring[i]
                    + player.ring_slope[i] * octave
                    + day.ring[i]
                    + 6.0 * drift[2 * n + i]
                )
                over += traits.get(("ring", i + 1), 0.0) + rng.normal(0, player.ring_scatter)
                following = cell.slots[(i + 1) % n]
                end = after + (over / 1000.0 if following.string != slot.string else -0.004)
                for later, at in zip(cell.slots[i + 1 :], onsets[i + 1 :]):
                    if later.string == slot.string:
                        end = min(end, at - 0.004)
                        break
                end = max(end, onsets[i] + 0.032)
                pitch = slot.pitch + (1 if fails and not breaks_off and i == bad and wrong else 0)
                delay = (day.rig_late[slot.string - 1]) / 1000.0
                messages.append((onsets[i] + delay, slot.string, pitch, velocity))
                messages.append((end + delay, slot.string, pitch, 0))
            if not breaks_off:
                for string in player.noise:
                    chance = player.noise_chance(
                        string, bpm, way, day.noise + noise_luck + 0.5 * drift[0]
                    )
                    clean_chance *= 1.0 - chance
                    if rng.random() < chance:
                        _touch(rng, cell, string, onsets, due, messages)
            ways.append(way)
            bpms.append(bpm)
            all_ways = []
            for k in range(player.ways):
                kept_whole = player.chance_kept(bpm, k, luck)
                c = kept_whole + (1.0 - kept_whole) * harmless
                for string in player.noise:
                    shift = day.noise + noise_luck + 0.5 * drift[0]
                    c *= 1.0 - player.noise_chance(string, bpm, k, shift)
                all_ways.append(c)
            chances.append(tuple(all_ways))
            clock = due
            first_down = not first_down if player.swaps else True
            if breaks_off:
                clock = onsets[stop_at - 1] + rng.uniform(0.8, 1.8)
                first_down = True
        now = clock + cell.steps * 60.0 / (bpm * cell.grid) + 4.0
    messages.sort()
    records = [UseRig(0.0, Rig()), UseCells(0.0, (cell,))]
    for t, string, pitch, velocity in messages:
        status = 0x90 | (string - 1)
        records.append(Midi(float(t), bytes([status, pitch, velocity])))
    records.append(Stop(messages[-1][0] + 1.0, "done"))
    done.sessions.append(records)
    done.starts.append(starts)
    done.way.append(ways)
    done.bpm.append(bpms)
    done.chances.append(chances)


def _touch(rng, cell, string, onsets, due, messages) -> None:  # type: ignore[no-untyped-def]
    """A string in the way sounds while the hand passes, or a quiet one at some time."""
    n = len(cell.slots)
    ways = []
    for i, slot in enumerate(cell.slots):
        low, high = sorted((slot.string, cell.slots[(i + 1) % n].string))
        if low < string < high:
            ways.append(i)
    i = int(rng.choice(ways)) if ways else int(rng.integers(0, n))
    after = onsets[i + 1] if i + 1 < n else due
    t = onsets[i] + rng.uniform(0.25, 0.75) * (after - onsets[i])
    messages.append((t, string, _STRINGS[string - 1], int(rng.integers(20, 60))))
    messages.append((t + rng.uniform(0.035, 0.08), string, _STRINGS[string - 1], 0))


EXTRAS = ("courses", "days", "warm", "wear", "drift", "strings", "rig", "faults", "directions")


def two_ways(seed: int, ways: int = 2) -> Planted:
    """A practice in which two ways (or three) are planted, beside much else."""
    rng = np.random.default_rng([seed, 1])
    cell = draw_cell(rng)
    extras = frozenset(e for e in EXTRAS if rng.random() < 0.6)
    traits = [
        draw_traits(rng, cell, int(rng.integers(1, 4)), float(rng.choice([0.6, 1.0, 1.0, 1.5])))
        for _ in range(ways - 1)
    ]
    player = Player(rng, cell, traits, extras)
    player.differ(float(rng.choice([0.0, 0.0, 0.06, 0.12, -0.08])))
    tempos = np.geomspace(rng.uniform(70, 100), rng.uniform(150, 210), int(rng.integers(5, 12)))
    at, width = float(rng.uniform(tempos[1], tempos[-2])), float(rng.uniform(0.03, 0.3))
    constant = float(rng.uniform(0.3, 0.7)) if rng.random() < 0.45 else None

    def share(bpm: float) -> list[float]:
        fast = constant if constant is not None else _logistic(log(bpm / at) / width)
        fast = min(max(fast, 0.02), 0.98)
        if ways == 2:
            return [1 - fast, fast]
        return [
            0.7 * (1 - fast) + 0.1,
            0.6 * fast + 0.1,
            0.1 + 0.3 * (1 - fast) + 0.4 * fast - 0.3 * (1 - fast),
        ]

    def normal(bpm: float) -> np.ndarray:
        values = np.asarray(share(bpm))
        return values / values.sum()

    single = all(len(t) == 1 for t in traits)
    stay = float(rng.choice([0.8, 0.9, 0.95] if single else [0.0, 0.7, 0.85, 0.92, 0.96]))
    sessions = int(rng.choice([1, 2, 4, 8]))
    takes = max(2, int(rng.integers(12, 50) / sessions))
    done = practise(
        rng, cell, player, sessions=sessions, takes=takes,
        reps=(12, int(rng.integers(16, 34))), tempos=tempos, share=normal, stay=stay,
    )  # fmt: skip
    done.stay = stay
    done.note = f"stay {stay} const {constant} at {at:.0f} w {width:.2f} {sorted(extras)}"
    return done


def one_way(seed: int) -> Planted:
    """A practice in one way, with everything that may move; often a single thing comes and goes
    with the tempo, without runs."""
    rng = np.random.default_rng([seed, 2])
    cell = draw_cell(rng)
    extras = frozenset(e for e in EXTRAS if rng.random() < 0.7)
    single = rng.random() < 0.3
    traits = [draw_traits(rng, cell, 1)] if single else []
    player = Player(rng, cell, traits, extras)
    tempos = np.geomspace(rng.uniform(70, 100), rng.uniform(150, 210), int(rng.integers(5, 12)))
    at, width = float(rng.uniform(tempos[1], tempos[-2])), float(rng.uniform(0.03, 0.3))

    def share(bpm: float) -> list[float]:
        fast = min(max(_logistic(log(bpm / at) / width), 0.01), 0.99)
        return [1 - fast, fast] if single else [1.0]

    sessions = int(rng.choice([1, 2, 4, 8]))
    takes = max(2, int(rng.integers(12, 50) / sessions))
    done = practise(
        rng, cell, player, sessions=sessions, takes=takes,
        reps=(12, int(rng.integers(16, 34))), tempos=tempos, share=share, stay=0.0,
    )  # fmt: skip
    done.note = f"single {traits} {sorted(extras)}"
    return done
