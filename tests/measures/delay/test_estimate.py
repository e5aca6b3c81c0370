"""Conversion delay from a click, from a pulse and from practice."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
import pytest
from played import repetition

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Repetition
from livecheck.core.pitch import STANDARD_TUNING, period_s
from livecheck.core.rig import Delay, Rig
from livecheck.measures.delay.estimate import (
    DelayEstimate,
    Struck,
    against_click,
    from_practice,
    from_pulse,
)

ORDER = (6, 5, 4, 3, 2, 1, 1, 2, 3, 4, 5, 6)
PULSE_S = 0.15


def pulse(
    *, periods: float = 2.0, fixed_ms: float = 0.0, scatter_ms: float = 0.0, notes: int = 240,
    seed: int = 1, order: tuple[int, ...] = ORDER, lean_ms: float = 0.0, faster: float = 0.0,
) -> list[Struck]:  # fmt: skip
    """Open strings on an even grid, each late by its delay. lean_ms: notes reached from a higher
    string come later."""
    rng = Random(seed)
    struck, before = [], order[-1]
    for at in range(notes):
        string = order[at % len(order)]
        lean = lean_ms * (1 if string > before else -1 if string < before else 0)
        before = string
        t_s = (
            at * PULSE_S * (1.0 - faster * at / notes)
            + fixed_ms / 1000.0
            + periods * period_s(_open(string))
        )
        struck.append(
            Struck(t_s + (rng.gauss(0.0, scatter_ms) + lean) / 1000.0, string, _open(string))
        )
    return struck


def _open(string: int) -> int:
    return STANDARD_TUNING[string - 1]


def relative(estimate: DelayEstimate) -> dict[int, float]:
    return {
        one.string: one.relative_ms.value for one in estimate.strings if one.relative_ms is not None
    }


TWO_PERIODS_MS = {1: 6.067, 2: 8.099, 3: 10.204, 4: 13.621, 5: 18.182, 6: 24.270}
"""sources.md T-05."""
AGAINST_MEAN = {
    string: ms - sum(TWO_PERIODS_MS.values()) / 6 for string, ms in TWO_PERIODS_MS.items()
}


def test_a_perfect_pulse_gives_back_the_published_two_periods() -> None:
    """sources.md C-02, T-05: two periods of the open strings, as differences from their mean."""
    estimate = from_pulse(pulse(periods=2.0))
    assert relative(estimate) == pytest.approx(AGAINST_MEAN, abs=0.01)
    assert estimate.periods is not None and estimate.periods.value == pytest.approx(2.0, abs=0.001)


def test_uncorrected_the_pulse_gallops_by_the_strings_differences() -> None:
    """sources.md C-06: a gap error of up to 9 to 18 ms between string 6 and string 1 at one to two
    periods."""
    found = relative(from_pulse(pulse(periods=2.0)))
    assert 9.0 < found[6] - found[1] == pytest.approx(24.270 - 6.067, abs=0.02)


def test_a_common_delay_changes_nothing() -> None:
    """measures.md: what is common to all strings cannot be told from the notes."""
    assert relative(from_pulse(pulse(fixed_ms=40.0))) == pytest.approx(
        relative(from_pulse(pulse())), abs=1e-6
    )


def test_a_quickening_pulse_and_a_lean_in_one_direction_are_no_delay() -> None:
    """Tempo that changes by a fifth, and notes late after every higher string, are told apart from
    the strings."""
    estimate = from_pulse(pulse(faster=0.1, lean_ms=3.0))
    assert relative(estimate) == pytest.approx(AGAINST_MEAN, abs=0.35)


def test_missed_notes_and_slips_do_little() -> None:
    """A gap of two steps is taken as two; a wild note is left out."""
    notes = pulse(scatter_ms=1.0)
    kept = [note for at, note in enumerate(notes) if at % 37 != 5]
    kept[50] = kept[50]._replace(t_s=kept[50].t_s + 0.05)
    assert relative(from_pulse(kept)) == pytest.approx(AGAINST_MEAN, abs=0.7)


def test_a_second_trigger_is_no_stroke_of_the_pulse() -> None:
    """The same string again within 60 ms (sources.md C-14)."""
    notes = pulse()
    doubled = [*notes, *(note._replace(t_s=note.t_s + 0.04) for note in notes[::9])]
    assert relative(from_pulse(doubled)) == pytest.approx(AGAINST_MEAN, abs=0.01)


def test_intervals_hold_the_truth_about_as_often_as_they_say() -> None:
    """95 % intervals over 40 noisy pulses of six strings: between 85 and 100 of 100 hold it."""
    held = []
    for seed in range(40):
        estimate = from_pulse(pulse(scatter_ms=4.0, notes=180, seed=seed))
        for one in estimate.strings:
            assert one.relative_ms is not None
            held.append(one.relative_ms.low <= AGAINST_MEAN[one.string] <= one.relative_ms.high)
    assert np.mean(held) >= 0.85


@pytest.mark.parametrize(
    ("notes", "why"),
    [
        ([], "too few notes"),
        (pulse(notes=12), "too few notes"),
        ([Struck(0.3 * at**1.7, 1 + at % 6, 60) for at in range(60)], "no steady pulse"),
        (pulse(order=(3,)), "not tied together"),
    ],
)
def test_what_cannot_be_said_is_not(notes: list[Struck], why: str) -> None:
    """Too few notes, no pulse, or a single string on one fret: why, and no figure."""
    estimate = from_pulse(notes)
    assert estimate.why is not None and why in estimate.why
    assert estimate.strings == () and estimate.periods is None
    assert estimate.suggestion(Rig()) is None


# ---------------------------------------------------------------------------------- against a click


def test_against_a_click_the_common_part_is_told_apart() -> None:
    """A player 25 ms ahead of the click changes only what is common (sources.md E-20: a lead is no
    mistake)."""
    clicks = [at * PULSE_S for at in range(240)]
    late, ahead = (
        pulse(scatter_ms=2.0),
        [note._replace(t_s=note.t_s - 0.025) for note in pulse(scatter_ms=2.0)],
    )
    one, other = against_click(late, clicks), against_click(ahead, clicks)
    assert relative(one) == pytest.approx(relative(other), abs=1e-6)
    assert one.common_ms is not None and other.common_ms is not None
    assert one.common_ms.value - other.common_ms.value == pytest.approx(25.0)
    assert relative(one) == pytest.approx(AGAINST_MEAN, abs=1.0)


def test_several_notes_may_be_played_to_each_click() -> None:
    """Two and four notes a click, some clicks left out: the same figures as with a click for every
    note."""
    notes = pulse(scatter_ms=2.0)
    every = against_click(notes, [at * PULSE_S for at in range(240)])
    for to_each in (2, 4):
        clicks = [at * to_each * PULSE_S for at in range(240 // to_each) if at % 17 != 5]
        found = against_click(notes, clicks)
        assert relative(found) == pytest.approx(relative(every), abs=0.1)
        assert every.common_ms is not None and found.common_ms is not None
        assert found.common_ms.value == pytest.approx(every.common_ms.value, abs=0.2)


def test_notes_between_the_grid_s_places_are_left_out() -> None:
    """What lies further than a third of a step from where the other notes lie is no stroke to the
    click."""
    clicks = [at * PULSE_S for at in range(240)]
    notes = pulse(scatter_ms=1.0)
    slipped = [
        note._replace(t_s=note.t_s + (0.07 if at % 10 == 3 else 0.0))
        for at, note in enumerate(notes)
    ]
    assert against_click(slipped, clicks).notes == 216
    assert against_click(notes, []).why is not None


def test_a_click_that_pulls_the_player_back_is_followed() -> None:
    """Leads and lags that last for several notes (sources.md E-13, E-20) do not pass for delays."""
    rng = Random(5)
    lag, notes = 0.0, []
    for note in pulse(scatter_ms=2.0):
        lag = 0.8 * lag + rng.gauss(0.0, 4.0)
        notes.append(note._replace(t_s=note.t_s + lag / 1000.0))
    found = against_click(notes, [at * PULSE_S for at in range(240)])
    assert relative(found) == pytest.approx(AGAINST_MEAN, abs=1.0)


# ------------------------------------------------------------------------------------ from practice

CELLS = (
    make_cell("a", [(6, 3), (5, 5), (4, 5), (3, 4), (2, 5), (1, 3), (2, 3), (4, 3)]),
    make_cell("b", [(1, 12), (3, 12), (5, 12), (6, 12), (4, 14), (2, 13)]),
    make_cell("c", [(2, 1), (5, 0), (3, 2), (6, 0), (4, 2), (1, 0), (3, 0), (5, 2)]),
    make_cell("d", [(6, 0), (4, 2), (2, 3), (1, 5), (3, 5), (5, 7), (6, 8), (4, 9)]),
)


def practised(
    cell: Cell, periods: float, seed: int, habit_ms: float, reps: int = 12
) -> list[Repetition]:
    """Repetitions whose onsets arrive late by the sounding period, with habits of the slots and
    scatter."""
    rng = Random(seed)
    habits = [rng.gauss(0.0, habit_ms) for _ in cell.slots]
    late = [1000.0 * periods * period_s(slot.pitch) for slot in cell.slots]
    return [
        repetition(
            cell,
            rep,
            start_s=rep * 2.0,
            late_ms=[own + habit + rng.gauss(0.0, 3.0) for own, habit in zip(late, habits)],
        )
        for rep in range(reps)
    ]


def test_practice_of_several_cells_gives_the_periods_back() -> None:
    """Slot deviations against the sounding period, over cells and strings; the interval holds the
    truth."""
    reps = [
        rep
        for seed, cell in enumerate(CELLS)
        for rep in practised(cell, 1.6, seed, habit_ms=0.5, reps=30)
    ]
    estimate = from_practice(reps)
    assert estimate.periods is not None
    assert estimate.periods.low < 1.6 < estimate.periods.high
    assert estimate.periods.value == pytest.approx(1.6, abs=0.15)


def test_habits_of_the_slots_make_the_interval_wide_not_the_number_of_repetitions() -> None:
    """A slot counts once: a hundred repetitions of a figure that limps say no more of the delay
    than twenty."""

    def width(reps: int) -> float:
        every = [
            rep for seed, cell in enumerate(CELLS) for rep in practised(cell, 1.6, seed, 4.0, reps)
        ]
        periods = from_practice(every).periods
        assert periods is not None
        return periods.high - periods.low

    assert width(100) > 0.7 * width(20)
    assert width(20) > 0.3


def test_practice_uses_arrival_times_whatever_delay_was_taken_off() -> None:
    """Judged with another delay, the same notes give the same estimate."""
    reps = [rep for seed, cell in enumerate(CELLS) for rep in practised(cell, 1.6, seed, 0.5)]
    first = from_practice(reps)
    for rep in reps:
        for result in rep.slots:
            assert result.note is not None
            result.note.corrected_s -= 0.007 * result.note.string
    assert from_practice(reps) == first


def test_little_practice_says_nothing() -> None:
    """Four repetitions of one cell, or none."""
    assert from_practice(practised(CELLS[0], 1.6, 1, 0.0, reps=4)).why is not None
    assert from_practice([]).why is not None


# -------------------------------------------------------------------------------------- suggestions


def test_a_suggestion_keeps_the_common_part() -> None:
    """By periods or by string, the mean over the strings heard stays what the rig had."""
    estimate = from_pulse(pulse(periods=1.5))
    rig = Rig(delay=Delay(per_string_ms=(15.0,) * 6))
    for per_string in (False, True):
        delay = estimate.suggestion(rig, per_string)
        assert delay is not None
        mean_ms = sum(1000.0 * delay.seconds(string, _open(string)) for string in range(1, 7)) / 6
        assert mean_ms == pytest.approx(15.0, abs=0.1)


def test_a_suggested_delay_makes_a_perfect_figure_even() -> None:
    """sources.md C-06: two periods added, the suggestion taken off: no deviation is left."""
    notes = pulse(periods=2.0)
    for per_string in (False, True):
        delay = from_pulse(notes).suggestion(Rig(), per_string)
        assert delay is not None
        corrected = np.array([note.t_s - delay.seconds(note.string, note.pitch) for note in notes])
        assert np.diff(corrected) == pytest.approx(PULSE_S, abs=0.00015)


def test_no_delay_is_suggested_below_zero() -> None:
    """With no delay in the rig yet, the quickest string gets none and the others what they are
    slower by."""
    delay = from_pulse(pulse(periods=2.0)).suggestion(Rig(), per_string=True)
    assert delay is not None and delay.per_string_ms is not None
    assert min(delay.per_string_ms) == pytest.approx(0.0, abs=0.06)


def test_a_string_that_was_not_heard_gets_no_constant() -> None:
    """Only five strings played: nothing by string for a rig of six, by periods still."""
    estimate = from_pulse(pulse(order=(5, 4, 3, 2, 1, 1, 2, 3, 4, 5)))
    assert estimate.suggestion(Rig(), per_string=True) is None
    assert (
        estimate.suggestion(replace(Rig(), channels=(1, 2, 3, 4, 5)), per_string=True) is not None
    )
    assert estimate.suggestion(Rig()) is not None
