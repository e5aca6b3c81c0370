"""A repetition's line says what the hand did to the strings, and which strokes were not as
planned."""

from __future__ import annotations

from console_sample import repetition

from livecheck.console.plain import rep_text
from livecheck.console.words import happened
from livecheck.measures.sound import RepSound
from livecheck.measures.strokes.attack import HAMMERED, PICKED, Struck

SOUND = RepSound((Struck(1, 5, PICKED, 0.6, 0.02, HAMMERED),), {4: "brushed"})


def test_strokes_against_the_plan_and_strings_touched_stand_on_the_line() -> None:
    """After what the log said before; a clean repetition stays clean."""
    rep = repetition(1)
    assert rep.clean
    assert [one.long for one in happened(rep, sound=SOUND)] == [
        "clean",
        "string 4 brushed",
        "note 5 hammered",
    ]
    assert rep_text(rep, SOUND).endswith("clean, string 4 brushed, note 5 hammered")
    assert happened(rep, sound=RepSound()) == happened(rep)
