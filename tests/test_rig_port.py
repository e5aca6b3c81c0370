"""The rig commands on a real port: a player in another process answers what the program says."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from random import Random

import pytest
from conftest import ROOT
from jack import Guitar, Server, guitar, jack_server, leave
from test_cli_rig_hint import practised

from livecheck.core.events import Click, ClickLink, Midi, UseCells
from livecheck.core.pitch import STANDARD_TUNING
from livecheck.core.rig import Delay, Rig
from livecheck.core.steady import FRETS, NOTES_A_CLICK, pattern
from livecheck.files.config import dump_rig, load_rig
from livecheck.files.journal_reader import read

pytestmark = pytest.mark.jack

PATIENCE_S = 60
Action = Callable[[Guitar], object]


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with jack_server() as running:
        yield running


@pytest.fixture
def home(tmp_path: Path) -> Path:
    for name in ("recordings", "configs/cells"):
        (tmp_path / name).mkdir(parents=True)
    return tmp_path


def started(server: Server, *words: object) -> subprocess.Popen[str]:
    """The program as a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "livecheck", *map(str, words)],
        env={**server.environment, "PYTHONPATH": str(ROOT)},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def ended(process: subprocess.Popen[str]) -> tuple[int, str, str]:
    try:
        out, err = process.communicate(timeout=PATIENCE_S)
    finally:
        process.kill()
    return process.returncode, out, err


# --------------------------------------------------------------------------------------- the player


def pluck(
    *strings: int,
    first: int = 1,
    tuning: Sequence[int] = STANDARD_TUNING,
    channel: int | None = None,
) -> Action:
    """Open strings, at once where there are several."""

    def play(player: Guitar) -> None:
        notes = []
        for string in strings:
            number = (first + string - 1 if channel is None else channel) - 1
            key = tuning[string - 1]
            notes += [
                (0.004 * string, bytes((0x90 | number, key, 90))),
                (0.3, bytes((0x80 | number, key, 64))),
            ]
        time.sleep(0.7)  # the string before has stopped
        player.play(sorted(notes))

    return play


def slur(wheel: int | None, first: int = 1, key: int = 64) -> Action:
    """Open string 1 and its twelfth fret: as a bend, or (None) as a new note."""

    def play(player: Guitar) -> None:
        on, number = bytes((0x90 | first - 1, key, 90)), first - 1
        bend = bytes((0xE0 | number, wheel & 0x7F, wheel >> 7)) if wheel is not None else None
        player.play(
            [
                (0.0, on),
                (0.3, bend or bytes((0x90 | number, key + 12, 70))),
                (1.5, bytes((0x80 | number, key, 0))),
            ]
        )

    return play


def nothing(_player: Guitar) -> None:
    """The player does not answer."""


def talk(process: subprocess.Popen[str], player: Guitar, answers: Sequence[Action]) -> str:
    """Answer each question, and each word of trouble, with the next action; returns all that was
    said."""
    assert process.stdout is not None
    left = list(answers)
    said = ""
    for line in process.stdout:
        said += line
        if line.startswith(("> ", "! ")) and left:
            left.pop(0)(player)
    assert process.wait(timeout=PATIENCE_S) == 0, process.stderr and process.stderr.read()
    return said


def set_up(
    server: Server, home: Path, answers: Sequence[Action], *words: object
) -> tuple[str, Rig]:
    with guitar(server) as player:
        process = started(
            server, "rig", "setup", "--driver", "jack", "--home", home, "--write", *words
        )
        try:
            said = talk(process, player, answers)
        finally:
            process.kill()
    return said, load_rig(home / "configs" / "rig.yaml")


# -------------------------------------------------------------------------------------------- setup


def test_a_rig_is_set_up_at_the_guitar_without_a_keyboard(server: Server, home: Path) -> None:
    """Each question is answered on a real port; channels 11 to 16, a bend range of 24 and the port
    are found."""
    said, rig = set_up(
        server,
        home,
        [*(pluck(string, first=11) for string in (6, 5, 4, 3, 2, 1)), slur(12288, first=11)],
    )
    assert (rig.channels, rig.tuning, rig.bend_range) == (
        (11, 12, 13, 14, 15, 16),
        STANDARD_TUNING,
        24.0,
    )
    assert rig.port == "guitar:Hex out"
    assert "! " not in said and "Mind" not in said
    assert max(len(line) for line in said.splitlines() if not line.startswith("Written to")) <= 80


def test_what_goes_wrong_is_said_and_it_goes_on(server: Server, home: Path) -> None:
    """Two strings at once, a wrong string, a while without a signal, a doubled channel and a slur
    as a new note."""
    drop_d = (64, 59, 55, 50, 45, 38)
    answers = [
        pluck(6, 5, tuning=drop_d),
        pluck(6, tuning=drop_d),
        pluck(3),
        pluck(5),
        nothing,
        pluck(4),
        pluck(3, channel=4),
        pluck(3, channel=4),
        pluck(2),  # asked for while the trouble with string 3 is being said
        nothing,
        pluck(1),
        slur(None),
    ]
    said, rig = set_up(server, home, answers)
    for words in (
        "Two strings at once (channels 5 and 6): play string 6 by itself once more.",
        "That seems to be another string (channel 3, G3): play string 5 by itself once more.",
        "Nothing from string 4 yet",
        "G3 came on channel 4, which is string 4's",
        "Strings 4 and 3 send on one channel (4). Going on.",
        "The slur came as a new note, not as a bend.",
        "Mind: string 3 sends on channel 4",
        "drop D",
    ):
        assert words in said, said
    assert (rig.channels, rig.tuning) == ((1, 2, 3, 4, 5, 6), drop_d)


# -------------------------------------------------------------------------------------------- check


def test_check_shows_what_arrives_from_each_string(server: Server, home: Path) -> None:
    """A line a note as it comes, and a table at the end; one string missing, one channel that is no
    string."""
    with guitar(server) as player:
        words = ("--driver", "jack", "--home", home, "--seconds", "2.5", "--plain")
        process = started(server, "rig", "check", *words)
        time.sleep(1.2)
        player.play(
            [
                (0.1 * at, bytes((0x90 | channel - 1, 50, 60 + at)))
                for at, channel in enumerate((1, 2, 4, 5, 6, 9))
            ]
        )
        status, out, err = ended(process)
    assert (status, err) == (0, "")
    assert "string 4: D3, velocity 62" in out
    assert "nothing came from string 3" in out and "channel 9 is no string of the rig" in out


# -------------------------------------------------------------------------------------------- delay


def steady_notes(bpm: float, seconds: float, true: Delay, seed: int) -> list[tuple[float, str]]:
    """What a converter sends of even notes to a click, counted from its first beat; the player is
    20 ms early."""
    rng = Random(seed)
    order, step_s = pattern(6), 60.0 / bpm / NOTES_A_CLICK
    notes = []
    for at in range(int(seconds / step_s)):
        string = order[at % 12]
        pitch = STANDARD_TUNING[string - 1] + FRETS[0]
        t_s = (
            (4 * NOTES_A_CLICK + at) * step_s
            - 0.020
            + rng.gauss(0.0, 0.002)
            + true.seconds(string, pitch)
        )
        notes.append((t_s, bytes((0x90 | string - 1, pitch, 90)).hex()))
        notes.append((t_s + 0.1, bytes((0x80 | string - 1, pitch, 64)).hex()))
    return sorted(notes)


def test_the_delay_is_measured_against_a_click_on_a_real_port(server: Server, home: Path) -> None:
    """The click is heard by another program, whose notes follow it; differences between strings
    come out, and are written into the rig because that was asked for. The session can be looked at
    again.
    """
    true = Delay(4.0, 1.8)
    (home / "notes.json").write_text(json.dumps(steady_notes(120.0, 30.0, true, 1)), "utf-8")
    (home / "configs" / "rig.yaml").write_text(
        dump_rig(Rig("mine", delay=Delay(3.0, 0.5))), "utf-8"
    )
    name = f"player {os.getpid()}"
    player = subprocess.Popen(
        [sys.executable, str(ROOT / "tests/click_player.py"), name, str(home / "notes.json")],
        env={**server.environment, "PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert player.stdout is not None and player.stdin is not None
        assert player.stdout.readline() == "ready\n"
        words = (
            "--driver",
            "jack",
            "--port",
            f"{name}:",
            "--click-port",
            f"{name} synth",
            "--home",
            home,
        )
        process = started(
            server, "rig", "latency", *words, "--tempo", "120", "--seconds", "20", "--write"
        )
        status, out, err = ended(process)
        print("clicks", file=player.stdin, flush=True)
        heard_ns = json.loads(player.stdout.readline())
    finally:
        leave(player)
    assert (status, err) == (0, ""), (out, err)
    assert "Begin at fret 0, the open strings." in out and "20 seconds of play are over." in out
    assert "Conversion delay against a click" in out
    rig = load_rig(home / "configs" / "rig.yaml")
    assert rig.name == "mine"
    assert (home / "configs" / "rig-before-1.yaml").exists()

    (session,) = (home / "recordings").iterdir()
    reading = read(session)
    records = list(reading)
    assert reading.whole and reading.head is not None and reading.account.unknown == 0
    clicks = [record for record in records if isinstance(record, Click)]
    assert [click.beat for click in clicks] == list(range(len(clicks))) and len(clicks) == len(
        heard_ns
    )
    late_s = [(ns - reading.head.perf_ns) / 1e9 - click.t_s for ns, click in zip(heard_ns, clicks)]
    # each was written with the time at which it was sent
    assert all(-0.001 < one < 0.25 for one in late_s)
    assert [record.up for record in records if isinstance(record, ClickLink)] == [True, False]
    assert (
        next(record for record in records if isinstance(record, UseCells)).cells[0].name
        == "steady notes at fret 0"
    )
    assert (
        sum(isinstance(record, Midi) and record.data[0] & 0xF0 == 0x90 for record in records) > 120
    )

    again = started(server, "rig", "latency", session.name, "--home", home, "--json")
    status, told, _ = ended(again)
    found = json.loads(told)
    assert (status, found["how"]) == (0, "click")
    assert rig.delay.periods == pytest.approx(found["periods"]["value"], abs=0.01)
    # how near it comes on a busy machine is chance; bench_delay.py measures
    assert found["periods"]["low"] - 1.0 < true.periods < found["periods"]["high"] + 1.0
    player_and_delay_ms = (
        sum(true.seconds(string, STANDARD_TUNING[string - 1] + FRETS[0]) for string in range(1, 7))
        / 6e-3
        - 20
    )
    # and the way of the first click, which the notes follow
    assert found["common_ms"]["value"] == pytest.approx(
        player_and_delay_ms + 1e3 * late_s[0], abs=25.0
    )


def test_a_click_port_that_is_not_there_is_one_line(server: Server, home: Path) -> None:
    """With what there is; nothing is left behind."""
    with guitar(server):
        words = ("--driver", "jack", "--home", home, "--click-port", "nix")
        status, _, err = ended(started(server, "rig", "latency", *words))
    assert status == 3
    assert (
        err.startswith('livecheck: no MIDI output matches "nix"; there ') and err.count("\n") == 1
    )
    assert list((home / "recordings").iterdir()) == []


def test_a_pulled_cable_is_said_while_strings_are_looked_at(server: Server, home: Path) -> None:
    """It goes on by itself when the port is back, and counts on."""
    note = bytes((0x95, 40, 90))
    with guitar(server) as player:
        words = ("--driver", "jack", "--home", home, "--seconds", "6", "--plain")
        process = started(server, "rig", "check", *words)
        assert process.stdout is not None
        assert process.stdout.readline() == "listening to guitar:Hex out\n"
        player.play([(0.0, note)])
        assert process.stdout.readline() == "string 6: E2, velocity 90\n"
        player.unplug()
        assert (
            process.stdout.readline()
            == "guitar:Hex out was unplugged; it goes on when it is back\n"
        )
        player.plug()
        assert process.stdout.readline() == "listening to guitar:Hex out\n"
        player.play([(0.0, note)])
        status, out, err = ended(process)
    assert (status, err) == (0, "")
    assert "     6        6      2       90      90       90" in out


def test_after_practice_a_better_delay_is_offered(server: Server, home: Path) -> None:
    """At the end of `listen`, from the sessions before and this one; nothing is written."""
    practised(home, Rig())
    with guitar(server) as player:
        words = ("--driver", "jack", "--home", home, "--seconds", "2", "--plain")
        process = started(server, "listen", "six-strings", *words)
        assert process.stdout is not None
        while "listening to" not in (line := process.stdout.readline()):
            assert line, process.communicate()
        player.play([(0.1 * at, bytes((0x90 + at % 6, 50, 90))) for at in range(6)])
        status, out, err = ended(process)
    assert (status, err) == (0, "")
    assert (
        "Practice suggests another conversion delay: string 6 comes" in out
        and "rig latency --last 5`" in out
    )
    assert not (home / "configs" / "rig.yaml").exists()


def test_a_steady_pulse_needs_no_click(server: Server, home: Path) -> None:
    """At the player's own tempo; the session says what was played, and no click is in it."""
    true = Delay(4.0, 1.8)
    notes = [(t_s, bytes.fromhex(data)) for t_s, data in steady_notes(130.0, 13.0, true, 2)]
    with guitar(server) as player:
        process = started(
            server, "rig", "latency", "--driver", "jack", "--home", home, "--seconds", "11"
        )
        assert process.stdout is not None
        while not (line := process.stdout.readline()).startswith("  Listening to"):
            assert line, process.communicate()
        player.play(notes)
        status, out, err = ended(process)
    assert (status, err) == (0, ""), (out, err)
    assert (
        "Conversion delay from a steady pulse" in out and "Not written; --write writes it." in out
    )
    (session,) = (home / "recordings").iterdir()
    records = list(read(session))
    assert not [record for record in records if isinstance(record, (Click, ClickLink))]
    told = json.loads(
        ended(started(server, "rig", "latency", session.name, "--pulse", "--home", home, "--json"))[
            1
        ]
    )
    assert told["periods"]["low"] < true.periods < told["periods"]["high"]
