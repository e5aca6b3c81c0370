"""The rig commands from the outside: set up, look, delay and gate, all from files."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from random import Random

import pytest
from takes_on_disk import write_session

from livecheck.core.cell import make_cell
from livecheck.core.events import Midi, Record, UseCells, UseRig
from livecheck.core.pitch import STANDARD_TUNING, period_s
from livecheck.core.rig import Delay, Gate, Rig
from livecheck.files.config import dump_cell, dump_rig, load_rig
from livecheck.files.midifile import write_midi
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import perform

CELL = make_cell("wide", [(6, 5), (5, 7), (4, 5), (3, 7), (2, 5), (1, 8), (2, 8), (4, 7)])


def plucked(strings: tuple[int, ...] = (6, 5, 4, 3, 2, 1), first: int = 1) -> list[Record]:
    """Open strings a second and a half apart, and a slur over an octave at a range of 24."""
    records: list[Record] = []
    t_s = 0.5
    for string in strings:
        channel = first + string - 2
        records.append(Midi(t_s, bytes((0x90 | channel, STANDARD_TUNING[string - 1], 90))))
        records.append(Midi(t_s + 1.0, bytes((0x80 | channel, STANDARD_TUNING[string - 1], 64))))
        t_s += 1.5
    channel = first - 1
    records.append(Midi(t_s, bytes((0x90 | channel, 64, 90))))
    records.append(Midi(t_s + 0.4, bytes((0xE0 | channel, 0, 96))))
    records.append(Midi(t_s + 3.0, bytes((0x80 | channel, 64, 64))))
    return records


def pulse(
    periods: float = 1.6,
    notes: int = 600,
    frets: tuple[int, ...] = (5,),
    habits_ms: dict[int, float] | None = None,
) -> list[Record]:
    """Six strings up and down, an even pulse of seven notes a second, a stretch at each fret, each
    note late by its delay and by its string's habit."""
    rng, order = Random(4), (6, 5, 4, 3, 2, 1, 1, 2, 3, 4, 5, 6)
    records: list[Record] = []
    for at in range(notes):
        string = order[at % 12]
        pitch = STANDARD_TUNING[string - 1] + frets[at * len(frets) // notes]
        t_s = 1.0 + at / 7.0 + 0.004 + periods * period_s(pitch) + rng.gauss(0.0, 0.002)
        t_s += (habits_ms or {}).get(string, 0.0) / 1000.0
        records.append(Midi(t_s, bytes((0x90 | string - 1, pitch, 90))))
        records.append(Midi(t_s + 0.09, bytes((0x80 | string - 1, pitch, 64))))
    return sorted(records, key=lambda record: record.t_s)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    folder = tmp_path / "home"
    (folder / "recordings").mkdir(parents=True)
    (folder / "configs" / "cells").mkdir(parents=True)
    return folder


# -------------------------------------------------------------------------------------------- setup


def test_a_rig_is_found_shown_and_written_only_when_told(run, home, tmp_path):
    """The talk, the rig, and the file that `listen` takes by itself."""
    write_midi(tmp_path / "open.mid", plucked(first=11))
    words = ["rig", "setup", "--home", home, "--from", tmp_path / "open.mid"]
    shown = run(*words)
    assert shown.status == 0
    assert "> Play string 6 (the lowest) open, by itself." in shown.out
    assert "  String 6: channel 16, E2." in shown.out
    assert "Not written; --write writes it." in shown.out
    assert not (home / "configs" / "rig.yaml").exists()
    told = run(*words, "--write")
    assert (
        told.status == 0
        and "Its delay is not known yet: `livecheck rig latency` measures it." in told.out
    )
    rig = load_rig(home / "configs" / "rig.yaml")
    assert (rig.channels, rig.tuning, rig.bend_range) == (
        (11, 12, 13, 14, 15, 16),
        STANDARD_TUNING,
        24.0,
    )


def test_a_rig_that_is_there_is_kept_beside_and_its_delay_goes_on(run, home, tmp_path):
    """Nothing is overwritten without a word: the old file stays under another name."""
    own = home / "configs" / "rig.yaml"
    own.write_text(dump_rig(Rig("mine", "Hex", delay=Delay(4.0, 1.6), gate=Gate(9, 20.0))), "utf-8")
    before = own.read_text("utf-8")
    write_midi(tmp_path / "open.mid", plucked())
    told = run("rig", "setup", "--home", home, "--from", tmp_path / "open.mid", "--write")
    assert "not known yet" not in told.out
    assert "what stood there is now" in told.out and "rig-before-1.yaml" in told.out
    assert (home / "configs" / "rig-before-1.yaml").read_text("utf-8") == before
    rig = load_rig(own)
    assert (rig.name, rig.port, rig.delay, rig.gate) == (
        "mine",
        "Hex",
        Delay(4.0, 1.6),
        Gate(9, 20.0),
    )
    assert rig.bend_range == 24.0
    assert not list(own.parent.glob("*.part"))


def test_check_says_that_the_delay_is_not_known(run, home):
    """A rig that takes none off leaves low strings late; one that does is all right."""
    own = home / "configs" / "rig.yaml"
    own.parent.mkdir(exist_ok=True)
    found = {}
    for name, delay in (("none", Delay()), ("known", Delay(4.0, 1.6))):
        own.write_text(dump_rig(Rig(name, delay=delay)), "utf-8")
        checks = json.loads(run("check", "--home", home, "--json").out)["checks"]
        found[name] = next(check for check in checks if check["what"] == "rig")
    assert found["none"]["state"] == "note" and "rig latency" in found["none"]["remedy"]
    assert found["known"]["state"] == "ok"


def test_a_gate_for_nothing_played_is_not_drawn(run, home, tmp_path):
    """A sentence in the place of two tables of zeros."""
    write_midi(tmp_path / "empty.mid", [])
    told = run(
        "rig", "threshold", tmp_path / "empty.mid", "--home", home, "--cell", "six-over-four"
    )
    assert told.status == 0
    assert told.out == "Nothing was played in it, so no gate can be suggested.\n"


def test_a_missing_string_is_minded(run, home, tmp_path):
    """The take ends before strings 2 and 1: said, and their channels guessed."""
    write_midi(tmp_path / "open.mid", plucked((6, 5, 4, 3))[:8])
    told = run("rig", "setup", "--home", home, "--from", tmp_path / "open.mid")
    assert told.status == 0
    assert "Mind: no signal from string 1, 2" in told.out


def test_an_empty_take_is_no_device(run, home, tmp_path):
    """Nothing came in: status 3 and where to look."""
    write_midi(tmp_path / "empty.mid", [])
    told = run("rig", "setup", "--home", home, "--from", tmp_path / "empty.mid")
    assert told.status == 3
    assert "nothing came in" in told.err and told.err.count("\n") == 1


# ----------------------------------------------------------------------------------- check and show


def test_check_counts_what_each_string_sent(run, home, tmp_path):
    """A line a string with its velocities, and what looks wrong."""
    write_midi(tmp_path / "open.mid", plucked((6, 5, 4, 2, 1)))
    told = run("rig", "check", "--home", home, "--from", tmp_path / "open.mid")
    assert told.status == 0
    assert "     6        6      1       90      90       90" in told.out
    assert "nothing came from string 3" in told.out


def test_check_names_channels_that_are_no_string(run, home, tmp_path):
    """Channels 11 to 16 through a rig for 1 to 6."""
    write_midi(tmp_path / "open.mid", plucked(first=11))
    told = run("rig", "check", "--home", home, "--from", tmp_path / "open.mid")
    assert "channel 12 is no string of the rig, but 1 note came on it" in told.out


def test_check_hears_a_live_source(run, home, monkeypatch):
    """Live: messages of the process that listens, a line a note, stopped after a while."""
    monkeypatch.setattr(
        "livecheck.commands.rig_input.reader_command",
        lambda driver, port: [sys.executable, "-m", "livecheck.player.feed", "--seconds", "20"],
    )
    told = run("rig", "check", "--home", home, "--seconds", "3", "--plain")
    assert told.status == 0
    assert "string 2: C5, velocity 94\n" in told.out
    assert "softest" in told.out


def test_a_rig_is_shown_with_its_delays(run, home, tmp_path):
    """sources.md T-05, C-02: two periods of the open sixth string are 24.3 ms, half of that at fret
    12."""
    (tmp_path / "rig.yaml").write_text(dump_rig(Rig("two", delay=Delay(0.0, 2.0))), "utf-8")
    told = run("rig", "show", tmp_path / "rig.yaml", "--home", home)
    assert "E2        24.3        12.1" in told.out
    assert (
        json.loads(run("rig", "show", tmp_path / "rig.yaml", "--home", home, "--json").out)["name"]
        == "two"
    )
    assert run("rig", "show", "--home", home).status == 2


# -------------------------------------------------------------------------------------------- delay


def test_delay_from_a_pulse_in_a_file(run, home, tmp_path):
    """Periods with an interval, the strings against their mean, and a suggestion that changes
    nothing."""
    write_midi(tmp_path / "pulse.mid", pulse())
    told = run("rig", "latency", tmp_path / "pulse.mid", "--pulse", "--home", home, "--json")
    found = json.loads(told.out)
    assert found["how"] == "pulse" and found["why"] is None
    assert found["periods"]["low"] < 1.6 < found["periods"]["high"]
    assert found["suggested"]["delay"]["periods"] == pytest.approx(1.6, abs=0.15)
    text = run("rig", "latency", tmp_path / "pulse.mid", "--pulse", "--home", home).out
    assert (
        "Not written; --write writes it." in text
        and "Suggested for the rig file:  delay: {" in text
    )


def test_a_string_that_comes_otherwise_than_its_pitches_tell_is_told(run, tmp_path):
    """String 4 is played 6 ms early at both frets: by habit, or by something of its own."""
    notes = pulse(notes=960, frets=(0, 12, 0, 12), habits_ms={4: -6.0})
    write_midi(tmp_path / "pulse.mid", notes)
    told = run("rig", "latency", tmp_path / "pulse.mid", "--pulse").out
    (line,) = (line for line in told.splitlines() if "than its pitches tell" in line)
    assert line.startswith("String 4 comes ") and " earlier than" in line
    assert "by your habit or of its own: the notes do not say which" in told


def test_delay_against_a_click_on_its_own_channel(run, home, tmp_path):
    """A recorded click tells the common part apart."""
    clicks = [Midi(1.0 + at / 7.0, bytes((0x99, 76, 100))) for at in range(600)]
    write_midi(tmp_path / "click.mid", sorted([*pulse(), *clicks], key=lambda record: record.t_s))
    told = run("rig", "latency", tmp_path / "click.mid", "--click", "10", "--home", home, "--json")
    found = json.loads(told.out)
    assert found["how"] == "click" and found["common_ms"]["value"] == pytest.approx(
        4.0 + 1.6 * 5.0, abs=1.0
    )


def test_a_better_delay_judges_old_sessions_anew_by_one_command(run, home, tmp_path):
    """The suggestion is saved to a file; `score SESSION --rig` with it finds the playing more even
    than before."""
    rng = Random(3)
    how = Conversion(periods=2.2, sends_rpn=False)
    take = perform(
        CELL, Habits(notes_per_s=6.0, reps=30, gallop_pct=0.0, scatter_pct=1.5), how, rng
    )
    records = [UseRig(0.0, Rig("old")), UseCells(0.0, (CELL,)), *take.records]
    session = write_session(home / "recordings" / "2026-11-25T18-03-11", records)
    new = tmp_path / "new.yaml"
    told = run("rig", "latency", session.name, "--home", home, "--out", new)
    assert told.status == 0, told.err
    assert "Written to" in told.out
    assert load_rig(new).delay.periods == pytest.approx(2.2, abs=0.5)

    def unevenness(*more: object) -> float:
        reps = json.loads(run("score", session.name, "--home", home, "--json", *more).out)["reps"]
        told_pct = [
            rep["evenness"]["cv_pct"] for rep in reps if rep["evenness"]["cv_pct"] is not None
        ]
        return sum(told_pct) / len(told_pct)

    assert unevenness("--rig", new) < 0.8 * unevenness()


def test_too_little_playing_says_so(run, home, tmp_path):
    """No figure and no suggestion from a handful of notes, and no file."""
    write_midi(tmp_path / "short.mid", pulse(notes=10))
    new = tmp_path / "new.yaml"
    told = run("rig", "latency", tmp_path / "short.mid", "--pulse", "--home", home, "--out", new)
    assert told.status == 0
    assert "Nothing can be said: too few notes (10)." in told.out
    assert not new.exists()


# --------------------------------------------------------------------------------------------- gate


def test_a_gate_is_suggested_with_a_picture(run, home, tmp_path):
    """Both histograms with the gate marked, within 80 columns."""
    take = perform(CELL, Habits(notes_per_s=6.0, reps=40), Conversion(ghost=0.2), Random(5))
    for name, text in (("cell.yaml", dump_cell(CELL)), ("rig.yaml", dump_rig(take.rig))):
        (tmp_path / name).write_text(text, "utf-8")
    write_midi(tmp_path / "take.mid", take.records)
    words = [
        tmp_path / "take.mid",
        "--cell",
        tmp_path / "cell.yaml",
        "--rig",
        tmp_path / "rig.yaml",
        "--home",
        home,
    ]
    told = run("rig", "threshold", *words)
    assert told.status == 0, told.err
    assert "converter faults" in told.out and told.out.count("< gate") == 2
    assert max(map(len, told.out.splitlines()[:29])) <= 80
    assert "Suggested for the rig file:  gate: {" in told.out
    found = json.loads(run("rig", "threshold", *words, "--json").out)
    assert found["notes_stopped"] == pytest.approx(0.0, abs=0.01)
    assert found["ghosts_passed"] < 0.3


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (["rig", "setup", "--strings", "12", "--from", "x.mid"], "1 to 8"),
        (["rig", "setup", "--from", "no/such.mid"], "no/such.mid: "),
        (["rig", "latency", "no/such.mid", "--pulse"], "no/such.mid: "),
        (["rig", "latency", "--json"], "name a session or file"),
        (["rig", "latency", "--last", "2"], "holds no sessions yet"),
        (["rig", "latency", "--last", "0"], "no number of sessions"),
        (["rig", "latency", "x.mid", "--last", "2"], "but not both"),
        (["rig", "latency", "x.mid", "--click-port", "synth"], "holds its own clicks"),
        (["rig", "latency", "--click-port", "a", "--pulse"], "not allowed with"),
        (["rig", "latency", "--click-port", "a", "--tempo", "9"], "20 to 400"),
        (["rig", "latency", "--click-port", "/[/"], "no regular expression"),
        (["rig", "latency", "x.mid", "--click", "17"], "no whole number from 1 to 16"),
        (["rig", "threshold", "no-session"], "no session"),
        (["rig", "show", "no-such-rig"], "no rig"),
    ],
)
def test_a_mistake_is_one_line(run, home, words, hint):
    """Status 2, one line, what is wrong."""
    told = run(*words, "--home", home)
    assert (told.status, told.err.count("\n")) == (2, 1)
    assert hint in told.err


# ------------------------------------------------------------------------------------------ profile


def test_the_profile_of_a_take_fits_eighty_columns(run, home, tmp_path):
    """Ruler, attack, strings and ringing, each a table; and the same as JSON."""
    cell = make_cell("six", [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 10, "pull")])
    take = perform(cell, Habits(notes_per_s=6.0, reps=30, clipped=0.2), Conversion(), Random(5))
    (tmp_path / "cell.yaml").write_text(dump_cell(cell), "utf-8")
    (tmp_path / "rig.yaml").write_text(dump_rig(take.rig), "utf-8")
    write_midi(tmp_path / "take.mid", take.records)
    words = [
        tmp_path / "take.mid",
        "--cell",
        tmp_path / "cell.yaml",
        "--rig",
        tmp_path / "rig.yaml",
        "--home",
        home,
    ]
    told = run("notes", *words)
    assert told.status == 0, told.err
    assert max(map(len, told.out.splitlines())) <= 80
    for part in ("early", "attack", "brushed", "rings over"):
        assert part in told.out
    found = json.loads(run("notes", *words, "--json").out)
    assert [one["slot"] for one in found["timing"]] == [1, 2, 3, 4, 5, 6]
    hammered = found["attack"][5]
    assert (hammered["planned"], hammered["against_plan"]) == ("hammered", False)
    assert sum(one["counts"]["silent"] for one in found["strings"]) > 0
    assert json.loads(run("notes", *words, "--last", "5", "--json").out)["reps"] == 5


def test_nothing_played_has_no_profile(run, home, tmp_path):
    """One line, status 2."""
    write_midi(tmp_path / "empty.mid", [])
    told = run("notes", tmp_path / "empty.mid", "--cell", "six-strings", "--home", home)
    assert (told.status, told.err.count("\n")) == (2, 1)
