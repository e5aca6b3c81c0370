"""What a new session must know of the stream before it.

A converter says its bend range once, when it is switched on, and a string's pitch bend only when it
changes. A session that begins later repeats both at its start, else its notes would be judged at
the wrong pitch.
"""

from __future__ import annotations

from collections import deque

SETTINGS = frozenset((6, 38, 98, 99, 100, 101))  # data entry and the parameter numbers it is for
KEPT = 256  # messages; a converter's settings are some 10 a channel


class Carry:
    """The settings and bends in force, as the messages that made them."""

    def __init__(self) -> None:
        self._settings: deque[bytes] = deque(maxlen=KEPT)
        self._bends: dict[int, bytes] = {}

    def note(self, data: bytes) -> None:
        """Take one message of the stream."""
        if len(data) != 3:
            return
        kind = data[0] & 0xF0
        if kind == 0xE0:
            self._bends[data[0]] = data
        elif kind == 0xB0 and data[1] in SETTINGS:
            self._settings.append(data)

    def messages(self) -> list[bytes]:
        """What to repeat, in an order that has the same effect."""
        return [*self._settings, *self._bends.values()]

    def clear(self) -> None:
        """The port was lost: the converter may come back with other settings."""
        self._settings.clear()
        self._bends.clear()
