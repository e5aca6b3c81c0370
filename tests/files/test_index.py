"""The index: it gives what judging gives, and is made anew whenever it may not be trusted."""

from __future__ import annotations

import os
import shutil
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from conftest import python
from damage import stand_in
from hypothesis import given, settings
from hypothesis import strategies as st
from played_ladder import CELL, RIG, climb, falling
from takes_on_disk import write_session

from livecheck.core.events import UseCells, UseRig
from livecheck.files import index
from livecheck.files import kept as keeping
from livecheck.files.index import judge, judged_sessions, with_takes
from livecheck.files.index import kept_judged as kept
from livecheck.files.kept import NAME
from livecheck.files.summary import summary_of


@pytest.fixture(scope="module")
def recorded(tmp_path_factory) -> Path:
    """A session of three takes, judged."""
    folder = tmp_path_factory.mktemp("index") / "2026-11-20T18-03-11"
    write_session(folder, climb(Random("index"), [100, 130, 160], 8, falling(130, 4.0)).session())
    judge(folder)
    return folder


@pytest.fixture
def session(recorded, tmp_path) -> Path:
    """A copy of it that may be spoilt."""
    return Path(shutil.copytree(recorded, tmp_path / recorded.name))


def alone(folder: Path):
    [(_, judged)] = judged_sessions([folder])
    return judged


def test_what_is_kept_is_what_was_judged(session):
    """Also the tables' bytes."""
    judged = judge(session)
    assert judged is not None and judged == kept(session)
    [played] = judged.played
    assert (played.cell, played.variant, played.rig, played.reps) == (CELL.name, None, RIG.name, 24)
    assert (judged.celled, judged.whole) == (True, True)


def test_each_cell_variant_and_rig_is_kept_apart(tmp_path):
    """Repetitions belong to the cell and rig that were in force when they were played."""
    first = climb(Random("apart"), [100], 6, falling(400, 4.0))
    gap = first.records[-1].t_s + 5.0
    records = [*first.session()[:-1]]
    for part, (cell, rig) in enumerate(
        [
            (replace(CELL, name="another"), RIG),
            (replace(CELL, name="another"), replace(RIG, name="other rig")),
        ],
        1,
    ):
        records += [UseRig(part * gap, rig), UseCells(part * gap, (cell,))]
        records += [one._replace(t_s=one.t_s + part * gap) for one in first.records]
    judged = judge(write_session(tmp_path / "s", records).resolve())
    told = [(one.cell, one.rig, one.reps) for one in judged.played]
    assert told == [(CELL.name, RIG.name, 6), ("another", RIG.name, 6), ("another", "other rig", 6)]
    assert len({one.figure for one in judged.played}) == 2


def test_what_is_kept_is_not_judged_again(session, monkeypatch):
    """The second look costs no judging."""
    before = alone(session)
    monkeypatch.setattr(index, "judge", lambda folder: pytest.fail("judged again"))
    assert alone(session) == before


@pytest.mark.parametrize("what", ["deleted", "judgment", "grown", "touched", "empty", "folder"])
def test_what_may_not_be_trusted_is_judged_anew(session, monkeypatch, what):
    """Without a word of harm, and with the same result."""
    before = alone(session)
    log = session / "journal-001.log"
    if what == "deleted":
        (session / NAME).unlink()
    elif what == "judgment":
        monkeypatch.setattr(keeping, "judgment", lambda: 0)
    elif what == "grown":
        log.write_bytes(log.read_bytes() + b"\n")
    elif what == "touched":
        os.utime(log, ns=(1, 1))
    elif what == "empty":
        (session / NAME).write_bytes(b"")
    else:
        (session / NAME).unlink()
        (session / NAME).mkdir()
    assert kept(session) is None
    assert alone(session) == before
    assert (kept(session) == before) is (what != "folder")


@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_no_damage_of_a_single_byte_or_cut_is_taken_for_data(recorded, data):
    """Any byte changed, any end cut off."""
    path = recorded / NAME
    whole = path.read_bytes()
    at = data.draw(st.integers(0, len(whole) - 1))
    spoilt = bytearray(whole)
    spoilt[at] ^= data.draw(st.integers(1, 255))
    try:
        for bad in (bytes(spoilt), whole[:at]):
            path.write_bytes(bad)
            assert kept(recorded) is None
    finally:
        path.write_bytes(whole)
    assert kept(recorded) is not None


@pytest.mark.parametrize(
    "told",
    [
        "null",
        "[]",
        '{"key": 1}',
        '{"key": KEY, "played": [{"table": {"bytes": -1}}], "day": 0}',
        "[" * 5000,
    ],
)
def test_a_sound_checksum_over_nonsense_helps_nobody(session, told):
    """Whatever a file of another program holds, it is no index."""
    import json
    from zlib import crc32

    data = told.replace("KEY", json.dumps(keeping.key_of(session))).encode() + b"\n"
    (session / NAME).write_bytes(b"%08x\n" % crc32(data) + data)
    assert kept(session) is None


def test_other_rules_are_another_judgment(tmp_path, monkeypatch):
    """A change of any module that judging reaches gives another number, also of one that is reached
    only through others; of one that it does not reach, the same."""
    copy = tmp_path / "livecheck"
    shutil.copytree(keeping._PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(keeping, "_PACKAGE", copy)

    def number():
        keeping.judgment.cache_clear()
        return keeping.judgment()

    whole = number()
    reached = sorted(keeping.closure())
    assert len(reached) > 30
    for path in reached:
        text = path.read_text("utf-8")
        path.write_text(text + "# another rule\n", "utf-8")
        assert number() != whole, path
        path.write_text(text, "utf-8")
    for name in ("console/view.py", "daemon/recorder.py", "cli.py"):
        path = copy / name
        path.write_text(path.read_text("utf-8") + "# not a rule\n", "utf-8")
    assert number() == whole
    keeping.judgment.cache_clear()


def test_what_judging_reaches_is_what_the_interpreter_loads():
    """Nothing that is loaded for judging a session is left out of its number."""
    code = (
        "import sys; from pathlib import Path; from livecheck.files.index import judge;"
        "import livecheck.measures.review.packed, livecheck.measures.review.table;"
        "judge(Path('/nowhere')); print(*(m.__file__ for n, m in sys.modules.items()"
        " if n.startswith('livecheck')))"
    )
    loaded = {Path(name) for name in python(code).stdout.split()}
    assert len(loaded) > 30
    assert loaded - keeping.closure() == set()


def test_a_changed_rule_counts_takes_anew(session, monkeypatch):
    """The list's figures and the review's are kept under one key."""
    judge(session)
    assert summary_of(session).takes == 3
    monkeypatch.setattr(keeping, "judgment", lambda: 7)
    assert summary_of(session).takes is None
    assert [info.takes for info in with_takes([summary_of(session)])] == [3]


@pytest.mark.parametrize("what", ["pipe", "device", "dangling", "link", "folder", "socket"])
def test_what_stands_in_the_place_of_the_index_is_never_waited_for(session, what, tmp_path):
    """Nor read, nor written through: it is no index, and the session is sound."""
    before = alone(session)
    (session / NAME).unlink()
    elsewhere = tmp_path / "elsewhere"
    stand_in(session / NAME, what, elsewhere)
    assert kept(session) is None
    assert alone(session) == before
    assert not elsewhere.exists() or elsewhere.read_bytes() == b"mine"


def test_a_folder_that_cannot_be_written_to_has_no_index(session, monkeypatch):
    """It is reviewed all the same."""
    before = alone(session)
    (session / NAME).unlink()

    def refused(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(keeping, "write_whole", refused)
    assert alone(session) == before
    assert [path.name for path in session.iterdir()] == ["journal-001.log"]


def test_a_disk_that_is_read_only_has_no_index(session, monkeypatch):
    """Such a disk refuses to write and to take away, even what is not there."""
    before = alone(session)
    (session / NAME).unlink()

    def refused(self, *_, **__):
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(os, "write", refused)
    monkeypatch.setattr(Path, "unlink", refused)
    assert alone(session) == before


def test_what_grew_while_it_was_judged_is_not_kept(session, monkeypatch):
    """The index would be that of a shorter journal."""
    (session / NAME).unlink()
    keys = iter([["before"], ["after"]])
    monkeypatch.setattr(keeping, "key_of", lambda folder: next(keys))
    assert judge(session) is not None
    assert not (session / NAME).exists()


def test_a_newer_programs_session_is_left_out(session, tmp_path):
    """The others are still reviewed."""
    newer = tmp_path / "2026-11-21T18-03-11"
    newer.mkdir()
    text = (
        (session / "journal-001.log")
        .read_bytes()
        .replace(b"livecheck-journal/1", b"livecheck-journal/9", 1)
    )
    from zlib import crc32

    first, rest = text.split(b"\n", 1)
    (newer / "journal-001.log").write_bytes(b"%08x" % crc32(first[9:]) + first[8:] + b"\n" + rest)
    assert [folder.name for folder, _ in judged_sessions([newer, session])] == [session.name]


def test_helpers_find_what_one_process_finds(recorded, tmp_path):
    """Judged by two interpreters of their own, in the order given, with the progress told."""
    folders = [Path(shutil.copytree(recorded, tmp_path / f"{number}")) for number in range(5)]
    for folder in folders:
        (folder / NAME).unlink()
    told = []
    found = list(judged_sessions(folders, lambda done, of: told.append((done, of)), helpers=2))
    assert [folder for folder, _ in found] == folders
    assert {replace(judged, info=None) for _, judged in found} == {
        replace(kept(recorded), info=None)
    }
    assert told == [(done, 5) for done in range(6)]
    assert all((folder / NAME).exists() for folder in folders)
