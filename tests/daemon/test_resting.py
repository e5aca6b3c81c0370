"""A recorder that runs by itself calls for rests: by play over all sessions, in pauses, not again
and again."""

from __future__ import annotations

from pathlib import Path

from livecheck.core.cues import REST, USUAL, as_told
from livecheck.core.playing import REST_S, PlayingTime
from livecheck.daemon.frames import Alive, Message
from livecheck.daemon.resting import AGAIN_S, PAUSE_S, RestCall, RestCalls, Resting
from livecheck.files.library import PracticeFolder

AFTER_S = 1500.0


def play(resting: Resting, from_s: float, seconds: float) -> float:
    """Two notes a second, asked half a second after each; returns the time of the last note."""
    at_s = from_s
    while at_s <= from_s + seconds:
        resting.note(at_s)
        assert not resting.due(at_s + 0.4, AFTER_S), "never into play"
        at_s += 0.5
    return at_s - 0.5


def test_it_calls_once_in_the_first_pause_and_again_after_more_play() -> None:
    """Not while play goes on, however long."""
    resting = Resting(PlayingTime())
    last_s = play(resting, 0.0, AFTER_S - 10.0)
    assert not resting.due(last_s + PAUSE_S, AFTER_S)
    last_s = play(resting, last_s + 3.0, 60.0)
    assert resting.due(last_s + PAUSE_S, AFTER_S) and not resting.due(last_s + 3.0, AFTER_S)
    last_s = play(resting, last_s + 4.0, AGAIN_S - 60.0)
    assert not resting.due(last_s + PAUSE_S, AFTER_S)
    last_s = play(resting, last_s + 4.0, 90.0)
    assert resting.due(last_s + PAUSE_S, AFTER_S)


def test_a_rest_makes_it_begin_anew() -> None:
    """Five minutes without a note."""
    resting = Resting(PlayingTime())
    last_s = play(resting, 0.0, AFTER_S + 10.0)
    assert resting.due(last_s + PAUSE_S, AFTER_S)
    last_s = play(resting, last_s + REST_S, AFTER_S - 10.0)
    assert not resting.due(last_s + PAUSE_S, AFTER_S)
    last_s = play(resting, last_s + 4.0, 60.0)
    assert resting.due(last_s + PAUSE_S, AFTER_S)


def test_what_was_played_before_counts() -> None:
    """Twenty minutes in sessions just before this recorder."""
    before = PlayingTime()
    for half_s in range(-2400, 0):
        before.note(half_s / 2.0)
    resting = Resting(before)
    last_s = play(resting, 1.0, 320.0)
    assert resting.due(last_s + PAUSE_S, AFTER_S)


def test_the_call_is_a_cue_at_the_port_that_was_named(tmp_path: Path) -> None:
    """Without a port nothing is called; frames that are no notes are not play."""
    calls, call = RestCalls(PracticeFolder(tmp_path)), RestCall(5.0, "synth", USUAL[REST])
    assert calls.due(None, 0) is None and calls.due(call, 1) is None
    for half_s in range(12):
        calls.heard(Message(half_s * 500_000_000, bytes((0x90, 60, 90))))
        calls.heard(Alive(half_s * 500_000_000, 0, 0))
    told = calls.due(call, 9_000_000_000)
    assert told == {
        "command": "cue", "port": "synth", "word": REST, "notes": as_told(USUAL[REST])
    }  # fmt: skip
    assert calls.due(call, 10_000_000_000) is None
