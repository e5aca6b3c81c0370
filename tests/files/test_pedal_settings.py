"""Pedals, gestures and cues in the settings file: read, refused with a line, and put in by the
program."""

from __future__ import annotations

from pathlib import Path

import pytest

from livecheck.core.cues import USUAL, Tone
from livecheck.core.gestures import USUAL as USUAL_GESTURES
from livecheck.core.gestures import Gesture
from livecheck.core.pedal import Pedal
from livecheck.errors import BadInput
from livecheck.files.config import load_settings, settings_of_text
from livecheck.files.pedaledit import put_pedal
from livecheck.files.settingsfile import Settings

UP = (Pedal("control", 64), False, "up")


def test_what_is_written_holds_and_the_rest_is_as_usual() -> None:
    """Each key by itself; gestures go in the place of the usual ones, cues beside them."""
    text = """
pedal_port: foot
pedals: {control 64: up, 2x control 64: stop, program 3 channel 16: again}
gestures:
  - {string: lowest, fret: 0, picks: 2, action: pause}
  - {string: 1, fret: 17, picks: 3, action: next-cell}
cues: {up: [[0, 60, 90], [100, 61, 90, 50]]}
cue_port: synth
"""
    found = settings_of_text(text, "settings.yaml")
    assert found.pedals == (
        UP,
        (Pedal("control", 64), True, "stop"),
        (Pedal("program", 3, 16), False, "again"),
    )
    assert found.gestures == (Gesture(None, 0, 2, "pause"), Gesture(1, 17, 3, "next-cell"))
    assert found.cues["up"] == (Tone(0, 60, 90), Tone(100, 61, 90, 50))
    assert found.cues["down"] == USUAL["down"]
    assert (found.pedal_port, found.cue_port, found.rest_s) == ("foot", "synth", 1500.0)
    assert settings_of_text("rest: 20", "x").gestures == USUAL_GESTURES


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("pedals: {control 64: faster}", "'faster' is no action"),
        ("pedals: {control 200: up}", "no switch"),
        ("pedals: [control 64]", "list stands where a mapping of switches"),
        ("gestures: [{string: 1, fret: 3, picks: 2}]", "action is missing"),
        ("gestures: [{string: 1, fret: 3, picks: 1, action: up}]", "number of picks 1 is out"),
        ("gestures: [{string: 0, fret: 3, picks: 2, action: up}]", "string 0 is out of range"),
        ("gestures: yes", "no list of gestures"),
        ("cues: {up: [[0, 77, 90]]}", "note 77 is one of the click's"),
        ("cues: {louder: [[0, 60, 90]]}", "unknown key"),
        ("cues: {up: [0, 60, 90]}", "is no note"),
        ("pedal_port: [foot]", "list stands where a pedal's port"),
    ],
)
def test_a_mistake_is_one_line_with_its_place(text: str, said: str) -> None:
    """What, where, how to mend it."""
    with pytest.raises(BadInput) as raised:
        settings_of_text(f"rest: 20\n{text}", "settings.yaml")
    line = str(raised.value)
    assert line.startswith("settings.yaml:2: ") and said in line and "\n" not in line


@pytest.mark.parametrize(
    "before",
    [
        "",
        "# mine\nrest: 40   # long\n",
        "rest: 40\npedals:\n    control 64 : down   # before\n    program 1: stop\nsilence: 9\n",
        "pedals:\n  2x control 64: stop\npedal_port: old\n",
    ],
)
def test_a_learned_switch_is_put_in_and_the_rest_stays(tmp_path: Path, before: str) -> None:
    """Comments and all; the same switch is written over, others stay."""
    path = tmp_path / "configs" / "settings.yaml"
    path.parent.mkdir()
    if before:
        path.write_text(before, "utf-8")
    was = settings_of_text(before, "x") if before else Settings()
    put_pedal(path, UP, "foot")
    found = load_settings(path)
    assert UP in found.pedals and found.pedal_port == "foot"
    others = [one for one in was.pedals if one[:2] != UP[:2]]
    assert sorted(map(str, found.pedals)) == sorted(map(str, [UP, *others]))
    assert (found.rest_s, found.silence_s) == (was.rest_s, was.silence_s)
    if "# mine" in before:
        assert "# mine" in path.read_text("utf-8") and "# long" in path.read_text("utf-8")


def test_what_cannot_be_put_in_is_left_as_it_is(tmp_path: Path) -> None:
    """A mapping in braces is not taken apart; the line to write is said."""
    path = tmp_path / "settings.yaml"
    path.write_text("pedals: {control 1: up}\n", "utf-8")
    with pytest.raises(BadInput, match="add it by hand: `control 64: up`"):
        put_pedal(path, UP, None)
    assert path.read_text("utf-8") == "pedals: {control 1: up}\n"
