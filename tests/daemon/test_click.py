"""The process that clicks: what is due is sent and told, and its port comes and goes."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from queue import SimpleQueue

import pytest

from livecheck.core.click import LENGTH_NS, Schedule, note_off
from livecheck.core.cues import USUAL, as_told
from livecheck.daemon.clicker import Clicker, Speaker
from livecheck.daemon.clicking import Clicking
from livecheck.daemon.frames import Beat, Cued, Decoder, Down, Frame, Sender, Up
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
        self.clicker: Clicker | None = None

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
    schedule: Schedule,
    synth: Synth,
    clock: Clock,
    pipe: tuple[Sender, int],
    wanted: str = "synth",
) -> list[Frame]:
    """What the process that clicks told."""
    sender, reading = pipe
    clicker = Clicker(synth, wanted, sender, clock)
    clicker.hear(json.dumps({"click": schedule.to_dict()}).encode() + b"\n")
    clock.clicker = clicker
    clicker.run(clock.over)
    clicker.shut()
    os.set_blocking(reading, False)
    return Decoder().feed(os.read(reading, 1 << 16))


def beats(frames: list[Frame]) -> list[int]:
    return [frame.number for frame in frames if isinstance(frame, Beat)]


def test_every_click_that_was_sent_is_told_with_its_time(pipe: tuple[Sender, int]) -> None:
    """The time told is that of the sending, late by as much as the process was; each one ends."""
    clock = Clock(10 * S + 100 * MS, late_ns=2 * MS)
    synth = Synth(clock, "synth")
    frames = clicked(Schedule(S, 60.0), synth, clock, pipe)
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
    frames = clicked(Schedule(0, 60.0), synth, clock, pipe)
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
    frames = clicked(Schedule(0, 60.0), synth, clock, pipe)
    assert beats(frames) == [0, 1, 2, 3, 8, 9, 10, 11, 12]
    links = [frame for frame in frames if isinstance(frame, (Up, Down))]
    assert [type(one) for one in links] == [Up, Down, Up, Down]
    assert links[1][1] == "synth was unplugged"


def test_without_the_port_it_says_what_there_is(pipe: tuple[Sender, int]) -> None:
    """Once, not four times a second."""
    clock = Clock(3 * S)
    frames = clicked(Schedule(0, 60.0), Synth(clock, "Piano 20:0"), clock, pipe)
    (why,) = [frame[1] for frame in frames if isinstance(frame, Down)]
    assert why.startswith('no MIDI output matches "synth"; there are: "Piano"')
    assert beats(frames) == []


def test_nothing_is_sent_to_a_shut_port() -> None:
    """The end of a click may come after its port was lost."""
    clock = Clock(S)
    synth = Synth(clock, "synth")
    Speaker(synth).send(note_off(76))
    assert synth.sent == []


def test_a_cue_sounds_at_once_beside_the_click_and_is_told(pipe: tuple[Sender, int]) -> None:
    """Its tones come in their order, each ends, and the click goes on."""
    clock = Clock(4 * S + 500 * MS)
    synth = Synth(clock, "synth")
    told = {"cue": {"word": "up", "notes": as_told(USUAL["up"])}}
    line = json.dumps(told).encode() + b"\n"

    def cue() -> None:
        assert clock.clicker is not None
        clock.clicker.hear(b"no json\n" + line[:9])
        clock.clicker.hear(line[9:])

    clock.at = [(2250 * MS, cue)]
    frames = clicked(Schedule(0, 60.0), synth, clock, pipe)
    assert beats(frames) == [0, 1, 2, 3, 4]
    (cued,) = [frame for frame in frames if isinstance(frame, Cued)]
    assert cued.word == "up" and 0 <= cued.t_ns - 2250 * MS <= 250 * MS
    tones = [
        (t_ns - cued.t_ns, data[1]) for t_ns, data in synth.sent if data[0] == 0x99 and data[1] < 75
    ]
    assert tones == [(round(tone.at_ms * 1e6), tone.note) for tone in USUAL["up"]]
    ons, offs = (sorted(d[1] for _, d in synth.sent if d[0] == kind) for kind in (0x99, 0x89))
    assert ons == offs


def test_another_schedule_takes_the_place_of_the_one_before(pipe: tuple[Sender, int]) -> None:
    """From the moment it is told; none stops the click."""
    clock = Clock(9 * S)
    synth = Synth(clock, "synth")

    def tell(schedule: Schedule | None) -> None:
        assert clock.clicker is not None
        clock.clicker.click(schedule)

    clock.at = [
        (2500 * MS, lambda: tell(Schedule(4 * S, 120.0, beats=3))),
        (7500 * MS, lambda: tell(None)),
    ]
    frames = clicked(Schedule(0, 60.0), synth, clock, pipe)
    told = [(frame.number, frame.bpm) for frame in frames if isinstance(frame, Beat)]
    assert told == [(0, 60.0), (1, 60.0), (2, 60.0), (0, 120.0), (1, 120.0), (2, 120.0)]


def test_clocks_that_were_left_out_are_made_up_for_by_the_song_position(
    pipe: tuple[Sender, int],
) -> None:
    """The process is held up in the middle of play: stop, then position and continue before a
    sixteenth, and at the end one stop."""
    clock = Clock(9 * S)
    synth = Synth(clock, "synth")

    def held_up() -> None:
        clock.now_ns += 700 * MS

    clock.at = [(4 * S, held_up)]
    clicked(Schedule(0, 120.0, beats=12, clock=True, notes=False), synth, clock, pipe)
    sent = [data for _, data in synth.sent if data != b"\xf8"]
    assert [data[0] for data in sent] == [0xFA, 0xFC, 0xF2, 0xFB, 0xFC]
    at = synth.sent.index(next(one for one in synth.sent if one[1] == b"\xfb"))
    due_s = synth.sent[at + 1][0] / 1e9
    assert synth.sent[at + 1][1] == b"\xf8"
    assert sent[2][1] * 0.125 == pytest.approx(due_s - 2.0, abs=0.001)


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"command": "click", "schedule": {"bpm": 9}, "port": "x"}, "no tempo"),
        ({"command": "click", "schedule": {"bpm": 90}}, "a port is needed"),
        ({"command": "click", "schedule": {"bpm": 90}, "port": "/[/"}, "no regular expression"),
        ({"command": "cue", "port": "x", "word": "up", "notes": [[0, 76, 9]]}, "the click's"),
        ({"command": "cue", "port": "x", "notes": []}, "a word"),
        ({"command": "cue", "word": "up", "notes": [[0, 60, 9]]}, "a port is needed"),
    ],
)
def test_a_command_that_makes_no_sense_is_refused(fields: dict[str, object], why: str) -> None:
    """In one line, and nothing is started."""
    queue: SimpleQueue[object] = SimpleQueue()
    clicking = Clicking(queue, lambda frame, port: None)
    with pytest.raises(BadInput, match=why):
        clicking.command(fields, None, 0)
    assert queue.empty()
