"""A climb on real ports: a robot hears the click and nothing else, and plays with a break of its
own."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT
from jack import Server, eventually, guitar, jack_server

from livecheck.core.click import NOTES
from livecheck.core.cues import USUAL
from livecheck.core.events import Block, Click, Cue, Midi
from livecheck.errors import BadInput
from livecheck.files.config import load_cell
from livecheck.files.journal_reader import read

pytestmark = pytest.mark.jack

PATIENCE_S = 90
CUES = {tone.note for tones in USUAL.values() for tone in tones}


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with jack_server() as running:
        yield running


class Sitting:
    """A robot and a climb at the same ports."""

    def __init__(
        self, server: Server, home: Path, cell_name: str, words: list[str], **robot: Any
    ) -> None:
        for name in ("recordings", "configs/cells", "run"):
            (home / name).mkdir(parents=True, exist_ok=True)
        self.home = home
        path = ROOT / "configs" / "cells" / f"{cell_name}.yaml"
        cell = load_cell(path)
        slots = [[slot.string, slot.pitch, slot.start, slot.length] for slot in cell.slots]
        told = {
            "cell": {"slots": slots, "steps": cell.steps, "grid": cell.grid},
            "break_bpm": 400.0, "width": 0.03, "lapse": 0.0, "quiet": None, "reps": 4,
            "offset_ms": 8.0, "jitter_ms": 4.0, "seed": 1, **robot,
        }  # fmt: skip
        (home / "robot.json").write_text(json.dumps(told), "utf-8")
        self.environment = {
            **server.environment, "PYTHONPATH": str(ROOT), "XDG_RUNTIME_DIR": str(home / "run")
        }  # fmt: skip
        self.robot = subprocess.Popen(
            [sys.executable, str(ROOT / "tests/robot.py"), "robot", str(home / "robot.json")],
            env=self.environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert self.robot.stdout is not None and self.robot.stdout.readline() == "ready\n"
        ports = ["--driver", "jack", "--port", "robot:"]
        click = [] if "--follow-clock" in words else ["--click-port", "robot synth:"]
        self.climb = self.started(words[0], path, *ports, *click, *words[1:])

    def started(self, *words: object) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, "-m", "livecheck", *map(str, words), "--home", str(self.home)],
            env=self.environment, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True,
        )  # fmt: skip

    def say(self, word: str) -> None:
        assert self.robot.stdin is not None
        print(word, file=self.robot.stdin, flush=True)

    def report(self) -> dict[str, Any]:
        self.say("report")
        assert self.robot.stdout is not None
        told: dict[str, Any] = json.loads(self.robot.stdout.readline())
        return told

    def process(self, module: str) -> int:
        """The process of the recorder, the reader or the click, once it runs."""

        def found() -> int | None:
            for path in Path("/proc").glob("[0-9]*/cmdline"):
                try:
                    words = path.read_bytes().decode("utf-8", "replace").split("\0")
                    environment = (path.parent / "environ").read_bytes().decode("utf-8", "replace")
                except OSError:
                    continue
                if module in words and f"XDG_RUNTIME_DIR={self.home}/run\0" in environment:
                    return int(path.parent.name)
            return None

        return int(eventually(found, 30.0))

    def records(self) -> list[Any]:
        (session,) = (self.home / "recordings").iterdir()
        return list(read(session))

    def blocks(self) -> list[Block]:
        try:
            return [record for record in self.records() if isinstance(record, Block)]
        except (ValueError, BadInput):  # no session yet
            return []

    def in_block(self, number: int) -> None:
        """Wait until so many blocks have begun, and two notes of the last have come."""

        def playing() -> bool:
            blocks = self.blocks()
            if len(blocks) < number:
                return False
            from_s = blocks[number - 1].from_s
            notes = [one for one in self.records() if isinstance(one, Midi) and one.t_s > from_s]
            return len(notes) > 4

        eventually(playing, PATIENCE_S)

    def told(self, status: int = 0) -> tuple[dict[str, Any], str]:
        out, err = self.climb.communicate(timeout=PATIENCE_S)
        assert self.climb.returncode == status, err
        told: dict[str, Any] = json.loads(out)
        return told, err

    def kill(self) -> None:
        for process in (self.climb, self.robot):
            process.kill()
            process.communicate()


@contextmanager
def sitting(
    server: Server, home: Path, cell: str, words: str | list[str], **robot: Any
) -> Iterator[Sitting]:
    if isinstance(words, str):
        words = ["climb", "--json", *words.split()]
    one = Sitting(server, home, cell, words, **robot)
    try:
        yield one
    finally:
        one.kill()


BPM = 210.0
QUICK = f"--start {BPM:.0f} --reps 4 --rule free --blocks"


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
        told, _ = one.told()
        stop.communicate()
    assert len(told["blocks"]) in (1, 2) and told["session"] is not None


def kill_recorder(one: Sitting) -> None:
    os.kill(one.process("livecheck.daemon"), signal.SIGKILL)


def kill_reader(one: Sitting) -> None:
    os.kill(one.process("livecheck.daemon.reader"), signal.SIGKILL)


def kill_click(one: Sitting) -> None:
    os.kill(one.process("livecheck.daemon.clicker"), signal.SIGKILL)


def pull(word: str) -> Callable[[Sitting], None]:
    def pulled(one: Sitting) -> None:
        one.say(f"un{word}")
        time.sleep(1.0)
        one.say(word)

    return pulled


TROUBLES = [
    (kill_reader, "The guitar"),
    (kill_click, "The click"),
    (pull("plug"), "The click"),
    (pull("plug-guitar"), "The guitar"),
]


def test_a_process_killed_or_a_port_pulled_is_told_and_the_block_comes_again(
    server: Server, tmp_path: Path
) -> None:
    """One trouble after the other: what was played before is kept, the block does not count, and
    the climb goes on to its end."""
    with sitting(server, tmp_path, "six-over-four", f"{QUICK} 2") as one:
        before = 0
        for number, (trouble, _) in enumerate(TROUBLES, 2):
            one.in_block(number)
            notes = sum(isinstance(record, Midi) for record in one.records())
            assert notes > before
            before = notes
            trouble(one)
        told, err = one.told()
        records = one.records()
    # a port that is seen, lost and seen again while it comes back is told once more
    lines = [line for line in err.splitlines() if "It goes on when it is back." in line]
    said = list(dict.fromkeys(lines))
    assert len(said) == len(TROUBLES)
    assert all(words in line for line, (_, words) in zip(said, TROUBLES))
    counted = [True, *[False] * len(TROUBLES), True]
    assert [block["counted"] for block in told["blocks"]] == counted
    assert sum(isinstance(record, Midi) for record in records) > before
    assert len([record for record in records if isinstance(record, Cue)]) >= 2


def test_a_recorder_that_was_killed_ends_the_climb_and_loses_nothing(
    server: Server, tmp_path: Path
) -> None:
    """Status 1 and a line; the blocks that were over are told from what it had written."""
    with sitting(server, tmp_path, "six-over-four", f"{QUICK} 9") as one:
        one.in_block(2)
        before = len([record for record in one.records() if isinstance(record, Midi)])
        kill_recorder(one)
        told, err = one.told(status=1)
        kept = len([record for record in one.records() if isinstance(record, Midi)])
    assert "the recorder has ended" in err
    assert kept >= before and len(told["blocks"]) == 1 and told["blocks"][0]["clean"] >= 3


def test_a_console_that_was_killed_leaves_a_whole_session(server: Server, tmp_path: Path) -> None:
    """The recorder ends in order with it, and the click stops."""
    with sitting(server, tmp_path, "six-over-four", f"{QUICK} 9") as one:
        one.in_block(1)
        recorder = one.process("livecheck.daemon")
        one.climb.kill()
        eventually(lambda: not Path(f"/proc/{recorder}").exists(), 30.0)
        session = next((tmp_path / "recordings").iterdir())
        reading = read(session)
        assert [type(record).__name__ for record in reading][-1] == "Stop" and reading.whole
        heard = len(one.report()["heard"])
        time.sleep(1.0)
        assert len(one.report()["heard"]) == heard


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
