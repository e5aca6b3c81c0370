"""A note that was struck stands on the screen before its verdict is certain, and is no verdict."""

from __future__ import annotations

import pytest
from console_sample import session_records
from hypothesis import given
from hypothesis import strategies as st

from livecheck.console.feed import Feed
from livecheck.console.lines import plain_text
from livecheck.console.model import Model
from livecheck.console.palette import FULL
from livecheck.console.struck import LONGEST_S
from livecheck.console.view import screen_lines
from livecheck.core.events import Midi, UseRig
from livecheck.core.playing import is_note
from livecheck.core.rig import Gate, Rig
from livecheck.session import Session


def now_row(model: Model) -> str:
    """The row of the repetition under way."""
    rows = plain_text(screen_lines(model, 80, 24, FULL)).split("\n")
    return next(row for row in rows if "  now" in row)


def test_each_note_stands_on_the_screen_as_soon_as_it_is_heard() -> None:
    """At each note-on the row under way has as many signs as notes were told or are open in it; one
    that belongs to the next repetition stands behind it."""
    model = Model()
    feed = Feed(Session(), model)
    for record in session_records(4):
        version = model.version
        feed.take([record])
        if isinstance(record, Midi) and is_note(record.data) and record.data[2]:
            assert model.version > version and len(model.struck) >= 1
            if model.current is not None:
                told = len(model.current[1]) - model.current[1].count(None)
                shown = sum(now_row(model).count(sign) for sign in "■▪_≠")
                assert shown == told + len(model.struck)


def test_what_is_told_of_a_note_takes_its_mark_away() -> None:
    """When the take is over nothing stands open, and nothing was told otherwise for it."""
    model = Model()
    feed = Feed(Session(), model)
    feed.take(session_records(4))
    assert len(model.struck) == 0 and model.clean == 4


@pytest.mark.parametrize(
    ("channel", "velocity", "counts"), [(0, 80, True), (0, 5, False), (9, 80, False), (0, 0, False)]
)
def test_only_notes_of_the_rig_above_its_gate_are_shown(channel, velocity, counts) -> None:
    """What a click or a brushed string sends is no note that was struck."""
    model = Model()
    model.hear(UseRig(0.0, Rig(gate=Gate(10, 25.0))))
    model.hear(Midi(1.0, bytes([0x90 + channel, 60, velocity])))
    assert len(model.struck) == counts
    model.pass_time(1.0 + LONGEST_S)
    assert len(model.struck) == 0  # nothing came of it: it does not stay


@given(st.lists(st.binary(min_size=1, max_size=4), max_size=200))
def test_no_message_makes_it_fail(messages) -> None:
    """Whatever comes over the wire, and however much."""
    model = Model()
    for number, data in enumerate(messages):
        model.hear(Midi(number * 0.001, data))
    assert 0 <= len(model.struck) <= 64
