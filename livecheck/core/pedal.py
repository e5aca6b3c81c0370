"""What the player asks for with a foot: control or program changes mapped to actions.

A press is a control change that goes from below the middle to above it, or any program change.
Where a pedal has an action for a double press, a single one is told as soon as a second can no
longer come. Pure: messages and time come in, actions come out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..errors import BadInput
from .actions import ACTIONS

DOUBLE_S = 0.4
MIDDLE = 64
CONTROL, PROGRAM = "control", "program"


@dataclass(frozen=True, slots=True)
class Pedal:
    """One switch: the kind of its message, its number, its channel from 1 (None: any)."""

    kind: str
    number: int
    channel: int | None = None

    def text(self) -> str:
        """As it stands in a settings file: ``control 64``, ``program 3 channel 16``."""
        where = "" if self.channel is None else f" channel {self.channel}"
        return f"{self.kind} {self.number}{where}"


def pedal_from(text: str) -> Pedal:
    """A switch as it is written. Raises BadInput.

    >>> pedal_from("control 64"), pedal_from("program 3 channel 16").channel
    (Pedal(kind='control', number=64, channel=None), 16)
    """
    words = text.split()
    numbers = [word for word in words[1:] if word.isascii() and word.isdigit()]
    whole = len(words) == 2 or (len(words) == 4 and words[2] == "channel")
    if not whole or words[0] not in (CONTROL, PROGRAM) or len(numbers) != len(words) // 2:
        raise BadInput(f"{text!r} is no pedal; write control 64, or program 3 channel 16")
    number, channel = int(numbers[0]), int(numbers[1]) if len(numbers) > 1 else None
    if number > 127 or (channel is not None and not 1 <= channel <= 16):
        raise BadInput(f"{text!r}: a number is 0 to 127, a channel 1 to 16")
    return Pedal(words[0], number, channel)


def switch_from(text: str) -> tuple[Pedal, bool]:
    """A switch, and whether it is pressed twice. Raises BadInput.

    >>> switch_from("2x control 64")[1]
    True
    """
    text = " ".join(text.split())
    twice = text.startswith("2x ")
    return pedal_from(text.removeprefix("2x ")), twice


def pressed(data: bytes) -> Pedal | None:
    """The switch that a message means pressed; None for other messages and for letting go."""
    if len(data) == 3 and data[0] & 0xF0 == 0xB0 and data[2] >= MIDDLE and data[1] < 120:
        return Pedal(CONTROL, data[1], (data[0] & 0x0F) + 1)
    if len(data) == 2 and data[0] & 0xF0 == 0xC0:
        return Pedal(PROGRAM, data[1], (data[0] & 0x0F) + 1)
    return None


class Presses:
    """Presses of mapped switches: ``single`` and ``double`` give the action of each."""

    def __init__(
        self, single: Mapping[Pedal, str], double: Mapping[Pedal, str] | None = None
    ) -> None:
        for action in (*single.values(), *(double or {}).values()):
            if action not in ACTIONS:
                raise BadInput(f"{action!r} is no action; there is: {', '.join(ACTIONS)}")
        self._single, self._double = dict(single), dict(double or {})
        self._down: set[tuple[int, int]] = set()  # controls that are held
        self._waiting: tuple[Pedal, float] | None = None

    def message(self, t_s: float, data: bytes) -> list[str]:
        """One MIDI message. Returns the actions that are sure now."""
        told = self.tick(t_s)
        pedal = self._press(data)
        if pedal is None:
            return told
        if self._waiting is not None and self._waiting[0] == pedal:
            self._waiting = None
            return [*told, self._double[pedal]]
        if self._waiting is not None:
            told += self._settle()
        if pedal in self._double:
            self._waiting = (pedal, t_s)
        elif pedal in self._single:
            told.append(self._single[pedal])
        return told

    def tick(self, now_s: float) -> list[str]:
        """Time passed."""
        if self._waiting is None or now_s - self._waiting[1] <= DOUBLE_S:
            return []
        return self._settle()

    def lost(self) -> None:
        """The port is gone: whatever was held is not held any more."""
        self._down.clear()

    def _settle(self) -> list[str]:
        assert self._waiting is not None
        action = self._single.get(self._waiting[0])
        self._waiting = None
        return [action] if action is not None else []

    def _press(self, data: bytes) -> Pedal | None:
        """The mapped switch that a message presses: of any channel where none is named."""
        if len(data) == 3 and data[0] & 0xF0 == 0xB0:
            key = data[0] & 0x0F, data[1]
            held = key in self._down
            if data[2] < MIDDLE:
                self._down.discard(key)
            else:
                self._down.add(key)
            if held:
                return None
        found = pressed(data)
        if found is None:
            return None
        known = {**self._single, **self._double}
        anywhere = Pedal(found.kind, found.number)
        return found if found in known else anywhere if anywhere in known else None
