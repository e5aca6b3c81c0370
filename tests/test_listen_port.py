"""Listening to a click of one's own, or to the clock of another program, on real ports."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from jack import Server, guitar, jack_server
from robot_sitting import PATIENCE_S, sitting

from livecheck.core.events import Click
from livecheck.files.journal_reader import read

pytestmark = pytest.mark.jack


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with jack_server() as running:
        yield running


def test_listen_clicks_sends_clock_and_says_how_it_was_played(
    server: Server, tmp_path: Path
) -> None:
    """The robot plays to the click; the clock has 24 clocks a beat, one start and one stop; the
    common part is told and no repetition stands apart."""
    words = ["listen", "--click", "150", "--clock", "--seconds", "10", "--plain"]
    with sitting(server, tmp_path, "six-over-four", words, reps=10**6) as one:
        out, err = one.climb.communicate(timeout=PATIENCE_S)
        report = one.report()
        score = one.started("score", "last", "--json")
        told = json.loads(score.communicate(timeout=PATIENCE_S)[0])
    assert (one.climb.returncode, err) == (0, "")
    assert "Against the click" in out and "which is no fault" in out
    assert told["click"]["notes"] >= 25 and abs(told["click"]["common_ms"]) < 60.0
    kinds = [status for _, status in report["clock"]]
    assert kinds.count(0xFA) == 1 and kinds[-1] == 0xFC
    beats = len(report["heard"])
    assert abs(kinds.count(0xF8) - 24 * beats) <= 0.1 * 24 * beats


def test_listen_follows_the_clock_of_another_program(server: Server, tmp_path: Path) -> None:
    """Beats of a clock of 120 are written down where they were sent; that it stops without a word
    is told."""
    words = ["listen", "--follow-clock", "guitar:", "--port", "guitar:"]
    words += ["--seconds", "14", "--plain"]
    with guitar(server) as clock, sitting(server, tmp_path, "six-over-four", words) as one:
        one.process("livecheck.daemon.clock_reader")
        time.sleep(1.5)
        step_s = 60.0 / 120.0 / 24
        note = [(0.5, bytes((0x90, 64, 90))), (0.7, bytes((0x80, 64, 0)))]
        sent_ns = clock.play(
            [(0.0, b"\xfa"), *((0.01 + at * step_s, b"\xf8") for at in range(193))]
        )
        clock.play(note)
        out, _ = one.climb.communicate(timeout=PATIENCE_S)
        reading = read(next((tmp_path / "recordings").iterdir()))
        clicks = [record for record in reading if isinstance(record, Click)]
    assert "lost: the MIDI clock has stopped coming" in out
    assert reading.head is not None and len(clicks) >= 6
    for beat in clicks:
        due_s = (sent_ns[1 + 24 * (beat.beat - 4)] - reading.head.perf_ns) / 1e9
        assert abs(beat.t_s - due_s) < 0.1  # on a busy machine too; a beat is half a second
