"""What the program writes: only into files of its own, whole or not at all, never through a
link."""

from __future__ import annotations

import os
import stat

import pytest
from damage import STAND_INS, stand_in

from livecheck.control import state_folder
from livecheck.daemon.lock import Lock
from livecheck.daemon.logfile import LogFile
from livecheck.errors import BadInput
from livecheck.files.atomic import together, write_whole
from livecheck.files.own import open_own

FLAGS = os.O_WRONLY | os.O_CREAT | os.O_APPEND


@pytest.mark.parametrize("what", STAND_INS)
def test_nothing_else_is_opened_as_a_file_of_our_own(tmp_path, what):
    """Nor waited for; what a link leads to keeps its bytes."""
    elsewhere = tmp_path / "elsewhere"
    (tmp_path / "state").mkdir()
    stand_in(tmp_path / "state/log", what, elsewhere)
    with pytest.raises(OSError):
        os.write(open_own(tmp_path / "state/log", FLAGS), b"mine now")
    assert not elsewhere.exists() or elsewhere.read_bytes() == b"mine"


def test_a_file_with_a_second_name_is_not_ours(tmp_path):
    """A hard link would be written through."""
    (tmp_path / "other").write_bytes(b"other")
    os.link(tmp_path / "other", tmp_path / "log")
    with pytest.raises(OSError, match="has a second name"):
        open_own(tmp_path / "log", FLAGS)


@pytest.mark.skipif(os.getuid() != 0, reason="makes files of another account")
def test_a_file_or_folder_of_another_account_is_not_ours(tmp_path):
    """As in the temporary folder."""
    (tmp_path / "log").write_bytes(b"")
    os.chown(tmp_path / "log", 54321, 54321)
    with pytest.raises(OSError, match="not this account's own file"):
        open_own(tmp_path / "log", FLAGS)
    (tmp_path / "theirs").mkdir()
    os.chown(tmp_path / "theirs", 54321, 54321)
    with pytest.raises(OSError, match="not this account's own folder"):
        open_own(tmp_path / "theirs/log", FLAGS)


@pytest.mark.parametrize("what", ["dangling", "link"])
@pytest.mark.parametrize("name", ["lock", "recorder.log", ".livecheck"])
def test_links_in_the_state_folder_are_refused_in_a_line(tmp_path, name, what):
    """Lock, log, and the folder itself."""
    elsewhere = tmp_path / "elsewhere"
    place = state_folder(tmp_path) if name == ".livecheck" else state_folder(tmp_path) / name
    place.parent.mkdir(exist_ok=True)
    stand_in(place, what, elsewhere)
    if name == "recorder.log":
        with pytest.raises(OSError):
            LogFile(place)
    else:
        with pytest.raises(BadInput, match="lock: cannot be made: "):
            Lock(tmp_path)
    assert not elsewhere.exists() or elsewhere.read_bytes() == b"mine"


@pytest.mark.parametrize("what", ["pipe", "dangling", "link", "socket"])
def test_a_file_takes_the_place_of_whatever_stood_there(tmp_path, what):
    """A link itself, and not what it leads to; nothing stays beside it."""
    elsewhere = tmp_path / "elsewhere"
    (tmp_path / "in").mkdir()
    stand_in(tmp_path / "in/file", what, elsewhere)
    write_whole(tmp_path / "in/file", b"new")
    found = os.lstat(tmp_path / "in/file")
    assert stat.S_ISREG(found.st_mode) and stat.S_IMODE(found.st_mode) == 0o600
    assert [path.name for path in (tmp_path / "in").iterdir()] == ["file"]
    assert not elsewhere.exists() or elsewhere.read_bytes() == b"mine"


@pytest.mark.parametrize("call", ["open", "write", "fsync", "replace"])
@pytest.mark.parametrize("nth", [1, 2, 3])
def test_several_files_appear_together_or_not_at_all(tmp_path, monkeypatch, call, nth):
    """Whatever fails, and when: nothing is left behind under another name; before the names are
    given all are as they were."""
    (tmp_path / "b").write_bytes(b"old")
    real, seen = getattr(os, call), []

    def failing(*given, **named):
        seen.append(given)
        if len(seen) == nth:
            raise OSError(28, "No space left on device")
        return real(*given, **named)

    monkeypatch.setattr(os, call, failing)
    with pytest.raises(OSError), together() as put:
        for name in "abc":
            put(tmp_path / name, name.encode())
    monkeypatch.undo()
    left = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    if call != "replace":
        assert left == {"b": b"old"}
    assert set(left) <= {"a", "b", "c"} and left["b"] in (b"old", b"b")


def test_a_short_write_is_gone_on_with(tmp_path, monkeypatch):
    """The system may take less than it was given."""
    real = os.write
    monkeypatch.setattr(os, "write", lambda fd, data: real(fd, bytes(data)[:3]))
    write_whole(tmp_path / "file", b"0123456789")
    assert (tmp_path / "file").read_bytes() == b"0123456789"


def test_the_umask_and_the_mode_before_decide_for_a_players_own_file(tmp_path):
    """Else it is for this account alone."""
    before = os.umask(0o022)
    try:
        write_whole(tmp_path / "new", b"", mode=None)
        (tmp_path / "old").write_bytes(b"")
        (tmp_path / "old").chmod(0o640)
        write_whole(tmp_path / "old", b"x", mode=None)
    finally:
        os.umask(before)
    modes = [stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("new", "old")]
    assert modes == [0o644, 0o640]
