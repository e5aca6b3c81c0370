"""Play since the last rest, over sessions: what the reminder counts from."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from livecheck.console.model import Model
from livecheck.core.events import Midi
from livecheck.files.journal import Head, Journal
from livecheck.files.library import PracticeFolder
from livecheck.files.unrested import unrested

NOW = datetime.fromisoformat("2026-11-29T12:00:00+00:00")
NOTE = "903c64"


def session(home: Path, minutes_ago: float, minutes: float) -> str:
    """One in which a note is played each second; returns its name."""
    began = NOW - timedelta(minutes=minutes_ago)
    practice = PracticeFolder(home)
    practice.recordings.mkdir(parents=True, exist_ok=True)
    folder = practice.new_session(began.isoformat())
    journal = Journal.create(
        folder, Head(wall=began.isoformat(), perf_ns=0, program="test", boot="")
    )
    for second in range(int(60 * minutes)):
        journal.append("midi", second * 1_000_000_000, {"data": NOTE})
    journal.close()
    return folder.name


def test_play_before_counts_unless_a_rest_lies_between(tmp_path: Path) -> None:
    """Two sessions with two minutes between them are one stretch; five minutes of silence end
    it."""
    session(tmp_path, 60.0, 20.0)
    session(tmp_path, 30.0, 15.0)
    session(tmp_path, 13.0, 12.0)
    found = unrested(PracticeFolder(tmp_path), NOW)
    assert found.since_rest_s == pytest.approx(27 * 60.0, abs=5.0)
    assert found.seconds == 0.0
    later = unrested(PracticeFolder(tmp_path), NOW + timedelta(minutes=6))
    assert later.since_rest_s == 0.0


def test_the_session_under_way_and_broken_ones_are_left_out(tmp_path: Path) -> None:
    """What cannot be read is no reason to fail."""
    name = session(tmp_path, 10.0, 9.0)
    assert unrested(PracticeFolder(tmp_path), NOW, name).since_rest_s == 0.0
    broken = tmp_path / "recordings" / "2026-11-29T11-59-00"
    broken.mkdir()
    (broken / "journal-001.log").write_bytes(b"nonsense\n")
    assert unrested(PracticeFolder(tmp_path), NOW).since_rest_s > 500.0


def test_the_console_counts_on_from_there(tmp_path: Path) -> None:
    """Ten seconds more are ten seconds more, and a rest before the first note starts anew."""
    session(tmp_path, 10.0, 9.9)
    model = Model(unrested=unrested(PracticeFolder(tmp_path), NOW))
    for second in range(11):
        model.hear(Midi(float(second), bytes.fromhex(NOTE)))
    assert model._playing.since_rest_s == pytest.approx(10 * 60.0, abs=15.0)
    rested = Model(unrested=unrested(PracticeFolder(tmp_path), NOW))
    rested.hear(Midi(301.0, bytes.fromhex(NOTE)))
    assert rested._playing.since_rest_s < 5.0
