"""The strokes of a pulse, or beside a click, each put in its place on an even grid."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np

_AGAIN_S = 0.060  # the same string again within this is no stroke of the pulse (C-14)
_AROUND = 12  # intervals on either side that say how long a step is here
_MOST_STEPS = 4  # that may be missing in a row
_OFF_GRID = 0.4  # of a step
_LEAST_EVEN = 0.7  # share of intervals that make a pulse
_MOST_A_CLICK = 8  # notes


class Struck(NamedTuple):
    """One played note of a pulse or beside a click."""

    t_s: float  # arrival
    string: int
    pitch: int


@dataclass(frozen=True, slots=True)
class Strokes:
    """Strokes on a grid. steps: since the stroke before, 0 where the pulse begins anew."""

    notes: tuple[Struck, ...]
    steps: tuple[int, ...]
    away_ms: np.ndarray  # off the grid; of a pulse off each run's own straight line

    @property
    def before(self) -> list[Struck | None]:
        """For each stroke the one a step before it; None where that was not heard."""
        return [self.notes[at - 1] if step == 1 else None for at, step in enumerate(self.steps)]

    def some(self, kept: Iterable[bool]) -> tuple[int, ...]:
        """Steps of the strokes that are kept alone."""
        steps: list[int] = []
        since, anew = 0, True
        for step, keep in zip(self.steps, kept):
            since, anew = since + step, anew or step == 0
            if keep:
                steps.append(0 if anew else since)
                since, anew = 0, False
        return tuple(steps)


def single(notes: Sequence[Struck]) -> list[Struck]:
    """Notes in order, without a string's second trigger."""
    kept: list[Struck] = []
    last: dict[int, float] = {}
    for note in sorted(notes):
        if note.t_s - last.get(note.string, -1e9) >= _AGAIN_S:
            kept.append(note)
        last[note.string] = note.t_s
    return kept


def on_pulse(notes: Sequence[Struck]) -> Strokes | None:
    """Strokes of a pulse whose tempo may change, also at once; None where there is no pulse.

    notes: single ones, at least two. A stroke that was not heard leaves a step of two, one too many
    is left out, and after a pause or a stumble the pulse begins anew.
    """
    import numpy as np

    times = [note.t_s for note in notes]
    gaps = [later - t_s for t_s, later in zip(times, times[1:])]
    kept, steps = [0], [0]
    for at in range(1, len(times)):
        around = gaps[max(0, at - 1 - _AROUND) : at + _AROUND]
        since = (times[at] - times[kept[-1]]) / max(median(around), 1e-6)
        if since < 1.0 - _OFF_GRID:
            continue
        step = round(since)
        steps.append(step if step <= _MOST_STEPS and abs(since - step) < _OFF_GRID else 0)
        kept.append(at)
    if sum(step == 1 for step in steps) < _LEAST_EVEN * (len(times) - 1):
        return None
    away_ms = np.zeros(len(kept))
    begun = [at for at, step in enumerate(steps) if step == 0]
    for begin, end in zip(begun, [*begun[1:], len(steps)]):
        places = np.cumsum([0, *steps[begin + 1 : end]])
        run = np.array([times[at] for at in kept[begin:end]]) - times[kept[begin]]
        line = np.stack([np.ones(len(run)), places], axis=1)
        away_ms[begin:end] = 1000.0 * (run - line @ np.linalg.lstsq(line, run, rcond=None)[0])
    return Strokes(tuple(notes[at] for at in kept), tuple(steps), away_ms)


def on_click(notes: Sequence[Struck], clicks_s: Sequence[float]) -> Strokes | None:
    """Strokes beside a click, one or several to each; None for fewer than two clicks or notes.

    What the notes lead or lag by as a whole is taken for the same place of the grid, and stands in
    ``away_ms``; it is known within half a step of the grid.
    """
    import numpy as np

    clicks, times = np.unique(np.array(clicks_s)), np.array([note.t_s for note in notes])
    if len(clicks) < 2 or len(notes) < 2:
        return None
    beat_s, gap_s = float(np.median(np.diff(clicks))), float(np.median(np.diff(times)))
    to_each = min(max(1, round(beat_s / max(gap_s, 1e-6))), _MOST_A_CLICK)
    step_s = beat_s / to_each
    first = np.clip(np.searchsorted(clicks, times, side="right") - 1, 0, len(clicks) - 1)
    own_s = np.append(np.diff(clicks), beat_s)[first]
    regular = np.abs(own_s / beat_s - 1.0) < 0.5  # else a click was left out, or is one too many
    own_s = np.where(regular, own_s, beat_s) / to_each
    turns = (times - clicks[first]) / own_s
    common = float(np.angle(np.mean(np.exp(2j * np.pi * turns)))) / (2.0 * np.pi)
    within = np.round(turns - common)
    beats = np.cumsum([0, *np.maximum(np.round(np.diff(clicks) / beat_s), 1)]).astype(int)
    places = beats[first] * to_each + within.astype(int)
    off = turns - within
    kept: list[int] = []
    for at in range(len(times)):
        near = abs(off[at] - common) < 1.0 / 3.0 and -1.0 <= turns[at] <= _MOST_STEPS * to_each
        if near and (not kept or places[at] > places[kept[-1]]):
            kept.append(at)
    if len(kept) < 2:
        return None
    steps = [0, *(int(places[at] - places[last]) for last, at in zip(kept, kept[1:]))]
    return Strokes(tuple(notes[at] for at in kept), tuple(steps), 1000.0 * step_s * off[kept])
