"""What hands and feet ask for: gestures on the guitar, switches of a pedal at the guitar's port or
at one of its own.

Pure: messages and time come in, actions (``core/actions.py``) come out as soon as they are sure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .cell import Cell
from .events import Foot, FootLink, Link, Midi, Record
from .gestures import Gesture, Gestures
from .pedal import Pedal, Presses
from .rig import Rig

Mapped = tuple[Pedal, bool, str]
"""A switch, whether it is pressed twice, and what that asks for."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which hands and feet are listened to. gestures: none where the guitar asks for nothing."""

    gestures: tuple[Gesture, ...] = ()
    pedals: tuple[Mapped, ...] = ()


class Hands:
    """Feed it every record, and the time."""

    def __init__(self, wanted: Wanted, cell: Cell | None, rig: Rig) -> None:
        """Raises BadInput for an action that is none."""
        self._wanted = wanted
        self._gestures = Gestures(cell, rig, wanted.gestures)
        self._guitar = presses_of(wanted.pedals)
        self._foot = presses_of(wanted.pedals)

    def use(self, cell: Cell | None, rig: Rig) -> None:
        """Another cell is played now: its tuning and capo say where the gestures are."""
        self._gestures = Gestures(cell, rig, self._wanted.gestures)

    def hear(self, record: Record) -> list[str]:
        """One record. Returns the actions that are sure now."""
        if isinstance(record, Midi):
            told = self._gestures.message(record.t_s, record.data)
            return told + self._guitar.message(record.t_s, record.data)
        if isinstance(record, Foot):
            return self._foot.message(record.t_s, record.data)
        if isinstance(record, Link) and not record.up:
            self._guitar.lost()
        elif isinstance(record, FootLink) and not record.up:
            self._foot.lost()
        return []

    def tick(self, now_s: float) -> list[str]:
        """Time passed."""
        told = self._gestures.tick(now_s)
        return told + self._guitar.tick(now_s) + self._foot.tick(now_s)


def presses_of(pedals: Sequence[Mapped]) -> Presses:
    """Switches as they are mapped."""
    single = {pedal: action for pedal, twice, action in pedals if not twice}
    return Presses(single, {pedal: action for pedal, twice, action in pedals if twice})


def written(mapped: Mapped) -> str:
    """A switch as it is written: ``2x control 64``."""
    pedal, twice, _ = mapped
    return f"2x {pedal.text()}" if twice else pedal.text()
