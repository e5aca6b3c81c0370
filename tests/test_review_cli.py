"""Review and comparison from the outside: climbs of the built-in player, through messages, matcher
and statistics."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
import takes_on_disk
from played_ladder import CELL, RIG, climb, falling
from takes_on_disk import HEAD, write_session

from livecheck.core.cell import make_cell
from livecheck.core.events import UseCells, UseRig
from livecheck.files.config import dump_cell, dump_rig
from livecheck.files.midifile import write_midi

LADDER = [100, 112, 124, 132, 140, 148, 156, 168]
HAMMERED = replace(CELL, variants={"hammered": {6: "hammer"}})


@pytest.fixture
def record(tmp_path, monkeypatch):
    """Write a session of a given day into the practice folder; returns its name."""

    def recorded(day: str, records) -> str:
        monkeypatch.setattr(takes_on_disk, "HEAD", replace(HEAD, wall=f"{day}T18:03:11+01:00"))
        name = f"{day}T18-03-11"
        write_session(tmp_path / "practice/recordings" / name, records)
        return name

    return recorded


def played(seed: int, break_bpm: float = 140.0, reps: int = 12, tempos=tuple(LADDER), **how):
    return climb(
        Random(f"review {seed}"), list(tempos), reps, falling(break_bpm, 4.0), **{"slot": 5, **how}
    )


@pytest.mark.parametrize("fault", ["missed", "wrong"])
def test_the_planted_break_and_the_slot_that_goes_first_are_found(run, record, fault):
    """Played at 140 bpm half of the repetitions fail, always at slot 3: the review says so."""
    record("2026-11-20", played(1, tempos=LADDER * 3, slot=3, fault=fault).session())
    told = json.loads(run("review", "--json").out)
    assert told["format"] == "livecheck-review/1"
    assert told["cell"] == {"name": "six across a skip", "slots": 6}
    assert (told["takes"], told["break"]["status"]) == (24, "found")
    assert abs(told["break"]["bpm"] / 140.0 - 1.0) < 0.04
    assert told["break"]["low_bpm"] < told["break"]["bpm"] < told["break"]["high_bpm"]
    assert told["secure"]["bpm"] < told["break"]["bpm"]
    assert (told["first_to_go"]["slot"], told["first_to_go"]["fault"]) == (3, fault)
    assert sum(rung["reps"] for rung in told["by_tempo"]) == told["reps"] == 24 * 12


def test_a_string_that_starts_to_sound_is_named(run, record):
    """Planted: string 4, which is passed over, sounds more and more."""
    record("2026-11-20", played(2, tempos=LADDER * 3, slot=4, fault="noise").session())
    told = json.loads(run("review", "--json").out)
    assert (told["first_to_go"]["string"], told["first_to_go"]["fault"]) == (4, "noise")
    assert re.search(
        r"First to go: string 4 (sounds|sounds full|is brushed), at note", told["sentence"]
    )


def test_the_sentence_comes_first_and_lines_fit(run, record):
    """A title, the sentence, what it rests on, then the pictures, in 80 columns."""
    name = record("2026-11-20", played(3).session())
    status, out, err = run("review")
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == f"six across a skip: {name}"
    assert re.match(r"(Secure up to|Not secure|Breaks)", lines[1])
    assert "Rests on 96 repetitions in 8 takes" in out
    assert "Clean repetitions" in out
    assert max(map(len, lines)) <= 80


def test_a_session_and_its_midi_file_give_the_same_review(run, record, tmp_path):
    """So does a second look, from the index."""
    records = played(4).session()
    records = [
        records[0],
        records[1],
        *(one._replace(t_s=round(one.t_s, 3)) for one in records[2:-1]),
        records[-1],
    ]
    name = record("2026-11-20", records)
    (tmp_path / "cell.yaml").write_text(dump_cell(CELL), "utf-8")
    (tmp_path / "rig.yaml").write_text(dump_rig(RIG), "utf-8")
    write_midi(tmp_path / "take.mid", records)
    first = run("review", name, "--json").out
    assert run("review", name, "--json").out == first
    how = ("--cell", tmp_path / "cell.yaml", "--rig", tmp_path / "rig.yaml", "--json")
    dated, undated = (
        json.loads(told) for told in (first, run("review", tmp_path / "take.mid", *how).out)
    )
    assert dated.pop("as_of")["date"] == "2026-11-20" and undated.pop("as_of") is None
    assert dated == undated


def test_without_a_name_the_cell_practised_last_is_taken(run, record):
    """Not the one most played; the head of the answer says so."""
    record("2026-11-20", two_cells())
    later = two_cells()
    cut = max(i for i, one in enumerate(later) if isinstance(one, UseCells))
    record("2026-11-21", [later[0], *later[cut:]])
    status, out, err = run("review", "--json")
    assert (status, json.loads(out)["cell"]["name"]) == (0, "another")
    assert "'another' was practised last, --cell chooses another" in err
    assert run("review").out.startswith("practised last, another: 2 s")


def test_several_files_of_one_cell_are_so_many_takes(run, tmp_path):
    """One file a take."""
    (tmp_path / "cell.yaml").write_text(dump_cell(CELL), "utf-8")
    files = []
    for number, bpm in enumerate(LADDER):
        files.append(tmp_path / f"{number}.mid")
        write_midi(files[-1], played(number, tempos=[bpm]).records)
    told = json.loads(run("review", *files, "--cell", tmp_path / "cell.yaml", "--json").out)
    assert (told["takes"], told["reps"]) == (len(LADDER), 12 * len(LADDER))
    assert told["tempo_range_bpm"][0] < 105 < 160 < told["tempo_range_bpm"][1]


def test_sessions_are_chosen_by_number_and_date(run, record):
    """--last, --since and --until; a month means all its days."""
    for day, reps in (("2025-12-31", 5), ("2026-10-02", 6), ("2026-10-31", 7), ("2026-11-20", 8)):
        record(day, played(5, tempos=[100], reps=reps).session())

    def reps(*words: str) -> int:
        return json.loads(run("review", *words, "--json").out)["reps"]

    assert reps() == 26
    assert reps("--last", "2") == 15
    assert reps("--since", "2026") == 21
    assert reps("--since", "2026-10-31") == 15
    assert reps("--until", "2026-10") == 18
    assert reps("--since", "2026-10", "--until", "2026-10-31") == 13
    assert reps("2026-10-02", "last") == 14


def two_cells():
    """A climb of the demo's cell, then a shorter one of another cell."""
    other = replace(CELL, name="another")
    first, second = played(6, reps=8), played(7, reps=4)
    gap = first.records[-1].t_s + 10.0
    later = [one._replace(t_s=one.t_s + gap) for one in second.records]
    return [
        UseRig(0.0, RIG),
        UseCells(0.0, (CELL,)),
        *first.records,
        UseCells(gap, (other,)),
        *later,
    ]


def test_of_several_cells_the_one_most_played_is_taken_and_the_others_are_told(run, record):
    """--cell chooses another, however it is spelt."""
    record("2026-11-20", two_cells())
    status, out, err = run("review", "--json")
    assert (status, json.loads(out)["cell"]["name"]) == (0, "six across a skip")
    assert (
        err
        == "livecheck: cells: six across a skip (64), another (32); --cell chooses another than "
        "the first\n"
    )
    for spelt in ("another", "Another"):
        status, out, err = run("review", "--cell", spelt, "--json")
        assert (status, json.loads(out)["cell"]["name"], err) == (0, "another", "")
    assert json.loads(run("review", "--cell", "six-across-a-skip", "--json").out)["reps"] == 64


def test_of_several_cells_in_force_each_repetition_counts_for_the_one_that_was_played(run, record):
    """The session recognises which; the review keeps them apart."""
    other = make_cell("low run", [(6, 3), (6, 5), (5, 2), (5, 3), (5, 5), (4, 2)])
    first = climb(Random("one of two"), [100, 120], 10, falling(400, 4.0))
    second = climb(Random("the other"), [110], 10, falling(400, 4.0), cell=other)
    gap = first.records[-1].t_s + 10.0
    later = [one._replace(t_s=one.t_s + gap) for one in second.records]
    record("2026-11-20", [UseRig(0.0, RIG), UseCells(0.0, (CELL, other)), *first.records, *later])
    for cell, reps in ((CELL, 20), (other, 10)):
        told = json.loads(run("review", "--cell", cell.name, "--json").out)
        assert (told["cell"]["name"], told["reps"]) == (cell.name, reps)


def two_variants(record):
    """A session as written that breaks at 132, one hammered that breaks at 152."""
    for day, variant, breaks in (("2026-11-20", None, 132.0), ("2026-11-21", "hammered", 152.0)):
        climbed = played(8, breaks, tempos=LADDER * 3)
        record(day, climbed.session(HAMMERED.with_variant(variant)))


def test_variants_are_compared_at_equal_tempo(run, record):
    """The better one is named, with points and their interval; as JSON, too."""
    two_variants(record)
    status, out, err = run("compare", "--variants", "hammered", "as written")
    assert (status, err) == (0, "")
    assert re.match(
        r"hammered is cleaner than as written .*: \+\d+ points,\s\d+ to \d+\.",
        " ".join(out.split("\n")),
    )
    told = json.loads(run("compare", "--variants", "hammered", "as written", "--json").out)
    assert told["format"] == "livecheck-compare/1"
    clear = told["clearest"]
    assert 0 < clear["low"] < clear["points"] < clear["high"]
    # Planted: at 140 half of the repetitions against nearly all, to within what chance and luck
    # allow.
    rung = min(told["by_tempo"], key=lambda rung: abs(rung["bpm"] - 140))
    share = [rung[side]["clean"] / rung[side]["reps"] for side in ("first", "second")]
    assert share[0] > 0.75 and share[1] < 0.45


def test_a_review_is_of_one_variant(run, record):
    """The one asked for; else the one most played, and the other is told."""
    two_variants(record)
    hammered = json.loads(run("review", "--variant", "hammered", "--json").out)
    written = json.loads(run("review", "--variant", "as written", "--json").out)
    assert hammered["cell"]["variant"] == "hammered" and "variant" not in written["cell"]
    assert (
        abs(hammered["break"]["bpm"] / 152 - 1) < 0.04
        and abs(written["break"]["bpm"] / 132 - 1) < 0.04
    )
    assert "--variant chooses" in run("review").err


def test_spans_sessions_cells_and_rigs_are_compared(run, record):
    """The earlier half broke earlier."""
    other_rig = replace(RIG, name="another")
    for day, breaks, rig in (
        ("2026-10-01", 130, RIG),
        ("2026-10-20", 130, RIG),
        ("2026-11-05", 150, other_rig),
    ):
        record(day, played(int(breaks), breaks, tempos=LADDER * 2).session(rig=rig))
    for words, better in (
        (("--spans", "2026-10", "2026-11-01/2026-11"), "2026-11-01 to 2026-11"),
        (("--rigs", RIG.name, "another"), "another"),
        (("2026-10-01", "2026-11-05"), "2026-11-05T18-03-11"),
    ):
        status, out, err = run("compare", *words)
        assert (status, err) == (0, "")
        assert out.startswith(f"{better} is cleaner than "), out
    record("2026-11-06", played(9, 120, tempos=LADDER * 2).session(replace(CELL, name="harder")))
    assert run("compare", "--cells", "harder", CELL.name).out.startswith(
        f"{CELL.name} is cleaner than harder"
    )


def test_a_comparison_without_a_common_tempo_says_so(run, record):
    """No difference is made up."""
    record("2026-11-20", played(10, tempos=[90, 95]).session())
    record("2026-11-21", played(11, tempos=[150, 160]).session())
    status, out, _ = run("compare", "2026-11-20", "2026-11-21")
    assert status == 0 and out.startswith("Too little to compare")
    assert json.loads(run("compare", "2026-11-20", "2026-11-21", "--json").out)["overall"] is None


def test_the_page_is_written_whole_and_goes_over_nothing_else(run, record, tmp_path):
    """It needs no network and no script; an older page is replaced, another file never."""
    record("2026-11-20", played(12).session())
    page = tmp_path / "page.html"
    status, out, _ = run("review", "--html", page)
    assert status == 0 and f"The page: {page}" in out
    assert "Rests on" in out and "Clean repetitions" not in out  # the pictures are on the page
    text = page.read_text("utf-8")
    assert text.startswith("<!DOCTYPE html>") and text.rstrip().endswith("</html>")
    assert not re.search(
        r"https?://|<script|<link|@import|url\(", text.replace("http://www.w3.org", "")
    )
    assert "The repetitions behind each point" in text and "six across a skip" in text
    assert run("review", "--html", page).status == 0
    assert [path.name for path in tmp_path.iterdir() if "part" in path.name] == []
    page.write_text("my diary", "utf-8")
    status, _, err = run("review", "--html", page)
    assert (status, page.read_text("utf-8")) == (2, "my diary")
    assert err == f"livecheck: {page}: holds something else than a page; choose another name\n"


def test_too_few_repetitions_are_said_to_be_too_few(run, record):
    """Four repetitions at one tempo say nothing about a break."""
    record("2026-11-20", played(13, tempos=[100], reps=4).session())
    told = json.loads(run("review", "--json").out)
    assert told["break"] == {"status": "too_few", "bpm": None, "low_bpm": None, "high_bpm": None}
    assert told["sentence"] == "Too few repetitions to say where it breaks (4)."


def test_a_session_cut_off_or_still_recorded_is_reviewed_as_far_as_it_goes(run, record, tmp_path):
    """What was added since is in the next review."""
    name = record("2026-11-20", played(14, tempos=[100, 110]).session())
    log = tmp_path / "practice/recordings" / name / "journal-001.log"
    whole = log.read_bytes()
    log.write_bytes(whole[: len(whole) // 2])
    status, out, err = run("review", "--json")
    assert (status, err) == (0, "")
    half = json.loads(out)["reps"]
    log.write_bytes(whole)
    assert 0 < half < json.loads(run("review", "--json").out)["reps"] == 24


def test_a_damaged_session_is_reviewed_and_told(run, record, tmp_path):
    """One line says that it is not whole."""
    name = record("2026-11-20", played(15, tempos=[100, 110]).session())
    log = tmp_path / "practice/recordings" / name / "journal-001.log"
    data = bytearray(log.read_bytes())
    data[len(data) // 2] ^= 1
    log.write_bytes(data)
    for _ in range(2):  # judged, and from the index
        status, out, err = run("review", "--json")
        assert status == 0 and json.loads(out)["reps"] >= 22
        assert (
            err
            == f"livecheck: session {name} is not whole; `livecheck sessions check` says what is "
            "missing\n"
        )


def test_a_newer_programs_session_is_told(run, record, tmp_path):
    """Left out where it is one of many; the one reason where it was asked for."""
    from zlib import crc32

    record("2026-11-20", played(22, tempos=[100], reps=6).session())
    name = record("2026-11-21", played(22, tempos=[100], reps=6).session())
    log = tmp_path / "practice/recordings" / name / "journal-001.log"
    first, rest = log.read_bytes().split(b"\n", 1)
    text = first[9:].replace(b"livecheck-journal/1", b"livecheck-journal/9")
    log.write_bytes(b"%08x %b\n" % (crc32(text), text) + rest)
    status, out, err = run("review", "--json")
    assert (status, json.loads(out)["reps"]) == (0, 6)
    assert err == f"livecheck: {name}: cannot be read, or a newer program wrote it; left out\n"
    status, out, err = run("review", name)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert "journal format 9 is newer than the 1 known here" in err


def test_a_salvaged_session_counts_once(run, record):
    """What was saved of it goes before the damaged one."""
    record("2026-11-20", played(16, tempos=[100], reps=9).session())
    name = record("2026-11-21", played(17, tempos=[100], reps=7).session())
    Path("recordings", name).rename(Path("recordings", "2026-11-20T18-03-11-salvaged"))
    assert json.loads(run("review", "--json").out)["reps"] == 7


def test_a_session_without_a_cell_is_judged_with_the_one_named(run, record):
    """The recorder may have been left running with none chosen."""
    records = [
        one for one in played(18, tempos=[100, 110]).session() if not isinstance(one, UseCells)
    ]
    record("2026-11-20", records)
    status, out, err = run("review")
    assert (status, out) == (2, "")
    assert (
        err == "livecheck: no cell was chosen in what was recorded; say what was played by --cell\n"
    )
    Path("cell.yaml").write_text(dump_cell(CELL), "utf-8")
    assert json.loads(run("review", "--cell", "cell.yaml", "--json").out)["reps"] == 24


def test_a_session_without_a_cell_does_not_hide_what_others_recorded(run, record):
    """A cell that only a session knows by name is reviewed; what has no cell cannot be judged with
    it."""
    bare = [one for one in played(18, tempos=[100]).session() if not isinstance(one, UseCells)]
    record("2026-11-20", bare)
    status, out, err = run("review", "--cell", "six across a skip")
    assert (status, out, err.count("\n")) == (2, "", 1) and "no cell 'six across a skip'" in err
    record("2026-11-21", played(19, tempos=[100, 110]).session())
    status, out, err = run("review", "--cell", "six across a skip", "--json")
    assert (status, json.loads(out)["reps"], err) == (0, 24, "")


def test_another_rig_judges_anew(run, record):
    """With channels that nobody played on, nothing is left."""
    record("2026-11-20", played(19, tempos=[100, 110]).session())
    Path("other.yaml").write_text(dump_rig(replace(RIG, channels=(9, 10, 11, 12, 13, 14))), "utf-8")
    assert run("review", "--rig", "other.yaml").err == (
        "livecheck: nothing was played there that makes a repetition\n"
    )
    Path("own.yaml").write_text(dump_rig(RIG), "utf-8")
    assert run("review", "--rig", "own.yaml", "--json").out == run("review", "--json").out


MISTAKES = [
    (("review",), "recordings holds no sessions yet"),
    (("review", "nowhere"), "no session 'nowhere'"),
    (("review", "--last", "0"), "'0' is no number of sessions"),
    (("review", "--last", "two"), "'two' is no number of sessions"),
    (("review", "--since", "yesterday"),
     "'yesterday' is no date; write 2026-11-25, 2026-11 or 2026"),
    (("review", "--since", "2026-02-30"), "'2026-02-30' is no date"),
    (("review", "--until", "2026-13"), "'2026-13' is no date"),
    (("review", "x", "--last", "2"),
     "name sessions, or choose them by --last, --since and --until, but not both"),
    (("review", "take.mid"), "take.mid: no such file"),
    (("review", "take.mid", "--cell", "six-over-four"), "take.mid: no such file"),
    (("review", "configs/cells/odd-five.yaml"),
     "does not say what was to be played; name the cell by --cell"),
    (("review", "configs/cells/odd-five.yaml", "--cell", "nothing-like-it"),
     "no cell 'nothing-like-it'"),
    (("review", "configs/cells/odd-five.yaml", "--cell", "six-over-four"), "no Standard MIDI File"),
    (("review", "--html", "nowhere/page.html"), "there is no folder nowhere"),
    (("review", "--html", "."), "is a folder; name a file for the page"),
    (("compare", "--spans", "2026-11", "2026-13"), "'2026-13' is no date"),
    (("compare", "--spans", "2026-11/2026-10", "2026-12"),
     "'2026-11/2026-10' ends before it begins"),
    (("compare", "--spans", "2026-10-14/02", "2026-12"), "'2026-10-14/02' ends before it begins"),
    (("compare", "--spans", "2026-10-01..2026-10-14", "2026-12"), "write it 2026-10-01/2026-10-14"),
    (("compare", "--cells", "a", "b", "--cell", "c"), "--cells names both cells; leave --cell out"),
    (("compare", "--variants", "a", "b", "--variant", "c"), "--variants names both variants"),
    (("compare", "--variants", "a", "b", "--rigs", "a", "b"), "not allowed with"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "why"), MISTAKES, ids=lambda value: " ".join(value) if type(value) is tuple else ""
)
def test_a_mistake_is_told_in_one_line(run, words, why):
    """Exit status 2, nothing on the output."""
    status, out, err = run(*words)
    assert (status, out) == (2, "")
    assert err.count("\n") == 1 and why in err


def test_what_is_not_there_is_told_with_what_there_is(run, record):
    """Cells, variants, rigs and spans of time."""
    record("2026-11-20", played(20, tempos=[100]).session())
    for words, why in (
        (("review", "--cell", "unheard-of"),
         "was not played there; there is: six across a skip (12)"),
        (("review", "--variant", "other"),
         "variant 'other' was not played there; there is: as written (12)"),
        (("review", "--since", "2027"), "no session then; they go from 2026-11-20 to 2026-11-20"),
        (("compare", "--rigs", "a", "b"),
         "rig 'a' was not used there; there is: built-in player (12)"),
        (("compare", "--spans", "2025", "2026"), "was not played in 2025"),
        (("compare",), "compare what with what?"),
        (("compare", "last", "last"), "that is one session, named twice"),
    ):  # fmt: skip
        status, out, err = run(*words)
        assert (status, out, err.count("\n")) == (2, "", 1), words
        assert why in err


def test_a_progress_bar_is_drawn_on_a_terminal_only(run, record, tmp_path):
    """It leaves no trace on the line."""
    from livecheck.cli import main

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    record("2026-11-20", played(21, tempos=[100]).session())
    err = Terminal()
    assert main(["review", "--json"], io.StringIO(), err) == 0
    assert "0 of 1" in err.getvalue() and err.getvalue().endswith(" \r")
    err = Terminal()
    assert main(["review", "--json"], io.StringIO(), err) == 0
    assert err.getvalue() == ""
