"""What each repetition sounded like beyond its verdicts: strokes against the plan, strings touched by the hand.

Looks back over the last repetitions of one cell, so it stays bounded however long a sitting lasts. What a repetition
sounded like is worked out when it is asked for, since most are not (a viewer that catches up shows the last few), and
is what it would have been at once: of notes that were still sounding, what was known then.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from statistics import median

from ..core.events import Extra, Note, Repetition
from .attack import HAMMERED, Attacks, Struck, read_attacks
from .strings import gravest, read_passages, read_quiet

WINDOW = 40
"""Repetitions that strokes are learned from: a player's and converter's levels drift over longer times."""

KEPT = 200
"""Repetitions that can be asked for, the last ones."""

LEAST_REPS = 8
"""A line says nothing of strokes before so many repetitions. Common practice, no source."""

UNUSUAL = 0.75
"""A single note is called against the plan only where it is this much softer than its slot usually comes (or louder, by
as much the other way round): two levels found in few notes may be chance. No source."""

USUAL_SHARE, USUAL_NOTES = 0.8, 20
"""Unless the slot comes so as a rule, and has been heard often. No source."""

Window = tuple[Repetition, ...]


@dataclass(frozen=True, slots=True)
class RepSound:
    """Of one repetition: hit slots told to be played otherwise than planned, and by string what the hand did to it."""

    against_plan: tuple[Struck, ...] = ()
    touched: dict[int, str] = field(default_factory=dict)


class SoundMemory(Mapping[int, RepSound]):
    """Hears repetitions in order; gives the sound of each of the last ``KEPT`` by its number."""

    def __init__(self) -> None:
        self._reps: deque[Repetition] = deque(maxlen=WINDOW)
        self._sounding: dict[int, tuple[int, Repetition]] = {}  # notes without an end: how many, the rep as it is now
        self._heard: dict[int, Window | RepSound] = {}
        self._last: Window = ()
        self._attacks: Attacks | None = None  # of the last window, once asked for

    def hear(self, rep: Repetition) -> None:
        """Take the next repetition. Another cell begins anew; another variant of it goes on."""
        if self._reps and rep.cell.name != self._reps[-1].cell.name:
            self._reps.clear()
            self._sounding.clear()
        self._reps.append(rep)
        self._sounding = self._as_now()
        self._last = tuple(self._sounding[one.rep][1] if one.rep in self._sounding else one for one in self._reps)
        self._attacks = None
        self._heard[rep.rep] = self._last
        if len(self._heard) > KEPT:
            del self._heard[next(iter(self._heard))]

    @property
    def attacks(self) -> Attacks | None:
        """The reading of the window after the last repetition; None before the first."""
        if self._attacks is None and self._last:
            self._attacks = read_attacks(self._last)
        return self._attacks

    def __getitem__(self, rep: int) -> RepSound:
        heard = self._heard[rep]
        if not isinstance(heard, RepSound):
            heard = self._heard[rep] = self._sound(heard)
        return heard

    def __iter__(self) -> Iterator[int]:
        return iter(self._heard)

    def __len__(self) -> int:
        return len(self._heard)

    def _as_now(self) -> dict[int, tuple[int, Repetition]]:
        """Repetitions of the window with notes that still sound, told as they are now: their ends will not be seen."""
        found = {}
        for one in self._reps:
            count, twin = self._sounding.get(one.rep, (0, one))
            if count or one is self._reps[-1]:
                now = sum(map(_sounds, _notes(one)))
                if now:
                    found[one.rep] = (now, twin if now == count else _frozen(one))
        return found

    def _sound(self, window: Window) -> RepSound:
        """Of the last repetition of a window."""
        against: tuple[Struck, ...] = ()
        if len(window) >= LEAST_REPS:
            attacks = self.attacks if window is self._last else read_attacks(window)
            assert attacks is not None
            against = tuple(one for one in attacks.against_plan(window[-1].rep) if _sure(one, attacks))
        passages = [*read_passages(window, last=1), *read_quiet(window[-1:])]
        return RepSound(against, gravest(passages))


def _sure(one: Struck, attacks: Attacks) -> bool:
    """Surely played otherwise than planned, and no matter of two levels that are chance."""
    slot = [other for other in attacks.struck if other.slot == one.slot]
    alike = sum(other.told == one.told for other in slot)
    if len(slot) >= USUAL_NOTES and alike >= USUAL_SHARE * len(slot):
        return True
    levels = [other.attack for other in slot if other.attack is not None]
    if one.attack is None or not levels:
        return one.attack is None
    share = one.attack / median(levels)
    return share <= UNUSUAL if one.told == HAMMERED else share >= 1.0 / UNUSUAL


def _notes(rep: Repetition) -> Iterator[Note | None]:
    for result in rep.slots:
        yield result.note
    for extra in rep.extras:
        yield extra.note


def _sounds(note: Note | None) -> bool:
    return note is not None and note.end_s is None


def _frozen(rep: Repetition) -> Repetition:
    """The same, with notes of its own in the place of those that still sound."""
    slots = tuple(
        replace(one, note=_twin(one.note)) if one.note is not None and _sounds(one.note) else one for one in rep.slots
    )
    extras = tuple(Extra(_twin(note), kind) if _sounds(note) else Extra(note, kind) for note, kind in rep.extras)
    return replace(rep, slots=slots, extras=extras)


def _twin(note: Note) -> Note:
    twin = Note(note.onset_s, note.string, note.pitch, note.key, note.velocity, note.by, note.corrected_s, note.gated)
    twin.struck_s = note.struck_s
    return twin
