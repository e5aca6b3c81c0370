"""Directions while play goes on: told of the last repetitions, learned anew now and then.

What is told after a repetition depends on the repetitions so far alone, never on when it is asked
for; it is worked out only then. Levels are learned rarely, since that takes a tenth of a second or
more, and the last repetitions are read by them in a hundredth.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

from ...core.events import Repetition
from .direction import OTHER, Directions, Learned, by_way, learn_directions, read_directions

WINDOW = 40
"""Repetitions that are read, and that levels are learned from."""

LEARNED_AT, LEARNED_EVERY = (6, 12, 20, 30), 20
"""Repetitions after which levels are learned anew, and how often after these. No source."""


_SEAMS, _RULE = 12, 0.8
"""Seams that say what the next one will be like, and the share that has to be alike. No source."""


class Levels:
    """What was learned of a window of repetitions, by way to play; worked out when asked for."""

    def __init__(self, window: Sequence[Repetition] = ()) -> None:
        self._window = window
        self._learned: dict[object, Learned | None] | None = None

    def of(self, way: Sequence[Repetition]) -> Learned | None:
        """What was learned of the way to play of some repetitions; None: nothing."""
        if self._learned is None:
            self._learned = {_key(own[0]): learn_directions(own) for own in by_way(self._window)}
            self._window = ()
        return self._learned.get(_key(way[0]))


class Reading:
    """The directions of a window of repetitions, worked out when asked for."""

    def __init__(self, window: Sequence[Repetition] = (), levels: Levels | None = None) -> None:
        self._window = window
        self._rep = window[-1].rep if window else 0
        self._levels = levels or Levels()
        self._told: tuple[Directions, ...] | None = None

    @property
    def known(self) -> bool:
        """Whether asking what is told takes no time."""
        return self._told is not None or not self._window

    @property
    def told(self) -> tuple[Directions, ...]:
        """Of each way to play in the window of which anything was learned."""
        if self._told is None:
            ways = [(own, self._levels.of(own)) for own in by_way(self._window)]
            self._told = tuple(
                read_directions(own, learned) for own, learned in ways if learned is not None
            )
            self._window = ()
        return self._told

    def begun(self, rep: int) -> str | None:
        """The stroke that a repetition began with; None where it is not told."""
        return next((one.begun[rep] for one in self.told if rep in one.begun), None)

    def next_begins(self) -> str | None:
        """The stroke that the repetition after the last one begins with if it follows on, as
        repetitions have followed of late; None where that is not told."""
        if not self._rep or not self.told:
            return None
        begun = self.begun(self._rep)
        told = next((one for one in self.told if self._rep in one.begun), None)
        if told is None or begun is None:
            return None
        last = [one.played for one in told.strokes if one.rep == self._rep and one.played]
        if not last:
            return None
        on = sum(one.goes_on is True for one in told.seams[-_SEAMS:])
        up = sum(one.goes_on is False for one in told.seams[-_SEAMS:])
        alternate = OTHER[last[-1]]
        if alternate == begun or on >= _RULE * max(on + up, 1):
            return alternate
        return begun if up >= _RULE * (on + up) else None


class StrokeMemory:
    """Hears the repetitions of one cell in order."""

    def __init__(self) -> None:
        self._reps: deque[Repetition] = deque(maxlen=WINDOW)
        self._count = 0
        self._levels = Levels()
        self.reading = Reading()

    def hear(self, rep: Repetition) -> None:
        """Take the next repetition. Another cell begins anew; another variant of it goes on."""
        if self._reps and rep.cell.name != self._reps[-1].cell.name:
            self._reps.clear()
            self._count, self._levels = 0, Levels()
        self._reps.append(rep)
        self._count += 1
        window = tuple(self._reps)
        if self._count in LEARNED_AT or self._count % LEARNED_EVERY == 0:
            self._levels = Levels(window)
        self.reading = Reading(window, self._levels)


def _key(rep: Repetition) -> object:
    cell = rep.cell
    return cell.name, cell.variant, cell.slots, cell.steps, cell.picking
