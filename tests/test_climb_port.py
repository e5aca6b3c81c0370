"""A climb on real ports: a robot hears the click and nothing else, and plays with a break of its
own."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from jack import Server, eventually, guitar, jack_server
from robot_sitting import BPM, CUES, PATIENCE_S, QUICK, Sitting, sitting

from livecheck.core.click import NOTES
from livecheck.core.events import Block, Cue
from livecheck.errors import BadInput
from livecheck.files.journal_reader import read

pytestmark = pytest.mark.jack


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with jack_server() as running:
        yield running


def test_clicks_cues_and_blocks_are_as_the_contract_says(server: Server, tmp_path: Path) -> None:
    """A bar of count-in, a click on each beat that begins before the last repetition ends and no
    later, one cue between the block's last note and half a second after its end, with notes that no
    click has; the score of the session gives the same clean repetitions."""
    with sitting(server, tmp_path, "six-over-four", f"{QUICK} 2") as one:
        told, err = one.told()
        heard = [(ns, note) for ns, note in one.report()["heard"]]
        reading = read(next((tmp_path / "recordings").iterdir()))
        records = list(reading)
        score = subprocess.run(
            [sys.executable, "-m", "livecheck", "score", told["session"], "--json", "--home",
             str(tmp_path)],
            env=one.environment, capture_output=True, text=True, check=True,
        )  # fmt: skip
    assert err == "" and told["format"] == "livecheck-climb/1" and told["rule"] == "free"
    assert [(block["bpm"], block["reps"]) for block in told["blocks"]] == [(BPM, 4)] * 2
    assert all(block["cue"] for block in told["blocks"]) and told["blocks"][-1]["cue"] == "end"
    totals = json.loads(score.stdout)["totals"]
    assert sum(block["clean"] for block in told["blocks"]) == totals["clean"]
    assert reading.head is not None
    blocks = [record for record in records if isinstance(record, Block)]
    beat_s = 60.0 / BPM
    for block in blocks:
        at_s = [((ns - reading.head.perf_ns) / 1e9, note) for ns, note in heard]
        near = [
            (t_s, note) for t_s, note in at_s if -5 * beat_s < t_s - block.from_s < 10.0 * beat_s
        ]
        clicks = [t_s for t_s, note in near if note in NOTES]
        assert len(clicks) == 4 + 8  # four times two beats
        assert clicks[-1] < block.until_s
        cues = [t_s for t_s, note in near if note in CUES and t_s > block.from_s]
        assert 0.0 < cues[0] - block.until_s < 0.5
    assert not NOTES & CUES
    assert [note for _, note in heard if note not in NOTES | CUES] == []


def test_it_ends_on_stop_and_tells_what_there_is(server: Server, tmp_path: Path) -> None:
    """`livecheck stop` in the middle of a block: status 0, the blocks that are over."""
    with sitting(server, tmp_path, "six-over-four", f"{QUICK} 20") as one:
        one.in_block(2)
        stop = one.started("stop")
        assert stop.wait(PATIENCE_S) == 0
        told, err = one.told()
        stop.communicate()
    assert len(told["blocks"]) in (1, 2) and told["session"] is not None
    assert err == ""  # that its ports are closed at the end is no news


def test_a_click_port_that_is_not_there_is_told_before_anything_begins(
    server: Server, tmp_path: Path
) -> None:
    """Status 3 and one line."""
    with sitting(server, tmp_path, "six-over-four", f"{QUICK} 2 --cue-port nowhere") as one:
        _, err = one.climb.communicate(timeout=PATIENCE_S)
    assert one.climb.returncode == 3
    assert 'no MIDI output matches "nowhere"' in err and err.count("\n") == 1


def test_gesture_pedal_and_command_are_obeyed(server: Server, tmp_path: Path) -> None:
    """In the rests: three open low strings ask for faster, a pedal for slower, a command for the
    end; none of it is judged as play."""
    with guitar(server) as hand:
        words = [
            "climb", "--json", "--port", "guitar:", "--pedal", "control 64=down",
            *["--start", "150", "--reps", "2", "--rule", "free", "--blocks", "9"],
        ]  # fmt: skip
        with sitting(server, tmp_path, "six-over-four", words) as one:
            asked = {1: lambda: hand.play(picks()), 2: lambda: hand.play([(0.0, b"\xb0\x40\x7f")])}
            for number in (1, 2, 3):
                eventually(lambda number=number: len(cues(one)) >= number, PATIENCE_S)
                asked.get(number, lambda: one.started("ask", "stop").wait(PATIENCE_S))()
            told, _ = one.told()
    assert told["why"] == "stopped by the player"
    tempos = [block["bpm"] for block in told["blocks"]]
    assert tempos[:1] == [150.0] and 158.0 in tempos
    assert all(block["heard"] == 0 for block in told["blocks"])


def cues(one: Sitting) -> list[Cue]:
    """Those after blocks, and not what confirms an action."""
    try:
        return [
            record for record in one.records() if isinstance(record, Cue) and record.word == "again"
        ]
    except (ValueError, BadInput):
        return []


def picks() -> list[tuple[float, bytes]]:
    """The low string three times, the last one held."""
    on, off = bytes((0x95, 40, 90)), bytes((0x85, 40, 64))
    notes = []
    for at_s in (0.0, 0.4, 0.8):
        notes += [(at_s, on), (at_s + (1.2 if at_s > 0.7 else 0.35), off)]
    return notes


@pytest.mark.long
@pytest.mark.parametrize(
    ("cell", "break_bpm", "start", "seed"),
    [
        ("six-over-four", 128.0, 84, 1),
        ("odd-five", 151.0, 110, 2),
        ("one-string-four", 176.0, 120, 3),
    ],
)
def test_search_comes_to_the_break_of_the_robot(
    server: Server, tmp_path: Path, cell: str, break_bpm: float, start: int, seed: int
) -> None:
    """In one sitting of real time, within five per cent; its interval holds it."""
    words = f"--rule search --start {start} --reps 6 --blocks 12"
    robot = {"break_bpm": break_bpm, "reps": 6, "seed": seed, "lapse": 0.02}
    with sitting(server, tmp_path, cell, words, **robot) as one:
        out, err = one.climb.communicate(timeout=600)
    told = json.loads(out)
    assert told["break"]["status"] == "found", err
    assert told["break"]["bpm"] == pytest.approx(break_bpm, rel=0.05)
