"""A player's settings: what may be written, and what is said about a mistake."""

from __future__ import annotations

from pathlib import Path

import pytest

from livecheck.errors import BadInput
from livecheck.files.config import load_settings
from livecheck.files.settingsfile import Settings

ROOT = Path(__file__).parents[2]


def loaded(tmp_path: Path, text: str) -> Settings:
    path = tmp_path / "settings.yaml"
    path.write_text(text, encoding="utf-8")
    return load_settings(path)


def test_the_shipped_settings_are_the_ones_that_hold_without_a_file():
    """Whoever opens the file reads what is in force."""
    assert (
        load_settings(ROOT / "configs" / "settings.yaml") == Settings() == Settings(1500.0, 900.0)
    )


def test_minutes_or_never(tmp_path):
    """What is left out is as usual."""
    assert loaded(tmp_path, "rest: 12.5\n") == Settings(rest_s=750.0)
    assert loaded(tmp_path, "rest: never\nsilence: 5\n") == Settings(None, 300.0)
    assert loaded(tmp_path, "lateness: hidden\n") == Settings(lateness="hidden")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("rests: 25\n", ":1: rests: unknown key; did you mean rest?"),
        ("rest: often\n", ":1: rest: 'often' is no number of minutes; write minutes, or never"),
        (
            "silence: 5\nrest: 0\n",
            ":2: rest: rest in minutes 0 is out of range; write a number from 0.1 to 1440",
        ),
        ("silence: .nan\n", ":1: silence: '.nan' is no number of minutes; write minutes, or never"),
        (
            "silence: [1]\n",
            ":1: silence: a list stands where a silence in minutes belongs; write a number from "
            "0.1 to",
        ),
        (
            "lateness: hide\n",
            ":1: lateness: 'hide' is no word for lateness; did you mean hidden?",
        ),
        ("rest:\n", ":1: rest: nothing is written here; give a value or take the key out"),
        ("25\n", ":1: 25 is no mapping of settings; write `rest: 25` or `silence: 15`"),
        ("", "settings.yaml: the file is empty; write something into it, or take it away"),
    ],
)
def test_a_mistake_is_told_with_its_line(tmp_path, text, said):
    """One line: where, what, and how to mend it."""
    with pytest.raises(BadInput) as caught:
        loaded(tmp_path, text)
    assert said in str(caught.value) and "\n" not in str(caught.value)
