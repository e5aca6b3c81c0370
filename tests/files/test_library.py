"""The practice folder and its sessions."""

from __future__ import annotations

import shutil
import stat
import time
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zlib import crc32

import pytest
from damage import STAND_INS, stand_in
from journals import CELL, HEAD, append, clock_ns, records, write

from livecheck.core.cell import make_cell
from livecheck.core.events import Midi, Stop, UseCells
from livecheck.errors import BadInput
from livecheck.files import kept, library, summary
from livecheck.files.journal import Journal
from livecheck.files.library import PracticeFolder
from livecheck.files.lines import body_of, line_of

NAMES = [
    "2026-11-24T09-00-00",
    "2026-11-25T18-03-11",
    "2026-11-25T18-03-11-2",
    "2026-11-25T20-30-00",
]


@pytest.fixture
def folder(tmp_path):
    """A practice folder with four sessions of different length."""
    found = PracticeFolder.find(str(tmp_path / "home"))
    for count, name in enumerate(NAMES):
        write(found.recordings / name, records(10 * count))
    return found


# ------------------------------------------------------------------------------- finding the folder


def find(tmp_path, home=None, current="elsewhere", **environment):
    (tmp_path / current).mkdir(exist_ok=True)
    places = {
        "current": tmp_path / current,
        "environment": environment,
        "user_home": tmp_path / "me",
    }
    return PracticeFolder.find(home, **places).root


def test_the_first_use_makes_a_folder_under_the_users_home(tmp_path):
    """With everything in it that commands look for."""
    root = find(tmp_path)
    assert root == tmp_path / "me" / "livecheck"
    assert (root / "configs" / "cells").is_dir() and (root / "configs" / "rigs").is_dir()
    assert stat.S_IMODE((root / "recordings").stat().st_mode) == 0o700
    assert find(tmp_path) == root


def test_the_current_folder_is_used_when_it_is_a_practice_folder(tmp_path):
    """It holds configs/cells/ or recordings/; the variable comes after it."""
    (tmp_path / "mine" / "recordings").mkdir(parents=True)
    (tmp_path / "cells" / "configs" / "cells").mkdir(parents=True)
    (tmp_path / "other" / "configs").mkdir(parents=True)
    named = str(tmp_path / "named")
    assert find(tmp_path, current="mine", LIVECHECK_HOME=named) == tmp_path / "mine"
    assert find(tmp_path, current="cells", LIVECHECK_HOME=named) == tmp_path / "cells"
    assert find(tmp_path, current="other", LIVECHECK_HOME=named) == tmp_path / "named"


def test_what_the_command_line_names_comes_first(tmp_path):
    """--home is obeyed even inside another practice folder, and the folder is made."""
    (tmp_path / "mine" / "recordings").mkdir(parents=True)
    root = find(
        tmp_path,
        str(tmp_path / "asked" / "for"),
        current="mine",
        LIVECHECK_HOME=str(tmp_path / "named"),
    )
    assert root == tmp_path / "asked" / "for" and (root / "recordings").is_dir()


def test_a_home_that_cannot_be_made_is_told_in_one_line(tmp_path):
    """As where a file stands in its place."""
    (tmp_path / "file").write_text("")
    with pytest.raises(BadInput, match="file: cannot be used as practice folder: "):
        find(tmp_path, str(tmp_path / "file"))


def test_a_new_folder_gets_the_cells_that_come_with_the_program(tmp_path, monkeypatch):
    """Only a new one: what a player deleted or changed does not come back."""
    (tmp_path / "shipped" / "cells").mkdir(parents=True)
    (tmp_path / "shipped" / "cells" / "six.yaml").write_text("name: six\n")
    monkeypatch.setattr(library, "SHIPPED", tmp_path / "shipped")
    root = find(tmp_path)
    assert (root / "configs" / "cells" / "six.yaml").read_text() == "name: six\n"
    (root / "configs" / "cells" / "six.yaml").unlink()
    assert not (find(tmp_path) / "configs" / "cells" / "six.yaml").exists()


# --------------------------------------------------------------------------------- naming a session


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        (NAMES[0], 0), (NAMES[1], 1), (NAMES[2], 2),
        ("2026-11-24", 0), ("2026-11-25T2", 3), ("last", 3),
    ],
)  # fmt: skip
def test_a_session_is_named_by_its_name_its_beginning_or_last(folder, name, meant):
    """A whole name wins over being another one's beginning."""
    assert folder.session(name) == folder.recordings / NAMES[meant]


def test_a_session_is_also_named_by_its_path(folder, tmp_path):
    """Wherever it is."""
    write(tmp_path / "copied", records(1))
    assert folder.session(str(tmp_path / "copied")) == tmp_path / "copied"


def test_a_name_that_may_mean_several_lists_them(folder):
    """So that the player can write more of it."""
    with pytest.raises(
        BadInput, match=f"may mean {NAMES[1]}, {NAMES[2]}, {NAMES[3]}; write more of it"
    ):
        folder.session("2026-11-25")


def test_a_name_that_means_none_lists_what_is_near(folder, tmp_path):
    """The nearest first; an empty folder says that it is empty."""
    with pytest.raises(
        BadInput, match=rf"no session '2026-11-24T09-00-01' in .*; there is {NAMES[0]}"
    ):
        folder.session("2026-11-24T09-00-01")
    with pytest.raises(BadInput, match=f"there is {NAMES[1]}, {NAMES[2]}, {NAMES[3]}"):
        folder.session("tuesday")
    with pytest.raises(BadInput, match="no session ''"):
        folder.session("")
    with pytest.raises(BadInput, match="holds none yet"):
        PracticeFolder.find(str(tmp_path / "empty")).session("last")


def test_a_new_session_is_named_by_its_moment(tmp_path):
    """A second one of the same second gets a number; both are the player's own."""
    folder = PracticeFolder.find(str(tmp_path / "home"))
    paths = [folder.new_session("2026-11-25T18:03:11.250+01:00") for _ in range(3)]
    assert [path.name for path in paths] == [
        "2026-11-25T18-03-11", "2026-11-25T18-03-11-2", "2026-11-25T18-03-11-3",
    ]  # fmt: skip
    assert all(stat.S_IMODE(path.stat().st_mode) == 0o700 for path in paths)


def test_a_new_session_without_a_place_is_told_in_one_line(tmp_path):
    """A file where the recordings should be."""
    folder = PracticeFolder(tmp_path)
    (tmp_path / "recordings").write_text("")
    with pytest.raises(BadInput, match="recordings: is no folder"):
        folder.new_session("2026-11-25T18:03:11+01:00")
    with pytest.raises(BadInput, match="recordings: cannot be read: Not a directory"):
        folder.sessions()
    assert folder.played_s("2026-11-25") == 0.0


# ----------------------------------------------------------------------------------------- the list


def test_the_list_says_what_each_session_holds(folder):
    """Name, start with offset, duration to the last record, cells, sounded notes, whole; oldest
    first."""
    infos = folder.sessions()
    assert [info.name for info in infos] == NAMES
    assert [info.notes for info in infos] == [0, 10, 20, 30]
    last = infos[-1]
    assert (last.started, last.duration_s, last.cells) == (
        "2026-11-25T18:03:11+01:00",
        2.6,
        (CELL.name,),
    )
    assert last.whole and last.takes is None
    assert last.path == str(folder.recordings / NAMES[-1])


def test_only_what_sounds_is_a_note(folder):
    """Velocity 0 is a note-off (sources.md M-05); bends, controllers and broken messages are no
    notes."""
    sent = "90 3c 40, 90 3c 00, 80 3c 40, e0 00 40, b0 07 40, 90 3c, 95 40 01"
    data = [bytes.fromhex(message) for message in sent.split(",")]
    cells = [UseCells(0.0, (CELL,)), UseCells(0.5, (make_cell("other", [(1, 3)]), CELL))]
    write(
        folder.recordings / "mixed",
        [*cells, *(Midi(1.0, message) for message in data), Stop(2.0, "")],
    )
    info = folder.sessions()[-1]
    assert info.notes == 2
    assert info.cells == (CELL.name, "other")


def test_a_session_without_its_end_is_not_whole(folder):
    """The list says so, and its duration ends with the last record."""
    journal = folder.recordings / NAMES[3] / "journal-001.log"
    journal.write_bytes(journal.read_bytes()[:-20])
    info = folder.sessions()[3]
    assert not info.whole
    assert info.duration_s == 1.6


def test_a_session_under_way_is_listed_as_far_as_it_is(folder):
    """A list made meanwhile does not stay."""
    journal = Journal.create(folder.recordings / "now", HEAD)
    for number in range(3):
        append(journal, clock_ns(number), Midi(0.0, b"\x90\x3c\x40"))
        assert folder.sessions()[-1].notes == number + 1
    journal.close()


# ---------------------------------------------------------------------------------------- the cache


@pytest.fixture
def scans(monkeypatch):
    """Names of the sessions whose journals are read through."""
    names: list[str] = []
    real = summary.read

    def counting(path: Path):
        names.append(path.name)
        return real(path)

    monkeypatch.setattr(summary, "read", counting)
    return names


def test_a_second_list_reads_no_journal(folder, scans):
    """And says the same."""
    first = folder.sessions()
    assert scans == NAMES
    assert folder.sessions() == first
    assert scans == NAMES


def test_a_changed_journal_is_read_again(folder, scans):
    """Another size or time makes the summary void, and so does another version of the program."""
    folder.sessions()
    scans.clear()
    journal = folder.recordings / NAMES[2] / "journal-001.log"
    journal.write_bytes(journal.read_bytes()[:-5])
    assert not folder.sessions()[2].whole
    assert scans == [NAMES[2]]


def test_other_rules_read_again(folder, scans, monkeypatch):
    """What was found by the old ones does not stay in the list."""
    folder.sessions()
    scans.clear()
    monkeypatch.setattr(kept, "judgment", lambda: 99)
    folder.sessions()
    assert scans == NAMES


@pytest.mark.parametrize(
    "content", [b"", b"{", b"[]", b"null", b"\xff\xfe", b'{"key": null}', b"[" * 100_000]
)
def test_a_damaged_summary_is_made_anew_without_a_word(folder, content):
    """It is only a cache; deleting it is safe as well."""
    first = folder.sessions()
    (folder.recordings / NAMES[1] / kept.NAME).write_bytes(b"%08x\n" % crc32(content) + content)
    (folder.recordings / NAMES[2] / kept.NAME).unlink()
    assert folder.sessions() == first


@pytest.mark.parametrize("key", ["started", "duration_s", "cells", "notes", "takes", "whole"])
@pytest.mark.parametrize("value", [None, [], {}])
def test_a_summary_with_a_wrong_field_is_made_anew(folder, key, value):
    """Whatever stands in it."""
    if key == "takes" and value is None:
        return  # not judged yet
    first = folder.sessions()
    path = folder.recordings / NAMES[1]
    held = kept.key_of(path)
    told, _ = kept.load(path, held)
    if value is None:
        del told["summary"][key]
    else:
        told["summary"][key] = value
    kept.store(path, held, {"summary": told["summary"]})
    assert folder.sessions() == first or (key, value) == ("cells", [])


def test_a_folder_that_takes_no_summary_is_listed_all_the_same(folder):
    """A folder in the place of the cache: nothing can be kept, nothing is lost, nothing stays."""
    first = folder.sessions()
    path = folder.recordings / NAMES[1] / kept.NAME
    path.unlink()
    path.mkdir()
    assert folder.sessions() == first
    assert sorted(entry.name for entry in path.parent.iterdir()) == ["journal-001.log", kept.NAME]


# ------------------------------------------------------------------------- what cannot be read


def spoil(folder, how, elsewhere):
    """Make a session unreadable."""
    journal = folder / "journal-001.log"
    if how == "newer":
        fields = {**HEAD.fields(1), "format": "livecheck-journal/2"}
        journal.write_bytes(line_of(0, body_of("head", 0, fields)))
    elif how == "long version":
        fields = {**HEAD.fields(1), "format": f"livecheck-journal/{'9' * 4200}"}
        journal.write_bytes(line_of(0, body_of("head", 0, fields)))
    elif how == "time":
        fields = {**HEAD.fields(1), "perf": 10**400}
        journal.write_bytes(line_of(0, body_of("head", 0, fields)))
    elif how.startswith("session "):
        shutil.rmtree(folder)
        stand_in(folder, how.removeprefix("session "), elsewhere)
    else:
        journal.unlink()
        stand_in(journal, how, elsewhere)


HOWS = [
    "newer", "long version", "time", *STAND_INS, "session pipe", "session dangling", "session link",
]  # fmt: skip


@pytest.mark.parametrize("how", HOWS)
@pytest.mark.parametrize("number", range(4))
def test_a_session_that_cannot_be_read_has_its_line_and_stops_nothing(
    folder, how, number, tmp_path
):
    """Whatever befell it, and wherever it stands in the list: the others are told as they are, and
    so is the time played on that day."""
    before = folder.sessions()
    spoil(folder.recordings / NAMES[number], how, tmp_path / "elsewhere")
    infos = folder.sessions()
    # what has lost its head stands where its name says
    assert sorted(info.name for info in infos) == NAMES
    told = {info.name: info for info in infos}
    lost = told.pop(NAMES[number])
    assert lost.trouble and "\n" not in lost.trouble and not lost.whole
    assert list(told.values()) == [info for info in before if info.name != NAMES[number]]
    assert folder.played_s("2026-11-25") == pytest.approx(
        sum(info.played_s for info in told.values())
    )


@pytest.mark.parametrize("how", HOWS)
def test_the_last_session_is_never_silently_an_older_one(folder, how, tmp_path):
    """Where it cannot be read, asking for the last one says so."""
    spoil(folder.recordings / NAMES[3], how, tmp_path / "elsewhere")
    with pytest.raises(BadInput, match=f"the last session, {NAMES[3]}, cannot be shown"):
        folder.session("last")
    assert folder.session(NAMES[2]) == folder.recordings / NAMES[2]


# ------------------------------------------------------------------------------------ order


@pytest.mark.parametrize("zone", ["UTC", "Asia/Tokyo", "America/Los_Angeles"])
def test_sessions_are_in_the_order_of_time_whatever_their_clocks_showed(
    tmp_path, zone, monkeypatch
):
    """An evening in Tokyo is before the same day's morning in Los Angeles; in the hour that comes
    twice the first pass is before the second; and all the same wherever they are listed."""
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    folder = PracticeFolder.find(str(tmp_path / "home"))
    walls = [
        "2026-10-25T02:50:00+02:00",  # before the clocks are set back
        "2026-10-25T02:10:00+01:00",  # after
        "2026-11-20T20:00:00+09:00",
        "2026-11-20T08:00:00-08:00",
        "2026-11-21T00:30:00+09:00",  # half an hour before the one above in fact
    ]
    for wall in walls:
        name = folder.new_session(wall)
        write(name, records(1), head=replace(HEAD, wall=wall))
    listed = [info.started for info in folder.sessions()]
    assert listed == [walls[0], walls[1], walls[2], walls[4], walls[3]]
    assert folder.session("last").name == "2026-11-20T08-00-00"
    monkeypatch.undo()
    time.tzset()


def test_a_session_that_lost_its_head_stands_where_its_name_says(tmp_path):
    """Damage does not move it in the list."""
    folder = PracticeFolder.find(str(tmp_path / "home"))
    for name in NAMES:
        day, _, clock = name[:19].partition("T")
        wall = datetime.fromisoformat(f"{day}T{clock.replace('-', ':')}").astimezone().isoformat()
        write(folder.recordings / name, records(1), head=replace(HEAD, wall=wall))
    journal = folder.recordings / NAMES[1] / "journal-001.log"
    journal.write_bytes(b"x" + journal.read_bytes()[1:])
    other = folder.recordings / NAMES[0] / "journal-001.log"
    other.write_bytes(b"x" + other.read_bytes()[1:])
    assert [info.name for info in folder.sessions()] == NAMES
