"""Players of a steady pulse and converters with other delays, made apart from the built-in player.

Timing: a timekeeper and motor delays with a tempo that wanders (sources.md E-13), a timekeeper with
long memory (1/f), or a lead that a click pulls back. Habits: of a string, of a direction, of a
crossing, of open strings, of a slot.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from livecheck.core.pitch import STANDARD_TUNING, period_s
from livecheck.measures.delay.estimate import Struck

Where = tuple[int, int]  # string, fret
DelayMs = Callable[[int, int], float]  # of a string's fret

UP_AND_DOWN = (6, 5, 4, 3, 2, 1, 1, 2, 3, 4, 5, 6)
JITTER_MS, JITTER_PERIODS = 0.5, 0.15
TEMPO_WALK = 0.002


@dataclass(frozen=True)
class Player:
    """SDs in ms. motor_pct and keeper: motor SD in a hundredth of the step, timekeeper SD in motor
    SDs."""

    notes_per_s: float = 8.0
    seconds: float = 120.0
    route: str = "halves 12"
    timing: str = "two levels"
    motor_pct: float = 2.5
    keeper: float = 0.6
    string_ms: float = 0.0
    way_ms: float = 0.0
    crossing_ms: float = 0.0
    open_ms: float = 0.0
    missed: float = 0.01
    slips: float = 0.01
    doubled: float = 0.005
    twice_as_fast: bool = False  # from the half on

    @property
    def motor_ms(self) -> float:
        return max(3.0, 10.0 * self.motor_pct / self.notes_per_s)


@dataclass(frozen=True)
class Pulse:
    notes: list[Struck]
    truth_ms: dict[int, float]  # mean delay of each string against the mean of all
    clicks_s: list[float]


def route(name: str, count: int, rng: Random) -> list[Where]:
    """Strings and frets in order.

    "open"; "frets": up to the seventh, another each round; "halves N": half a minute open, half a
    minute at fret N, and so on; "thirds": frets 5, 9 and 2; "turns N": open and fret N by turns
    from note to note.
    """
    kind, _, number = name.partition(" ")
    found: list[Where] = []
    while len(found) < count:
        fret = rng.choice((0, 2, 3, 5, 7))
        quarter, third = 4 * len(found) // count, 3 * len(found) // count
        for at, string in enumerate(UP_AND_DOWN):
            of_kind = {
                "open": 0,
                "frets": fret,
                "halves": (0, int(number or 0))[quarter % 2],
                "thirds": (5, 9, 2)[third],
                "turns": (0, int(number or 0))[(at + quarter) % 2],
            }
            found.append((string, of_kind[kind]))
    return found[:count]


def converter(structure: str, rng: Random) -> DelayMs:
    """A converter's delay.

    "periods"; "wound": other periods on the low strings; "own": periods and a constant of 0.8 ms SD
    for each string; "constants": by the string, about so many periods of the open string, whatever
    the fret.
    """
    fixed, periods = rng.uniform(2.0, 8.0), rng.uniform(1.0, 2.4)
    low = periods * rng.uniform(0.75, 1.3)
    own = [rng.gauss(0.0, 0.8) for _ in STANDARD_TUNING]
    constants = [
        1000.0 * periods * period_s(pitch) * rng.uniform(0.85, 1.15) for pitch in STANDARD_TUNING
    ]

    def delay_ms(string: int, fret: int) -> float:
        period_ms = 1000.0 * period_s(STANDARD_TUNING[string - 1] + fret)
        if structure == "constants":
            return fixed + constants[string - 1]
        if structure == "wound" and string >= 4:
            return fixed + low * period_ms
        return fixed + periods * period_ms + (own[string - 1] if structure == "own" else 0.0)

    return delay_ms


def jitter_ms(rng: Random, string: int, fret: int) -> float:
    period_ms = 1000.0 * period_s(STANDARD_TUNING[string - 1] + fret)
    return rng.gauss(0.0, JITTER_MS) + rng.gauss(0.0, JITTER_PERIODS) * period_ms


def play(who: Player, delay_ms: DelayMs, rng: Random) -> Pulse:
    """Arrivals of a pulse."""
    step_ms = 1000.0 / who.notes_per_s
    places = route(who.route, int(who.seconds * who.notes_per_s), rng)
    strings = [rng.gauss(0.0, who.string_ms) for _ in STANDARD_TUNING]
    ways = {way: rng.gauss(0.0, who.way_ms) for way in (-1, 0, 1)}
    crossings = {(a, b): rng.gauss(0.0, who.crossing_ms) for a in range(1, 7) for b in range(1, 7)}
    opened = rng.gauss(0.0, who.open_ms)
    beats_ms = _beats(who, len(places), rng)
    notes: list[Struck] = []
    delays: dict[int, list[float]] = {string: [] for string in range(1, 7)}
    before = places[0][0]
    for (string, fret), beat_ms in zip(places, beats_ms):
        t_ms = (
            beat_ms + rng.gauss(0.0, who.motor_ms) + strings[string - 1] + crossings[before, string]
        )
        t_ms += ways[(string > before) - (string < before)] + (opened if fret == 0 else 0.0)
        before = string
        if rng.random() < who.missed:
            continue
        if rng.random() < who.slips:
            t_ms += rng.choice((-1, 1)) * rng.uniform(0.1, 0.3) * step_ms
        delays[string].append(delay_ms(string, fret))
        t_ms += max(0.5, delays[string][-1] + jitter_ms(rng, string, fret))
        notes.append(Struck(t_ms / 1000.0, string, STANDARD_TUNING[string - 1] + fret))
        if rng.random() < who.doubled:
            notes.append(notes[-1]._replace(t_s=t_ms / 1000.0 + rng.uniform(0.02, 0.055)))
    mean = {string: sum(own) / len(own) for string, own in delays.items()}
    middle = sum(mean.values()) / len(mean)
    clicks_s = (
        [1.0 + at * step_ms / 1000.0 for at in range(0, len(places), 4)]
        if who.timing == "click"
        else []
    )
    return Pulse(sorted(notes), {string: ms - middle for string, ms in mean.items()}, clicks_s)


def _beats(who: Player, count: int, rng: Random) -> list[float]:
    """When the player means to strike, in ms."""
    step_ms = 1000.0 / who.notes_per_s
    keeper_ms = who.keeper * who.motor_ms
    clock_ms, tempo_ms, lead_ms = 1000.0, step_ms, 0.0
    memory = [0.0] * 7
    found = []
    for at in range(count):
        quick = 0.5 if who.twice_as_fast and at > count // 2 else 1.0
        if who.timing == "click":
            lead_ms = 0.75 * lead_ms + rng.gauss(0.0, keeper_ms)
            clock_ms = 1000.0 + at * step_ms - 20.0 + lead_ms
        elif who.timing == "long memory":
            memory = [
                rng.gauss(0.0, 1.0) if at % 2**octave == 0 else own
                for octave, own in enumerate(memory)
            ]
            clock_ms += quick * step_ms + keeper_ms * sum(memory) / len(memory) ** 0.5
        else:
            clock_ms += quick * tempo_ms + rng.gauss(0.0, keeper_ms)
            tempo_ms *= 1.0 + rng.gauss(0.0, TEMPO_WALK) + 0.02 * (step_ms - tempo_ms) / step_ms
        found.append(clock_ms)
    return found
