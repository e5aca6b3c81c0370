"""Every command that README and the manual print is run as printed."""

from __future__ import annotations

import argparse
import re
import shlex
import shutil
import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from random import Random

import mido
import pytest
import takes_on_disk
from conftest import ROOT
from played_ladder import RIG, climb, falling
from takes_on_disk import HEAD, write_session

from livecheck.cli import main, parser
from livecheck.control import Server
from livecheck.errors import LivecheckError
from livecheck.files.config import dump_rig, load_cell
from livecheck.files.midifile import write_midi

MANUALS = [ROOT / "README.md", ROOT / ".docs/manual.md"]
TEMPOS = [90, 100, 110, 120, 130]

NOT_RUN = {
    r"listen .*": "needs a converter's port",
    r"compare --family .*": "needs practice of several cells of a family; other tests build it",
    r"climb .*": "needs a converter's port and one for the click",
    r"ways .* --name .*": "needs practice in which two ways are found",
    r"today --start": "needs a converter's port and one for the click",
    r"daemon|daemon (?!--print-unit).*": "records until it is told to stop",
    r"watch": "follows a recorder until it ends",
    r"rig (setup|check)": "needs a converter's port",
    r"rig latency --click-port .*": "needs a converter's port and one for the click",
    r"cell learn(?! --from).*": "needs a converter's port",
    r"pedal learn.*": "needs a pedal's port",
}
"""Commands that are only parsed, by the whole of what follows `livecheck`, and why."""

PLACES = re.compile(r"\b[A-Z]{2,}\b|…|\[")
"""What stands for something else: FILE, NAME, [CELL]."""


def printed() -> list[str]:
    """What README and the manual tell to type, without the name of the program: in blocks and
    between backticks, tables of commands and what holds places for names left out."""
    lines: list[str] = []
    for page in MANUALS:
        text = re.sub(r"^\| `livecheck .*$", "", page.read_text("utf-8"), flags=re.MULTILINE)
        blocks = "\n".join(re.findall(r"```sh\n(.*?)```", text, re.DOTALL))
        lines += re.findall(r"^livecheck (.*)$", blocks, re.MULTILINE)
        text = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
        lines += [" ".join(line.split()) for line in re.findall(r"`livecheck\s([^`]+)`", text)]
    return [line for line in dict.fromkeys(lines) if not PLACES.search(line)]


def why_not_run(line: str) -> str | None:
    """Why a line is only parsed; None where it is run."""
    return next((why for shape, why in NOT_RUN.items() if re.fullmatch(shape, line)), None)


@pytest.fixture(scope="module")
def practice(tmp_path_factory) -> Path:
    """A practice folder with some weeks of two cells in two ways of playing, and a MIDI file."""
    home = tmp_path_factory.mktemp("manual") / "practice"
    for name in ("cells", "rigs"):
        shutil.copytree(ROOT / "configs" / name, home / "configs" / name)
    (home / "configs/rig.yaml").write_text(dump_rig(RIG), "utf-8")
    planned = ["cell", "plan", "odd-five", "--leave", "up", "--slurs", "1", "--write", "leave up"]
    assert main([*planned, "--home", str(home)]) == 0
    six, odd = (
        load_cell(home / f"configs/cells/{name}.yaml") for name in ("six-over-four", "odd-five")
    )
    head = takes_on_disk.HEAD
    played = [
        ("2026-10-05", six, TEMPOS),
        ("2026-11-03", six, TEMPOS),
        ("2026-11-10", six.with_variant("slurred"), TEMPOS),
        ("2026-11-12", odd, TEMPOS),
        ("2026-11-13", odd.with_variant("leave up"), TEMPOS),
        ("2026-11-20", odd, TEMPOS[:2]),
    ]
    for number, (day, cell, tempos) in enumerate(played):
        chance = falling(110.0 if number % 2 else 120.0, 5.0)
        takes = climb(Random(number), tempos, 8 if len(tempos) > 2 else 3, chance, cell=cell)
        takes_on_disk.HEAD = replace(HEAD, wall=f"{day}T18:03:11+01:00")
        write_session(home / "recordings" / f"{day}T18-03-11", takes.session(cell))
    takes_on_disk.HEAD = head
    short = climb(Random("file"), TEMPOS[:3], 4, falling(110.0, 5.0), cell=six)
    write_midi(home / "take.mid", short.records)
    _from_elsewhere(home)
    assert main(["review", "--home", str(home)]) == 0  # what is judged is kept beside each session
    return home


def _from_elsewhere(home: Path) -> None:
    """A MIDI file that does not say on which string, and a score of twenty bars."""
    exported = ["cell", "export", "six-over-four", "--home", str(home)]
    for kind, path in (("midi", home / "mine.mid"), ("musicxml", home / "song.musicxml")):
        assert main([*exported, "--to", kind, "--out", str(path)]) == 0
    file = mido.MidiFile(home / "mine.mid")
    for track in file.tracks:
        track[:] = [
            event.copy(channel=0) if hasattr(event, "channel") else event
            for event in track
            if event.type != "text"
        ]
    file.save(home / "mine.mid")
    score = (home / "song.musicxml").read_text("utf-8")
    (bar,) = re.findall(r"<measure.*?</measure>", score, re.DOTALL)[-1:]
    more = "".join(re.sub(r'number="\d+"', f'number="{n}"', bar, count=1) for n in range(2, 21))
    (home / "song.musicxml").write_text(score.replace("</part>", f"{more}</part>"), "utf-8")


@pytest.fixture
def recorder(practice, tmp_path, monkeypatch) -> Iterator[Path]:
    """A copy of the practice folder that is the current one, where a stand-in answers for a running
    recorder and for the MIDI system."""
    home = tmp_path / "practice"
    shutil.copytree(practice, home)
    monkeypatch.chdir(home)
    monkeypatch.delenv("LIVECHECK_HOME", raising=False)
    monkeypatch.delenv("XDG_RUNTIME_DIR", raising=False)
    for module in ("ports", "check"):
        monkeypatch.setattr(f"livecheck.commands.{module}.ask", lambda what, *_: MIDI[what])
    monkeypatch.setattr("livecheck.commands.ports.chosen_api", lambda driver: "jack")

    def answer(command: dict[str, object]) -> dict[str, object]:
        if command["command"] == "stop":
            threading.Timer(0.05, server.close).start()
        return STATUS

    server = Server(home, answer)
    yield home
    server.close()


MIDI = {
    "ports": ["Hex 1"],
    "outputs": ["Synth 1"],
    "sound": "Speakers",
    "binding": "rtmidi",
    "jack": None,
}
STATUS = {
    "session": None, "started": None, "duration_s": 0.0, "played_s": 0.0, "silence_s": 900.0,
    "link": {"up": True, "port": "Hex 1"}, "rig": "default", "cells": [], "messages": 0, "notes": 0,
    "dropped": 0, "waiting": 0, "trouble": None, "pid": 1,
}  # fmt: skip


@pytest.mark.parametrize("line", [line for line in printed() if why_not_run(line) is None])
def test_a_command_of_the_manual_runs_as_printed(recorder, capsys, line):
    """Status 0 and something said, on a folder with some weeks of practice."""
    if "--write" in line:  # a plan that is not in the cell yet
        shutil.copy(ROOT / "configs/cells/odd-five.yaml", recorder / "configs/cells")
    assert main(shlex.split(line, comments=True)) == 0, capsys.readouterr().err
    assert capsys.readouterr().out.strip()


@pytest.mark.parametrize("line", [line for line in printed() if why_not_run(line) is not None])
def test_a_command_that_needs_a_port_or_never_ends_is_one_that_is_taken(line):
    """Every word and option of it."""
    try:
        options, unknown = parser().parse_known_args(
            shlex.split(line, comments=True), argparse.Namespace()
        )
    except LivecheckError as error:
        pytest.fail(f"{line}: {error}")
    assert unknown == [] and options.run is not None


def test_what_is_not_run_is_printed_and_has_a_reason():
    """No reason is kept for what nobody tells to type; most lines are run."""
    lines = printed()
    for shape, why in NOT_RUN.items():
        assert why and any(re.fullmatch(shape, line) for line in lines), shape
    assert len([line for line in lines if why_not_run(line) is None]) > 25
