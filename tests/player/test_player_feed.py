"""The child process that plays a take: the reader's frames, in real time, until nobody listens."""

from __future__ import annotations

import os

import pytest

from livecheck.core.events import Midi
from livecheck.daemon.frames import Alive, Decoder, End, Message, Sender, Up
from livecheck.player.demo import LONGEST_ROUND_S, demo_rounds, feed_command
from livecheck.player.feed import main, play_into

RECORDS = [
    Midi(0.5, b"\x90\x40\x50"),
    Midi(2.75, b"\x80\x40\x00"),
    Midi(2.75, b"\xf0" + b"\x01" * 900 + b"\xf7"),
]


class Clock:
    """Time that passes only while somebody waits."""

    def __init__(self, listens_s=1e9):
        self.now_ns, self.listens_s = 1_000_000_000, listens_s

    def read(self):
        return self.now_ns

    def wait(self, seconds):
        self.now_ns += int(seconds * 1e9) + 1
        return self.now_ns < self.listens_s * 1e9


def frames_of(clock, speed=1.0):
    read_fd, write_fd = os.pipe()
    try:
        play_into(Sender(write_fd), [RECORDS], speed=speed, clock_ns=clock.read, wait=clock.wait)
        os.close(write_fd)
        return Decoder().feed(os.read(read_fd, 1 << 16))
    finally:
        os.close(read_fd)


@pytest.mark.parametrize("speed", [1.0, 4.0])
def test_every_record_is_sent_at_its_time(speed):
    """Messages come unchanged, in order, not before their time and at once when it has come."""
    frames = frames_of(Clock(), speed)
    messages = [frame for frame in frames if isinstance(frame, Message)]
    assert [frame.data for frame in messages] == [record.data for record in RECORDS]
    for frame, record in zip(messages, RECORDS):
        assert frame.t_ns / 1e9 - 1.0 == pytest.approx(record.t_s / speed, abs=1e-6)
    assert isinstance(frames[0], Up)
    assert isinstance(frames[-1], End)


def test_the_heart_beats_each_second():
    """Silence between notes is no silence in the pipe."""
    beats = [frame.t_ns / 1e9 for frame in frames_of(Clock()) if isinstance(frame, Alive)]
    assert max(b - a for a, b in zip(beats, beats[1:])) <= 1.51


def test_the_next_round_begins_where_the_one_before_ends():
    """Its times count from then; it is not made before."""
    clock, asked = Clock(), []
    read_fd, write_fd = os.pipe()

    def rounds():
        for number in range(3):
            asked.append((number, clock.now_ns / 1e9 - 1.0))
            yield [Midi(0.5, bytes([0x90, number, 1])), Midi(2.0, bytes([0x80, number, 0]))]

    play_into(Sender(write_fd), rounds(), speed=1.0, clock_ns=clock.read, wait=clock.wait)
    os.close(write_fd)
    frames = Decoder().feed(os.read(read_fd, 1 << 16))
    os.close(read_fd)
    told = [frame.t_ns / 1e9 - 1.0 for frame in frames if isinstance(frame, Message)]
    assert told == pytest.approx([0.5, 2.0, 2.5, 4.0, 4.5, 6.0], abs=1e-6)
    assert [at for _, at in asked] == pytest.approx([0.0, 2.0, 4.0], abs=1e-6)
    assert isinstance(frames[-1], End) and sum(isinstance(frame, Up) for frame in frames) == 1


@pytest.mark.parametrize("seconds", [3.0, 60.0, 300.0, 2700.0, 1e9])
def test_a_demo_of_any_length_has_its_first_note_at_once(seconds):
    """No round is longer than what is made in a moment, so that no first word is late."""
    first = next(demo_rounds(None, seconds))
    assert 0.5 < first[-1].t_s < LONGEST_ROUND_S + 20.0
    assert len(first) > 5


def test_the_rounds_of_a_demo_are_as_long_as_asked_for():
    """And different takes."""
    rounds = list(demo_rounds(None, 300.0))
    assert sum(records[-1].t_s for records in rounds) == pytest.approx(300.0, rel=0.15)
    assert len({tuple(records) for records in rounds}) == 3


def test_it_ends_when_nobody_listens_any_more():
    """As soon as standard input closes nothing more is sent, and no End: the take is not over."""
    frames = frames_of(Clock(listens_s=2.5))
    assert [frame.data for frame in frames if isinstance(frame, Message)] == [RECORDS[0].data]
    assert not any(isinstance(frame, End) for frame in frames)


def test_the_command_names_the_module_and_its_arguments():
    """What the recorder starts in the place of the reader."""
    assert feed_command(30.0, seed=7)[1:] == [
        "-m", "livecheck.player.feed", "--seconds", "30", "--seed", "7", "--speed", "1",
    ]  # fmt: skip


def test_a_cell_that_is_not_there_is_told_in_one_line(capsys):
    """Bad input ends with status 2 and one line."""
    assert main(["--cell", "no-such-cell.yaml"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
