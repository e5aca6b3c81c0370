"""``livecheck ways`` from outside: sessions and MIDI files in, sentences or JSON out."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))

from takes_on_disk import write_session
from ways_player import Planted, Player, Trait, practise

from livecheck.cli import main
from livecheck.commands.live import ways_known
from livecheck.console.source import Paced
from livecheck.core.cell import make_cell
from livecheck.core.events import Link
from livecheck.files.config import dump_cell
from livecheck.files.library import PracticeFolder

CELL = make_cell(
    "skip", [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 10)], tempo_bpm=100
)  # fmt: skip


def planted(traits: list[list[Trait]], share, stay: float, seed: int = 3) -> Planted:
    rng = np.random.default_rng(seed)
    player = Player(rng, CELL, traits, frozenset())
    return practise(
        rng, CELL, player, sessions=2, takes=8, reps=(16, 18),
        tempos=np.geomspace(90, 160, 6), share=share, stay=stay,
    )  # fmt: skip


def saved(home: Path, practice: Planted) -> list[str]:
    (home / "configs" / "cells").mkdir(parents=True)
    (home / "recordings").mkdir()
    (home / "configs" / "cells" / "skip.yaml").write_text(dump_cell(CELL), "utf-8")
    names = [f"2026-11-{day:02d}T18-03-11" for day in range(10, 10 + len(practice.sessions))]
    for name, records in zip(names, practice.sessions):
        write_session(home / "recordings" / name, records)
    return names


def told(home: Path, *more: str) -> dict:
    out = io.StringIO()
    assert main(["ways", "skip", "--home", str(home), "--json", *more], out, io.StringIO()) == 0
    return json.loads(out.getvalue())


@pytest.fixture(scope="module")
def two(tmp_path_factory) -> tuple[Path, Planted, list[str]]:
    """A hammered fourth note and a touched string, in runs of some ten repetitions."""
    home = tmp_path_factory.mktemp("two")
    traits = [Trait("attack", 4, None, -0.5), Trait("noise", None, 4, 0.6)]
    practice = planted([traits], lambda bpm: [0.5, 0.5], 0.9)
    return home, practice, saved(home, practice)


@pytest.fixture(scope="module")
def found(two) -> dict:
    """What is told of it."""
    return told(two[0])


def test_two_planted_ways_are_told_as_the_contract_says(two, found):
    """Keys, names, the first's empty list, and each repetition once, as `score` numbers them."""
    home, _, names = two
    assert found["format"] == "livecheck-ways/1" and found["cell"] == "skip"
    assert [way["name"] for way in found["ways"]] == ["A", "B"]
    first, second = found["ways"]
    assert first["differs"] == [] and first["clean"] is None and second["clean"] is not None
    kinds = {(one["what"], one["slot"], one["string"]) for one in second["differs"]}
    assert ("attack", 4, None) in kinds and ("noise", None, 4) in kinds
    assert all(one["low"] <= one["this"] - one["other"] <= one["high"] for one in second["differs"])
    places = [(one["session"], one["rep"]) for one in found["reps"]]
    assert len(set(places)) == len(places) and {session for session, _ in places} == set(names)
    for session in names:
        out = io.StringIO()
        assert main(["score", session, "--home", str(home), "--json"], out, io.StringIO()) == 0
        reps = [one["rep"] for one in json.loads(out.getvalue())["reps"]]
        assert [rep for name, rep in places if name == session] == reps
    for way in found["ways"]:
        shares = [one["share"] for one in way["by_tempo"]]
        assert all(0.0 <= share <= 1.0 for share in shares)
        assert len(way["examples"]) == 3
    assert found["why"] is None and found["chance"] > 0.9


def test_repetitions_are_put_right(two, found):
    """Nearly all that are told are told as they were planted."""
    practice = two[1]
    planted = [way for session in practice.way for way in session]
    told_ways = [one["way"] for one in found["reps"]]
    assert len(planted) == len(told_ways)
    pairs = [(a, b) for a, b in zip(planted, told_ways) if b is not None]
    right = sum((a == 0) == (b == "A") for a, b in pairs) / len(pairs)
    assert len(pairs) > 0.8 * len(planted) and max(right, 1 - right) > 0.95


def test_the_sentence_names_what_differs(two):
    """On a terminal the finding is said in words, with examples and how to see them again."""
    home, _, names = two
    out = io.StringIO()
    assert main(["ways", "skip", "--home", str(home)], out, io.StringIO()) == 0
    text = out.getvalue()
    assert "Two ways of playing" in text and "note 4 is" in text and "string 4" in text
    assert f"livecheck replay {names[0]} --from-rep " in text


def test_one_way_is_said_to_be_one(tmp_path):
    """Without a second way one entry is told, and why."""
    saved(tmp_path, planted([], lambda bpm: [1.0], 0.0))
    found = told(tmp_path)
    assert len(found["ways"]) == 1 and found["why"] and found["from_bpm"] is None
    assert found["ways"][0]["differs"] == [] and found["ways"][0]["clean"] is None
    assert {one["way"] for one in found["reps"]} == {"A"}


def test_too_little_is_said(tmp_path):
    """A handful of repetitions is no practice to find ways in; that is no error."""
    practice = planted([], lambda bpm: [1.0], 0.0)
    practice.sessions = practice.sessions[:1]
    practice.sessions[0] = practice.sessions[0][:150]
    saved(tmp_path, practice)
    assert told(tmp_path)["why"].endswith(" repetitions in 1 take")


def replayed(home: Path, name: str) -> list[str | None]:
    """The mark of each repetition in plain lines, None where it has none."""
    out = io.StringIO()
    args = ["replay", name, "--home", str(home), "--plain", "--fast"]
    assert main(args, out, io.StringIO()) == 0
    lines = [line for line in out.getvalue().splitlines() if line.startswith("rep ")]
    return [line.split("  way ")[1] if "  way " in line else None for line in lines]


def test_a_name_is_kept_and_recognised(two):
    """A named way keeps its name in the next run, and repetitions are marked by it from then on, as
    they are told afterwards; what cannot be named is told in one line."""
    home = two[0]
    assert {way["name"] for way in told(home, "--name", "B", "low wrist")["ways"]} == {
        "A", "low wrist",
    }  # fmt: skip
    again = told(home)
    assert [way["name"] for way in again["ways"]] == ["A", "low wrist"]
    assert "low wrist" in {one["way"] for one in again["reps"]}
    marked = replayed(home, two[2][1])
    pairs = [
        (way == "low wrist", one["way"] == "low wrist")
        for way, one in zip(
            marked, [one for one in again["reps"] if one["session"] == two[2][1]], strict=True
        )
        if way and one["way"]
    ]
    assert len(pairs) > 0.7 * len(marked) and sum(a == b for a, b in pairs) >= 0.95 * len(pairs)
    err = io.StringIO()
    assert main(["ways", "skip", "--home", str(home), "--name", "D", "x"], io.StringIO(), err) == 2
    assert err.getvalue().count("\n") == 1 and "no way 'D'" in err.getvalue()
    (home / "configs" / "ways" / "skip.json").write_text("{", "utf-8")
    err = io.StringIO()
    assert main(["ways", "skip", "--home", str(home)], io.StringIO(), err) == 2
    assert "skip.json" in err.getvalue() and err.getvalue().count("\n") == 1
    assert ways_known(PracticeFolder(home))(CELL) is None  # nor marks anything
    (home / "configs" / "ways" / "skip.json").unlink()


def test_the_review_says_so_too(two, tmp_path):
    """A sentence, a key in its JSON, pictures on its page; and both ways can be compared."""
    home = two[0]
    out, page = io.StringIO(), tmp_path / "review.html"
    told_in = ["review", "--cell", "skip", "--home", str(home)]
    assert main([*told_in, "--html", str(page)], out, io.StringIO()) == 0
    assert "Two ways of playing: in B, " in " ".join(out.getvalue().split())
    text = page.read_text("utf-8")
    assert "What differs in B" in text and "How clean each way is" in text
    out = io.StringIO()
    assert main([*told_in, "--json"], out, io.StringIO()) == 0
    ways = json.loads(out.getvalue())["ways"]
    assert [way["name"] for way in ways["ways"]] == ["A", "B"] and ways["sentence"]
    out = io.StringIO()
    args = ["compare", "--cell", "skip", "--ways", "B", "A", "--home", str(home), "--json"]
    assert main(args, out, io.StringIO()) == 0
    overall, clean = json.loads(out.getvalue())["overall"], ways["ways"][1]["clean"]
    assert overall["points"] == pytest.approx(clean["points"], abs=0.2)
    err = io.StringIO()
    args[args.index("A")] = "Z"
    assert main(args, io.StringIO(), err) == 2 and "no way 'Z'" in err.getvalue()


def test_a_replay_begins_at_a_repetition(two):
    """What was played before it is told at once, the rest at its pace; a repetition that was not
    played is told in a line."""
    home, _, names = two
    err = io.StringIO()
    start = ["replay", names[0], "--home", str(home), "--plain", "--from-rep", "9999"]
    assert main(start, io.StringIO(), err) == 2
    assert "--from-rep 9999: the session has repetitions 1 to" in err.getvalue()
    now_s = [0.0]
    records = [Link(t_s, True, "port") for t_s in (1.0, 50.0, 99.5, 100.5)]
    paced = Paced(records, 1.0, lambda: now_s[0], from_s=99.0)
    now_s[0] = 7.0
    assert [one.t_s for one in paced.poll()] == [1.0, 50.0]
    now_s[0] = 7.6
    assert [one.t_s for one in paced.poll()] == [99.5] and not paced.ended
