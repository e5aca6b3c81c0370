"""`livecheck cell learn` from files and sessions: what is told, what is written, what is
refused."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from livecheck.cli import main
from livecheck.commands.cell_learn_live import _Listener
from livecheck.commands.learning import Learning
from livecheck.core.events import Midi
from livecheck.core.pitch import STANDARD_TUNING
from livecheck.files.config import load_cell
from livecheck.files.midifile import write_midi

OPEN = (64, 59, 55, 50, 45, 40)
FIGURE = [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 10), (3, 10)]


def played(figure: list[tuple[int, int]], reps: int, start_s: float = 0.5) -> list[Midi]:
    records = []
    t_s = start_s
    for string, fret in figure * reps:
        channel, key = string - 1, OPEN[string - 1] + fret
        records.append(Midi(t_s, bytes((0x90 | channel, key, 80))))
        records.append(Midi(t_s + 0.2, bytes((0x80 | channel, key, 0))))
        t_s += 0.25
    return records


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """Three repetitions of seven notes."""
    path = tmp_path / "take.mid"
    write_midi(path, played(FIGURE, 3))
    return path


def test_a_file_gives_json_and_writes_nothing(run, take):
    """The keys of the contract; no file is made without being asked for."""
    status, out, err = run("cell", "learn", "--from", take, "--json")
    told = json.loads(out)
    assert (status, err) == (0, "")
    assert set(told) >= {"sure", "chance", "why", "cell", "repetitions"}
    assert (told["sure"], told["why"], told["repetitions"], told["path"]) == (True, None, 3, None)
    assert 0.9 < told["chance"] < 1.0
    assert told["cell"]["slots"] == [list(place) for place in FIGURE]
    assert told["cell"]["grid"] == 4
    assert not list(Path("configs/cells").glob("learned*"))


def test_the_file_written_is_the_cell_shown(run, take):
    """Tablature, how sure it is, and a file that `listen` takes."""
    status, out, _ = run("cell", "learn", "--from", take, "--write", "My Seven", "--begin", "up")
    assert status == 0
    assert "% sure" in out
    assert out.rstrip().endswith("listen my-seven")
    elsewhere = run("cell", "learn", "--from", take, "--out", "a cell.yaml").out
    assert elsewhere.rstrip().endswith("listen 'a cell.yaml'")
    cell = load_cell("configs/cells/my-seven.yaml")
    assert (cell.name, cell.begin, cell.picking) == ("My Seven", "up", "alternate")
    assert [(slot.string, slot.fret) for slot in cell.slots] == FIGURE
    assert run("cell", "check", "configs/cells/my-seven.yaml").status == 0


def test_a_file_that_is_there_is_never_written_over(run, take):
    """A name that is taken is refused; without a name the next free one is taken; --force says
    so."""
    assert run("cell", "learn", "--from", take, "--write", "x").status == 0
    status, _, err = run("cell", "learn", "--from", take, "--write", "x", "--begin", "up")
    assert status == 2
    assert "there already; --force" in err
    assert load_cell("configs/cells/x.yaml").begin == "down"
    assert run("cell", "learn", "--from", take).status == 0
    assert run("cell", "learn", "--from", take).status == 0
    assert {path.stem for path in Path("configs/cells").glob("learned*")} == {
        "learned",
        "learned-2",
    }
    again = run("cell", "learn", "--from", take, "--write", "x", "--begin", "up", "--force")
    assert again.status == 0
    assert load_cell("configs/cells/x.yaml").begin == "up"
    assert not list(Path("configs/cells").glob("*.part"))


def test_grid_start_tuning_and_capo_are_taken(run, take):
    """Options change how the same sounds are written down."""
    told = json.loads(
        run(
            "cell", "learn", "--from", take, "--json", "--grid", 3, "--start", 3, "--capo", 2,
            "--tuning", "E4,B3,G3,D3,A2,D2",
        ).out
    )["cell"]  # fmt: skip
    assert (told["grid"], told["capo"], told["tuning"][-1]) == (3, 2, "D2")
    assert told["slots"][0] == [3, 10]


def test_what_is_not_sure_is_said_and_not_written(run, tmp_path):
    """Two repetitions only: exit status 0, the reason, and no file unless a name is given."""
    path = tmp_path / "two.mid"
    write_midi(path, played(FIGURE, 2))
    status, out, _ = run("cell", "learn", "--from", path)
    assert status == 0
    assert "Not sure" in out
    assert "only twice" in out
    assert "Not written" in out
    told = json.loads(run("cell", "learn", "--from", path, "--json").out)
    assert (told["sure"], told["repetitions"]) == (False, 2)
    assert run("cell", "learn", "--from", path, "--write", "two").status == 0
    assert len(load_cell("configs/cells/two.yaml").slots) == 7


def test_an_empty_file_is_no_error(run, tmp_path):
    """Nothing was played: not sure, no cell, status 0."""
    path = tmp_path / "empty.mid"
    write_midi(path, [])
    status, out, _ = run("cell", "learn", "--from", path, "--json")
    told = json.loads(out)
    assert (status, told["sure"], told["cell"], told["repetitions"]) == (0, False, None, 0)
    assert "No cell" in run("cell", "learn", "--from", path).out


def test_one_take_of_a_session_can_be_chosen(run, tmp_path):
    """Takes are told apart by silence where no cell was practised."""
    other = [(1, 5), (1, 7), (2, 5), (2, 8)]
    path = tmp_path / "both.mid"
    write_midi(path, [*played(FIGURE, 3), *played(other, 4, start_s=20.0)])
    for number, figure in ((1, FIGURE), (2, other)):
        told = json.loads(run("cell", "learn", "--from", path, "--take", number, "--json").out)
        assert told["cell"]["slots"] == [list(place) for place in figure]
    status, _, err = run("cell", "learn", "--from", path, "--take", 3)
    assert status == 2
    assert "has 2 takes" in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--start", 9], "the cell has 7 notes"),
        (["--grid", 40], "1 to 16 steps"),
        (["--capo", 30], "fret 0 to 12"),
        (["--tuning", "H4"], "no note name"),
        (["--take", 2], "has 1 take"),
    ],
)
def test_bad_options_get_one_line(run, take, words, said):
    """What is wrong and what may stand there."""
    status, out, err = run("cell", "learn", "--from", take, *words)
    assert (status, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    ("typed", "asked", "kept", "begin"),
    [
        ("\n\n", "Its name? (Enter: learned) ", "learned", "down"),
        ("my seven\nYes\n", "Its name? (Enter: learned) ", "my-seven", "up"),
    ],
)
def test_questions_say_what_enter_does(run, take, monkeypatch, typed, asked, kept, begin):
    """At a terminal the name and the first stroke are asked for, as what is sure is kept."""
    out = Terminal()
    monkeypatch.setattr("sys.stdin", Terminal(typed))
    assert main(["cell", "learn", "--from", str(take)], out, io.StringIO()) == 0
    question = "Does it begin with an up stroke? (y; Enter: with a down stroke) "
    assert asked in out.getvalue() and question in out.getvalue()
    assert load_cell(Path(f"configs/cells/{kept}.yaml")).begin == begin


def test_nothing_is_asked_about_the_strokes_of_what_is_not_kept(run, tmp_path, monkeypatch):
    """Two repetitions are not sure: without a name they are kept nowhere."""
    write_midi(tmp_path / "short.mid", played(FIGURE, 2))
    out = Terminal()
    monkeypatch.setattr("sys.stdin", Terminal("\n"))
    main(["cell", "learn", "--from", str(tmp_path / "short.mid")], out, io.StringIO())
    assert "Its name? (Enter: not kept) " in out.getvalue()
    assert "up stroke?" not in out.getvalue() and "Not written" in out.getvalue()


class Terminal(io.StringIO):
    """A terminal at both ends."""

    def isatty(self) -> bool:
        return True


def test_a_file_that_is_not_there_is_said(run):
    """No traceback, status 2."""
    status, _, err = run("cell", "learn", "--from", "no.mid")
    assert (status, "no such file" in err) == (2, True)


def test_the_old_word_for_writing_is_answered_with_the_new_one(run, take):
    """One line, status 2, nothing written."""
    failed = run("cell", "learn", "--from", take, "--name", "x")
    assert (failed.status, failed.out) == (2, "")
    assert failed.err == "livecheck: --name NAME is --write NAME now, as for the other commands\n"


def test_the_beginning_is_moved_by_key_and_gesture_while_it_is_played():
    """The lowest string open, three times after a second of silence: a note later; four times, or a
    key: a note earlier. The picks are no part of the cell."""
    records = list(played(FIGURE, 3))
    listener = _Listener(Learning(rig=None, tuning=STANDARD_TUNING), io.StringIO())
    assert listener._hear(records) == (False, [])
    assert first_of(listener) == FIGURE[0]
    for picks, meant, first in ((3, "later", 1), (4, "earlier", 0)):
        t_s = records[-1].t_s + 5.0 * picks
        lowest = [(t_s + 0.4 * at, 0.38 if at < picks - 1 else 1.1) for at in range(picks)]
        told = []
        for on_s, long_s in lowest:
            told += listener._hear([Midi(on_s, bytes((0x95, 40, 90)))])[1]
            told += listener._hear([Midi(on_s + long_s, bytes((0x85, 40, 0)))])[1]
        assert told == [meant]
        listener._ask(told[0])
        assert first_of(listener) == FIGURE[first]
    listener._ask("earlier")
    listener._ask("up")
    assert (first_of(listener), listener.begin) == (FIGURE[-1], "up")


def first_of(listener):
    slot = listener.learned().cell.slots[0]
    return slot.string, slot.fret
