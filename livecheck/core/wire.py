"""Whole MIDI messages out of a run of bytes.

Drivers hand over whole messages, and those never come here. What is damaged, joined or cut does:
running status, real-time bytes inside another message, data bytes without a status. Nothing raises;
what cannot be read is counted.
Rules: MIDI 1.0 detailed specification 4.2.1, p. A-1 to A-3 (sources.md M-07 to M-11).
"""

from __future__ import annotations

CENTRE = 8192
"""A pitch wheel at rest, of 14 bits."""

_DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}
_COMMON_DATA_BYTES = {0xF1: 1, 0xF2: 2, 0xF3: 1, 0xF6: 0}


class Wire:
    """Keeps running status between runs of bytes."""

    def __init__(self) -> None:
        self.ignored = 0  # bytes that belong to no message
        self._status = 0
        self._wanted = 0
        self._data: list[int] = []
        self._in_sysex = False

    def feed(self, data: bytes) -> list[bytes]:
        """Channel messages that are whole now, in order. System messages are passed over."""
        messages: list[bytes] = []
        for byte in data:
            if byte >= 0xF8:  # real time: may come anywhere and disturbs nothing
                continue
            if byte >= 0x80:
                self._begin(byte)
            elif self._in_sysex:
                continue
            elif not self._status:
                self.ignored += 1
            else:
                self._data.append(byte)
                if len(self._data) == self._wanted:
                    if self._status < 0xF0:
                        messages.append(bytes((self._status, *self._data)))
                    else:
                        self._status = 0
                    self._data = []
        return messages

    def _begin(self, status: int) -> None:
        self.ignored += len(self._data)  # a message that was cut short
        self._data = []
        self._in_sysex = status == 0xF0
        if status < 0xF0:
            self._status, self._wanted = status, _DATA_BYTES[status & 0xF0]
        else:  # system common clears running status
            self._wanted = _COMMON_DATA_BYTES.get(status, 0)
            self._status = status if self._wanted else 0
