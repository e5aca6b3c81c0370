"""What the player says of the stroke with which a take begins.

By a mark that reads ``down`` or ``up``, or, where a mark asked for it (``lone pick``), by the
guitar itself: one note picked alone says that the take begins with a down stroke, the same note
picked twice that it begins with an up stroke, as the pick then lies. Pure: marks and messages come
in, a word comes out for a beginning.

A lone pick is none of the cell's notes, comes after a second of silence, rings for most of a second
and has another second of silence after it; the take is the very next thing that is played, within
ten seconds. So neither a beginning that was broken off, nor a string touched, nor a note to tune by
long before is taken for one.
"""

from __future__ import annotations

from collections.abc import Collection

from .events import Mark
from .gestures import DOUBLE_S, SILENCE_S, SOFT, SPACING_S
from .rig import Rig

DOWN, UP = "down", "up"
LONE_PICK, NO_LONE_PICK = "lone pick", "no lone pick"
HELD_S = 0.7  # that the last one rings, at least
WITHIN_S = 10.0  # from the last pick to the take
_NEAR_S = 0.5  # a take's beginning lies so near to its first note
_BY_PICKS = {1: DOWN, 2: UP}


class Said:
    """Feed it every mark and every message, in order; ``word`` gives what was said of a
    beginning."""

    def __init__(self) -> None:
        self._marks: list[Mark] = []  # words not yet played
        self._lone: _LonePick | None = None
        self._place: dict[int, int] = {}  # channel from 0: string
        self._own: frozenset[tuple[int, int]] = frozenset()
        self._gate = 0

    def use(self, rig: Rig, own: Collection[tuple[int, int]]) -> None:
        """The rig in force, and the (string, pitch) of the notes of the cells in force."""
        self._place = {channel - 1: at for at, channel in enumerate(rig.channels, 1)}
        self._own, self._gate = frozenset(own), rig.gate.velocity

    def mark(self, mark: Mark) -> None:
        text = said_by(mark)
        if text in (DOWN, UP):
            self._marks.append(mark)
        elif text == LONE_PICK:
            self._lone = self._lone or _LonePick()
        elif text == NO_LONE_PICK:
            self._lone = None

    def message(self, t_s: float, data: bytes) -> None:
        """One MIDI message; only those of strings count, and only where lone picks were asked
        for."""
        if self._lone is None or len(data) != 3 or data[0] & 0xF0 not in (0x80, 0x90):
            return
        string = self._place.get(data[0] & 0x0F)
        if string is None:
            return
        place = string, data[1]
        if data[0] & 0xF0 == 0x80 or not data[2]:
            self._lone.ended(t_s, place)
        elif data[2] >= self._gate:
            self._lone.struck(t_s, place, data[2], place in self._own)

    def word(self, start_s: float) -> str | None:
        """The first stroke that was said of a take that begins then; None: nothing was. A word
        counts once."""
        before = [mark for mark in self._marks if mark.t_s <= start_s]
        self._marks = self._marks[len(before) :]
        played = None if self._lone is None else self._lone.word(start_s)
        return played or (said_by(before[-1]) if before else None)


def said_by(mark: Mark) -> str:
    """A mark's text as it is read here."""
    return mark.text.strip().casefold()


def is_word(mark: Mark) -> bool:
    """Whether a mark says something of a first stroke, and is no note of the player's own."""
    return said_by(mark) in (DOWN, UP, LONE_PICK, NO_LONE_PICK)


class _LonePick:
    """The spell of play under way, and what the one before it said of it."""

    def __init__(self) -> None:
        self._heard_s: float | None = None  # the last note, whatever it was
        self._place: tuple[int, int] | None = None
        self._picks: list[tuple[float, int]] = []  # time and velocity
        self._off_s: float | None = None  # the last pick has ended
        self._dead = True  # this spell is no lone pick
        self._words: list[tuple[float, str]] = []  # by when the take began that it was said of

    def struck(self, t_s: float, place: tuple[int, int], velocity: int, own: bool) -> None:
        before, last = self._heard_s, self._picks[-1] if self._picks else None
        if last is not None and place != self._place and velocity < SOFT * last[1]:
            return  # a string that sounds along
        self._heard_s = t_s
        if before is None or t_s - before >= SILENCE_S:
            if last is not None and (word := self._said(t_s)) is not None:
                self._words.append((t_s, word))
            self._place, self._picks, self._off_s = place, [(t_s, velocity)], None
            self._dead = own
            return
        if place != self._place or last is None:
            self._dead = True
            return
        self._off_s = None
        if t_s - last[0] >= DOUBLE_S:
            self._dead = self._dead or not SPACING_S[0] <= t_s - last[0] <= SPACING_S[1]
            self._picks.append((t_s, velocity))

    def ended(self, t_s: float, place: tuple[int, int]) -> None:
        if self._picks and place == self._place:
            self._off_s = t_s

    def word(self, start_s: float) -> str | None:
        """What was said of a take that begins then."""
        near = [word for t_s, word in self._words if abs(t_s - start_s) <= _NEAR_S]
        self._words = [one for one in self._words if one[0] > start_s + _NEAR_S]
        return near[-1] if near else None

    def _said(self, now_s: float) -> str | None:
        """What the spell that is over says of a take that begins now."""
        last_s = self._picks[-1][0]
        rang = self._off_s is None or self._off_s >= last_s + HELD_S
        if self._dead or not rang or now_s - last_s > WITHIN_S:
            return None
        return _BY_PICKS.get(len(self._picks))
