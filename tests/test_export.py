"""Data out: tables that other programs read, and a MIDI file a take."""

from __future__ import annotations

import csv
import io
import json
import os
import re
from dataclasses import replace
from pathlib import Path
from random import Random

import mido
import pretty_midi
import pytest
from played_ladder import CELL, RIG, climb, falling
from takes_on_disk import records_of, write_session

from livecheck.core.events import Mark, Stop
from livecheck.files.config import dump_cell, dump_rig
from livecheck.files.midifile import read_midi
from livecheck.player.demo import demo_take
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import perform

NAME = "2026-11-20T18-03-11"


@pytest.fixture
def recorded(tmp_path):
    """The demonstration as a session."""
    take = demo_take()
    write_session(tmp_path / "practice/recordings" / NAME, records_of(take))
    return take


def table(name: str, folder: str = "data") -> list[dict[str, str]]:
    text = Path(folder, f"{NAME}-{name}.csv").read_text("utf-8")
    return list(csv.DictReader(io.StringIO(text)))


def number(text: str) -> float | None:
    return float(text) if text else None


def test_the_tables_hold_what_the_score_holds(run, recorded):
    """A row a repetition, one a slot, one an extra; nothing more and nothing else."""
    status, out, err = run("export", NAME, "--csv", "data")
    assert (status, err) == (0, "")
    assert out.splitlines() == [
        f"data/{NAME}-{name}.csv" for name in ("repetitions", "slots", "extras")
    ]
    score = json.loads(run("score", NAME, "--json").out)
    reps, slots, extras = table("repetitions"), table("slots"), table("extras")
    assert len(reps) == len(score["reps"]) > 30
    for row, rep in zip(reps, score["reps"]):
        assert int(row["rep"]) == rep["rep"]
        assert row["cell"] == "seven across a skip" and row["variant"] == ""
        for name in ("start_s", "end_s", "pause_s", "tempo_bpm", "notes_per_s", "accuracy"):
            assert number(row[name]) == rep[name], name
        for name in ("cv_pct", "npvi", "worst_ms"):
            assert number(row[name]) == rep["evenness"][name], name
        assert (row["complete"], row["clean"]) == (
            str(int(rep["complete"])),
            str(int(rep["clean"])),
        )
        assert int(row["slots"]) == len(rep["slots"])
        assert int(row["hits"]) == sum(slot["verdict"] == "hit" for slot in rep["slots"])
    listed = [(rep["rep"], slot) for rep in score["reps"] for slot in rep["slots"]]
    assert len(slots) == len(listed)
    for row, (rep, slot) in zip(slots, listed):
        plan = recorded.cell.slots[slot["slot"] - 1]
        assert (int(row["rep"]), int(row["slot"]), row["verdict"]) == (
            rep,
            slot["slot"],
            slot["verdict"],
        )
        assert (int(row["planned_string"]), int(row["planned_note"])) == (plan.string, plan.pitch)
        for name in ("expected_s", "onset_s", "string", "note", "velocity", "deviation_ms"):
            assert number(row[name]) == slot[name], name
    sounded = [(str(rep["rep"]), extra) for rep in score["reps"] for extra in rep["extras"]]
    sounded = sorted(
        [*sounded, *(("", extra) for extra in score["outside"])], key=lambda one: one[1]["onset_s"]
    )
    assert len(extras) == len(sounded) > 5
    for row, (rep, extra) in zip(extras, sounded):
        assert (row["rep"], row["kind"]) == (rep, extra["kind"])
        assert [number(row[name]) for name in ("onset_s", "string", "note")] == [
            extra[name] for name in ("onset_s", "string", "note")
        ]


def test_each_take_becomes_a_file_that_gives_its_repetitions_again(run, tmp_path):
    """Same verdicts in the same order; the files together hold each take's notes once."""
    climbed = climb(Random("export"), [100, 120, 140], 8, falling(130, 5.0))
    records = climbed.session()
    records = [*records[:-1], records[-1]]
    records.insert(len(records) // 2, Mark(records[len(records) // 2].t_s, "thumb lower"))
    write_session(tmp_path / "practice/recordings" / NAME, records)
    status, out, err = run("export", NAME, "--midi", "takes", "--json")
    assert (status, err) == (0, "")
    files = json.loads(out)["written"]
    assert files == [f"takes/{NAME}-take-{number:03d}.mid" for number in (1, 2, 3)]
    Path("cell.yaml").write_text(dump_cell(CELL), "utf-8")
    Path("rig.yaml").write_text(dump_rig(RIG), "utf-8")
    whole = json.loads(run("score", NAME, "--json").out)
    again = []
    for file in files:
        score = json.loads(
            run("score", "--cell", "cell.yaml", "--rig", "rig.yaml", file, "--json").out
        )
        again += score["reps"]
        assert 0.2 < score["reps"][0]["start_s"] < 0.6

    def told(reps):
        return [[slot["verdict"] for slot in rep["slots"]] for rep in reps]

    assert told(again) == told(whole["reps"])
    strikes = [
        one
        for file in files
        for one in read_midi(file)
        if one.data[0] & 0xF0 == 0x90 and one.data[2]
    ]
    assert len(strikes) == sum(
        one.data[0] & 0xF0 == 0x90 and one.data[2] > 0 for one in climbed.records
    )
    marks = [
        [message.text for message in mido.MidiFile(file).tracks[0] if message.type == "marker"]
        for file in files
    ]
    assert [text for texts in marks for text in texts] == ["thumb lower"]


def test_other_readers_hear_the_same_notes_in_a_takes_file(run, tmp_path):
    """mido and pretty_midi read the same notes at the same times, to the millisecond that a tick
    is."""
    climbed = climb(Random("export to others"), [110, 130], 6, falling(400, 5.0))
    write_session(tmp_path / "practice/recordings" / NAME, climbed.session())
    run("export", NAME, "--midi", "takes")
    heard = 0
    for file in sorted(Path("takes").glob("*.mid")):
        own = [
            (one.t_s, one.data[0] & 15, one.data[1]) for one in read_midi(file)
            if one.data[0] & 0xF0 == 0x90 and one.data[2]
        ]  # fmt: skip
        clock, theirs = 0.0, []
        for message in mido.MidiFile(file):
            clock += message.time
            if message.type == "note_on" and message.velocity:
                theirs.append((clock, message.channel, message.note))
        assert [one[1:] for one in theirs] == [one[1:] for one in own]
        assert all(abs(one[0] - other[0]) < 1e-6 for one, other in zip(theirs, own))
        pretty = pretty_midi.PrettyMIDI(str(file))
        starts = sorted(
            (round(note.start, 3), note.pitch) for part in pretty.instruments for note in part.notes
        )
        ended = {(round(at, 3), key) for at, _, key in own}
        # a note that never ends is none to pretty_midi
        assert set(starts) <= ended and len(starts) >= 0.99 * len(own)
        heard += len(own)
    assert heard == sum(one.data[0] & 0xF0 == 0x90 and one.data[2] > 0 for one in climbed.records)


def test_a_name_with_commas_and_quotes_comes_back_as_it_was(run, tmp_path):
    """Whatever a cell is called, a row stays a row."""
    name = 'six, "across"; a \u00e9tude'
    climbed = climb(Random("export names"), [110], 4, falling(400, 5.0))
    write_session(
        tmp_path / "practice/recordings" / NAME, climbed.session(replace(CELL, name=name))
    )
    assert run("export", NAME, "--csv", "data").status == 0
    rows = table("repetitions")
    assert len(rows) == 4 and {row["cell"] for row in rows} == {name}
    assert all(None not in row and None not in row.values() for row in rows)


def test_every_column_of_the_tables_is_documented(run, recorded):
    """formats.md lists the columns in their order."""
    run("export", NAME, "--csv", "data")
    text = (Path(__file__).parents[1] / ".docs" / "formats.md").read_text("utf-8")
    for name in ("repetitions", "slots", "extras"):
        said = text.partition(f"- `NAME-{name}.csv`:")[2].partition("\n- ")[0].partition("\n\n")[0]
        head = Path("data", f"{NAME}-{name}.csv").read_text("utf-8").splitlines()[0].split(",")
        assert re.findall(r"`(\w+)`", said) == head


def bends_in_a_range_of_its_own():
    """A take whose legato comes by bends, in a range that only the converter's first messages
    tell."""
    rng = Random("bends")
    how = Conversion(bend_legato=1.0, bend_range=24, sends_rpn=True, jitter_ms=0.3)
    take = perform(CELL, Habits(reps=10, timekeeper=0.3), how, rng)
    return replace(take, rig=replace(take.rig, bend_range=2.0))


def test_a_take_is_understood_without_what_came_before(run, tmp_path):
    """The bend range that the converter set at the session's start stands in every file."""
    take = bends_in_a_range_of_its_own()
    gap = take.records[-1].t_s + 20.0
    first_rpn = next(one.t_s for one in take.records)
    notes = [one for one in take.records if one.data[0] & 0xF0 != 0xB0]
    later = [one._replace(t_s=one.t_s - first_rpn + gap) for one in notes]
    start = records_of(take)
    write_session(
        tmp_path / "practice/recordings" / NAME,
        [*start[:-1], *later, Stop(later[-1].t_s + 1, "over")],
    )
    run("export", NAME, "--midi", "takes")
    Path("cell.yaml").write_text(dump_cell(take.cell), "utf-8")
    Path("rig.yaml").write_text(dump_rig(take.rig), "utf-8")
    files = sorted(Path("takes").glob("*.mid"))
    how = ("--cell", "cell.yaml", "--rig", "rig.yaml", "--json")
    totals = [json.loads(run("score", file, *how).out)["totals"] for file in (files[0], files[-1])]
    assert len(files) >= 2
    assert totals[0]["hit"] == 60
    assert totals[1]["hit"] == totals[0]["hit"]


def test_a_midi_file_becomes_tables_too(run, recorded, tmp_path):
    """With the cell that it needs."""
    run("export", NAME, "--midi", "takes")
    first = sorted(Path("takes").iterdir())[0]
    Path("cell.yaml").write_text(dump_cell(recorded.cell), "utf-8")
    assert run("export", first, "--cell", "cell.yaml", "--csv", "out").status == 0
    assert Path("out", f"{first.stem}-slots.csv").read_text("utf-8").count("\n") > 50


def test_nothing_is_written_over_unless_told_to(run, recorded):
    """Not one of three files where one is there already."""
    Path("data").mkdir()
    there = Path("data", f"{NAME}-slots.csv")
    there.write_text("mine", "utf-8")
    status, out, err = run("export", NAME, "--csv", "data")
    assert (status, out) == (2, "")
    assert err == f"livecheck: data/{NAME}-slots.csv: there already; --force writes over it\n"
    assert [path.read_text("utf-8") for path in Path("data").iterdir()] == ["mine"]
    assert run("export", NAME, "--csv", "data", "--force").status == 0
    assert len(table("slots")) > 50


def test_a_file_where_a_folder_belongs_is_said_to_be_one(run, recorded):
    """Tables and MIDI files go into a folder."""
    Path("taken").write_text("x", "utf-8")
    for option in ("--csv", "--midi"):
        status, out, err = run("export", NAME, option, "taken")
        assert (status, out) == (2, "")
        assert err == "livecheck: taken: is a file; name a folder for what is written\n"


def test_no_half_of_an_export_stays(run, recorded, monkeypatch):
    """Where the last file cannot be written, none is there, and none under another name."""
    real, seen = os.write, []

    def full(fd, data):
        seen.append(fd)
        if len(seen) == 3:
            raise OSError(28, "No space left on device")
        return real(fd, data)

    monkeypatch.setattr(os, "write", full)
    status, out, err = run("export", NAME, "--csv", "data")
    assert (status, out) == (2, "")
    assert err == f"livecheck: data/{NAME}-extras.csv: cannot be written: No space left on device\n"
    assert list(Path("data").iterdir()) == []


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ((), "what shall be written? --csv DIR writes tables, --midi DIR a MIDI file a take"),
        (("--csv", "file/data"), "file/data: cannot be made"),
        (("--csv", "data", "--cell", "unheard-of"), "no cell 'unheard-of'"),
    ],
)
def test_a_mistake_is_told_in_one_line(run, recorded, words, why):
    """Exit status 2."""
    Path("file").write_text("", "utf-8")
    status, out, err = run("export", NAME, *words)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert why in err


def test_a_session_without_a_take_gives_empty_tables(run, tmp_path):
    """Heads alone, and no MIDI file."""
    records = records_of(replace(demo_take(), records=demo_take().records[:2]))
    write_session(tmp_path / "practice/recordings" / NAME, records)
    assert run("export", NAME, "--csv", "data", "--midi", "data").status == 0
    assert table("repetitions") == [] and len(list(Path("data").iterdir())) == 3
