"""A tiny player for cases written by hand: notes in, the score object out.

``Hand`` plays a cell step by step on a steady tempo; whatever the case is about is said by its
arguments or by notes added at a time of one's own. Times are arrival times; the default rig takes
off no delay.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Midi
from livecheck.core.rig import Rig
from livecheck.files.report import score
from livecheck.session import Session

SIX = make_cell("six", [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 9)], quiet=[4])
"""Pitches 72 69, 67 65, 57 54 on strings 2, 3, 5; string 4 is passed over and quiet; 1 and 6 are
unused."""


class Hand:
    """Plays one cell; ``at`` is when the next grid step is due."""

    def __init__(
        self, cell: Cell = SIX, notes_per_s: float = 8.0, rig: Rig | None = None, at: float = 1.0
    ) -> None:
        self.cell, self.step, self.rig, self.at = cell, 1.0 / notes_per_s, rig or Rig(), at
        self.messages: list[tuple[float, int, bytes]] = []

    def channel(self, string: int) -> int:
        return self.rig.channels[string - 1] - 1

    def note(
        self,
        t: float,
        string: int,
        pitch: int,
        velocity: int = 80,
        length: float = 0.08,
        off: bool = True,
    ) -> Hand:
        """One note-on and, unless the converter forgets it, its note-off."""
        channel = self.channel(string)
        self.messages.append((t, 1, bytes((0x90 | channel, pitch, velocity))))
        if off:
            self.messages.append((t + length, 0, bytes((0x80 | channel, pitch, 64))))
        return self

    def bend(self, t: float, string: int, semitones: float) -> Hand:
        value = min(16383, max(0, round(8192 + semitones / self.rig.bend_range * 8192)))
        self.messages.append((t, 1, bytes((0xE0 | self.channel(string), value & 127, value >> 7))))
        return self

    def raw(self, t: float, *data: int) -> Hand:
        self.messages.append((t, 1, bytes(data)))
        return self

    def reps(
        self,
        count: int = 1,
        *,
        missing: Collection[int] = (),
        instead: Mapping[int, tuple[int, int]] | None = None,
        velocity: Mapping[int, int] | None = None,
        late: Mapping[int, float] | None = None,
        first: int = 1,
        last: int | None = None,
    ) -> Hand:
        """Whole repetitions on time. ``instead``: another (string, pitch) in a slot's place;
        ``first`` and ``last``: the slots between which it is played, after ``last`` the next step
        is due."""
        for _ in range(count):
            slots = [
                slot
                for slot in self.cell.slots
                if first <= slot.number <= (last or len(self.cell.slots))
            ]
            begin = self.at - slots[0].start * self.step
            for slot in slots:
                if slot.number in missing:
                    continue
                string, pitch = (instead or {}).get(slot.number, (slot.string, slot.pitch))
                t = begin + slot.start * self.step + (late or {}).get(slot.number, 0.0)
                length = min(0.9 * self.step * slot.length, 2.0)
                self.note(t, string, pitch, (velocity or {}).get(slot.number, 80), length)
            end = slots[-1].start + slots[-1].length if last else self.cell.steps
            self.at = begin + end * self.step
        return self

    def wait(self, seconds: float) -> Hand:
        self.at += seconds
        return self

    def records(self) -> list[Midi]:
        return [Midi(t, data) for t, _, data in sorted(self.messages, key=lambda one: one[:2])]

    def score(self) -> dict[str, Any]:
        session = Session(self.cell, self.rig)
        return score(self.cell, session.feed_all(self.records()), session.counts)


def verdicts(rep: Mapping[str, Any]) -> str:
    """``hit hit missed``: one word a slot."""
    return " ".join(slot["verdict"] for slot in rep["slots"])


def extras(of: Sequence[Mapping[str, Any]]) -> list[tuple[int, int, str]]:
    """(string, note, kind) of each extra."""
    return [(one["string"], one["note"], one["kind"]) for one in of]


HITS = "hit hit hit hit hit hit"
