"""What the player asks for with the guitar itself: simple figures that no practice holds.

After at least a second of silence the lowest string is picked open, evenly, two, three or four times,
and the last one rings for a second: the same again, faster, slower. A chosen high fret picked twice in
the same way sets a mark. Anything else played in between makes it no gesture. Pure: notes and time
come in, actions come out as soon as they are sure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .cell import Cell
from .rig import Rig
from .tunings import usual_tuning

SILENCE_S = 1.0  # before the first pick
HELD_S = 0.8  # that the last one rings, at least; the player means a second
SPACING_S = (0.18, 0.85)  # from one pick to the next
EVEN = 1.5  # the widest spacing over the narrowest
DOUBLE_S = 0.08  # the same string again within this is the converter's doing (C-14)
SOFT = 0.5  # a sound of another string softer than this share of the pick is no note
USUAL: Mapping[int, str] = {2: "again", 3: "up", 4: "down"}
MARK_FRET, MARK_PICKS = 19, 2


@dataclass(frozen=True, slots=True)
class Settings:
    """Which picks of the lowest open string ask for what; the string and fret of a mark."""

    by_picks: Mapping[int, str] = field(default_factory=lambda: USUAL)
    mark: tuple[int, int] = (1, MARK_FRET)


class Gestures:
    """Feed it every message of the guitar, and the time: ``note``, ``tick``."""

    def __init__(self, cell: Cell | None, rig: Rig, settings: Settings | None = None) -> None:
        self._settings = settings or Settings()
        tuning = cell.tuning if cell is not None else rig.tuning or usual_tuning(len(rig.channels))
        capo = cell.capo if cell is not None else 0
        strings = min(len(rig.channels), len(tuning))
        self._string = {channel - 1: at for at, channel in enumerate(rig.channels, 1)}
        low = (strings, tuning[strings - 1] + capo)
        string, fret = self._settings.mark
        mark = (string, tuning[string - 1] + capo + fret) if string <= strings else None
        self._asks = {low: self._settings.by_picks, mark: {MARK_PICKS: "mark"}}
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
            self._dead = len(self._picks) > max(
                max(asks, default=0) for asks in self._asks.values()
            )

    def _even(self) -> bool:
        gaps = [later - one for (one, _), (later, _) in zip(self._picks, self._picks[1:])]
        if not gaps:
            return True
        return min(gaps) >= SPACING_S[0] and max(gaps) <= min(SPACING_S[1], EVEN * min(gaps))
