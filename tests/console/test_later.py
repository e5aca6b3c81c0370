"""What takes long is worked out beside the drawing, and comes to the same."""

from __future__ import annotations

import pytest
from console_sample import session_records

from livecheck.console.feed import Feed
from livecheck.console.later import ATTACKS_EVERY, Later
from livecheck.console.lines import plain_text
from livecheck.console.model import Model
from livecheck.console.palette import FULL
from livecheck.console.view import screen_lines
from livecheck.session import Session

REPS = 14


def heard() -> Model:
    """A session of so many repetitions as the screen knows it."""
    feed = Feed(Session(), Model())
    feed.take(session_records(REPS))
    return feed.model


def test_what_is_not_known_yet_is_not_waited_for() -> None:
    """The newest that was asked for is worked out first."""
    model = heard()
    later = Later(model.sounds)
    assert [later.sound(rep) for rep in (1, REPS, 3)] == [None] * 3
    later.work_once()
    assert later.sound(REPS) is not None and later.sound(3) is None
    assert later.sound(99) is None  # never was


def test_a_frame_drawn_without_waiting_becomes_the_one_that_waited() -> None:
    """Whatever order it is worked out in."""
    at_once, model = heard(), heard()
    expected = plain_text(screen_lines(at_once, 200, 40, FULL))
    model.later = later = Later(model.sounds)
    for _ in range(3 * REPS):
        drawn = plain_text(screen_lines(model, 200, 40, FULL))
        later.work_once()
    assert drawn == expected


def test_attacks_are_read_now_and_then_while_notes_are_played() -> None:
    """Each time in a pause, every few repetitions else; the last reading stands meanwhile."""
    model = heard()
    later = Later(model.sounds)
    assert later.attacks() is None
    later.work_once()
    first = later.attacks()
    assert first is not None
    later.playing = True
    for rep in [item for item in model.log if hasattr(item, "slots")][: ATTACKS_EVERY - 1]:
        model.sounds.hear(rep)  # type: ignore[arg-type]
        later.work_once()
        assert later.attacks() is first
    later.playing = False
    later.attacks()
    later.work_once()
    assert later.attacks() is not first


def test_it_works_by_itself_and_tells_what_went_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    """In its own thread, until it is left; a fault is raised where the screen is drawn."""
    model = heard()
    with Later(model.sounds) as later:
        assert later.sound(REPS) is None and later.wait(0, 60.0)
        assert later.sound(REPS) is not None
    later.raise_fault()

    def broken(rep: int) -> None:
        raise RuntimeError(f"repetition {rep}")

    monkeypatch.setattr(model.sounds, "get", broken)
    with Later(model.sounds) as later:
        later.sound(1)
        assert later.wait(0, 60.0)
    with pytest.raises(RuntimeError, match="repetition 1"):
        later.raise_fault()
