"""The local channel for commands to the recorder of a practice folder: mark, cells, variant, click,
status, stop.

One JSON object on one line each way over a Unix socket that only the user's own account can reach:
the folder is 0700, the socket 0600, and the peer's account is checked where the system tells it.
Every client is served by a thread of its own, in bounded time and with bounded bytes, so that a
silent or hostile one holds up nobody.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import logging
import os
import socket
import struct
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from .errors import BadInput, LivecheckError, NoDevice
from .files.lines import MAX_LINE, decode_json
from .files.own import own_folder

# a longer command or answer is refused: it would not fit into the journal either
LINE_BYTES = MAX_LINE
REQUEST_S = 1.0  # a client that has not said what it wants by then is sent away
ANSWER_S = 5.0
CLIENTS = 32  # served at once
QUEUED = 128  # others wait in the system's queue
PATH_BYTES = 103 if sys.platform == "darwin" else 107  # longest name of a Unix socket
STATE = ".livecheck"  # folder in the practice folder for what is not practice: lock, log, socket

STOPPING = "the recorder is stopping"  # the answer to whatever comes too late
log = logging.getLogger("livecheck.control")

Handler = Callable[[dict[str, Any]], Mapping[str, Any]]


def state_folder(home: Path) -> Path:
    """Where the recorder of a practice folder keeps its lock, log and, without a runtime folder,
    its socket."""
    return home / STATE


def socket_paths(home: Path) -> Iterator[Path]:
    """Where the socket may be, best first: the user's runtime folder, the practice folder, the
    temporary folder.

    The server takes the first that can be used; a client tries them all, since it may run in
    another environment.
    """
    key = hashlib.sha256(os.fsencode(home.resolve())).hexdigest()[:16]
    runtime = os.environ.get("XDG_RUNTIME_DIR")
    places = [Path(runtime) / "livecheck" / f"{key}.sock"] if runtime else []
    places.append(state_folder(home.resolve()) / "control.sock")
    places.append(Path(tempfile.gettempdir()) / f"livecheck-{os.getuid()}" / f"{key}.sock")
    return (path for path in places if len(os.fsencode(path)) <= PATH_BYTES)


class Client:
    """Speaks to the recorder of a practice folder."""

    def __init__(self, home: Path) -> None:
        self.home = home

    def ask(self, command: Mapping[str, Any], timeout_s: float = ANSWER_S) -> dict[str, Any]:
        """Send one command and return its answer.

        Raises NoDevice where nothing is recording in this folder, BadInput where the recorder
        refuses the command.
        """
        line = _line(command)
        with self._connect(timeout_s) as peer:
            try:
                peer.sendall(line)
                answer = _read_line(peer, time.monotonic() + timeout_s)
            except OSError as error:
                raise NoDevice(f"the recorder of {self.home} does not answer: {error}") from error
        if not answer:
            raise NoDevice(f"the recorder of {self.home} ended before it answered")
        fields = _parse(answer)
        if not fields.get("ok"):
            raise BadInput(str(fields.get("error", "the recorder refused the command")))
        return fields

    def is_there(self) -> bool:
        """Whether a recorder of this folder takes commands."""
        try:
            self._connect(ANSWER_S).close()
        except NoDevice:
            return False
        return True

    def _connect(self, timeout_s: float) -> socket.socket:
        for path in socket_paths(self.home):
            peer = _reach(path, timeout_s)
            if peer is None:
                continue
            if _own_account(peer):
                return peer
            peer.close()
        raise NoDevice(
            f"nothing is recording in {self.home}: start `livecheck listen CELL` or `livecheck "
            "daemon` there, "
            "or name the practice folder by --home"
        )


def _reach(path: Path, timeout_s: float) -> socket.socket | None:
    """A connection to the socket; None where nobody listens there."""
    until = time.monotonic() + timeout_s
    while True:
        peer = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        peer.settimeout(timeout_s)
        try:
            peer.connect(os.fspath(path))
            return peer
        except BlockingIOError:  # the queue of the server is full for the moment
            peer.close()
            if time.monotonic() > until:
                return None
            time.sleep(0.02)
        except OSError:
            peer.close()
            return None


class Server:
    """Answers commands; ``handle`` is called from a client's own thread and returns the answer's
    fields.

    A LivecheckError from ``handle`` is sent as an error, and so is anything else, which is logged:
    whatever a client says, the server goes on. Only one server may run for a practice
    folder: whoever makes one holds the folder's lock, so a socket that is there already is a dead
    one's.
    """

    def __init__(self, home: Path, handle: Handler) -> None:
        """Raises BadInput where no place for the socket can be used."""
        self._handle = handle
        self._socket, self.path = _bind(home)
        self._closed = False
        self._free = threading.BoundedSemaphore(CLIENTS)
        self._clients: set[threading.Thread] = set()
        threading.Thread(target=self._accept, name="control", daemon=True).start()

    def close(self) -> None:
        """Take no more commands. Those under way are answered."""
        self._closed = True
        with contextlib.suppress(OSError):
            self.path.unlink()
        with contextlib.suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)
        self._socket.close()
        until = time.monotonic() + REQUEST_S
        for client in list(self._clients):
            client.join(max(0.0, until - time.monotonic()))

    def _accept(self) -> None:
        while True:
            self._free.acquire()
            try:
                peer, _ = self._socket.accept()
            except OSError:
                self._free.release()
                if self._closed:
                    return
                time.sleep(0.1)  # too many open files and the like: it will be better later
                continue
            client = threading.Thread(
                target=self._serve, args=(peer,), name="control client", daemon=True
            )
            self._clients.add(client)
            client.start()

    def _serve(self, peer: socket.socket) -> None:
        try:
            with peer, contextlib.suppress(OSError):  # a client that goes away is no fault of ours
                if _own_account(peer):
                    peer.settimeout(REQUEST_S)
                    answer = self._answer(peer)
                    peer.settimeout(REQUEST_S)
                    peer.sendall(answer)
        finally:
            self._clients.discard(threading.current_thread())
            self._free.release()

    def _answer(self, peer: socket.socket) -> bytes:
        """Raises OSError where the client went away or said nothing in time."""
        try:
            line = _read_line(peer, time.monotonic() + REQUEST_S)
        except BadInput as error:
            return _line({"ok": False, "error": str(error)})
        try:
            return _line({"ok": True, **self._handle(_parse(line))})
        except LivecheckError as error:
            return _line({"ok": False, "error": str(error)})
        except Exception as error:
            log.exception("a command could not be carried out")
            return _line({"ok": False, "error": f"a fault of the recorder ({error!r:.200})"})


def _bind(home: Path) -> tuple[socket.socket, Path]:
    troubles = []
    for path in socket_paths(home):
        server = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            own_folder(path.parent, private=True)
            path.unlink(missing_ok=True)
            server.bind(os.fspath(path))
            os.chmod(path, 0o600)  # the folder is closed to others meanwhile
            server.listen(QUEUED)
            return server, path
        except OSError as error:
            server.close()
            troubles.append(f"{path}: {error.strerror or error}")
    raise BadInput(f"no place for the control socket: {'; '.join(troubles)}")


def _own_account(peer: socket.socket) -> bool:
    """True where the other end is this account's (or root's), or where the system does not tell."""
    option = getattr(socket, "SO_PEERCRED", None)
    if option is None:
        return True
    try:
        _pid, uid, _gid = struct.unpack("3i", peer.getsockopt(socket.SOL_SOCKET, option, 12))
    except OSError:
        return False
    return uid in (os.getuid(), 0)


def _read_line(peer: socket.socket, until: float) -> bytes:
    """One line, ended by a newline or by the other end's closing. Raises BadInput, or OSError when
    time is up."""
    data = bytearray()
    while data[-1:] != b"\n":
        left = until - time.monotonic()
        if left <= 0:
            raise TimeoutError("no answer in time")
        peer.settimeout(left)
        piece = peer.recv(1 << 16)
        if not piece:
            break
        data += piece
        if len(data) > LINE_BYTES:
            raise BadInput(f"a command may have {LINE_BYTES} bytes at most")
    return bytes(data)


def _parse(line: bytes) -> dict[str, Any]:
    try:
        fields = decode_json(line.decode("utf-8"))
    except (ValueError, RecursionError) as error:
        raise BadInput("the command is no JSON object on one line") from error
    if not isinstance(fields, dict):
        raise BadInput("the command is no JSON object on one line")
    return fields


def _line(fields: Mapping[str, Any]) -> bytes:
    line = json.dumps(fields).encode("ascii") + b"\n"
    if len(line) > LINE_BYTES:
        raise BadInput(f"a command may have {LINE_BYTES} bytes at most")
    return line
