"""What goes down the pipe comes out the same, whole, or not at all."""

from __future__ import annotations

import os
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.daemon.frames import (
    FRAME_BYTES,
    MESSAGE_BYTES,
    Alive,
    BadFrame,
    Beat,
    Cued,
    Decoder,
    Down,
    End,
    Message,
    Sender,
    Up,
    encode,
    pieces,
)

times = st.integers(0, 2**63 - 1)
frames = st.one_of(
    st.builds(Message, times, st.binary(max_size=2000)),
    st.builds(Alive, times, st.integers(0, 2**63), st.integers(0, 2**63)),
    st.builds(Up, times, st.text(max_size=100)),
    st.builds(Down, times, st.text(max_size=100)),
    st.builds(Beat, times, st.integers(0, 2**63), st.floats(20.0, 400.0)),
    st.builds(Cued, times, st.text(max_size=100)),
    st.builds(End, times, st.text(max_size=100)),
)


@given(st.lists(frames, max_size=20), st.integers(1, 700))
def test_frames_come_out_as_they_went_in_however_the_pipe_cuts_them(sent, cut):
    """The decoder gives back every frame, in order, for any way of cutting the bytes."""
    data = b"".join(encode(frame) for frame in sent)
    decoder = Decoder()
    got = [frame for at in range(0, len(data), cut) for frame in decoder.feed(data[at : at + cut])]
    assert got == sent


@pytest.mark.parametrize("length", [0, 1, 3, 500, 501, 502, 1002, 1003, 5002, MESSAGE_BYTES])
def test_no_frame_is_longer_than_a_pipe_takes_in_one_piece(length):
    """POSIX: a write of up to 512 bytes is never mixed with another's. Long messages are cut and
    joined again."""
    data = random.Random(length).randbytes(length)
    sent = pieces(7, data)
    assert all(len(piece) <= FRAME_BYTES <= 512 for piece in sent)
    assert Decoder().feed(b"".join(sent)) == [Message(7, data)]


def test_a_heartbeat_between_the_pieces_of_a_long_message_spoils_neither():
    """The heartbeat comes from another thread, and may fall anywhere."""
    first, *rest = pieces(7, bytes(1200))
    got = Decoder().feed(first + encode(Alive(8, 0, 0)) + b"".join(rest))
    assert got == [Alive(8, 0, 0), Message(7, bytes(1200))]


def test_a_long_message_whose_last_piece_was_refused_is_no_message():
    """Half a message is never joined with the next one's pieces."""
    decoder = Decoder()
    torn, whole = pieces(1, b"\xf0" * 1200)[:-1], pieces(2, b"\x01" * 1200)
    assert decoder.feed(b"".join(torn + whole)) == [Message(2, b"\x01" * 1200)]
    assert decoder.torn == 1


def test_random_bytes_give_frames_or_one_kind_of_error():
    """Ten thousand strings of noise: BadFrame or frames, nothing else, and memory stays bounded."""
    noise = random.Random(5)
    for _ in range(10_000):
        decoder = Decoder()
        try:
            for frame in decoder.feed(noise.randbytes(noise.randrange(200))):
                assert isinstance(frame, (Message, Alive, Up, Down, Beat, Cued, End))
        except BadFrame:
            continue
        assert len(decoder._rest) <= 200


def test_what_was_good_before_the_nonsense_is_not_lost():
    """The frames before the first bad byte come out; the error comes with the next call."""
    decoder = Decoder()
    assert decoder.feed(encode(Up(1, "Hex")) + b"what is this? " * 3) == [Up(1, "Hex")]
    with pytest.raises(BadFrame):
        decoder.feed(b"")


def test_a_message_without_end_is_refused():
    """A sender that goes on and on does not fill the memory."""
    first, further, _last = pieces(1, bytes(1400))
    decoder = Decoder()
    decoder.feed(first)
    with pytest.raises(BadFrame, match="without end"):
        for _ in range(MESSAGE_BYTES // 400):
            decoder.feed(further)


@pytest.fixture
def pipe():
    """A pipe and the sender at its one end."""
    reading, writing = os.pipe()
    yield reading, Sender(writing)
    os.close(reading)
    os.close(writing)


def test_a_full_pipe_never_blocks_and_every_message_is_either_sent_or_counted(pipe):
    """What was accepted can be read, what was not is in the count of the next heartbeat."""
    reading, sender = pipe
    for number in range(20_000):
        sender.message(number, bytes([0x90, number % 128, 1]))
    decoder = Decoder()
    got = decoder.feed(os.read(reading, 1 << 20))
    sender.beat(99)
    assert sender.dropped > 0 and len(got) + sender.dropped == 20_000
    assert [frame.t_ns for frame in got] == list(range(len(got)))
    assert decoder.feed(os.read(reading, 1 << 16)) == [Alive(99, sender.dropped, 0)]


def test_an_event_that_the_pipe_refuses_is_sent_later(pipe):
    """A lost cable must not go unsaid because the pipe was full at that moment."""
    reading, sender = pipe
    while not sender.dropped:
        sender.message(1, bytes(3))
    sender.tell(Down(5, "unplugged"))
    assert not sender.flush()
    decoder = Decoder()
    decoder.feed(os.read(reading, 1 << 20))
    assert sender.flush()
    assert decoder.feed(os.read(reading, 1 << 16)) == [Down(5, "unplugged")]


def test_a_message_over_the_limit_is_counted_not_sent(pipe):
    """A system exclusive dump without end does not take the room of the notes."""
    reading, sender = pipe
    sender.message(1, bytes(MESSAGE_BYTES + 1))
    sender.message(2, b"\x90\x40\x40")
    assert sender.dropped == 1
    assert Decoder().feed(os.read(reading, 1 << 16)) == [Message(2, b"\x90\x40\x40")]
