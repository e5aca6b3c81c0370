"""Play against a click with a planted common part, spread, drift and places."""

from __future__ import annotations

from random import Random

import pytest

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Click, Midi, RepDone, Repetition
from livecheck.measures.against_click import AgainstClick, against_click
from livecheck.report.click_text import click_lines
from livecheck.session import Session

CELL = make_cell("six", [(2, 10), (2, 12), (3, 12), (3, 10), (5, 12), (5, 10)])
BEAT_S = 60.0 / 96.0


def reps_of(
    seed: int,
    reps: int = 40,
    common_ms: float = 12.0,
    spread_ms: float = 4.0,
    drift: float = 0.0,
    places: tuple[float, ...] = (0.0,) * 6,
    tempo: float = 1.0,
    cell: Cell = CELL,
) -> list[Repetition]:
    """Play from the fifth beat on, judged."""
    rng, records = Random(seed), []
    step_s = BEAT_S / cell.grid / tempo
    for rep in range(reps):
        for slot in cell.slots:
            t_s = 1.0 + 4 * BEAT_S + (rep * cell.steps + slot.start) * step_s
            off_ms = common_ms + places[slot.number - 1] + rng.gauss(0.0, spread_ms)
            off_ms += drift * (t_s - 1.0) / 60.0
            on_s = t_s + off_ms / 1e3
            records.append(Midi(on_s, bytes((0x90 | slot.string - 1, slot.pitch, 90))))
            records.append(
                Midi(on_s + 0.8 * step_s, bytes((0x80 | slot.string - 1, slot.pitch, 0)))
            )
    outcomes = Session(cell).feed_all(sorted(records, key=lambda one: one.t_s))
    return [one.repetition for one in outcomes if isinstance(one, RepDone)]


def clicks(beats: int = 90, silent: range = range(0)) -> list[Click]:
    return [Click(1.0 + k * BEAT_S, k, 96.0) for k in range(beats) if k not in silent]


def found(seed: int, **planted: float | tuple[float, ...]) -> AgainstClick:
    told = against_click(reps_of(seed, **planted), clicks())  # type: ignore[arg-type]
    assert told is not None
    return told


@pytest.mark.parametrize("common_ms", [-25.0, 0.0, 18.0])
def test_the_common_part_is_apart_from_spread_and_places(common_ms: float) -> None:
    """It comes out whole, and neither of the others follows it."""
    told = found(1, common_ms=common_ms)
    assert told.common == pytest.approx(common_ms, abs=1.0)
    assert told.spread == pytest.approx(4.0, abs=0.5)
    assert all(ms is not None and abs(ms) < 2.0 for ms in told.places)
    assert told.reps == 40 and told.apart == 0


def test_a_note_that_is_always_late_is_named() -> None:
    """Against the mean of all; nothing else is."""
    told = found(2, places=(0.0, 0.0, 0.0, 15.0, 0.0, 0.0))
    assert told.places[3] == pytest.approx(12.5, abs=2.0)
    assert "note 4" in click_lines(told)[1] and "note 1" not in click_lines(told)[1]


def test_a_drift_is_told_and_none_is_not() -> None:
    """Ten ms a minute over 24 s, its interval around it; false in one of twenty at most."""
    told = found(3, drift=30.0, spread_ms=3.0)
    assert told.drift is not None and told.drift_error is not None
    assert abs(told.drift - 30.0) < 3.0 * told.drift_error
    assert any(line.startswith("Drift: falling behind") for line in click_lines(told))
    false = sum(any("Drift" in line for line in click_lines(found(seed))) for seed in range(10, 30))
    assert false <= 3


def test_silent_bars_are_counted_over() -> None:
    """Two bars without a click in the middle: the same figures."""
    reps = reps_of(4)
    told, whole = against_click(reps, clicks(silent=range(24, 32))), against_click(reps, clicks())
    assert told is not None and whole is not None
    assert told.notes == whole.notes and told.common == pytest.approx(whole.common, abs=0.1)


def test_play_that_does_not_follow_the_click_is_not_measured_by_it() -> None:
    """At another tempo each repetition is apart; without clicks, or too few notes, nothing is
    told."""
    told = against_click([*reps_of(5), *reps_of(6, reps=10, tempo=1.15)], clicks(200))
    assert told is not None and told.apart >= 8
    assert against_click(reps_of(7, tempo=1.15), clicks()) is None
    assert against_click(reps_of(8), []) is None
    assert against_click(reps_of(9, reps=3), clicks()) is None
    assert click_lines(None) == ["Against the click: too few notes followed it to tell."]


def test_a_followed_clock_that_wavers_is_followed() -> None:
    """Its tempo is another at each beat by half a per cent."""
    rng = Random(1)
    wavering = [Click(c.t_s, c.beat, 96.0 * (1.0 + rng.gauss(0.0, 0.002))) for c in clicks()]
    told = against_click(reps_of(10), wavering)
    assert told is not None
    assert told.common == pytest.approx(12.0, abs=1.5) and told.apart == 0
