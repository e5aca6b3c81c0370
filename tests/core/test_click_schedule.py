"""Schedules of clicks: deadlines that do not drift, accents, parts of a beat, bars without a click,
MIDI clock."""

from __future__ import annotations

import pytest

from livecheck.core.cell import make_cell
from livecheck.core.click import (
    CLOCK,
    CONTINUE,
    COUNT_IN,
    HIGH,
    LATE_NS,
    LOW,
    SOFT,
    START,
    STOP,
    Schedule,
    block_end_ns,
    block_schedule,
    note_off,
    schedule_from,
)
from livecheck.core.cues import USUAL, as_told, tones_from
from livecheck.errors import BadInput

S, MS = 1_000_000_000, 1_000_000


def test_nothing_adds_up_over_an_hour() -> None:
    """Each deadline is counted from the beginning: 5400 beats of 90 a minute are an hour to the
    nanosecond."""
    assert Schedule(7, 90.0).due_ns(5400) == 7 + 3600 * S
    assert abs(Schedule(0, 97.3).due_ns(973) - 600 * S) <= 1
    assert Schedule(0, 120.0, clock=True).due_ns(24 * 7200) == 3600 * S


@pytest.mark.parametrize(
    ("last", "now_ns", "tick"),
    [
        (-1, -500 * MS, 0),
        (-1, 0, 0),
        (0, 1 * MS, 1),
        (3, 4 * S + LATE_NS, 4),
        (3, 4 * S + LATE_NS + 1, 5),
        (3, 100 * S + 500 * MS, 101),
    ],
)
def test_a_click_that_would_come_late_is_left_out(last: int, now_ns: int, tick: int) -> None:
    """After a suspend the click goes on with the next beat in time; what was missed is not caught
    up with."""
    assert Schedule(0, 60.0).next_tick(last, now_ns) == tick


def test_it_is_a_wood_block_of_general_midi_on_channel_ten() -> None:
    """sources.md M-32, M-34: `99 4C` is the high one; the count-in is high, the rest low."""
    schedule = Schedule(0, 60.0)
    assert schedule.sent_at(0)[0][:2] == bytes.fromhex("994c")
    assert note_off(HIGH)[:2] == bytes.fromhex("894c")
    notes = [schedule.note_at(beat) for beat in range(COUNT_IN + 2)]
    assert notes == [HIGH] * COUNT_IN + [LOW, LOW] == [76] * 4 + [77] * 2


def notes(schedule: Schedule, beats: int) -> str:
    """What sounds in the play of so many beats: H, L, s, and - where nothing does."""
    signs = {HIGH: "H", LOW: "L", SOFT: "s", None: "-"}
    begin = schedule.count_in * schedule.ticks
    return "".join(signs[schedule.note_at(begin + tick)] for tick in range(beats * schedule.ticks))


def test_accents_come_by_bar_or_by_repetition() -> None:
    """Five sixteenths against the beat come round after five beats, six after three."""
    assert notes(Schedule(0, 60.0, accent="bar"), 9) == "HLLLHLLLH"
    five = Schedule(0, 60.0, accent="repetition", steps=5, grid=4)
    assert notes(five, 11) == "HLLLLHLLLLH"
    six = Schedule(0, 60.0, accent="repetition", steps=6, grid=4)
    assert notes(six, 7) == "HLLHLLH"
    assert notes(Schedule(0, 60.0, accent="none"), 4) == "LLLL"


def test_a_beat_is_divided_and_bars_fall_silent() -> None:
    """The parts of a beat are soft, and none sounds in the count-in; silent bars come after the
    sounding ones."""
    three = Schedule(0, 60.0, subdivide=3)
    assert notes(three, 2) == "LssLss"
    assert [three.note_at(tick) for tick in range(4)] == [HIGH, None, None, HIGH]
    muted = Schedule(0, 60.0, sounding=1, silent=2)
    assert notes(muted, 16) == "LLLL--------LLLL"


def test_a_block_clicks_on_each_beat_that_begins_before_its_end() -> None:
    """Seven repetitions of six sixteenths last ten and a half beats: eleven clicks; eight last
    twelve: twelve, and none on the beat at which it ends."""
    cell = make_cell("six", [(2, 10)] * 6)
    for reps, beats in ((7, 11), (8, 12), (1, 2), (4, 6)):
        schedule = block_schedule(cell, 100.0, reps, 5 * S)
        clicks = [tick for tick in range(40) if schedule.note_at(tick) is not None]
        assert clicks == list(range(COUNT_IN + beats))
        end_ns = block_end_ns(cell, schedule, reps)
        assert end_ns - schedule.play_ns() == round(reps * 1.5 * 0.6 * S)
        assert schedule.due_ns(clicks[-1]) < end_ns <= schedule.due_ns(clicks[-1] + 1)
        assert schedule.next_tick(clicks[-1], schedule.due_ns(clicks[-1]) + 1) is None


def clock_of(schedule: Schedule) -> list[tuple[int, bytes]]:
    """Every message until the end, with its tick."""
    sent, tick = [], -1
    while (ahead := schedule.next_tick(tick, schedule.begin_ns)) is not None:
        tick = ahead
        sent += [(tick, data) for data in schedule.sent_at(tick)]
    return sent


def test_midi_clock_starts_a_clock_before_play_and_stops_at_the_end() -> None:
    """sources.md M-27, M-28: 24 a beat; play begins at the first clock after the start."""
    schedule = Schedule(0, 120.0, beats=6, clock=True, notes=False)
    sent = clock_of(schedule)
    assert [data for _, data in sent].count(CLOCK) == 6 * 24
    assert sent[-1] == (6 * 24, STOP)
    begun = next(at for at, (_, data) in enumerate(sent) if data == START)
    assert sent[begun - 1] == (4 * 24 - 1, CLOCK) and sent[begun + 1] == (4 * 24, CLOCK)
    assert schedule.due_ns(1) == 20_833_333
    resumed = clock_of(Schedule(0, 120.0, beats=6, clock=True, notes=False, resume=True))
    assert (START not in [data for _, data in resumed]) and CONTINUE in [d for _, d in resumed]


def test_where_clocks_were_left_out_the_song_position_sets_receivers_going_again() -> None:
    """sources.md M-29: position 4 is 24 clocks, a beat, into the play."""
    schedule = Schedule(0, 120.0, clock=True)
    at = 5 * 24 - 1  # the clock before the second beat of play
    assert schedule.again_at(at) == (bytes((0xF2, 4, 0)), CONTINUE)
    assert schedule.again_at(at + 1) == () and schedule.again_at(3) == ()


@pytest.mark.parametrize(
    ("told", "why"),
    [
        ({"bpm": 9}, "no tempo"),
        ({"bpm": float("nan")}, "no tempo"),
        ({"bpm": True}, "no tempo"),
        ({"bpm": "90"}, "no tempo"),
        ({"bpm": 90, "beats": 0}, "beats: 0 is no whole number from 1 on"),
        ({"bpm": 90, "beats": 1.5}, "no whole number"),
        ({"bpm": 90, "accent": "loud"}, "there is: count-in, bar, repetition, none"),
        ({"bpm": 90, "swing": 1}, "has no 'swing'"),
        ({"bpm": 90, "subdivide": 9}, "at most 8"),
        ({"bpm": 90, "silent": 1}, "need sounding ones"),
        ({"bpm": 90, "clock": 1}, "true or false"),
        ({"bpm": 90, "clock": True, "count_in": 0}, "needs a count-in"),
    ],
)
def test_a_schedule_that_makes_no_sense_is_refused(told: dict[str, object], why: str) -> None:
    """In one line."""
    with pytest.raises(BadInput, match=why):
        schedule_from(told, 0)


def test_a_schedule_comes_back_from_its_dictionary() -> None:
    """What is told to another process is what was meant."""
    schedule = Schedule(5, 97.5, 12, accent="repetition", steps=5, grid=4, subdivide=2, clock=True)
    assert schedule_from(schedule.to_dict(), 0) == schedule


def test_no_cue_has_a_note_of_the_click_and_each_begins_at_once() -> None:
    """Nor do two of them sound alike; all tones lie within a third of a second."""
    assert len({tuple(tones) for tones in USUAL.values()}) == len(USUAL)
    for tones in USUAL.values():
        assert tones[0].at_ms == 0 and max(tone.at_ms for tone in tones) <= 333
        assert tones_from(as_told(tones)) == list(tones)
    for told in ([[0, HIGH, 90]], [[0, 60]], [[-1, 60, 90]], [[0, 60, 0]], "no", [[0, 128, 1]], 5):
        with pytest.raises(BadInput):
            tones_from(told)
