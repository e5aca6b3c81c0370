"""Simulated pulses through a converter whose delays are known, and human-like players for them."""

from __future__ import annotations

from random import Random

from livecheck.core.pitch import STANDARD_TUNING, period_s
from livecheck.core.steady import FRET_S, FRETS
from livecheck.measures.delay.estimate import Struck

UP_AND_DOWN = (6, 5, 4, 3, 2, 1, 1, 2, 3, 4, 5, 6)
"""Each string from low to high and back, both ends twice: every string is reached from both
sides."""


def pulse(
    rng: Random,
    *,
    seconds: float = 120.0,
    notes_per_s: float = 5.0,
    fixed_ms: float = 4.0,
    periods: float = 1.6,
    motor_pct: float = 2.5,
    timekeeper: float = 0.6,
    habit_pct: float = 0.5,
    jitter_ms: float = 0.5,
    jitter_periods: float = 0.15,
    order: tuple[int, ...] = UP_AND_DOWN,
) -> tuple[list[Struck], dict[int, float]]:
    """(notes, true mean delay in ms by string).

    A player after the two-level model (sources.md E-13): timekeeper and motor noise in shares of
    the step, a tempo that wanders, a habit of being early or late for each way of reaching a string
    (habit_pct of the step, SD), now and then a slip. Frets change as a player who measures the
    delay is told.
    """
    step = 1.0 / notes_per_s
    motor = max(0.003, motor_pct / 100.0 * step)
    habits = {way: rng.gauss(0.0, habit_pct / 100.0 * step) for way in range(-5, 6)}
    clock, notes, delays = 1.0, [], {string: [] for string in range(1, 7)}
    before = order[-1]
    for at in range(int(seconds * notes_per_s)):
        fret = FRETS[min(int(at / notes_per_s / FRET_S), len(FRETS) - 1)]
        string = order[at % len(order)]
        clock += step + rng.gauss(0.0, timekeeper * motor)
        step *= 1.0 + rng.gauss(0.0, 0.002) + 0.02 * (1.0 / notes_per_s - step) / step
        played = clock + rng.gauss(0.0, motor) + habits[string - before]
        before = string
        if rng.random() < 0.01:
            continue  # missed
        if rng.random() < 0.01:
            played += rng.uniform(-0.2, 0.2) * step  # a slip
        pitch = STANDARD_TUNING[string - 1] + fret
        delay = fixed_ms / 1000.0 + periods * period_s(pitch)
        delays[string].append(delay)
        delay += rng.gauss(0.0, jitter_ms / 1000.0) + rng.gauss(0.0, jitter_periods) * period_s(
            pitch
        )
        notes.append(Struck(played + max(0.0005, delay), string, pitch))
    return sorted(notes), {string: 1000.0 * sum(own) / len(own) for string, own in delays.items()}
