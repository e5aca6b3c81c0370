"""What the player asks for with the guitar itself: simple figures that no practice holds.

After at least a second of silence one place of the neck is picked evenly, two times or more, and
the last one rings for a second; which place and how often says what is asked for (``USUAL``: the
lowest string open twice, three times, four times for the same again, faster, slower; a high fret
twice for a mark). Anything else played in between makes it no gesture. ``Gestures`` tells what is
asked for, ``Sieve`` keeps the notes of it out of what is judged. Pure: notes and time come in,
actions come out as soon as they are sure.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from .actions import ACTIONS
from .cell import Cell
from .events import Midi
from .rig import Rig
from .tunings import usual_tuning

SILENCE_S = 1.0  # before the first pick
HELD_S = 0.8  # that the last one rings, at least; the player means a second
SPACING_S = (0.18, 0.85)  # from one pick to the next
EVEN = 1.5  # the widest spacing over the narrowest
DOUBLE_S = 0.08  # the same string again within this is the converter's doing (C-14)
SOFT = 0.5  # a sound of another string softer than this share of the pick is no note
MOST_PICKS, MOST_FRET, MOST_GESTURES = 6, 24, 32


@dataclass(frozen=True, slots=True)
class Gesture:
    """A place of the neck, how often it is picked, and what that asks for. string: from 1; None:
    the lowest one that there is, where no other gesture names it by number. fret: from the capo."""

    string: int | None
    fret: int
    picks: int
    action: str

    def __post_init__(self) -> None:
        low = 1 if self.string is None else self.string
        if not (low >= 1 and 0 <= self.fret <= MOST_FRET and 2 <= self.picks <= MOST_PICKS):
            raise ValueError(f"no gesture: {self}")
        if self.action not in ACTIONS:
            raise ValueError(f"no action: {self.action}")


USUAL = (
    Gesture(None, 0, 2, "again"),
    Gesture(None, 0, 3, "up"),
    Gesture(None, 0, 4, "down"),
    Gesture(1, 19, 2, "mark"),
)


class Gestures:
    """Feed it every message of the guitar, and the time: ``message``, ``tick``."""

    def __init__(self, cell: Cell | None, rig: Rig, known: Sequence[Gesture] = USUAL) -> None:
        tuning = cell.tuning if cell is not None else rig.tuning or usual_tuning(len(rig.channels))
        capo = cell.capo if cell is not None else 0
        strings = min(len(rig.channels), len(tuning))
        self._string = {channel - 1: at for at, channel in enumerate(rig.channels, 1)}
        self._asks: dict[tuple[int, int] | None, dict[int, str]] = {}
        for one in sorted(known, key=lambda one: one.string is not None):  # a number goes before
            string = strings if one.string is None else one.string
            if string <= strings:
                place = string, tuning[string - 1] + capo + one.fret
                self._asks.setdefault(place, {})[one.picks] = one.action
        self._most = max((one.picks for one in known), default=0)
        self._heard_s: float | None = None  # the last note, whatever it was
        self._place: tuple[int, int] | None = None
        self._picks: list[tuple[float, int]] = []  # time and velocity
        self._sounding = 0  # picks that have not ended
        self._off_s: float | None = None  # the last pick has ended
        self._dead = False  # this spell of play is no gesture

    @property
    def begun_s(self) -> float | None:
        """When the first pick of the spell of play came that is under way, or was the last."""
        return self._picks[0][0] if self._picks else None

    @property
    def may_be(self) -> bool:
        """Whether what was played last may be the beginning of a gesture."""
        return bool(self._picks) and not self._dead

    def message(self, t_s: float, data: bytes) -> list[str]:
        """One MIDI message. Returns the actions that are sure now."""
        told = self.tick(t_s)
        if len(data) != 3 or (data[0] & 0xF0) not in (0x80, 0x90):
            return told
        string = self._string.get(data[0] & 0x0F)
        if string is None:
            return told
        place = string, data[1]
        if data[0] & 0xF0 == 0x90 and data[2]:
            self._note(t_s, place, data[2])
        elif place == self._place and self._picks:
            self._sounding -= 1  # a late end may be that of the pick before
            if self._sounding <= 0:
                self._off_s = t_s
        return told

    def tick(self, now_s: float) -> list[str]:
        """Time passed."""
        if self._dead or not self._picks or now_s < self._picks[-1][0] + HELD_S:
            return []
        last_s = self._picks[-1][0]
        rang = self._off_s is None or self._off_s >= last_s + HELD_S
        asks = self._asks.get(self._place, {})
        action = asks.get(len(self._picks)) if rang and self._even() else None
        self._dead = True
        return [action] if action is not None else []

    def _note(self, t_s: float, place: tuple[int, int], velocity: int) -> None:
        before, self._heard_s = self._heard_s, t_s
        if before is None or t_s - before >= SILENCE_S:
            self._dead = place not in self._asks
            self._place, self._picks, self._off_s = place, [(t_s, velocity)], None
            self._sounding = 1
            return
        if self._dead or not self._picks:
            return
        last_s, loud = self._picks[-1]
        if place != self._place:
            self._dead = velocity > SOFT * loud
            return
        self._sounding = max(self._sounding, 0) + 1
        if t_s - last_s < DOUBLE_S:
            self._off_s = None  # the converter gives one pick twice
        else:
            self._picks.append((t_s, velocity))
            self._off_s = None
            self._dead = len(self._picks) > self._most

    def _even(self) -> bool:
        gaps = [later - one for (one, _), (later, _) in zip(self._picks, self._picks[1:])]
        if not gaps:
            return True
        return min(gaps) >= SPACING_S[0] and max(gaps) <= min(SPACING_S[1], EVEN * min(gaps))


class Sieve:
    """Messages in, those that are to be judged out, in order: what may become a gesture is held
    back until that is known, and the notes of one are left out."""

    def __init__(self, gestures: Gestures) -> None:
        self._gestures = gestures
        self._held: deque[Midi] = deque()

    @property
    def held_s(self) -> float | None:
        """When the first message was played that is held back; None where none is."""
        return self._held[0].t_s if self._held else None

    def message(self, record: Midi) -> list[Midi]:
        """One message. Returns what is to be judged now."""
        given = self.tick(record.t_s)
        self._gestures.message(record.t_s, record.data)
        if self._gestures.may_be:
            self._held.append(record)
            return given
        return [*given, *self.release(), record]

    def tick(self, now_s: float) -> list[Midi]:
        """Time passed."""
        if not self._held:
            return []
        asked = self._gestures.tick(now_s)
        if self._gestures.may_be:
            return []
        given = self.release()
        return [one for one in given if not _sounds(one.data)] if asked else given

    def release(self) -> list[Midi]:
        """What is held back, to be judged after all."""
        given = list(self._held)
        self._held.clear()
        return given


def _sounds(data: bytes) -> bool:
    """Whether a message begins or ends a note."""
    return len(data) == 3 and data[0] & 0xF0 in (0x80, 0x90)
