"""A climb whose processes are killed and whose ports are pulled, while a robot plays to it."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from jack import Server, eventually, jack_server
from robot_sitting import QUICK, Sitting, sitting

from livecheck.core.events import Cue, Midi
from livecheck.files.journal_reader import read

pytestmark = pytest.mark.jack


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with jack_server() as running:
        yield running


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


Troubles = list[tuple[Callable[[Sitting], None], str]]

PULLED: Troubles = [(pull("plug"), "The click"), (pull("plug-guitar"), "The guitar")]
KILLED: Troubles = [(kill_reader, "The guitar"), (kill_click, "The click")]
"""A server stands still for 5 s for each client that is killed, and others with it."""


@pytest.mark.parametrize("troubles", [PULLED, pytest.param(KILLED, marks=pytest.mark.long)])
def test_a_process_killed_or_a_port_pulled_is_told_and_the_block_comes_again(
    server: Server, tmp_path: Path, troubles: Troubles
) -> None:
    """One trouble after the other: what was played before is kept, the block does not count, and
    the climb goes on to its end."""
    with sitting(server, tmp_path, "six-over-four", f"{QUICK} 2") as one:
        before = 0
        for number, (trouble, _) in enumerate(troubles, 2):
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
    assert len(said) == len(troubles)
    assert all(words in line for line, (_, words) in zip(said, troubles))
    counted = [True, *[False] * len(troubles), True]
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
