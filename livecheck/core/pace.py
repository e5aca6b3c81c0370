"""How fast a player is going, stroke by stroke, and where that puts the notes to come.

Owns the two estimates that ``core/reps.py`` needs: a step that follows every interval, and a line
through the last strokes since play began or stopped. All times are strokes, conversion delay taken
off.
"""

from __future__ import annotations

from .events import Note
from .line import LEAST_POINTS, tempo_line

_RUN = 6
"""Strokes that a line goes through: more do not follow a tempo that changes. No source."""
_LEAST_ALIKE, _MOST_ALIKE = 0.62, 1.6
"""Two steps are of one tempo where their ratio lies between these: one shorter or longer by more is
a stumble, or another tempo. No source."""
_FOLLOWED = 0.35
"""Share of a new step in the one that is followed. No source."""


class Pace:
    """``step_s``: seconds a grid step, None until an interval has been heard."""

    def __init__(self) -> None:
        self.step_s: float | None = None
        self._odd_step_s: float | None = None
        self._run: list[tuple[int, float]] = []  # (grid steps from the last stroke, stroke)

    def begin(self, note: Note) -> None:
        """Play begins, or begins anew, with this note."""
        self._run = []
        self.go_on(0, note)

    def go_on(self, steps: int, note: Note) -> None:
        """The note came in time, so many grid steps after the last one."""
        self._run = [(at - steps, stroke_s) for at, stroke_s in self._run]
        if note.by == "note":  # a glide's time says little
            self._run = [*self._run[1 - _RUN :], (0, note.struck_s)]

    def learn(self, step_s: float) -> None:
        """Follow the tempo; one odd step is a stumble, two alike are a new tempo."""
        if step_s <= 0.0:
            return
        if self.step_s is None:
            self.step_s = step_s
        elif _alike(step_s, self.step_s):
            self.step_s += _FOLLOWED * (step_s - self.step_s)
            self._odd_step_s = None
        elif self._odd_step_s is not None and _alike(step_s, self._odd_step_s):
            self.step_s, self._odd_step_s = 0.5 * (step_s + self._odd_step_s), None
        else:
            self._odd_step_s = step_s

    def late(self, last: Note, note: Note, steps: int) -> list[float]:
        """How many grid steps later a note came than ``steps`` after the last one, by each estimate
        that there is."""
        late = []
        if self.step_s is not None:
            late.append((note.struck_s - last.struck_s) / self.step_s - steps)
        line = tempo_line(self._run) if len(self._run) >= LEAST_POINTS else None
        if line is not None and line.step_s > 0.0:
            late.append((note.struck_s - line.start_s) / line.step_s - steps)
        return late


def _alike(step_s: float, other_s: float) -> bool:
    return _LEAST_ALIKE < step_s / other_s < _MOST_ALIKE
