"""Beats out of a MIDI clock that jitters, loses clocks, changes its tempo, stops and goes on."""

from __future__ import annotations

from random import Random

import pytest

from livecheck.core.clock_in import ClockBeat, ClockIn

S, MS = 1_000_000_000, 1_000_000


def clocks(bpm: float, beats: float, begin_s: float = 0.0) -> list[int]:
    """When clocks are sent: 24 a beat (sources.md M-27)."""
    step_ns = 60e9 / (24 * bpm)
    return [round(begin_s * S + at * step_ns) for at in range(round(24 * beats))]


def heard(clock: ClockIn, times_ns: list[int], seed: int, late_ms: float = 3.0) -> list[ClockBeat]:
    """Each clock late by some, as on a busy machine: half of them little, a few much."""
    rng, told, last = Random(seed), [], 0
    for t_ns in times_ns:
        late = abs(rng.gauss(0.0, 0.3)) + (rng.uniform(0.0, late_ms) if rng.random() < 0.2 else 0.0)
        last = max(last + 1, t_ns + round(late * MS))
        told += clock.clock(last)
    return told


@pytest.mark.parametrize("bpm", [40.0, 96.0, 173.0, 300.0])
def test_beats_lie_where_they_were_sent(bpm: float) -> None:
    """From the second beat on, within a millisecond, the tempo within half a per cent."""
    clock = ClockIn()
    clock.start()
    told = heard(clock, clocks(bpm, 40), seed=int(bpm))
    assert [one.beat for one in told] == list(range(1, 40))
    for one in told:
        assert abs(one.t_ns - one.beat * 60e9 / bpm) < 1.0 * MS
        assert one.bpm == pytest.approx(bpm, rel=0.005)
    assert clock.lost == 0


@pytest.mark.parametrize("seed", range(5))
def test_clocks_that_are_lost_do_not_move_the_beats(seed: int) -> None:
    """One in fifty, and a run of five: they are counted, and the beats keep their numbers."""
    rng, clock = Random(seed), ClockIn()
    clock.start()
    sent = clocks(120.0, 60)
    gone = {at for at in range(60, len(sent)) if rng.random() < 0.02} | set(range(500, 505))
    told = heard(clock, [t for at, t in enumerate(sent) if at not in gone], seed, late_ms=2.0)
    for one in told:
        assert abs(one.t_ns - one.beat * 0.5 * S) < 2.0 * MS
    assert clock.lost == len(gone) and len(told) > 50 and told[-1].beat == 59


def test_a_change_of_tempo_is_followed_within_two_beats() -> None:
    """96 to 132 without a stop."""
    clock = ClockIn()
    clock.start()
    first = clocks(96.0, 10)
    told = heard(clock, [*first, *clocks(132.0, 10, begin_s=10 * 60.0 / 96.0)], seed=3, late_ms=1.0)
    assert [one.beat for one in told][-1] == 19
    assert all(one.bpm == pytest.approx(132.0, rel=0.01) for one in told if one.beat >= 13)


def test_start_stop_continue_and_position() -> None:
    """Start begins to count anew, what comes after stop is not counted, continue goes on where it
    stopped, a position sets the number (sources.md M-28, M-29)."""
    clock = ClockIn()
    clock.start()
    heard(clock, clocks(120.0, 8), seed=1)
    clock.stop()
    assert clock.clock(5 * S) == []
    assert not clock.is_lost(60 * S)
    clock.resume()
    told = heard(clock, clocks(120.0, 4, begin_s=10.0), seed=2)
    assert [one.beat for one in told][-1] == 11
    clock.position(4 * 16)  # sixteen beats
    told = heard(clock, clocks(120.0, 4, begin_s=20.0), seed=4)
    assert [one.beat for one in told][-1] == 19
    clock.start()
    told = heard(clock, clocks(120.0, 4, begin_s=30.0), seed=5)
    assert [one.beat for one in told][-1] == 3


def test_silence_is_a_loss_and_a_slow_clock_is_none() -> None:
    """A quarter of a second, or six clocks of a slow tempo."""
    clock = ClockIn()
    assert not clock.is_lost(10 * S)
    sent = clocks(30.0, 4)
    heard(clock, sent, seed=1)
    assert not clock.is_lost(sent[-1] + 300 * MS)
    assert clock.is_lost(sent[-1] + 700 * MS)
