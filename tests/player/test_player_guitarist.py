"""The simulated hands: timing with known statistics, faults at the asked rates, labels that say
what was done."""

from __future__ import annotations

import statistics
from collections import Counter
from dataclasses import replace
from random import Random

import pytest

from livecheck.core.cell import make_cell
from livecheck.player.guitarist import play
from livecheck.player.habits import Habits
from livecheck.player.sounds import extra_kind

FOUR = make_cell("four", [(3, 5), (3, 7), (2, 5), (2, 8)])
EVEN = Habits(notes_per_s=8.0, reps=1500, walk_pct=0.0, gallop_pct=0.0)


def intervals(habits, cell=FOUR, seed=1):
    sounds = play(cell, habits, Random(seed)).sounds
    return [b.t_s - a.t_s for a, b in zip(sounds, sounds[1:])]


def lag_one(values):
    mean = statistics.fmean(values)
    off = [value - mean for value in values]
    return sum(a * b for a, b in zip(off, off[1:])) / sum(a * a for a in off)


@pytest.mark.parametrize(("timekeeper", "scatter_pct"), [(0.0, 4.0), (1.0, 3.0), (4 / 3, 2.4)])
def test_intervals_scatter_as_the_two_level_model_says(timekeeper, scatter_pct):
    """SD √(c² + 2m²) and lag-1 autocorrelation −m²/(c² + 2m²); with m alone √2 m and −½ (sources.md
    E-12, E-13).

    The third case is E-12's own: c 4 ms, m 3 ms, T 125 ms gives SD 5.831 ms, r −0.2647, CV 4.66 %.
    """
    motor = 0.125 * scatter_pct / 100
    clock = timekeeper * motor
    played = intervals(replace(EVEN, timekeeper=timekeeper, scatter_pct=scatter_pct))
    spread = (clock**2 + 2 * motor**2) ** 0.5
    assert statistics.stdev(played) == pytest.approx(spread, rel=0.04)
    assert lag_one(played) == pytest.approx(-(motor**2) / spread**2, abs=0.04)
    assert statistics.fmean(played) == pytest.approx(0.125, rel=0.002)
    if timekeeper > 1:
        assert 100 * statistics.stdev(played) / statistics.fmean(played) == pytest.approx(
            4.66, abs=0.2
        )


def test_motor_scatter_never_falls_below_its_floor():
    """At 20 notes a second 1.5 % would be 0.75 ms; the hands keep 3 ms: interval SD √2 × 3 ms
    (E-12's first row)."""
    played = intervals(replace(EVEN, notes_per_s=20.0, scatter_pct=1.5, timekeeper=0.0))
    assert statistics.stdev(played) == pytest.approx(2**0.5 * 0.003, rel=0.05)


def test_a_gallop_is_the_same_in_every_repetition():
    """A slot's mean deviation stays where it is; its share of a step is that of the asked size."""
    performance = play(FOUR, replace(EVEN, reps=400, gallop_pct=4.0, timekeeper=0.0), Random(3))
    halves = []
    for part in (performance.passes[:200], performance.passes[200:]):
        halves.append(
            [statistics.fmean(p.onsets_s[s] - p.times_s[s] for p in part) for s in range(1, 5)]
        )
    assert halves[0] == pytest.approx(halves[1], abs=0.0012)
    assert max(map(abs, halves[0])) > 0.002


def test_tempo_walks_slowly_and_comes_back():
    """Over many repetitions the tempo leaves its place by a few per cent and stays near it on the
    whole."""
    performance = play(FOUR, replace(EVEN, walk_pct=0.4), Random(5))
    steps = [this.step_s for this in performance.passes]
    assert 0.005 < statistics.stdev(steps) / 0.125 < 0.06
    assert statistics.fmean(steps) == pytest.approx(0.125, rel=0.02)


@pytest.mark.parametrize("fault", ["dropped", "wrong_fret", "wrong_string", "misplaced", "soft"])
def test_faults_come_about_as_often_as_asked(fault):
    """Six in a hundred slots, give or take what the rule "no two or three silent slots in a row"
    costs."""
    clean = play(FOUR, EVEN, Random(7)).sounds
    loud = statistics.median(sound.velocity for sound in clean)
    sounds = play(FOUR, replace(EVEN, **{fault: 0.06}), Random(7)).sounds
    slots = EVEN.reps * 4
    wrong = sum(sound.label.verdict == "wrong" for sound in sounds) / slots
    found = {
        "dropped": (slots - len(sounds)) / slots,
        "wrong_fret": wrong,
        "wrong_string": wrong,
        "misplaced": sum(sound.label.slot is None for sound in sounds) / slots,
        "soft": sum(sound.velocity < 0.55 * loud for sound in sounds) / slots,
    }[fault]
    assert found == pytest.approx(0.06, abs=0.014)


def test_a_wrong_fret_is_on_the_slots_string_and_a_wrong_string_has_its_pitch():
    """Wrong means another fret of that string, or that pitch on another string; mostly a fret or
    two away."""
    slots = {slot.number: slot for slot in FOUR.slots}
    off = Counter()
    for sound in play(FOUR, replace(EVEN, wrong_fret=0.1, wrong_string=0.1), Random(2)).sounds:
        if sound.label.verdict == "wrong":
            slot = slots[sound.label.slot]
            assert (sound.string == slot.string) != (sound.pitch == slot.pitch)
            if sound.string == slot.string:
                off[abs(sound.pitch - slot.pitch)] += 1
                assert sound.pitch - slot.pitch not in (12, 19, 24)
    assert off[1] + off[2] > 0.5 * sum(off.values())


def test_clipped_strings_lie_between_the_two_of_a_crossing():
    """What is clipped was passed over, at a time between the two strokes."""
    cell = make_cell("skip", [(1, 5), (4, 7), (2, 5)])
    sounds = play(cell, replace(EVEN, reps=200, clipped=0.4), Random(4)).sounds
    clips = [sound for sound in sounds if sound.stroke == "clip"]
    assert len(clips) > 100
    assert {sound.string for sound in clips} == {2, 3}


def test_extras_are_noise_where_the_hand_passes_over():
    """A quiet string is noise always, one of the cell's own only between the two strings of a
    crossing (formats.md)."""
    cell = make_cell("skip", [(1, 5), (4, 7), (2, 5)], quiet=[6])
    assert extra_kind(cell, 6, None, None) == "noise"
    assert extra_kind(cell, 2, 1, 4) == "noise"
    assert extra_kind(cell, 2, 4, 2) == "stray"
    assert extra_kind(cell, 5, 1, 4) == "stray"
