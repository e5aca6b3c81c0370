"""How right attack, strings, delay, gate and profile are, on simulated playing whose truth is
known.

  python tests/benchmarks/bench_sound.py                 development seeds
  python tests/benchmarks/bench_sound.py --set report  seeds that nothing was tuned on, wider ranges
  python tests/benchmarks/bench_sound.py --only delay --takes 20

Delays are given against the mean of the strings: what is common to all cannot be heard.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace
from random import Random

from sound_delay import pulse
from sound_practice import judged, practice
from sound_tables import attack, strings

from livecheck.core.cell import make_cell
from livecheck.core.events import HIT, Evenness, ExtraTold, RepDone, Repetition, SlotResult
from livecheck.core.rig import Delay, Gate
from livecheck.measures.delay.estimate import from_practice, from_pulse
from livecheck.measures.noise.gates import advise_gate
from livecheck.measures.profile import slot_profile
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import perform
from livecheck.session import Session

SETS = {"dev": (0, 0), "wide": (500_000, 1), "report": (9_000_000, 2)}
"""First seed, and how much wider than usual the ranges are."""


def quantiles(values: list[float], places: int = 2) -> str:
    own = sorted(values)
    return (
        f"half below {own[len(own) // 2]:.{places}f}, 95 % below "
        f"{own[int(0.95 * (len(own) - 1))]:.{places}f}"
    )


def delay(seeds: range, wide: int) -> None:
    """A pulse of two minutes: error of each string's delay, coverage of the intervals, evenness
    with the result."""
    cases: dict[str, dict[str, float]] = {
        "6 notes/s": {"notes_per_s": 6.0},
        "8 notes/s": {"notes_per_s": 8.0},
        "10 notes/s": {"notes_per_s": 10.0},
        "8 notes/s, strong habits": {"notes_per_s": 8.0, "habit_pct": 1.5},
    }
    for name, case in cases.items():
        errors: list[float] = []
        periods_errors: list[float] = []
        held: list[bool] = []
        cv_errors: list[float] = []
        for seed in seeds:
            rng = Random(f"delay {seed}")
            periods = rng.uniform(1.0, 2.5)
            notes, truth = pulse(
                rng, periods=periods, motor_pct=rng.uniform(1.5, 3.0 if wide else 2.5), **case
            )
            estimate = from_pulse(notes)
            mean = sum(truth.values()) / len(truth)
            for one in estimate.strings:
                if one.relative_ms is not None:
                    true = truth[one.string] - mean
                    errors.append(abs(one.relative_ms.value - true))
                    held.append(one.relative_ms.low <= true <= one.relative_ms.high)
            if estimate.periods is not None:
                periods_errors.append(abs(estimate.periods.value - periods))
                if seed < seeds.start + 30:
                    cv_errors += _evenness_errors(seed, periods, estimate.periods.value)
        print(
            f"delay from a pulse, {name}: ms a string: {quantiles(errors)}; 95 % interval holds "
            f"{_share(held)}"
        )
        print(
            f"  periods: {quantiles(periods_errors, 3)}; evenness off by "
            f"{quantiles(cv_errors, 3)} points"
        )


def _evenness_errors(seed: int, periods: float, estimated: float) -> list[float]:
    """Evenness of practised repetitions with the estimated delay against that with the true one."""
    rng = Random(f"evenness {seed}")
    cell = make_cell("wide", [(6, 5), (5, 7), (4, 5), (3, 7), (2, 5), (1, 8), (2, 8), (4, 7)])
    take = perform(cell, Habits(notes_per_s=8.0, reps=20), Conversion(periods=periods), rng)
    pairs = zip(judged(take, Delay(4.0, estimated)), judged(take, Delay(4.0, periods)))
    both = [(one.evenness.cv_pct, other.evenness.cv_pct) for one, other in pairs]
    return [abs(one - other) for one, other in both if one is not None and other is not None]


def practice_delay(seeds: range, wide: int) -> None:
    """Ordinary practice: error of the periods and coverage, by the number of cells."""
    for cells in (3, 8):
        errors: list[float] = []
        held: list[bool] = []
        silent = 0
        for seed in seeds[:25]:
            takes = practice(seed, cells)
            estimate = from_practice([rep for take in takes for rep in judged(take, Delay())])
            if estimate.periods is None:
                silent += 1
                continue
            true = takes[0].conversion.periods
            errors.append(abs(estimate.periods.value - true))
            held.append(estimate.periods.low <= true <= estimate.periods.high)
        print(
            f"delay from practice, {cells} cells: periods {quantiles(errors, 3)}; held "
            f"{_share(held)}; silent {silent}"
        )


def gates(seeds: range, wide: int) -> None:
    """Slots lost and ghosts that pass with the suggested gate, judged again."""
    lost: list[float] = []
    passed: list[float] = []
    for seed in seeds[:25]:
        rng = Random(f"gates {seed}")
        cell = make_cell("six", [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 10)])
        hands = Habits(
            notes_per_s=rng.uniform(4, 12 if wide else 9), reps=50, clipped=0.05, soft=0.02
        )
        take = perform(cell, hands, Conversion(ghost=rng.uniform(0.03, 0.15)), rng)
        hits: list[int] = []
        gate: Gate | None = Gate(1, 0.0)
        for _ in range(2):
            if gate is None:
                break
            session = Session(cell, replace(take.rig, gate=gate))
            outcomes = session.feed_all(take.records)
            hits.append(session.counts["hit"])
            reps = [one.repetition for one in outcomes if isinstance(one, RepDone)]
            outside = [
                one.extra for one in outcomes if isinstance(one, ExtraTold) and one.rep is None
            ]
            advice = advise_gate(reps, outside)
            if len(hits) == 1 and advice.ghosts_passed is not None:
                passed.append(100.0 * advice.ghosts_passed)
            gate = advice.gate
        if len(hits) == 2:
            lost.append(100.0 * (hits[0] - hits[1]) / hits[0])
    print(
        f"gate: {len(lost)} takes; slots lost %: {quantiles(lost)}; ghosts passed %: "
        f"{quantiles(passed)}"
    )


def profile(seeds: range, wide: int) -> None:
    """Coverage of the slot profile's intervals, and false alarms of slots that are not off."""
    held: list[bool] = []
    alarms: list[bool] = []
    found: list[bool] = []
    cell = make_cell("six", [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 10)])
    for seed in seeds:
        rng = Random(f"profile {seed}")
        off = [0.0, 12.0, rng.uniform(-5, 5), 0.0, -12.0, 0.0]
        reps = [_repetition(cell, [rng.gauss(mean, 5.0) for mean in off]) for _ in range(20)]
        for mean, true in zip(slot_profile(reps), off):
            assert mean.low_ms is not None and mean.high_ms is not None
            held.append(mean.low_ms <= true <= mean.high_ms)
            (found if abs(true) > 10 else alarms).append(mean.lean is not None)
    print(
        f"profile of 20 repetitions: intervals hold {_share(held)}; slots 12 ms off found "
        f"{_share(found)}, ",
        end="",
    )
    print(f"false alarms {_share(alarms)}")


def _repetition(cell: object, deviations_ms: list[float]) -> Repetition:
    results = tuple(
        SlotResult(at, HIT, None, None, value) for at, value in enumerate(deviations_ms, 1)
    )
    nothing = Evenness(None, None, None, None)
    return Repetition(
        rep=1,
        take=1,
        cell=cell,
        start_s=0.0,
        end_s=1.0,
        complete=True,
        pause_s=0.0,
        tempo_bpm=100.0,
        notes_per_s=6.7,
        slots=results,
        extras=(),
        accuracy=1.0,
        clean=True,
        evenness=nothing,
    )  # type: ignore[arg-type]


def _share(values: list[bool]) -> str:
    return f"{sum(values) / len(values):.3f} of {len(values)}" if values else "none"


PARTS: dict[str, Callable[[range, int], None]] = {
    "attack": attack,
    "strings": strings,
    "delay": delay,
    "practice": practice_delay,
    "gates": gates,
    "profile": profile,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--set", choices=SETS, default="dev")
    parser.add_argument("--only", choices=PARTS)
    parser.add_argument("--takes", type=int, default=60)
    asked = parser.parse_args()
    first, wide = SETS[asked.set]
    seeds = range(first, first + asked.takes)
    for name, part in PARTS.items():
        if asked.only in (None, name):
            part(seeds, wide)


if __name__ == "__main__":
    main()
