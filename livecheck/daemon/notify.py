"""Tell the service manager how things stand (systemd's notify protocol); silent where there is
none."""

from __future__ import annotations

import contextlib
import os
import socket


class Notifier:
    """Sends states to the socket named in the environment."""

    def __init__(self) -> None:
        address = os.environ.get("NOTIFY_SOCKET", "")
        self._address = "\0" + address[1:] if address.startswith("@") else address
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) if address else None
        if self._socket is not None:
            self._socket.setblocking(False)  # the service manager must never hold up the recording

    def send(self, *states: str) -> None:
        """Send states such as ``READY=1``; trouble is passed over."""
        if self._socket is not None:
            with contextlib.suppress(OSError):
                self._socket.sendto("\n".join(states).encode("utf-8", "replace"), self._address)

    def ready(self, status: str) -> None:
        self.send("READY=1", f"STATUS={status}")

    def alive(self) -> None:
        self.send("WATCHDOG=1")

    def stopping(self) -> None:
        self.send("STOPPING=1")
