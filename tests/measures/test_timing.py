"""Tempo, deviation and evenness, against published and computed values (rows E-.. and C-.. of the
check values)."""

from __future__ import annotations

import random
from fractions import Fraction

import numpy as np
import pytest

from livecheck.core.cell import make_cell
from livecheck.core.events import Midi, RepDone, Repetition
from livecheck.core.line import tempo_line
from livecheck.core.pitch import period_s
from livecheck.core.rig import Delay, Rig
from livecheck.measures.timing import cv_pct, just_noticeable_ms, npvi
from livecheck.session import Session

CELL = make_cell("six", [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 10)])


def played(onsets_s: list[float], rig: Rig | None = None, cell=CELL) -> list[Repetition]:
    """Repetitions of a cell whose slots were struck at these times, as they come through a rig."""
    rig = rig or Rig()
    records = []
    for index, onset_s in enumerate(onsets_s):
        slot = cell.slots[index % len(cell.slots)]
        at_s = onset_s + rig.delay.seconds(slot.string, slot.pitch)
        channel = rig.channels[slot.string - 1] - 1
        records.append(Midi(at_s, bytes((0x90 | channel, slot.pitch, 80))))
        records.append(Midi(at_s + 0.05, bytes((0x80 | channel, slot.pitch, 0))))
    records.sort()
    outcomes = Session(cell, rig).feed_all(records)
    return [outcome.repetition for outcome in outcomes if isinstance(outcome, RepDone)]


def fractions(text: str) -> list[float]:
    return [float(Fraction(part)) for part in text.split()]


def test_npvi_of_the_published_melody() -> None:
    """Daniele & Patel, Music Perception 31 (2013), appendix: 42.2 (E-04)."""
    rhythm = fractions("1 1/2 1/2 1 1/2 1/2 1/3 1/3 1/3 2 1/3 1/3 1/3 1/3 1/3 1/3 3/2 1 1/2")
    assert npvi(rhythm) == pytest.approx(42.20298, abs=1e-4)


@pytest.mark.parametrize(
    ("rhythm", "expected"),
    [
        ("1/4 1/4 1/4 1/4 1 1/4 1/4 1/4 1/4 1", 40.0),  # Condit-Schultz 2019, fig. 2 (E-05)
        ("1/4 1/4 1/2 1 1/4 1/4 1/2 1", 55.238),
        ("1/2 1/4 1/4 1 1/2 1/4 1/4 1", 62.857),
        ("2 1 2 1", 66.667),
        ("1/2 1 2 1 1/2", 66.667),
        ("1 1", 0.0),  # fig. 3 (E-06)
        ("2 3", 40.0),
        ("1 3", 100.0),
        ("1 7", 150.0),
        ("4 2 4 2 4", 66.667),  # Toussaint 2012, from memory (E-07)
        ("3 3 4 2 4", 40.476),
        ("3 3 4 1 5", 70.476),
    ],
)
def test_npvi_of_published_rhythms(rhythm: str, expected: float) -> None:
    """Each row names its print; computed values agree with the library amads."""
    assert npvi(fractions(rhythm)) == pytest.approx(expected, abs=1e-3)


def test_npvi_agrees_with_a_reference_library() -> None:
    """amads computes the same for random durations."""
    amads = pytest.importorskip(
        "amads.time.variability", reason="the reference library amads is not installed"
    )
    rng = random.Random(8)
    for _ in range(50):
        rhythm = [rng.uniform(0.05, 0.4) for _ in range(rng.randint(2, 12))]
        assert npvi(rhythm) == pytest.approx(amads.normalized_pairwise_variability_index(rhythm))


def test_npvi_and_cv_see_different_things() -> None:
    """Scaling and reversing change neither; the order matters to nPVI alone (E-08)."""
    assert npvi([1, 1, 2, 2]) == pytest.approx(22.222, abs=1e-3)
    assert npvi([1, 2, 1, 2]) == pytest.approx(66.667, abs=1e-3)
    assert cv_pct([1, 1, 2, 2]) == pytest.approx(cv_pct([1, 2, 1, 2]))
    assert npvi([3, 6, 6, 3]) == pytest.approx(npvi([1, 2, 2, 1]))


def test_too_few_intervals_say_nothing() -> None:
    """None, never zero (E-09); a duration that is not positive gives no number either."""
    assert npvi([0.1]) is None
    assert npvi([0.1, 0.0]) is None
    assert cv_pct([0.1, 0.2]) is None


def test_cv_uses_the_sample_deviation() -> None:
    """100, 110, 90, 100 ms: 8.165 % with n − 1, not 7.071 (E-10)."""
    assert cv_pct([0.100, 0.110, 0.090, 0.100]) == pytest.approx(8.165, abs=1e-3)


@pytest.mark.parametrize(
    ("bpm", "expected_ms"),
    [(60, 6.25), (80, 6.0), (100, 6.0), (120, 6.0), (160, 6.0), (200, 6.0), (62.5, 6.0)],
)
def test_just_noticeable_in_sixteenths(bpm: float, expected_ms: float) -> None:
    """Friberg & Sundberg 1995 (E-01, E-02): 6 ms below 240 ms, 2.5 % above; both meet at 240 ms."""
    assert just_noticeable_ms(60 / bpm / 4) == pytest.approx(expected_ms)


def test_the_tempo_line_is_least_squares() -> None:
    """The same slope and start as numpy's polyfit."""
    rng = random.Random(2)
    for _ in range(30):
        points = [(n, 100.0 + 0.15 * n + rng.gauss(0, 0.01)) for n in range(rng.randint(2, 17))]
        slope, start = np.polyfit([p[0] for p in points], [p[1] for p in points], 1)
        line = tempo_line(points)
        assert line is not None
        assert line.step_s == pytest.approx(slope, abs=1e-9)
        assert line.start_s == pytest.approx(start, abs=1e-6)


def test_a_perfect_figure_through_a_slow_converter_is_perfect() -> None:
    """Two periods of delay for each pitch, the rig takes them off again: no deviation (C-06,
    T-05)."""
    rig = Rig(delay=Delay(fixed_ms=3.0, periods=2.0))
    reps = played([1.0 + 0.15 * n for n in range(24)], rig)
    assert [rep.clean for rep in reps] == [True] * 4
    for rep in reps:
        assert rep.tempo_bpm == pytest.approx(100.0)
        assert rep.evenness.cv_pct == pytest.approx(0.0, abs=1e-6)
        assert all(abs(slot.deviation_ms) < 1e-6 for slot in rep.slots)
        for slot in rep.slots:
            assert slot.expected_s == pytest.approx(slot.note.onset_s)


def test_without_the_delays_the_same_figure_seems_to_gallop() -> None:
    """What C-06 warns of: strings 2 and 5, two periods apart, differ by more than is just
    noticed."""
    low, high = 2 * period_s(57), 2 * period_s(72)
    rig = Rig(delay=Delay(periods=2.0))
    arrived = [
        1.0 + 0.15 * n + rig.delay.seconds(s.string, s.pitch) for n, s in enumerate(CELL.slots * 3)
    ]
    rep = played(arrived)[1]
    assert rep.evenness.worst_ms > 0.3 * 1000 * (low - high)


def test_a_two_stroke_limp() -> None:
    """Intervals T + 5 and T − 5 ms in turn at T = 125: nPVI 8, CV 4 % with n (E-12); with n − 1 a
    little more."""
    onsets, at = [], 1.0
    for n in range(48):
        onsets.append(at)
        at += 0.130 if n % 2 == 0 else 0.120
    rep = played(onsets)[3]
    assert rep.evenness.npvi == pytest.approx(8.0, abs=1e-6)
    assert rep.evenness.cv_pct == pytest.approx(4.0 * (6 / 5) ** 0.5, abs=1e-6)


def test_deviation_is_minus_when_early() -> None:
    """The third slot 10 ms early, everything else on the grid."""
    onsets = [1.0 + 0.15 * n - (0.010 if n % 6 == 2 else 0.0) for n in range(24)]
    rep = played(onsets)[1]
    assert rep.slots[2].deviation_ms < -7.0
    assert rep.evenness.worst_ms == pytest.approx(-rep.slots[2].deviation_ms)


def test_unequal_lengths_are_divided_out() -> None:
    """A figure with a long slot and a rest, played exactly, is perfectly even (E-11)."""
    cell = make_cell("long", [(1, 5), (1, 7, None, 2), (2, 5), 1])
    onsets = [1.0 + 0.1 * (5 * rep + start) for rep in range(4) for start in (0, 1, 3)]
    rep = played(onsets, cell=cell)[1]
    assert rep.evenness.cv_pct == pytest.approx(0.0, abs=1e-6)
    assert rep.tempo_bpm == pytest.approx(150.0)
    assert rep.notes_per_s == pytest.approx(10.0)
    assert rep.end_s == pytest.approx(2.0)


def test_independent_errors_have_the_known_spread() -> None:
    """Each onset = grid + normal error of 5 ms at T = 125 ms: CV 141.4 σ/T = 5.66 %, nPVI 195.4 σ/T
    = 7.82 (E-12)."""
    rng = random.Random(6)
    cell = make_cell(
        "sixteen", [(string, fret) for string in (1, 2, 3, 4) for fret in (5, 6, 7, 8)]
    )
    onsets = [1.0 + 0.125 * n + rng.gauss(0, 0.005) for n in range(16 * 400)]
    reps = played(onsets, cell=cell)
    assert np.mean([rep.evenness.cv_pct for rep in reps]) == pytest.approx(5.66, rel=0.03)
    assert np.mean([rep.evenness.npvi for rep in reps]) == pytest.approx(7.82, rel=0.03)
