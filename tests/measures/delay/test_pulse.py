"""Strokes put in their places on a grid."""

from __future__ import annotations

import pytest

from livecheck.measures.delay.pulse import Struck, on_click, on_pulse, single


def even(count: int, step_s: float = 0.125, begin_s: float = 1.0) -> list[Struck]:
    return [Struck(begin_s + at * step_s, 1 + at % 6, 60) for at in range(count)]


def test_a_string_s_second_trigger_is_left_out() -> None:
    """The same string within 60 ms (sources.md C-14); another string at the same moment stays."""
    notes = [Struck(0.0, 1, 60), Struck(0.04, 1, 60), Struck(0.04, 2, 55), Struck(0.2, 1, 60)]
    assert [note.t_s for note in single(notes)] == [0.0, 0.04, 0.2]


def test_a_missed_stroke_leaves_a_step_of_two() -> None:
    """And the rest lies on the grid."""
    strokes = on_pulse([note for at, note in enumerate(even(40)) if at != 17])
    assert strokes is not None
    assert strokes.steps == (0, *[1] * 16, 2, *[1] * 21)
    assert abs(strokes.away_ms).max() < 1e-6
    assert strokes.before[17] is None and strokes.before[18] == strokes.notes[17]


def test_a_note_too_many_is_left_out() -> None:
    """A ghost between two strokes is no stroke."""
    strokes = on_pulse(sorted([*even(40), Struck(2.05, 6, 40)]))
    assert strokes is not None and len(strokes.notes) == 40 and set(strokes.steps) == {0, 1}


def test_a_pulse_of_double_speed_goes_on_as_a_pulse() -> None:
    """From the half on twice as fast: nearly all strokes a step apart, none lost but at the
    change."""
    strokes = on_pulse([*even(40, 0.25), *even(40, 0.125, 1.0 + 40 * 0.25)])
    assert strokes is not None
    assert len(strokes.notes) >= 70 and strokes.steps.count(1) >= 65


def test_after_a_pause_the_pulse_begins_anew() -> None:
    """Two runs, each with a line of its own."""
    strokes = on_pulse([*even(30), *even(30, 0.13, 20.0)])
    assert strokes is not None
    assert [at for at, step in enumerate(strokes.steps) if step == 0] == [0, 30]
    assert abs(strokes.away_ms).max() < 1e-6


def test_strokes_left_out_add_their_steps() -> None:
    """Steps since the last one kept; a run's beginning stays one."""
    strokes = on_pulse(even(12))
    assert strokes is not None
    assert strokes.some([at not in (0, 4, 5) for at in range(12)]) == (0, 1, 1, 3, 1, 1, 1, 1, 1)


def test_several_strokes_to_a_click_lie_between_its_beats() -> None:
    """Four to each, all 20 ms early, a click left out: on the grid, and the lead is what is
    common."""
    clicks = [1.0 + 0.5 * at for at in range(12) if at != 5]
    strokes = on_click([note._replace(t_s=note.t_s - 0.02) for note in even(44)], clicks)
    assert strokes is not None
    assert set(strokes.steps[1:]) == {1}
    assert strokes.away_ms == pytest.approx([-20.0] * len(strokes.notes), abs=1e-6)


def test_without_clicks_or_pulse_there_is_nothing() -> None:
    """One click, one note, or notes at random."""
    assert on_click(even(30), [1.0]) is None
    assert on_click(even(1), [1.0, 2.0]) is None
    assert (
        on_pulse(sorted(Struck((at * 7919 % 1000) / 50.0, 1 + at % 6, 60) for at in range(80)))
        is None
    )
