"""Pedals: presses, double presses, any channel, and how they are written."""

from __future__ import annotations

import pytest

from livecheck.core.pedal import Pedal, Presses, pedal_from, pressed
from livecheck.errors import BadInput

SUSTAIN = Pedal("control", 64)


def control(value: int, number: int = 64, channel: int = 1) -> bytes:
    return bytes((0xB0 | channel - 1, number, value))


def test_a_press_is_told_once_until_the_pedal_is_let_go() -> None:
    """Also where it sends all values on the way, and on any channel."""
    presses = Presses({SUSTAIN: "up"})
    told = [
        presses.message(0.1 * at, control(value))
        for at, value in enumerate((20, 70, 127, 90, 30, 0))
    ]
    assert told == [[], ["up"], [], [], [], []]
    assert presses.message(2.0, control(127, channel=9)) == ["up"]


def test_a_double_press_has_an_action_of_its_own() -> None:
    """Two within 0.4 s; a single one is told when that is over, or when another pedal comes."""
    presses = Presses({SUSTAIN: "again", Pedal("program", 3): "mark"}, {SUSTAIN: "stop"})
    press = (control(127), control(0))
    assert [presses.message(1.0, data) for data in press] == [[], []]
    assert presses.message(1.3, press[0]) == ["stop"]
    presses.message(1.35, press[1])
    assert presses.message(3.0, press[0]) == [] and presses.tick(3.39) == []
    assert presses.tick(3.41) == ["again"]
    presses.message(3.5, press[1])
    assert presses.message(5.0, press[0]) == []
    assert presses.message(5.1, bytes((0xC0, 3))) == ["again", "mark"]


def test_a_channel_that_is_named_is_meant_alone() -> None:
    """Other switches and messages are passed over."""
    presses = Presses({Pedal("control", 80, 16): "down"})
    assert presses.message(0.0, control(127, 80, 1)) == []
    assert presses.message(1.0, control(127, 80, 16)) == ["down"]
    for data in (b"", b"\x90\x40\x40", control(127, 123, 16), bytes((0xC5, 1))):
        assert presses.message(2.0, data) == []


def test_a_pedal_is_written_in_words() -> None:
    """And comes back; nonsense is told in a line."""
    for pedal in (SUSTAIN, Pedal("program", 3, 16)):
        assert pedal_from(pedal.text()) == pedal
    assert pressed(control(100, 64, 3)) == Pedal("control", 64, 3)
    for text in (
        "",
        "control",
        "control x",
        "switch 3",
        "control 128",
        "program 1 channel 17",
        "control 1 2",
    ):
        with pytest.raises(BadInput, match=r"control 64|0 to 127"):
            pedal_from(text)
    with pytest.raises(BadInput, match="no action"):
        Presses({SUSTAIN: "fly"})
