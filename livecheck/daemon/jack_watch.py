"""Know whether a JACK server is there, hear at once when it dies, and see whether a port is still
connected.

A dead server leaves the MIDI binding with an open port that stays silent for ever and an instance
whose closing crashes. So a client of our own, which takes no part in the audio graph, waits for the
server's goodbye. It goes straight to the system's library, whose symbols then also serve the MIDI
binding: the copy inside its wheel may speak the protocol of another server version.
"""

from __future__ import annotations

import ctypes
import itertools
import re
import sys
from collections.abc import Callable
from typing import Any

_NO_START_SERVER = 1  # JackNoStartServer in jack/types.h
_LIBRARIES = ("libjack.0.dylib",) if sys.platform == "darwin" else ("libjack.so.0",)
_NAMES = ctypes.POINTER(ctypes.c_char_p)
_ON_SHUTDOWN = ctypes.CFUNCTYPE(None, ctypes.c_void_p)


def load(name: str) -> ctypes.CDLL | None:
    """A system library, its symbols open to libraries loaded later; None where there is none."""
    try:
        return ctypes.CDLL(name, mode=ctypes.RTLD_GLOBAL)
    except OSError:
        return None


def library() -> ctypes.CDLL | None:
    """The system's JACK library; None where there is none (then the binding's own copy is used,
    unwatched)."""
    for name in _LIBRARIES:
        found = load(name)
        if found is not None:
            found.jack_client_open.restype = ctypes.c_void_p
            found.jack_client_open.argtypes = [ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p]
            found.jack_on_shutdown.argtypes = [ctypes.c_void_p, _ON_SHUTDOWN, ctypes.c_void_p]
            found.jack_get_ports.restype = _NAMES
            found.jack_get_ports.argtypes = [
                ctypes.c_void_p,
                ctypes.c_char_p,
                ctypes.c_char_p,
                ctypes.c_ulong,
            ]
            found.jack_port_by_name.restype = ctypes.c_void_p
            found.jack_port_by_name.argtypes = [ctypes.c_void_p, ctypes.c_char_p]
            found.jack_port_get_all_connections.restype = _NAMES
            found.jack_port_get_all_connections.argtypes = [ctypes.c_void_p, ctypes.c_void_p]
            found.jack_free.argtypes = [ctypes.c_void_p]
            return found
    return None


class JackWatch:
    """A silent client of the server.

    ``on_shutdown`` is called from a thread of the library when the server goes, however it dies.
    """

    def __init__(self, jack: ctypes.CDLL, on_shutdown: Callable[[], None]) -> None:
        self._jack = jack
        # kept: the library calls it later
        self._callback = _ON_SHUTDOWN(lambda _argument: on_shutdown())
        self._client: int | None = None

    def connect(self) -> bool:
        """True where a server answers. One is never started."""
        if self._client is None:
            self._client = self._jack.jack_client_open(b"livecheck-watch", _NO_START_SERVER, None)
            if self._client:
                self._jack.jack_on_shutdown(self._client, self._callback, None)
        return bool(self._client)

    def ports(self, beginning: str) -> set[str]:
        """The ports whose names begin like this."""
        pattern = f"^{re.escape(beginning)}".encode()
        return (
            self._taken(self._jack.jack_get_ports(self._client, pattern, None, 0))
            if self._client
            else set()
        )

    def is_connected(self, port: str) -> bool:
        """Whether a port is there and connected to any other. One that was replaced by another of
        its name is not."""
        found = self._jack.jack_port_by_name(self._client, port.encode())
        return bool(
            found and self._taken(self._jack.jack_port_get_all_connections(self._client, found))
        )

    def _taken(self, names: Any) -> set[str]:
        """The names in a list of the library's, which is given back."""
        if not names:
            return set()
        try:
            return {name.decode("utf-8", "replace") for name in itertools.takewhile(bool, names)}
        finally:
            self._jack.jack_free(names)
