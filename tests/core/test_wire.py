"""The wire's rules; source: MIDI 1.0 detailed specification 4.2.1, rows M-07 to M-11 of the
project's check values."""

from __future__ import annotations

import random

import pytest

from livecheck.core.wire import Wire


def messages(text: str) -> list[str]:
    return [message.hex(" ").upper() for message in Wire().feed(bytes.fromhex(text))]


@pytest.mark.parametrize(
    ("run", "expected"),
    [
        ("90 3C 27 40 2B 43 25", ["90 3C 27", "90 40 2B", "90 43 25"]),  # M-07, p. A-1
        ("90 3C 27 3C 00 3E 29", ["90 3C 27", "90 3C 00", "90 3E 29"]),  # M-08, p. A-1
        ("90 3C F8 27", ["90 3C 27"]),  # M-10: real time inside a message
        # M-09: real time leaves running status alone
        ("90 3C 27 F8 40 2B", ["90 3C 27", "90 40 2B"]),
        ("90 3C 27 F0 01 02 F7 40 2B", ["90 3C 27"]),  # M-09: SysEx clears it
        ("90 3C 27 F2 01 02 40 2B", ["90 3C 27"]),  # M-09: system common clears it
        ("90 3C 27 F4 40 2B", ["90 3C 27"]),  # M-11: undefined, clears it
        ("90 3C 27 F9 40 2B", ["90 3C 27", "90 40 2B"]),  # M-11: undefined real time, no effect
        ("3C 27 90 3C 27", ["90 3C 27"]),  # M-09: stray data bytes are ignored
        ("C0 05 06 E3 00 40", ["C0 05", "C0 06", "E3 00 40"]),  # M-04, M-13
    ],
)
def test_messages_come_out_whole(run: str, expected: list[str]) -> None:
    """The specification's examples and rules, byte by byte."""
    assert messages(run) == expected


def test_where_a_run_is_cut_does_not_matter() -> None:
    """Any split of the same bytes gives the same messages."""
    rng = random.Random(4)
    run = bytes(
        rng.choice([0x90, 0x3C, 0x27, 0xF8, 0xF0, 0xF7, 0xC1, 0xE2, 0x00, 0x7F, 0xF2])
        for _ in range(3000)
    )
    wire, pieces = Wire(), []
    at = 0
    while at < len(run):
        step = rng.randint(1, 7)
        pieces += wire.feed(run[at : at + step])
        at += step
    assert pieces == Wire().feed(run)


def test_random_bytes_never_raise() -> None:
    """Whatever comes is read or ignored, and every message that comes out is well formed."""
    wire = Wire()
    for message in wire.feed(random.Random(5).randbytes(200_000)):
        assert 0x80 <= message[0] < 0xF0
        assert max(message[1:]) < 0x80
        assert len(message) == (2 if message[0] & 0xF0 in (0xC0, 0xD0) else 3)
    assert wire.ignored > 0
