"""What the review says of a session at its end."""

from __future__ import annotations

from pathlib import Path
from random import Random

from played_ladder import CELL, climb, falling
from takes_on_disk import write_session

from livecheck.commands.session_review import told_of


def test_a_session_that_breaks_is_told_where(tmp_path: Path) -> None:
    """Five tempos, eight repetitions each, that fall at 130: its cell has a sentence with a break,
    and nothing was hammered that was planned so."""
    played = climb(Random("end"), [100, 115, 130, 145, 160], 8, falling(130, 4.0))
    told = told_of(write_session(tmp_path / "s", played.session()))
    [(key, one)] = told.items()
    assert key == (CELL.name, None) and "break" in one.sentence and not one.hammered


def test_of_a_few_repetitions_nothing_is_told(tmp_path: Path) -> None:
    """Six say too little."""
    played = climb(Random("few"), [100], 6, falling(400, 4.0))
    assert told_of(write_session(tmp_path / "s", played.session())) == {}
