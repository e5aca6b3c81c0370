"""The control channel: only one's own account reaches it, and no client holds up another."""

from __future__ import annotations

import contextlib
import json
import os
import select
import socket
import stat
import struct
import threading
import time

import pytest

from livecheck import control
from livecheck.control import LINE_BYTES, Client, Server, socket_paths
from livecheck.errors import BadInput, NoDevice


@pytest.fixture(autouse=True)
def runtime(short_path, monkeypatch):
    """A runtime folder of the test's own."""
    folder = short_path / "run"
    folder.mkdir()
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
    return folder


@pytest.fixture
def home(short_path):
    folder = short_path / "home"
    folder.mkdir()
    return folder


@pytest.fixture
def server(home):
    def handle(fields):
        if fields.get("command") == "refuse":
            raise BadInput("not now")
        return {"heard": fields}

    server = Server(home, handle)
    yield server
    server.close()


def raw(server):
    peer = socket.socket(socket.AF_UNIX)
    peer.settimeout(5)
    peer.connect(str(server.path))
    return peer


def test_a_command_is_answered(server, home):
    """One JSON line each way."""
    assert Client(home).ask({"command": "mark", "text": "ä"}) == {
        "ok": True,
        "heard": {"command": "mark", "text": "ä"},
    }


def test_a_refusal_is_told_in_its_own_words(server, home):
    """The recorder's line reaches the player."""
    with pytest.raises(BadInput, match=r"^not now$"):
        Client(home).ask({"command": "refuse"})


def test_where_nothing_records_the_remedy_is_said(home):
    """Exit status 3, and what to start."""
    with pytest.raises(
        NoDevice, match=r"nothing is recording in .*home: start `livecheck listen CELL`"
    ):
        Client(home).ask({"command": "status"})


def test_only_the_own_account_can_reach_the_socket(server):
    """The folder is closed, and so is the socket."""
    assert stat.S_IMODE(os.stat(server.path).st_mode) == 0o600
    assert stat.S_IMODE(os.stat(server.path.parent).st_mode) == 0o700


def test_a_peer_of_another_account_is_sent_away(server, monkeypatch):
    """The system says who is at the other end; the answer is not trusted to file modes alone."""
    monkeypatch.setattr(control.os, "getuid", lambda: 4242)
    monkeypatch.setattr(
        control.struct, "unpack", lambda form, data: (struct.calcsize(form), 1717, 0)
    )
    with raw(server) as peer:
        with contextlib.suppress(BrokenPipeError):  # it may have been sent away before
            peer.sendall(b'{"command": "status"}\n')
        assert _until_closed(peer) == b""


def test_an_open_folder_is_closed_and_a_foreign_one_is_not_used(home, runtime):
    """Somebody may have made the folder before; a link in its place is never followed."""
    (runtime / "livecheck").mkdir(mode=0o777)
    server = Server(home, dict)
    assert stat.S_IMODE(os.stat(runtime / "livecheck").st_mode) == 0o700
    server.close()
    (runtime / "livecheck").rmdir()
    (runtime / "livecheck").symlink_to(home)
    server = Server(home, dict)
    assert server.path == home / ".livecheck" / "control.sock"
    server.close()


def test_a_client_in_another_environment_finds_the_server(server, home, monkeypatch):
    """A recorder under a service manager and a shell need not share their runtime folder."""
    server.close()
    monkeypatch.delenv("XDG_RUNTIME_DIR")
    other = Server(home, dict)
    monkeypatch.setenv("XDG_RUNTIME_DIR", "/nowhere/at/all")
    assert Client(home).ask({"a": 1}) == {"ok": True, "a": 1}
    other.close()


def test_a_path_that_is_too_long_for_a_socket_is_passed_over(tmp_path, monkeypatch):
    """Practice folders may lie deep; Unix sockets may not."""
    deep = tmp_path / ("d" * 100) / "e"
    deep.mkdir(parents=True)
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(deep))
    assert all(len(os.fsencode(path)) <= control.PATH_BYTES for path in socket_paths(deep))
    server = Server(deep, dict)
    assert Client(deep).ask({"a": 1})["a"] == 1
    server.close()


def test_a_dead_server_s_socket_is_replaced(home):
    """A killed recorder leaves its socket behind; whoever makes a server holds the folder's
    lock."""
    path = next(socket_paths(home))
    path.parent.mkdir(mode=0o700)
    dead = socket.socket(socket.AF_UNIX)
    dead.bind(str(path))
    dead.close()
    with pytest.raises(NoDevice):
        Client(home).ask({})
    server = Server(home, dict)
    assert Client(home).ask({"a": 1})["a"] == 1
    server.close()


@pytest.mark.parametrize(
    "data",
    [b"garbage\n", b"[1, 2]\n", b"\xff\xfe\n", b"[" * 30000 + b"\n", b"3\n", b"\n", b"NaN\n"],
)
def test_nonsense_is_refused_in_one_line(server, home, data):
    """And the server lives on."""
    with raw(server) as peer:
        peer.sendall(data)
        answer = json.loads(peer.makefile().readline())
    assert answer["ok"] is False and "JSON" in answer["error"]
    assert Client(home).ask({"a": 1})["ok"]


def test_a_command_without_end_is_refused(server, home):
    """64 KiB are read, no more."""
    with raw(server) as peer:
        try:
            peer.sendall(b"x" * (LINE_BYTES + 5000))
            answer = peer.recv(1000)
        except OSError:
            answer = b"gone"
    assert b"at most" in answer or answer in (b"gone", b"")
    with pytest.raises(BadInput, match="at most"):
        Client(home).ask({"text": "x" * LINE_BYTES})
    assert Client(home).ask({"a": 1})["ok"]


def test_silent_clients_hold_up_nobody_and_are_sent_away(server, home, monkeypatch):
    """Half as many silent clients as are served at once: a command is answered while they are still
    there. A byte now and then buys no more time."""
    monkeypatch.setattr(control, "REQUEST_S", 2.0)
    silent = [raw(server) for _ in range(16)]
    slow = raw(server)
    assert Client(home).ask({"a": 1})["ok"]
    assert select.select(silent, [], [], 0)[0] == [], "the command waited for the silent ones"
    begun = time.monotonic()
    with contextlib.suppress(BrokenPipeError, ConnectionResetError):
        while time.monotonic() - begun < 5 * control.REQUEST_S:
            slow.sendall(b"{")
            time.sleep(0.1)
        pytest.fail("a client that says a byte now and then is never sent away")
    for peer in [*silent, slow]:
        assert _until_closed(peer) == b""


def _until_closed(peer):
    with peer:
        try:
            return peer.recv(100)
        except ConnectionResetError:
            return b""


def test_a_crowd_of_silent_clients_only_delays(server, home):
    """More than are served at once: the next ones wait until the silent ones' second is over."""
    silent = [raw(server) for _ in range(60)]
    assert Client(home).ask({"a": 1}, timeout_s=10)["ok"]
    for peer in silent:
        peer.close()


def test_many_clients_at_once_all_get_their_own_answer(server, home):
    """Answers are never mixed up."""
    got = []

    def ask(number):
        got.append(Client(home).ask({"number": number})["heard"]["number"] == number)

    threads = [threading.Thread(target=ask, args=(number,)) for number in range(40)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert got == [True] * 40
