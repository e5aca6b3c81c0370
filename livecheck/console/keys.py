"""Single keys from the terminal without the return key; the terminal's settings are put back
whatever happens."""

from __future__ import annotations

import contextlib
import os
import select
import sys
import time
from types import TracebackType
from typing import Any, TextIO

try:
    import termios
    import tty
except ImportError:  # not a POSIX system: no single keys there, Ctrl-C still stops
    termios = None  # type: ignore[assignment]

ACTIONS = {
    "u": "up",
    "d": "down",
    "a": "again",
    "p": "pause",
    "m": "mark",
    "c": "next-cell",
    "C": "previous-cell",
    "w": "next-variant",
    "W": "previous-variant",
    "f": "far",
    "q": "stop",
    "\x03": "stop",
}
"""What each key asks for; a capital is its own key only where it stands here."""


def asked_by(key: str) -> str | None:
    """The action of a key, None for others."""
    return ACTIONS.get(key) or ACTIONS.get(key.lower())


class Keys:
    """``with Keys() as keys: keys.wait(0.02)`` gives the keys pressed within that time.

    Where standard input is no terminal it only waits. Suspending (Ctrl-Z) is off meanwhile: it
    would leave a half-drawn screen behind and stop the display of a session that goes on.
    """

    def __init__(self, source: TextIO | None = None) -> None:
        self._source = sys.stdin if source is None else source
        self._fd: int | None = None
        self._before: list[Any] | None = None

    def __enter__(self) -> Keys:
        if termios is None:
            return self
        with contextlib.suppress(OSError, ValueError, termios.error):  # then without keys
            if self._source is None or not self._source.isatty():
                return self
            fd = self._source.fileno()
            if _in_background(fd):  # touching the terminal would stop us
                return self
            self._before = termios.tcgetattr(fd)
            tty.setcbreak(fd)
            attributes = termios.tcgetattr(fd)
            attributes[6][termios.VSUSP] = b"\0"
            termios.tcsetattr(fd, termios.TCSADRAIN, attributes)
            self._fd = fd
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._before is None or termios is None:
            return
        with contextlib.suppress(OSError, ValueError, termios.error):  # the terminal may be gone
            termios.tcsetattr(self._source.fileno(), termios.TCSADRAIN, self._before)

    def wait(self, seconds: float) -> str:
        """Wait for a key, at most so long. Returns the keys pressed, often none."""
        if self._fd is None:
            time.sleep(seconds)
            return ""
        try:
            ready, _, _ = select.select([self._fd], [], [], seconds)
            if not ready:
                return ""
            read = os.read(self._fd, 64)
        except OSError:
            read = b""
        if not read:  # the terminal hung up
            self._fd = None
        return read.decode("ascii", "ignore")


def _in_background(fd: int) -> bool:
    """Whether the terminal is ours and another job of it is in front."""
    try:
        return os.tcgetpgrp(fd) != os.getpgrp()
    except OSError:  # it is not the terminal that controls this process
        return False
