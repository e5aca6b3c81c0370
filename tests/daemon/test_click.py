"""The click: deadlines that do not drift, late ones left out, and a port that comes and goes."""

from __future__ import annotations

import os
from collections.abc import Iterator
from queue import SimpleQueue

import pytest

from livecheck.daemon.click import COUNT_IN, HIGH, LATE_NS, LENGTH_NS, LOW, Click, off, on
from livecheck.daemon.clicker import Speaker, run
from livecheck.daemon.clicking import Clicking
from livecheck.daemon.frames import Beat, Decoder, Down, Frame, Sender, Up
from livecheck.errors import BadInput

S, MS = 1_000_000_000, 1_000_000


class Synth:
    """A port that sounds the click; ``sent`` is what reached it, with the clock's readings."""

    def __init__(self, clock: Clock, *names: str) -> None:
        self.ports = list(names)
        self.sent: list[tuple[int, bytes]] = []
        self._clock = clock
        self._open: str | None = None

    def names(self) -> list[str]:
        return list(self.ports)

    def open(self, index: int) -> None:
        self._open = self.ports[index]

    def is_connected(self) -> bool:
        return True

    def shut(self) -> None:
        self._open = None

    def send(self, data: bytes) -> None:
        assert self._open is not None
        if self._open in self.ports:
            self.sent.append((self._clock.now_ns, data))


class Clock:
    """A clock that runs only while one waits, a little longer than asked; ``at`` does things at
    their times."""

    def __init__(self, until_ns: int, late_ns: int = 0) -> None:
        self.now_ns = 0
        self.until_ns = until_ns
        self.late_ns = late_ns
        self.at: list[tuple[int, object]] = []

    def __call__(self) -> int:
        return self.now_ns

    def over(self, seconds: float) -> bool:
        self.now_ns += round(seconds * 1e9) + self.late_ns
        while self.at and self.at[0][0] <= self.now_ns:
            self.at.pop(0)[1]()  # type: ignore[operator]
        return self.now_ns >= self.until_ns


@pytest.fixture
def pipe() -> Iterator[tuple[Sender, int]]:
    reading, writing = os.pipe()
    yield Sender(writing), reading
    os.close(reading)
    os.close(writing)


def clicked(
    click: Click, synth: Synth, clock: Clock, pipe: tuple[Sender, int], wanted: str = "synth"
) -> list[Frame]:
    """What the process that clicks told."""
    sender, reading = pipe
    run(click, synth, wanted, sender, clock, clock.over)
    os.set_blocking(reading, False)
    return Decoder().feed(os.read(reading, 1 << 16))


def beats(frames: list[Frame]) -> list[int]:
    return [frame.number for frame in frames if isinstance(frame, Beat)]


def test_nothing_adds_up_over_an_hour() -> None:
    """Each deadline is counted from the beginning: 5400 beats of 90 a minute are an hour to the
    nanosecond."""
    click = Click(7, 90.0)
    assert click.due_ns(5400) == 7 + 3600 * S
    assert abs(Click(0, 97.3).due_ns(973) - 600 * S) <= 1


@pytest.mark.parametrize(
    ("last", "now_ns", "beat"),
    [
        (-1, -500 * MS, 0),
        (-1, 0, 0),
        (0, 1 * MS, 1),
        (3, 4 * S + LATE_NS, 4),
        (3, 4 * S + LATE_NS + 1, 5),
        (3, 100 * S + 500 * MS, 101),
    ],
)
def test_a_click_that_would_come_late_is_left_out(last: int, now_ns: int, beat: int) -> None:
    """After a suspend the click goes on with the next beat in time; what was missed is not caught
    up with."""
    assert Click(0, 60.0).next_beat(last, now_ns) == beat


def test_it_is_a_wood_block_of_general_midi_on_channel_ten() -> None:
    """sources.md M-32, M-34: `99 4C` is the high one; the count-in is high, the rest low."""
    assert on(0)[:2] == bytes.fromhex("994c") and off(0)[:2] == bytes.fromhex("894c")
    assert (
        [on(beat)[1] for beat in range(COUNT_IN + 2)]
        == [HIGH] * COUNT_IN + [LOW, LOW]
        == [76] * 4 + [77] * 2
    )


def test_every_click_that_was_sent_is_told_with_its_time(pipe: tuple[Sender, int]) -> None:
    """The time told is that of the sending, late by as much as the process was; each one ends."""
    clock = Clock(10 * S + 100 * MS, late_ns=2 * MS)
    synth = Synth(clock, "synth")
    frames = clicked(Click(S, 60.0), synth, clock, pipe)
    assert isinstance(frames[0], Up) and frames[0].port == "synth"
    assert beats(frames) == list(range(10))
    told = [frame.t_ns for frame in frames if isinstance(frame, Beat)]
    assert told == [t_ns for t_ns, data in synth.sent if data[0] == 0x99]
    assert all(0 <= t_ns - (beat + 1) * S <= 2 * MS for beat, t_ns in enumerate(told))
    ends = [t_ns for t_ns, data in synth.sent if data[0] == 0x89]
    assert [
        0 <= end - begin - LENGTH_NS <= 2 * MS for begin, end in zip(told, ends, strict=True)
    ] == [True] * 10


def test_a_stop_of_seconds_is_followed_by_no_burst(pipe: tuple[Sender, int]) -> None:
    """The process is held up for three and a half beats: they are missing, and the next one is on
    time."""
    clock = Clock(9 * S + 100 * MS)
    synth = Synth(clock, "synth")

    def held_up() -> None:
        clock.now_ns += 3500 * MS

    clock.at = [(2 * S + 100 * MS, held_up)]
    frames = clicked(Click(0, 60.0), synth, clock, pipe)
    assert beats(frames) == [0, 1, 2, 6, 7, 8, 9]
    assert [frame.t_ns for frame in frames if isinstance(frame, Beat)][3] == 6 * S


def test_the_port_goes_and_comes_back_and_the_beats_go_on_being_counted(
    pipe: tuple[Sender, int],
) -> None:
    """Said both times; no click is told that none could hear, bar those of the quarter second until
    it is noticed."""
    clock = Clock(12 * S + 100 * MS)
    synth = Synth(clock, "synth")
    clock.at = [
        (3500 * MS, lambda: synth.ports.clear()),
        (7500 * MS, lambda: synth.ports.append("synth")),
    ]
    frames = clicked(Click(0, 60.0), synth, clock, pipe)
    assert beats(frames) == [0, 1, 2, 3, 8, 9, 10, 11, 12]
    links = [frame for frame in frames if isinstance(frame, (Up, Down))]
    assert [type(one) for one in links] == [Up, Down, Up, Down]
    assert links[1][1] == "synth was unplugged"


def test_without_the_port_it_says_what_there_is(pipe: tuple[Sender, int]) -> None:
    """Once, not four times a second."""
    clock = Clock(3 * S)
    frames = clicked(Click(0, 60.0), Synth(clock, "Piano 20:0"), clock, pipe)
    (why,) = [frame[1] for frame in frames if isinstance(frame, Down)]
    assert why.startswith('no MIDI output matches "synth"; there are: "Piano"')
    assert beats(frames) == []


def test_nothing_is_sent_to_a_shut_port() -> None:
    """The end of a click may come after its port was lost."""
    clock = Clock(S)
    synth = Synth(clock, "synth")
    Speaker(synth).send(off(1))
    assert synth.sent == []


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"bpm": 9}, "no tempo"),
        ({"bpm": float("nan"), "port": "x"}, "no tempo"),
        ({"bpm": True, "port": "x"}, "no tempo"),
        ({"bpm": "90", "port": "x"}, "no tempo"),
        ({"bpm": 90}, "a port is needed"),
        ({"bpm": 90, "port": "/[/"}, "no regular expression"),
    ],
)
def test_a_command_that_makes_no_sense_is_refused(fields: dict[str, object], why: str) -> None:
    """In one line, and nothing is started."""
    queue: SimpleQueue[object] = SimpleQueue()
    clicking = Clicking(queue, lambda frame, bpm: None)
    with pytest.raises(BadInput, match=why):
        clicking.command(fields, None, 0)
    assert queue.empty()
