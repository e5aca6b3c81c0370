"""The converter's delay and the player's habits, told apart as far as they can be."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from random import Random

import pytest

from livecheck.core.pitch import STANDARD_TUNING, period_s
from livecheck.core.rig import Rig
from livecheck.measures.delay.estimate import DelayEstimate, Struck, from_pulse

ROUND = (6, 5, 4, 3, 2, 1, 1, 2, 3, 4, 5, 6)
STEP_S = 0.125
HABITS_MS = {1: 3.0, 2: -2.0, 3: 1.0, 4: -3.0, 5: 3.0, 6: -2.0}


def two_periods(string: int, fret: int) -> float:
    """ms; sources.md C-02, T-05."""
    return 2000.0 * period_s(STANDARD_TUNING[string - 1] + fret)


def by_string(string: int, fret: int) -> float:
    """ms, whatever the fret."""
    return two_periods(string, 0)


def played(
    delay_ms: Callable[[int, int], float], frets: tuple[int, ...],
    habit_ms: Callable[[int, int], float], seed: int = 1, notes: int = 960, scatter_ms: float = 3.0,
) -> list[Struck]:  # fmt: skip
    """Two minutes at eight notes a second, a stretch at each fret. habit_ms: of the string before
    and the string."""
    rng = Random(seed)
    found, before, clock_ms = [], 6, 0.0
    for at in range(notes):
        string, fret = ROUND[at % len(ROUND)], frets[at * len(frets) // notes]
        clock_ms += 1000.0 * STEP_S + rng.gauss(0.0, 0.6 * scatter_ms)
        t_ms = (
            clock_ms
            + rng.gauss(0.0, scatter_ms)
            + delay_ms(string, fret)
            + habit_ms(before, string)
        )
        before = string
        found.append(Struck(t_ms / 1000.0, string, STANDARD_TUNING[string - 1] + fret))
    return found


def no_habit(before: int, string: int) -> float:
    return 0.0


def of_strings(before: int, string: int) -> float:
    return HABITS_MS[string]


def against_mean(delay_ms: Callable[[int, int], float], frets: tuple[int, ...]) -> dict[int, float]:
    mean = {
        string: sum(delay_ms(string, fret) for fret in frets) / len(frets) for string in range(1, 7)
    }
    return {string: ms - sum(mean.values()) / 6 for string, ms in mean.items()}


def errors(found: DelayEstimate, truth: dict[int, float]) -> list[float]:
    assert all(one.relative_ms is not None for one in found.strings)
    return [
        abs(one.relative_ms.value - truth[one.string])
        for one in found.strings
        if one.relative_ms is not None
    ]


def halves(found: DelayEstimate) -> list[float]:
    told = [one.relative_ms for one in found.strings if one.relative_ms is not None]
    return [(ms.high - ms.low) / 2.0 for ms in told]


HIGH_AND_LOW = (0, 12, 0, 12)


@cache
def of_players(habits: bool) -> DelayEstimate:
    """Of a player at two frets, with habits of the strings or with none."""
    return from_pulse(played(two_periods, HIGH_AND_LOW, of_strings if habits else no_habit))


def test_habits_of_the_strings_are_no_delay_where_two_frets_lie_far_apart() -> None:
    """A delay halves at fret 12 (sources.md C-05, T-05), a string's habit of 3 ms early or late
    does not."""
    found = of_players(True)
    assert max(errors(found, against_mean(two_periods, HIGH_AND_LOW))) < 1.0
    assert found.periods is not None and found.periods.low < 2.0 < found.periods.high


def test_what_lies_beyond_the_pitch_is_told_as_the_players_or_the_strings_own() -> None:
    """``beyond_ms`` gives the habits back, against their mean of 0."""
    found = of_players(True)
    for one in found.strings:
        assert one.beyond_ms is not None
        assert one.beyond_ms.value == pytest.approx(HABITS_MS[one.string], abs=1.5)
    assert {one.string for one in found.in_doubt} <= {1, 2, 4, 5, 6} and len(found.in_doubt) >= 2
    assert of_players(False).in_doubt == ()


def test_at_a_single_fret_the_interval_holds_the_doubt() -> None:
    """The same habits on open strings alone: wider intervals than without, and they hold the truth
    all the same."""
    found = from_pulse(played(two_periods, (0,), of_strings))
    plain = from_pulse(played(two_periods, (0,), no_habit))
    truth = against_mean(two_periods, (0,))
    assert max(halves(found)) > 2.0 * max(halves(plain)) > 1.0
    for one in found.strings:
        assert one.relative_ms is not None
        assert one.relative_ms.low <= truth[one.string] <= one.relative_ms.high


def test_habits_of_a_direction_cancel() -> None:
    """Notes after a higher string 4 ms late, a string struck again 3 ms early: no delay, and hardly
    wider intervals."""

    def of_directions(before: int, string: int) -> float:
        return 4.0 if string > before else -3.0 if string == before else 0.0

    found = from_pulse(played(two_periods, HIGH_AND_LOW, of_directions))
    plain = of_players(False)
    assert max(errors(found, against_mean(two_periods, HIGH_AND_LOW))) < 0.7
    assert max(halves(found)) < 1.3 * max(halves(plain))


def test_habits_of_single_crossings_widen_the_interval() -> None:
    """Each crossing early or late by itself: the two into a string say how much, and the interval
    grows by that."""
    rng = Random(2)
    own = {(a, b): rng.gauss(0.0, 2.5) for a in range(1, 7) for b in range(1, 7)}
    found = from_pulse(
        played(two_periods, HIGH_AND_LOW, lambda before, string: own[before, string])
    )
    plain = of_players(False)
    assert max(halves(found)) > 1.4 * max(halves(plain))
    assert max(errors(found, against_mean(two_periods, HIGH_AND_LOW))) < max(halves(found))


def test_a_delay_that_goes_by_the_string_is_suggested_by_string() -> None:
    """The same at fret 12 as open: ``constant`` says so, and the suggestion is a constant for each
    string."""
    found = from_pulse(played(by_string, HIGH_AND_LOW, no_habit))
    assert found.constant is not None and found.constant > 0.9
    delay = found.suggestion(Rig())
    assert delay is not None and delay.per_string_ms is not None
    # T-05
    assert delay.per_string_ms[5] - delay.per_string_ms[0] == pytest.approx(24.270 - 6.067, abs=1.5)
    by_pitch = of_players(False)
    assert by_pitch.constant is not None and by_pitch.constant < 0.01
    suggested = by_pitch.suggestion(Rig())
    assert suggested is not None and suggested.periods == pytest.approx(2.0, abs=0.2)


def test_intervals_hold_the_truth_of_players_with_and_without_habits() -> None:
    """Six players whose strings' habits have SDs of 0 to 3 ms: nine of ten strings within, and
    within 1 ms."""
    held, off = [], []
    truth = against_mean(two_periods, HIGH_AND_LOW)
    for seed in range(6):
        rng = Random(seed)
        spread = rng.choice((0.0, 1.0, 3.0))
        habit = [rng.gauss(0.0, spread) for _ in range(7)]
        found = from_pulse(
            played(two_periods, HIGH_AND_LOW, lambda _, string, own=habit: own[string], seed)
        )
        off += errors(found, truth)
        told = [(one.string, one.relative_ms) for one in found.strings]
        held += [ms.low <= truth[string] <= ms.high for string, ms in told if ms is not None]
    assert sum(held) >= 0.9 * len(held)
    assert sum(error < 1.0 for error in off) >= 0.9 * len(off)


def test_the_move_of_the_hand_is_no_delay() -> None:
    """The first note at a new fret comes 40 ms late: nothing changes by more than a fifth of a
    ms."""
    notes = played(two_periods, HIGH_AND_LOW, no_habit)
    moved = [
        note._replace(t_s=note.t_s + (0.04 if at in (240, 480, 720) else 0.0))
        for at, note in enumerate(notes)
    ]
    one, other = of_players(False), from_pulse(moved)
    for plain, late in zip(one.strings, other.strings):
        assert plain.relative_ms is not None and late.relative_ms is not None
        assert late.relative_ms.value == pytest.approx(plain.relative_ms.value, abs=0.2)
