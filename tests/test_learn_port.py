"""`livecheck cell learn` on a real port: a figure is played, shown, kept and written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from test_cli_learn import FIGURE, played
from test_cli_port import NAME, end, sending, started

from livecheck.files.config import load_cell
from livecheck.files.midifile import write_midi

pytestmark = [pytest.mark.jack, pytest.mark.usefixtures("jack_server")]


def practice_in(folder: Path) -> Path:
    """A practice folder, and in it the take that will be played."""
    for name in ("recordings", "configs/cells"):
        (folder / name).mkdir(parents=True)
    write_midi(folder / "take.mid", played(FIGURE, 4))
    return folder


def test_a_figure_played_on_a_port_becomes_a_cell(tmp_path: Path) -> None:
    """It ends by itself when the figure is sure and play has stopped; the session can be learned
    from again."""
    home = practice_in(tmp_path)
    sender = sending(home / "take.mid", 1.0)
    learner = None
    try:
        learner = started(
            "cell", "learn", "--home", home, "--driver", "jack", "--port", NAME, "--write", "played"
        )
        assert learner.stdout is not None
        for line in learner.stdout:
            if line.startswith("Listening to"):
                break
        assert sender.stdin is not None
        sender.stdin.write("go\n")
        sender.stdin.flush()
        out, err = learner.communicate(timeout=60)
    finally:
        end(sender, learner)
    assert (learner.returncode, err) == (0, "")
    assert "Stop playing, and it is kept" in out
    assert "Saved in" in out
    cell = load_cell(home / "configs/cells/played.yaml")
    assert [(slot.string, slot.fret) for slot in cell.slots] == FIGURE
    again = started("cell", "learn", "--home", home, "--from", "last", "--json")
    told = json.loads(again.communicate(timeout=60)[0])
    assert told["cell"]["slots"] == [list(place) for place in FIGURE]
    assert told["repetitions"] == 4
