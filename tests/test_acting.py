"""What `listen` does when it is asked: cells, variants, click, marks, and the sound that
answers."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT

from livecheck.commands.acting import Acting
from livecheck.commands.choice import Choice
from livecheck.commands.hands import HandsAre
from livecheck.commands.ring import Ring
from livecheck.core.cell import Cell
from livecheck.core.cues import as_told
from livecheck.core.events import RepDone
from livecheck.core.hands import Wanted
from livecheck.errors import BadInput
from livecheck.files.config import load_cell
from livecheck.session import Session


class Told:
    """A recorder that notes down what it is told."""

    def __init__(self) -> None:
        self.said: list[dict[str, Any]] = []

    def ask(self, command: dict[str, Any], timeout_s: float = 0.0) -> dict[str, Any]:
        self.said.append(dict(command))
        return {}

    def of(self, name: str) -> list[dict[str, Any]]:
        return [one for one in self.said if one["command"] == name]


@pytest.fixture
def home(tmp_path: Path) -> Path:
    for name in ("cells", "rigs"):
        shutil.copytree(ROOT / "configs" / name, tmp_path / "configs" / name)
    return tmp_path


def cell(home: Path, name: str) -> Cell:
    return load_cell(home / "configs/cells" / f"{name}.yaml")


def acting(
    home: Path, cells: list[Cell], click: float | None = None, port: str | None = "synth"
) -> tuple[Acting, Told]:
    own = None
    if click is not None:
        own = {"command": "click", "port": "synth", "schedule": {"bpm": click, "steps": 6}}
    ring = Ring(Choice(home=str(home)), cells, None)
    made, told = Acting(HandsAre(Wanted()), cells, None, ring, own, port, True), Told()
    made.begin(told)  # type: ignore[arg-type]
    told.said.clear()
    return made, told


def test_the_next_cell_is_that_of_the_list_and_comes_round_again(home: Path) -> None:
    """Each once; back leads where forth came from; one with a broken file is passed over."""
    (home / "configs/cells/broken.yaml").write_text("slots: 5", "utf-8")
    one = cell(home, "six-over-four")
    made, told = acting(home, [one])
    seen, now = [], one
    while now.name not in seen:
        seen.append(now.name)
        said = made.act("next-cell", now)
        (entry,) = told.of("cells")[-1]["cells"]
        assert said == f"from now on: {entry['name']}"
        now = next(
            load
            for load in map(load_cell, sorted((home / "configs/cells").glob("[!b]*.yaml")))
            if load.name == entry["name"]
        )
    assert now.name == one.name and len(seen) > 3
    made.act("previous-cell", one)
    assert told.of("cells")[-1]["cells"][0]["name"] == seen[-1]


def test_of_several_that_were_named_only_those_come(home: Path) -> None:
    """From the one that was recognised; where none was, from the first."""
    cells = [cell(home, "odd-five"), cell(home, "six-over-four")]
    ring = Ring(Choice(home=str(home)), cells, None)
    assert ring.step(cells[0], "next-cell") == cells[1] == ring.step(cells[0], "previous-cell")
    assert ring.step(None, "next-cell") == cells[0]


def test_variants_come_round_and_a_cell_without_any_says_so(home: Path) -> None:
    """As written, each variant by name, as written again."""
    one = cell(home, "six-over-four")
    ring = Ring(Choice(home=str(home)), [one], None)
    names, now = [], one
    for _ in range(len(one.variants) + 1):
        now = ring.step(now, "next-variant")
        names.append(now.variant)
    assert names == [*sorted(one.variants), None]
    assert ring.step(one, "previous-variant").variant == sorted(one.variants)[-1]
    bare = next(
        load
        for load in map(load_cell, (home / "configs/cells").glob("*.yaml"))
        if not load.variants
    )
    with pytest.raises(BadInput, match="has no variants"):
        ring.step(bare, "next-variant")


def test_the_click_goes_up_and_down_pauses_and_begins_again(home: Path) -> None:
    """By a twentieth, whole beats; each begins with a count-in; without a click it says so."""
    made, told = acting(home, [cell(home, "odd-five")], 100.0)
    assert "105 bpm" in str(made.act("up", None))
    assert "100 bpm" in str(made.act("down", None))
    assert made.act("pause", None) == "the click pauses"
    assert "100 bpm" in str(made.act("pause", None))
    bpm = [one["schedule"] and one["schedule"]["bpm"] for one in told.of("click")]
    assert bpm == [105.0, 100.0, None, 100.0]
    assert [one["word"] for one in told.of("cue")] == ["up", "down", "pause", "pause"]
    silent, said = acting(home, [cell(home, "odd-five")])
    assert "there is no click" in str(silent.act("up", None)) and said.of("cue") == []


def test_nothing_sounds_without_a_port_and_cues_are_those_of_the_settings(home: Path) -> None:
    """A mark is set all the same."""
    made, told = acting(home, [cell(home, "odd-five")], port=None)
    made.act("mark", None)
    assert [one["command"] for one in told.said] == ["mark"]
    made, told = acting(home, [cell(home, "odd-five")])
    made.act("mark", None)
    assert told.of("cue")[0]["notes"] == as_told(HandsAre(Wanted()).sounds["mark"])


def test_a_stretch_is_told_by_what_came_of_it(home: Path) -> None:
    """Clean, failed, or a string sounded: whichever there was more of."""
    import sys

    sys.path.insert(0, str(ROOT / "tests" / "console"))
    from console_sample import session_records

    outcomes = Session().feed_all(session_records(12))
    reps = [one.repetition for one in outcomes if isinstance(one, RepDone)]
    made, told = acting(home, [])
    made.paused([])
    assert told.said == []
    clean = [rep for rep in reps if rep.clean]
    assert clean
    made.paused(clean)
    made.paused(reps)
    words = [one["word"] for one in told.of("cue")]
    assert words[0] == "clean" and (words[1] in ("failed", "string")) == (len(clean) < len(reps))
