"""What each repetition sounded like beyond its verdicts: strokes against the plan, strings touched
by the hand.

Looks back over the last repetitions of one cell, so it stays bounded however long a sitting lasts.
What a repetition sounded like is worked out when it is asked for, since most are not (a viewer that
catches up shows the last few), and is what it would have been at once: of notes that were still
sounding, what was known then.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from statistics import median

from ..core.events import ARTEFACT, HIT, Extra, Note, Repetition
from .noise.crossings import crossings, spans_of
from .noise.passed_over import Passage, gravest, read_passages, read_quiet
from .noise.ring_over import rings_on
from .strokes.attack import HAMMERED, PICKED, Attacks, Struck, read_attacks
from .strokes.stroke_memory import Reading, StrokeMemory

WINDOW = 40
"""Repetitions that strokes are learned from: a player's and converter's levels drift over longer
times."""

KEPT = 200
"""Repetitions that can be asked for, the last ones."""

LEAST_REPS = 8
"""A line says nothing of strokes before so many repetitions. Common practice, no source."""

UNUSUAL = 0.75
"""A single note is called against the plan only where it is this much softer than its slot usually
comes (or louder, by as much the other way round): two levels found in few notes may be chance. No
source."""

HABIT_SHARE, HABIT_NOTES = 0.8, 20
"""Unless the slot comes so as a rule, and has been heard often. No source."""

HABITS_EVERY = 20
"""Repetitions after which it is asked anew what comes as a rule. No source."""

# a string's end so far outside of a crossing has nothing to do with it (measures/noise/cut_off.py)
_NEAR_S = 0.15

Window = tuple[Repetition, ...]


@dataclass(frozen=True, slots=True)
class RepSound:
    """Of one repetition: hit slots told to be played otherwise than planned, by string what the
    hand did to it, and the slots that ring on into the next note of another string."""

    against_plan: tuple[Struck, ...] = ()
    touched: dict[int, str] = field(default_factory=dict)
    rings: tuple[int, ...] = ()


class _Habits:
    """Slots that come against the plan as a rule, by number and plan; worked out when they are
    asked for."""

    def __init__(self, window: Window = (), strokes: Reading | None = None) -> None:
        self._window = window
        self._strokes = strokes or Reading()
        self._told: dict[tuple[int, str], str] | None = None

    def told(self) -> Mapping[tuple[int, str], str]:
        if self._told is None:
            self._told, self._window = _habits(self._window, self._strokes), ()
        return self._told


class SoundMemory(Mapping[int, RepSound]):
    """Hears repetitions in order; gives the sound of each of the last ``KEPT`` by its number."""

    def __init__(self) -> None:
        self._reps: deque[Repetition] = deque(maxlen=WINDOW)
        # notes without an end: how many, the rep as it is now
        self._sounding: dict[int, tuple[int, Repetition]] = {}
        self._heard: dict[int, tuple[Window, _Habits, Reading] | RepSound] = {}
        self._count = 0  # of this cell
        self._habits = _Habits()
        self._last: Window = ()
        self._strokes = StrokeMemory()
        self._attacks: Attacks | None = None  # of the last window, once asked for

    def hear(self, rep: Repetition) -> None:
        """Take the next repetition. Another cell begins anew; another variant of it goes on."""
        if self._reps and rep.cell.name != self._reps[-1].cell.name:
            self._reps.clear()
            self._sounding.clear()
            self._count, self._habits = 0, _Habits()
        self._reps.append(rep)
        self._strokes.hear(rep)
        self._sounding = self._as_now()
        self._last = tuple(
            self._sounding[one.rep][1] if one.rep in self._sounding else one for one in self._reps
        )
        self._attacks = None
        self._count += 1
        if self._count % HABITS_EVERY == 0:
            self._habits = _Habits(self._last, self.strokes)
        self._heard[rep.rep] = self._last, self._habits, self.strokes
        if len(self._heard) > KEPT:
            del self._heard[next(iter(self._heard))]

    @property
    def strokes(self) -> Reading:
        """The directions of the window after the last repetition."""
        return self._strokes.reading

    @property
    def attacks(self) -> Attacks | None:
        """The reading of the window after the last repetition; None before the first."""
        last, found = self._last, self._attacks
        if found is None and last:
            found = read_attacks(last, self.strokes.told)
            if last is self._last:  # no other repetition was heard meanwhile
                self._attacks = found
        return found

    @property
    def count(self) -> int:
        """Repetitions of this cell so far."""
        return self._count

    def known(self, rep: int) -> RepSound | None:
        """How a repetition sounded, where it was asked for before; it takes no time."""
        heard = self._heard.get(rep)
        return heard if isinstance(heard, RepSound) else None

    def __getitem__(self, rep: int) -> RepSound:
        heard = self._heard[rep]
        if not isinstance(heard, RepSound):
            heard = self._heard[rep] = RepSound(
                self._against_plan(*heard), _touched(heard[0]), rings_on(heard[0])
            )
        return heard

    def __contains__(self, rep: object) -> bool:
        return rep in self._heard

    def __iter__(self) -> Iterator[int]:
        return iter(self._heard)

    def __len__(self) -> int:
        return len(self._heard)

    def _as_now(self) -> dict[int, tuple[int, Repetition]]:
        """Repetitions of the window with notes that still sound, told as they are now: their ends
        will not be seen."""
        found = {}
        for one in self._reps:
            count, twin = self._sounding.get(one.rep, (0, one))
            if count or one is self._reps[-1]:
                now = sum(map(_sounds, _notes(one)))
                if now:
                    found[one.rep] = (now, twin if now == count else _frozen(one))
        return found

    def _against_plan(
        self, window: Window, habits: _Habits, strokes: Reading
    ) -> tuple[Struck, ...]:
        """Strokes of the last repetition of a window that surely were others than planned.

        Two levels are looked for in the window only where a note is unusual for its slot.
        """
        if len(window) < LEAST_REPS:
            return ()
        rep, shares = window[-1], _shares(window)
        found = {}
        for slot, told in _by_habit(rep, shares, habits.told()):
            found[slot] = Struck(rep.rep, slot, _plan(rep, slot), shares[slot], None, told)
        suspects = {
            slot for slot, share in shares.items() if _is_unusual(_plan(rep, slot), share)
        } - found.keys()
        if suspects:
            attacks = self.attacks if window is self._last else read_attacks(window, strokes.told)
            assert attacks is not None
            found.update(
                {one.slot: one for one in attacks.against_plan(rep.rep) if one.slot in suspects}
            )
        return tuple(one for _, one in sorted(found.items()))


def _plan(rep: Repetition, slot: int) -> str:
    return PICKED if rep.cell.slots[slot - 1].picked else HAMMERED


def _shares(window: Window) -> dict[int, float | None]:
    """Of each slot hit in the last repetition, its velocity over the slot's usual one, over the
    repetition's middle of that; None where it came by bend alone.
    """
    levels: dict[tuple[int, str], list[int]] = {}
    for rep in window:
        for result in rep.slots:
            if result.verdict == HIT and result.note is not None and result.note.velocity:
                levels.setdefault((result.slot, _plan(rep, result.slot)), []).append(
                    result.note.velocity
                )
    rep = window[-1]
    shares: dict[int, float | None] = {}
    for result in rep.slots:
        if result.verdict == HIT and result.note is not None:
            velocity = result.note.velocity
            shares[result.slot] = (
                velocity / median(levels[result.slot, _plan(rep, result.slot)])
                if velocity
                else None
            )
    known = [share for share in shares.values() if share is not None]
    middle = median(known) if known else 1.0
    return {slot: None if share is None else share / middle for slot, share in shares.items()}


def _is_unusual(planned: str, share: float | None) -> bool:
    """Softer than the slot usually is where a stroke was planned, louder where none was."""
    if share is None:
        return planned == PICKED
    return share <= UNUSUAL if planned == PICKED else share >= 1.0 / UNUSUAL


def _by_habit(
    rep: Repetition, shares: Mapping[int, float | None], habits: Mapping[tuple[int, str], str]
) -> Iterator[tuple[int, str]]:
    """Slots of a repetition that came as they do as a rule, and not as planned; and how that is."""
    for slot, share in shares.items():
        told = habits.get((slot, _plan(rep, slot)))
        if told is not None and not _is_unusual(told, share):
            yield slot, told


def _habits(window: Window, strokes: Reading) -> dict[tuple[int, str], str]:
    if len(window) < LEAST_REPS:
        return {}
    counts: dict[tuple[int, str], Counter[str | None]] = {}
    for one in read_attacks(window, strokes.told).struck:
        counts.setdefault((one.slot, one.planned), Counter())[one.told] += 1
    found = {}
    for key, told in counts.items():
        against = HAMMERED if key[1] == PICKED else PICKED
        if told.total() >= HABIT_NOTES and told[against] >= HABIT_SHARE * told.total():
            found[key] = against
    return found


def _touched(window: Window) -> dict[int, str]:
    """By string, what the hand did to it in the last repetition; read only where anything sounded
    or ended there."""
    rep = window[-1]
    over = {string for crossing in crossings(rep.cell) for string in crossing.over}
    near = [extra for one in window[-2:] for extra in one.extras if extra.kind != ARTEFACT]
    found: list[Passage] = []
    if any(extra.note.string in over for extra in near) or _may_be_cut(window):
        found += read_passages(window, last=1)
    if any(extra.note.string in rep.cell.quiet and extra.note.string not in over for extra in near):
        found += read_quiet(window, last=1)
    return gravest(found)


def _may_be_cut(window: Window) -> bool:
    """Whether a string ended near a crossing that passes over it, in the last repetition."""
    ends: dict[int, list[float]] = {}
    for note in filter(None, (note for one in window for note in _notes(one))):
        if note.end_s is not None and note.end_s > window[-1].start_s - _NEAR_S:
            ends.setdefault(note.string, []).append(note.end_s)
    return any(
        begin_s - _NEAR_S < end_s < close_s + _NEAR_S
        for crossing, begin_s, close_s in spans_of(window[-1], None)
        for string in crossing.over
        for end_s in ends.get(string, ())
    )


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
        replace(one, note=_twin(one.note)) if one.note is not None and _sounds(one.note) else one
        for one in rep.slots
    )
    extras = tuple(
        Extra(_twin(note), kind) if _sounds(note) else Extra(note, kind)
        for note, kind in rep.extras
    )
    return replace(rep, slots=slots, extras=extras)


def _twin(note: Note) -> Note:
    twin = Note(
        note.onset_s,
        note.string,
        note.pitch,
        note.key,
        note.velocity,
        note.by,
        note.corrected_s,
        note.gated,
    )
    twin.struck_s = note.struck_s
    return twin
