"""The program from the outside: arguments, errors, exit statuses, streams."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import ROOT, python
from takes_on_disk import records_of, take_on_whole_ms, write_session

import livecheck
from livecheck.cli import main
from livecheck.commands import demo
from livecheck.commands.common import print_wrapped
from livecheck.control import Server
from livecheck.core.playing import BUILT_IN
from livecheck.files.config import dump_cell, dump_rig
from livecheck.files.midifile import write_midi
from livecheck.player.demo import feed_command
from livecheck.report.outlet import outlet


@pytest.fixture
def take(tmp_path: Path) -> dict[str, Path]:
    """One take as files."""
    played = take_on_whole_ms(3)
    files = {name: tmp_path / name for name in ("take.mid", "cell.yaml", "rig.yaml")}
    write_midi(files["take.mid"], played.records)
    files["cell.yaml"].write_text(dump_cell(played.cell), "utf-8")
    files["rig.yaml"].write_text(dump_rig(played.rig), "utf-8")
    files["session"] = write_session(tmp_path / "2026-11-25T18-03-11", records_of(played))
    return files


# ---------------------------------------------------------------------------------------- bad input

BAD = [
    (["lisen", "six-strings"], "did you mean listen?"),
    (["doctor"], "`livecheck doctor` is called `livecheck check` now"),
    (["profile", "last"], "`livecheck profile` is called `livecheck notes` now"),
    (
        ["rig", "delay", "--last", "6"],
        "`livecheck rig delay` is called `livecheck rig latency` now",
    ),
    (["rig", "gates", "last"], "`livecheck rig gates` is called `livecheck rig threshold` now"),
    (["rig", "latency", "last", "--save", "x.yaml"], "--save is called --out now"),
    (["report"], "there is: demo, listen"),
    (["prots"], "did you mean ports?"),
    (["zzz"], "there is: demo, listen"),
    (["listen"], "required: CELL"),
    (["listen", "six-strngs"], "did you mean six-strings"),
    (["listen", "nothing-like-it-at-all"], "there is: "),
    (["listen", "six-strings", "--variant", "nope"], "there is: as written, strict"),
    (["listen", "six-strings", "--rig", "chanels-1-to-6"], "did you mean channels-1-to-6"),
    (["listen", "six-strings", "--rig", "no/such/rig.yaml"], "no such file"),
    (["listen", "seven-strings", "--rig", "channels-1-to-6"], "plays string 7"),
    (["listen", "six-strings", "--port", "/[/"], "no regular expression"),
    (["listen", "six-strings", "--driver", "oss"], "'oss'"),
    (["listen", "six-strings", "--seconds", "-1"], "no number above 0"),
    (["listen", "six-strings", "--seconds", "nan"], "no number above 0"),
    (["listen", "six-strings", "--seconds", "ten"], "no number above 0"),
    (["watch", "more"], "one argument too many"),
    (["demo", "--second", "5"], "did you mean --seconds"),
    (["demo", "--seconds"], "expected one argument"),
    (["demo", "--variant", "slow"], "--variant needs a CELL"),
    (["demo", "odd-fife"], "did you mean odd-five?"),
    (["score"], "required: FILE|SESSION"),
    (["score", "absent.mid"], "absent.mid: no such file"),
    (["review", "absent.mid"], "absent.mid: no such file"),
    (["--home", "x", "sessions"], "put --home after the command"),
    (["--json", "sessions"], "put --json after the command"),
    (["zzz"], "livecheck: there is no command 'zzz'"),
    (["cell", "zzz"], "livecheck: `cell` has no command 'zzz'"),
    (["climb", "odd-five", "--seed", "-1"], "'-1' is no whole number from 0 to 1000000000"),
    (["climb", "odd-five", "--seed", "1" + "0" * 9 + "1"], "no whole number from 0"),
    (["listen", "six-strings", "--silence", "x"], "write minutes, or `never`"),
    (["score", "no.mid", "--cell", "six-strings"], "no.mid: "),
    (["score", "no/such.mid", "--cell", "six-strings"], "no/such.mid: "),
    (["score", "configs", "--json"], "no session 'configs'"),
    (["score", "2026-11-25T18-03-11"], "holds none yet"),
    (["score", "", "--cell", "six-strings"], "no session ''"),
    (["score", "a\0b", "--cell", "six-strings"], "NUL"),
    (["score", "a" * 5000, "--cell", "six-strings"], "no session"),
    (["score", "\udcff.mid", "--cell", "six-strings"], "no such file"),
    (["score", "configs/cells/odd-five.yaml", "--cell", "six-strings"], "no Standard MIDI File"),
    (["score", "/dev/zero", "--cell", "six-strings"], ""),
    (["score", "x", "--variant", "strict"], "--variant needs --cell"),
    (["score", "x.mid", "--cell", "/dev/zero"], "no ordinary file"),
    (["score", "x.mid", "--cell", "configs"], "the folder holds no cell file"),
    (["score", "x.mid", "--cell", "a" * 5000], "no cell"),
    (["cell", "shwo", "odd-five"], "did you mean show"),
    (["cell", "show"], "required: CELL"),
    (["cell", "show", "odd"], "did you mean"),
    (["cell", "show", "configs/cells/od-five.yaml"], "did you mean configs/cells/odd-five.yaml"),
    (["cell", "check"], "required: CELL"),
    (["replay", "last"], "holds none yet"),
    (["replay", "last", "--speed", "0"], "no number above 0"),
    (["replay", "last", "--speed", "2", "--fast"], "not allowed with"),
    (["sessions", "chck"], "did you mean check"),
    (["sessions", "check", "2026"], "no session '2026'"),
    (["mark"], "required: TEXT"),
    (["demo", "--home", "configs/cells/odd-five.yaml"], "cannot be used as practice folder"),
    (["daemon", "no-cell"], "no cell 'no-cell'"),
]


@pytest.mark.parametrize(("words", "hint"), BAD, ids=[" ".join(words)[:40] for words, _ in BAD])
def test_a_mistake_is_told_in_one_line(run, words, hint):
    """Status 2, nothing on the output, one line on the error stream that says what is wrong."""
    status, out, err = run(*words)
    assert (status, out) == (2, "")
    assert err.startswith("livecheck: ")
    assert err.count("\n") == 1
    assert err.endswith("\n")
    assert hint in err
    assert "Traceback" not in err


NOBODY = [
    ["mark", "here"],
    ["status"],
    ["status", "--json"],
    ["stop"],
    ["watch"],
    ["variant", "x"],
    ["cell", "use", "odd-five"],
]


@pytest.mark.parametrize("words", NOBODY, ids=" ".join)
def test_what_speaks_to_a_recorder_says_that_there_is_none(run, words):
    """Status 3: no device, no recorder."""
    status, out, err = run(*words)
    assert (status, out) == (3, "")
    assert err.startswith("livecheck: nothing is recording in ")
    assert err.count("\n") == 1


def test_a_check_of_cells_goes_through_all_files(run):
    """One line a file; status 2 as soon as one of them is not sound."""
    Path("bad.yaml").write_text("name: x\nslots:\n  - [1, 3, sideways]\n")
    assert run("cell", "check", "configs/cells/odd-five.yaml").status == 0
    assert run("cell", "check", "odd-five").status == 0  # by its name, as `cell list` has it
    status, out, err = run("cell", "check", "bad.yaml", "configs/cells/odd-five.yaml")
    assert (status, err) == (2, "")
    assert out.splitlines()[0].startswith("bad.yaml:3: ")
    assert out.splitlines()[1] == "configs/cells/odd-five.yaml: sound"


# --------------------------------------------------------------------------------------- our faults


def test_a_fault_of_ours_is_one_line_and_its_traceback_is_kept(run, monkeypatch):
    """Status 1, the traceback in the state folder for this account alone, and no traceback on the
    screen."""
    monkeypatch.setattr("livecheck.commands.cell.cell_of", lambda *_: 1 / 0)
    status, out, err = run("cell", "show", "odd-five")
    assert (status, out) == (1, "")
    assert err.count("\n") == 1
    log = Path(".livecheck/fault.log")
    assert str(log) in err
    assert "ZeroDivisionError" in log.read_text()
    assert "Traceback" in log.read_text()
    assert "Traceback" not in err
    assert log.stat().st_mode & 0o777 == 0o600


def test_a_fault_is_told_even_where_no_practice_folder_can_be_had(run, monkeypatch, tmp_path):
    """The temporary folder takes the traceback then."""
    monkeypatch.setattr("livecheck.commands.cell.cell_of", lambda *_: 1 / 0)
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path))
    status, _, err = run("cell", "show", "odd-five", "--home", "configs/cells/odd-five.yaml")
    assert status == 1
    assert "fault.log" in err
    assert list(tmp_path.glob("*/fault.log"))


def test_ctrl_c_is_no_fault(run, monkeypatch):
    """It ends quietly with the status that shells expect."""

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("livecheck.commands.cell.cell_of", interrupted)
    assert run("cell", "show", "odd-five") == (130, "", "")


# ------------------------------------------------------------------------------------------ streams


def test_a_reader_that_has_seen_enough_is_no_error(take):
    """``livecheck score … | head -1`` prints nothing on the error stream."""
    command = [sys.executable, "-m", "livecheck", "score", str(take["session"])]
    read, write = os.pipe()
    os.close(read)
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        command, stdout=write, stderr=subprocess.PIPE, env=environment, timeout=60
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.skipif(
    not os.path.exists("/dev/full"), reason="this system has no device that is always full"
)
def test_output_that_cannot_be_written_is_told_in_one_line(take, run):
    """It is no fault of the program's: status 2, and nothing in the log of faults."""
    command = [sys.executable, "-m", "livecheck", "score", str(take["session"])]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            command, stdout=full, stderr=subprocess.PIPE, env=environment, timeout=60
        )
    assert done.returncode == 2
    assert done.stderr == b"livecheck: the output could not be written: No space left on device\n"
    assert not Path(".livecheck").exists()


def test_a_midi_file_needs_its_cell(run, take):
    """It does not say itself what was to be played."""
    assert "name the cell by --cell" in run("score", take["take.mid"]).err


def test_a_name_that_the_terminal_cannot_show_is_no_error(run):
    """Output into an ASCII stream escapes what it cannot say."""
    Path("configs/cells/gruen.yaml").write_text("name: grün\nslots: [[1, 3], [1, 5]]\n", "utf-8")
    out = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    assert main(["cell", "show", "gruen"], out, io.StringIO()) == 0
    out.seek(0)
    text = out.read()
    assert "gr\\xfcn" in text
    assert "⊓" not in text
    assert "D " in text


def test_the_version_stands_in_one_place(run):
    """``--version`` says what the package says."""
    assert run("--version") == (0, f"livecheck {livecheck.__version__}\n", "")


def test_without_a_command_the_help_is_printed(run):
    """Status 0 and the list of commands."""
    status, out, err = run()
    assert (status, err) == (0, "")
    assert "demo" in out


# ----------------------------------------------------------------------------------- what is loaded

LOADED = """
import sys
from livecheck.cli import main
status = main(sys.argv[1:])
heavy = {"numpy", "rich", "rtmidi", "rtmidi2", "mido", "yaml", "livecheck.session", \
"livecheck.daemon.drivers"}
print("loaded", *sorted(heavy & set(sys.modules)))
sys.exit(status)
"""


def loaded(*words: object, cwd: Path | None = None) -> set[str]:
    """The heavy modules that a command loads."""
    done = python(LOADED, *words, cwd=cwd)
    assert done.returncode == 0, done.stderr
    return set(done.stdout.splitlines()[-1].split()[1:])


@pytest.mark.parametrize("words", [["--help"], ["listen", "--help"], ["--version"]], ids=" ".join)
def test_the_help_loads_next_to_nothing(words):
    """So that it is there at once."""
    assert loaded(*words) == set()


def test_a_cell_is_shown_without_drawing_and_drivers():
    """``cell show`` needs YAML alone."""
    assert loaded("cell", "show", ROOT / "configs/cells/odd-five.yaml") == {"yaml"}


@pytest.mark.parametrize(
    "command", ["score", "score --json", "replay --fast --plain", "demo --seconds 3 --plain"]
)
def test_no_midi_driver_where_none_is_needed(take, tmp_path, command):
    """score, replay and demo work where no driver can be loaded."""
    words = command.split()
    takes = {"score": [take["session"]], "replay": [take["session"]], "demo": []}[words[0]]
    home = tmp_path / "home"
    assert not loaded(*words, *takes, "--home", home) & {
        "rtmidi",
        "rtmidi2",
        "livecheck.daemon.drivers",
    }


# ------------------------------------------------------------------------------------- what it says


def test_sessions_are_listed_as_documented(run, take):
    """The keys of the documented list, the path as seen from the current folder."""
    session = take["session"].rename(Path("recordings").absolute() / take["session"].name)
    (one,) = json.loads(run("sessions", "--json").out)
    assert set(one) == {
        "name",
        "path",
        "started",
        "duration_s",
        "cells",
        "notes",
        "takes",
        "whole",
        "demo",
        "trouble",
    }
    assert one["name"] == session.name
    assert one["path"] == f"recordings/{session.name}"
    assert one["whole"] is True
    assert one["takes"] >= 1
    assert session.name in run("sessions").out


def test_a_damaged_session_is_found_and_still_scored(run, take):
    """``sessions check`` ends with status 2 and says how many lines; score says so and judges the
    rest."""
    journal = take["session"] / "journal-001.log"
    lines = journal.read_bytes().splitlines(keepends=True)
    lines[40] = lines[40].replace(b"midi", b"mudi")
    journal.write_bytes(b"".join(lines))
    status, out, _ = run("sessions", "check", take["session"])
    assert status == 2
    assert "1 damaged line passed over" in out
    scored = run("score", take["session"], "--json")
    assert scored.status == 0
    assert scored.err == "livecheck: the session is not whole: 1 damaged line, 1 line missing\n"
    assert json.loads(scored.out)["format"] == "livecheck-score/1"


def test_what_is_good_of_a_damaged_session_is_saved_beside_it(run, take):
    """``--salvage`` leaves the damaged one as it is and makes a whole one with a gap."""
    journal = take["session"] / "journal-001.log"
    journal.write_bytes(journal.read_bytes().replace(b"midi", b"mudi", 1))
    before = journal.read_bytes()
    run("sessions", "check", take["session"], "--salvage")
    assert journal.read_bytes() == before
    saved = take["session"].with_name(take["session"].name + "-salvaged")
    assert run("sessions", "check", saved).status == 0
    assert "could not be kept" in run("sessions", "check", saved).out
    assert run("score", saved, "--json").status == 0


def test_the_unit_repeats_what_the_daemon_was_told(run):
    """``--print-unit`` starts nothing; files in it are named by their full path."""
    words = ("configs/cells/odd-five.yaml", "--port", "Hex 2", "--silence", "5")
    status, out, err = run("daemon", *words, "--print-unit")
    assert (status, err) == (0, "")
    for word in (
        str(Path("configs/cells/odd-five.yaml").absolute()),
        "--port=Hex 2",
        "--silence=5",
        str(Path.cwd()),
    ):
        assert word in out
    assert "[Service]" in run("daemon", "--print-unit", "systemd").out
    assert "<plist" in run("daemon", "--print-unit", "launchd").out
    assert run("daemon", "--print-unit", "cron").status == 2
    assert not Path(".livecheck").exists()


def test_every_note_of_a_file_is_in_the_score_once(run, take):
    """As a slot's note, an extra, or outside."""
    words = (
        "score",
        take["take.mid"],
        "--cell",
        take["cell.yaml"],
        "--rig",
        take["rig.yaml"],
        "--json",
    )
    score = json.loads(run(*words).out)
    onsets = [
        slot["onset_s"] for rep in score["reps"] for slot in rep["slots"] if slot["by"] == "note"
    ]
    onsets += [
        extra["onset_s"]
        for rep in score["reps"]
        for extra in rep["extras"]
        if extra["velocity"] is not None
    ]
    onsets += [extra["onset_s"] for extra in score["outside"] if extra["velocity"] is not None]
    played = take_on_whole_ms(3)
    channels = {channel - 1 for channel in played.rig.channels}
    sent = [
        record.t_s
        for record in played.records
        if len(record.data) == 3
        and record.data[0] >> 4 == 9
        and record.data[2]
        and record.data[0] & 15 in channels
    ]
    assert sorted(onsets) == sorted(sent)


def test_nothing_to_score_is_no_error(run, tmp_path):
    """A file without notes: no repetitions, status 0."""
    write_midi(tmp_path / "empty.mid", [])
    status, out, err = run("score", tmp_path / "empty.mid", "--cell", "odd-five", "--json")
    assert (status, err) == (0, "")
    assert json.loads(out)["reps"] == []
    assert "No repetition" in run("score", tmp_path / "empty.mid", "--cell", "odd-five").out


@pytest.mark.parametrize("name", ["hammer-and-pull", "six-strings"])
def test_the_cell_as_written_may_be_asked_for_by_name(run, name):
    """As reviews call it."""
    assert run("cell", "show", name, "--variant", "as written") == run("cell", "show", name)
    assert "there is: as written, " in run("cell", "show", name, "--variant", "nope").err


def test_what_is_said_to_a_recorder_is_confirmed(run):
    """A mark and a variant."""
    told: list[dict[str, object]] = []
    server = Server(Path.cwd(), lambda command: told.append(command) or {})
    try:
        assert run("mark", "thumb", "lower") == (0, "mark set: thumb lower\n", "")
        assert run("variant", "as written") == (0, "from now on: as written\n", "")
    finally:
        server.close()
    assert [command["command"] for command in told] == ["mark", "variant"]


@pytest.mark.parametrize(("port", "today_s"), [("Hex", 60.0), (BUILT_IN, 0.0)])
def test_what_the_demo_plays_is_no_time_played_today(run, port, today_s):
    """Not while it plays either."""
    status = {"session": None, "played_s": 60.0, "link": {"up": True, "port": port}}
    server = Server(Path.cwd(), lambda command: status)
    try:
        assert json.loads(run("status", "--json").out)["played_today_s"] == today_s
    finally:
        server.close()


def test_a_terminal_breaks_no_word_of_a_long_line(monkeypatch):
    """Long lines are folded there, and left as they are where programs read them."""
    text = "stop at pain, tingling or numbness " * 5
    plain, terminal = io.StringIO(), io.StringIO()
    print_wrapped(text, outlet(plain))
    assert plain.getvalue() == f"{text}\n"
    terminal.isatty = lambda: True  # type: ignore[method-assign]
    monkeypatch.setenv("COLUMNS", "70")
    print_wrapped(text, outlet(terminal))
    lines = terminal.getvalue().splitlines()
    assert len(lines) > 1 and max(map(len, lines)) < 70
    assert " ".join(lines).split() == text.split()  # each break is one: nothing was cleaned away


def test_check_says_a_line_for_each_thing(run):
    """Status 2 where one of them keeps practice from going on, else 0; the same as JSON."""
    status, out, err = run("check")
    told = json.loads(run("check", "--json").out)
    assert (status, err) == (0 if told["ok"] else 2, "")
    assert [check["what"] for check in told["checks"]] == [
        line[6:].split("  ")[0] for line in out.splitlines()
    ]
    assert {check["state"] for check in told["checks"]} <= {"ok", "note", "bad"}
    assert told["ok"] == all(check["state"] != "bad" for check in told["checks"])


@pytest.mark.parametrize("ports", [["Hex 1"], []], ids=["a converter", "no converter"])
def test_check_ends_with_2_where_practice_cannot_go_on(run, monkeypatch, ports):
    """A converter is needed; a broken cell, a missing rig or a narrow window are only noted."""
    from livecheck.commands import check

    answers = {"binding": "rtmidi", "jack": None, "ports": ports, "outputs": [], "sound": "there"}
    monkeypatch.setattr(check, "ask", lambda what, *words: answers[what])
    monkeypatch.setattr(check, "_alsa", lambda jack: check.Check("ALSA sequencer", "ok", "there"))
    Path("configs/cells/broken.yaml").write_text("slots: 3\n", "utf-8")
    status, out, _ = run("check")
    assert status == (0 if ports else 2), out
    assert ("\nbad " in out) == (not ports)
    Path("configs/settings.yaml").write_text("rest: soon\n", "utf-8")
    assert run("check").status == 2  # `listen` would refuse it


def test_check_makes_no_folder(run, tmp_path):
    """It says where the practice folder would be."""
    _, out, err = run("check", "--home", tmp_path / "not" / "yet")
    assert f"{tmp_path}/not/yet is not there yet" in out and err == ""
    assert not (tmp_path / "not").exists()


def test_check_says_which_signals_a_script_can_rely_on(run):
    """One that was ignored by whoever started the program is told; SIGTERM remains."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        told = {one["what"]: one for one in json.loads(run("check", "--json").out)["checks"]}
        assert told["signals"]["state"] == "ok" and "SIGTERM ends" in told["signals"]["found"]
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        told = {one["what"]: one for one in json.loads(run("check", "--json").out)["checks"]}
    finally:
        signal.signal(signal.SIGINT, before)
    assert told["signals"]["state"] == "note" and "SIGINT" in told["signals"]["found"]
    assert told["signals"]["remedy"] == "use kill -TERM and `livecheck stop`"


def test_the_demo_is_a_session_like_any_other(run):
    """It ends by itself, is saved with its MIDI file, and can be scored."""
    status, out, err = run("demo", "--seconds", "4", "--plain")
    assert (status, err) == (0, "")
    assert out.splitlines()[0].startswith("note ")
    (session,) = Path("recordings").iterdir()
    assert f"Saved in recordings/{session.name}" in out
    suggested = [
        line.split("  ")[1] for line in out.splitlines() if line.startswith("  livecheck ")
    ]
    assert len(suggested) == 5
    for command in suggested:  # each answers
        if "replay" not in command:
            status, answer, _ = run(*command.split()[1:])
            assert answer and status in ((0, 2) if "check" in command else (0,)), command
    assert "Played today" not in out and run("sessions").out.rstrip().endswith("demo")
    assert (session / "session.mid").read_bytes()[:4] == b"MThd"
    score = json.loads(run("score", session.name, "--json").out)
    assert score["totals"]["complete"] >= 1
    assert run("sessions", "check").status == 0


def test_each_demo_of_a_folder_plays_other_takes(run, monkeypatch):
    """The same takes twice would tell a review no more than once, and look as if they did."""
    seeds = []

    def noted(seconds, seed, **asked):
        seeds.append(seed)
        return feed_command(seconds, seed, **asked)

    monkeypatch.setattr(demo, "feed_command", noted)
    for _ in range(2):
        assert run("demo", "--seconds", "2", "--plain").status == 0
    assert seeds[0] == 1 and seeds[1] > 100


def test_the_demo_plays_the_cell_and_the_variant_that_are_asked_for(run):
    """By name or file; what comes is judged against it."""
    status, out, err = run(
        "demo", "hammer-and-pull", "--variant", "all picked", "--seconds", "5", "--plain"
    )
    assert (status, err) == (0, ""), out
    assert "hammer and pull, all picked" in out
    (session,) = Path("recordings").iterdir()
    score = json.loads(run("score", session.name, "--json").out)
    assert score["cell"]["variant"] == "all picked" and score["totals"]["complete"] >= 1
