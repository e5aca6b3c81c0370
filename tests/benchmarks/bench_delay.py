"""How right the conversion delay is that two minutes of a steady pulse tell, and what could be
known at best.

    python tests/benchmarks/bench_delay.py                       development seeds
    python tests/benchmarks/bench_delay.py --set report          seeds that nothing was tuned on
    python tests/benchmarks/bench_delay.py --only 'habits' --takes 20

For each case: the error of a string's delay against the mean of the strings (ms), how many 95 %
intervals hold the truth, half of their width; the error of a repetition's evenness with the
suggested delay taken off instead of the true one (points of cv_pct, a cell over six strings at the
same tempo), and of the mean over twenty repetitions; of errors always what 95 % of them lie below.
*The least possible* is what they would be if the player's covariances, the SDs of all habits and
the form of the delay were known (``delay_limit.py``). Ordinary practice: a cell's slots against its
tempo, several cells; how often a rig without delay is noticed, and one that is right is blamed.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from random import Random

import numpy as np
from delay_limit import least_error
from delay_players import DelayMs, Player, converter, jitter_ms, play
from delay_practice import Practice, practise

from livecheck.core.pitch import STANDARD_TUNING, period_s
from livecheck.core.rig import Delay, Rig
from livecheck.measures.delay.advice import advise_delay
from livecheck.measures.delay.estimate import DelayEstimate, against_click, from_pulse
from livecheck.measures.timing import cv_pct

FIRST_SEED = {"dev": 0, "report": 1_000_000}
CELL = ((6, 5), (5, 7), (4, 5), (3, 7), (2, 5), (1, 8), (2, 8), (4, 7))
REPS = 20
LIMITS = 8  # players of each case for whom the least possible is worked out
GALLOP_PCT = 1.5  # SD of a slot's own early or late, in a hundredth of the step

MILD = Player(string_ms=0.3, way_ms=1.0, crossing_ms=0.3, open_ms=0.5)
STRINGS_2 = Player(string_ms=2.0, way_ms=2.0, crossing_ms=0.5, open_ms=1.0)
STRINGS_4 = Player(string_ms=3.5, way_ms=2.0, crossing_ms=1.0, open_ms=2.0)
CASES: dict[str, tuple[Player, str]] = {
    **{
        f"mild habits, {rate} notes/s": (replace(MILD, notes_per_s=rate), "periods")
        for rate in (5.0, 6.0, 8.0, 10.0)
    },
    "mild habits, frets 0 to 7": (replace(MILD, route="frets"), "periods"),
    "mild habits, frets 5 9 2": (replace(MILD, route="thirds"), "periods"),
    "mild habits, open only": (replace(MILD, route="open"), "periods"),
    "directions 2 ms, 6 notes/s": (Player(way_ms=2.0, notes_per_s=6.0), "periods"),
    "directions 2 ms": (Player(way_ms=2.0), "periods"),
    "crossings 2 ms": (Player(way_ms=2.0, crossing_ms=2.0), "periods"),
    "strings 1 ms": (Player(string_ms=1.0, way_ms=1.0, crossing_ms=0.5), "periods"),
    "strings 2 ms": (STRINGS_2, "periods"),
    "strings 3.5 ms": (STRINGS_4, "periods"),
    "strings 3.5 ms, 6 notes/s": (replace(STRINGS_4, notes_per_s=6.0), "periods"),
    "strings 3.5 ms, 10 notes/s": (replace(STRINGS_4, notes_per_s=10.0), "periods"),
    "strings 3.5 ms, fret 15": (replace(STRINGS_4, route="halves 15"), "periods"),
    "strings 3.5 ms, by turns": (replace(STRINGS_4, route="turns 12"), "periods"),
    "strings 3.5 ms, frets 5 9 2": (replace(STRINGS_4, route="thirds"), "periods"),
    "strings 3.5 ms, open only": (replace(STRINGS_4, route="open"), "periods"),
    "wound, mild habits": (MILD, "wound"),
    "wound, strings 2 ms": (STRINGS_2, "wound"),
    "own constants, mild habits": (MILD, "own"),
    "own constants, strings 1 ms": (Player(string_ms=1.0, way_ms=1.0, crossing_ms=0.5), "own"),
    "by string, mild habits": (MILD, "constants"),
    "by string, strings 2 ms": (STRINGS_2, "constants"),
    "long memory, mild habits": (replace(MILD, timing="long memory"), "periods"),
    "twice as fast, mild habits": (replace(MILD, twice_as_fast=True, notes_per_s=6.0), "periods"),
    "slips and misses 4 %": (replace(MILD, slips=0.04, missed=0.04, doubled=0.02), "periods"),
    "click, mild habits": (replace(MILD, timing="click"), "periods"),
    "click, strings 2 ms": (replace(STRINGS_2, timing="click"), "periods"),
}
PRACTICES: dict[str, tuple[Practice, str]] = {
    **{f"practice of {cells} cells": (Practice(cells), "periods") for cells in (3, 8, 20)},
    "practice, wild slots": (Practice(8, wild=0.1), "periods"),
    "practice, strings 1 ms": (Practice(8, string_ms=1.0), "periods"),
    "practice, strings 2 ms": (Practice(20, string_ms=2.0), "periods"),
    "practice, wound": (Practice(8), "wound"),
    "practice, own constants": (Practice(8), "own"),
    "practice, by string": (Practice(8), "constants"),
}


class Tally:
    """Errors of one case."""

    def __init__(self) -> None:
        self.errors: list[float] = []
        self.halves: list[float] = []
        self.held: list[bool] = []
        self.of_reps: list[float] = []
        self.of_means: list[float] = []
        self.silent = 0

    def strings(self, estimate: DelayEstimate, truth_ms: dict[int, float]) -> None:
        self.silent += 6 - len(estimate.strings)
        for one in estimate.strings:
            if one.relative_ms is None:
                self.silent += 1
                continue
            value, low, high = one.relative_ms
            self.errors.append(abs(value - truth_ms[one.string]))
            self.halves.append((high - low) / 2.0)
            self.held.append(low <= truth_ms[one.string] <= high)

    def evenness(self, off_ms: DelayMs, who: Player, rng: Random) -> None:
        true, ours = repetitions(who, off_ms, rng)
        self.of_reps += [abs(own - was) for own, was in zip(ours, true)]
        self.of_means.append(abs(sum(ours) - sum(true)) / len(true))

    def line(self) -> str:
        errors = np.array(self.errors)
        text = (
            f"string {np.quantile(errors, 0.95):.2f} ms, within 1 ms "
            f"{100 * np.mean(errors < 1.0):.1f} %, "
        )
        text += (
            f"held {100 * np.mean(self.held):.1f} % of {len(self.held)}, half "
            f"{np.median(self.halves):.2f}"
        )
        text += f"; evenness {self.evenness_line()}" if self.of_reps else ""
        return text + (f"; {self.silent} strings silent" if self.silent else "")

    def evenness_line(self) -> str:
        reps, means = np.array(self.of_reps), np.array(self.of_means)
        text = f"{np.quantile(reps, 0.95):.3f}, within 0.1 {100 * np.mean(reps <= 0.1):.0f} %, "
        return text + f"of twenty {np.quantile(means, 0.95):.3f}"


def repetitions(who: Player, off_ms: DelayMs, rng: Random) -> tuple[list[float], list[float]]:
    """cv_pct of twenty repetitions of the cell with the true delay taken off, and with one that is
    off."""
    step_ms = 1000.0 / who.notes_per_s
    gallop = [rng.gauss(0.0, GALLOP_PCT / 100.0 * step_ms) for _ in CELL]
    clock_ms, true, ours = 0.0, [], []
    for at in range(REPS * len(CELL) + 1):
        string, fret = CELL[at % len(CELL)]
        clock_ms += step_ms + rng.gauss(0.0, who.keeper * who.motor_ms)
        onset_ms = (
            clock_ms
            + gallop[at % len(CELL)]
            + rng.gauss(0.0, who.motor_ms)
            + jitter_ms(rng, string, fret)
        )
        true.append(onset_ms)
        ours.append(onset_ms + off_ms(string, fret))
    return _cvs(true), _cvs(ours)


def _cvs(onsets_ms: list[float]) -> list[float]:
    found = []
    for begin in range(0, len(onsets_ms) - 1, len(CELL)):
        own = onsets_ms[begin : begin + len(CELL) + 1]
        cv = cv_pct([later - one for one, later in zip(own, own[1:])])
        assert cv is not None
        found.append(cv)
    return found


def run(name: str, seeds: range) -> None:
    """One case over all seeds."""
    player, structure = CASES[name]
    tally, best = Tally(), Tally()
    known = structure == "periods" and player.timing == "two levels" and not player.twice_as_fast
    for seed in seeds:
        rng = Random(f"delay {name} {seed}")
        who = replace(player, motor_pct=rng.uniform(1.5, 3.0), keeper=rng.uniform(0.4, 0.8))
        delay_ms = converter(structure, rng)
        pulse = play(who, delay_ms, rng)
        estimate = (
            against_click(pulse.notes, pulse.clicks_s)
            if pulse.clicks_s
            else from_pulse(pulse.notes)
        )
        tally.strings(estimate, pulse.truth_ms)
        delay = estimate.suggestion(Rig())
        if delay is not None:
            tally.evenness(_off(delay_ms, delay), who, Random(f"cell {seed}"))
        if known and seed < seeds.start + LIMITS:
            periods_sd, strings_sd = least_error(who)
            best.errors += [
                abs(rng.gauss(0.0, sd)) for sd in strings_sd.values() for _ in range(50)
            ]
            for again in range(10):
                best.evenness(
                    _off_periods(rng.gauss(0.0, periods_sd)), who, Random(f"cell {seed} {again}")
                )
    print(f"{name:28} {tally.line()}", flush=True)
    if known:
        least = f"string {np.quantile(best.errors, 0.95):.2f} ms; evenness {best.evenness_line()}"
        print(f"{'  the least possible':28} {least}", flush=True)


def _off(true_ms: DelayMs, delay: Delay) -> DelayMs:
    return lambda string, fret: (
        true_ms(string, fret) - 1000.0 * delay.seconds(string, STANDARD_TUNING[string - 1] + fret)
    )


def _off_periods(periods: float) -> DelayMs:
    return lambda string, fret: 1000.0 * periods * period_s(STANDARD_TUNING[string - 1] + fret)


def run_practice(name: str, seeds: range) -> None:
    """Ordinary practice: strings, and how often a rig that is right or takes nothing off is told
    so."""
    how, structure = PRACTICES[name]
    tally, alarms, noticed = Tally(), [], []
    for seed in seeds:
        rng = Random(f"practice {name} {seed}")
        delay_ms = converter(structure, rng)
        reps, truth_ms = practise(how, delay_ms, rng)
        advice = advise_delay(reps, Rig())
        tally.strings(advice.estimate, truth_ms)
        noticed.append(advice.worth_saying)
        taken = Delay(
            per_string_ms=tuple(10.0 + truth_ms.get(string, 0.0) for string in range(1, 7))
        )
        alarms.append(advise_delay(reps, Rig(delay=taken)).worth_saying)
    print(
        f"{name:28} {tally.line()}; no delay noticed {np.mean(noticed):.2f}, right one blamed "
        f"{np.mean(alarms):.3f}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--set", choices=FIRST_SEED, default="dev")
    parser.add_argument("--first", type=int, help="first seed, instead of the set's")
    parser.add_argument("--only", default="", help="cases whose names hold this")
    parser.add_argument("--takes", type=int, default=60)
    asked = parser.parse_args()
    first = FIRST_SEED[asked.set] if asked.first is None else asked.first
    seeds = range(first, first + asked.takes)
    for name in CASES:
        if asked.only in name:
            run(name, seeds)
    for name in PRACTICES:
        if asked.only in name:
            run_practice(name, seeds)


if __name__ == "__main__":
    main()
