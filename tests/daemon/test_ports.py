"""Which port is opened, and what is said where none can be."""

from __future__ import annotations

import pytest

from livecheck.daemon.ports import choose, plain_name, usable
from livecheck.errors import BadInput, NoDevice

ALSA = [
    "Midi Through:Midi Through Port-0 14:0",
    "USB Keyboard:USB Keyboard MIDI 1 20:0",
    "Hex:Hex MIDI 1 24:0",
]


@pytest.mark.parametrize(
    ("names", "wanted", "chosen"),
    [
        (ALSA, "hex", 2),
        (ALSA, "Hex:Hex MIDI 1", 2),
        (ALSA, "/^usb.*1$/", 1),
        (["guitar:Hex out"], None, 0),
        (["Midi Through:Port-0 14:0", "Hex 20:0"], None, 1),
        (["livecheck click:out", "Hex:out"], None, 1),
        (["Hex", "Hex two"], "Hex", 0),
    ],
)
def test_a_port_is_found_by_part_of_its_name_or_an_expression(names, wanted, chosen):
    """Case does not matter, an exact name goes before its extensions, ALSA's numbers are no part of
    a name."""
    assert choose(names, wanted) == chosen


def test_after_an_interruption_the_port_of_before_is_preferred():
    """With two converters of one make plugged in, play goes on with the one that was used."""
    names = ["Hex A:1 24:0", "Hex B:1 28:0"]
    assert choose(names, "Hex", before="Hex B:1 20:0") == 1
    assert choose(names, None, before="Hex A:1 24:0") == 0


@pytest.mark.parametrize(
    ("names", "wanted", "line"),
    [
        (
            ["Midi Through:x 14:0", "USB Keyboard 20:0"],
            "Hex",
            'no MIDI port matches "Hex"; there are: "Midi Through:x", "USB Keyboard". '
            "Plug the converter in or change `port:` in the rig",
        ),
        (
            [],
            "Hex",
            'no MIDI port matches "Hex"; there is none at all. Plug the converter in or change '
            "`port:` in the rig",
        ),
        (
            ["Hex A", "Hex B"],
            "hex",
            'several MIDI ports match "hex": "Hex A", "Hex B"; give more of the name',
        ),
        (
            ["A", "B"],
            None,
            'there are several MIDI ports: "A", "B"; choose one by --port NAME or `port:` in the '
            "rig",
        ),
        ([], None, "there is no MIDI port to listen to. Plug the converter in and switch it on"),
    ],
)
def test_what_is_there_is_said_where_none_or_several_fit(names, wanted, line):
    """One line with the names and the remedy."""
    with pytest.raises(NoDevice) as caught:
        choose(names, wanted)
    assert str(caught.value) == line


def test_own_ports_and_the_loop_through_are_never_sources():
    """Listening to our own click would be a loop."""
    assert usable(["livecheck:in", "Midi Through 14:0", "Hex"]) == [2]


def test_a_broken_expression_is_told_with_its_fault():
    """Not a traceback of the library."""
    with pytest.raises(BadInput, match=r"port /\(/: no regular expression"):
        choose(["a"], "/(/")


def test_only_the_numbers_at_the_end_of_a_name_change():
    """A name may hold digits of its own."""
    assert plain_name("Hex 12:30 Converter 2 20:0") == "Hex 12:30 Converter 2"
    assert plain_name("system:midi_capture_1") == "system:midi_capture_1"
