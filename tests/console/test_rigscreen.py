"""The strings as they sound: levels, what is missing, what is no string."""

from __future__ import annotations

import pytest

from livecheck.console.palette import FULL, PLAIN
from livecheck.console.rigscreen import FADE_S, Activity
from livecheck.core.rig import Rig


def heard(*notes: tuple[float, int, int, int]) -> Activity:
    """Notes as (time, channel, key, velocity)."""
    activity = Activity(Rig())
    for t_s, channel, key, velocity in notes:
        activity.feed(t_s, bytes((0x90 | channel - 1, key, velocity)))
    return activity


@pytest.mark.parametrize("signs", [FULL, PLAIN])
def test_a_louder_note_has_a_longer_bar_that_fades(signs):
    """A line a string under its head, with its last note and how many came."""
    activity = heard((0.0, 1, 64, 120), (0.0, 2, 59, 40))
    head, first, second, third, *_ = activity.lines(0.0, 80, signs)
    assert head == "string  channel  note  velocity  notes  level, a full line is 127"
    assert first.split()[:5] == ["1", "1", "E4", "120", "1"] and "nothing yet" in third
    assert first.count(signs.bar) > 2 * second.count(signs.bar) > 0
    later = activity.lines(FADE_S / 2, 80, signs)[1]
    assert 0 < later.count(signs.bar) < first.count(signs.bar)
    assert signs.bar not in activity.lines(FADE_S, 80, signs)[1]


@pytest.mark.parametrize("width", [60, 80, 140])
def test_no_line_is_wider_than_the_screen(width):
    """At full level too."""
    activity = heard(*((0.0, channel, 64, 127) for channel in range(1, 7)))
    assert max(map(len, activity.lines(0.0, width, FULL)[1:])) == width
    assert max(map(len, activity.lines(0.0, width, FULL))) <= width


def test_what_is_wrong_is_said_at_the_end():
    """A string that is silent, a channel that is no string, one velocity for all, or nothing at
    all."""
    assert heard().troubles() == ["nothing came in: is the converter on, and is this its port?"]
    silent = heard(*((0.0, channel, 50, 60 + channel) for channel in (1, 2, 4, 5, 6)))
    assert silent.troubles() == ["nothing came from string 3"]
    assert heard((0.0, 1, 50, 60), (0.1, 2, 50, 61)).troubles() == [
        "nothing came from strings 3, 4, 5, 6"
    ]
    foreign = heard(*((0.0, channel, 50, 60 + channel) for channel in (1, 2, 3, 4, 5, 6, 9)))
    assert foreign.troubles() == ["channel 9 is no string of the rig, but 1 note came on it"]
    even = heard(*((0.1 * at, at % 6 + 1, 50, 100) for at in range(24)))
    assert "every note has velocity 100" in even.troubles()[0]
