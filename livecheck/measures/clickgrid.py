"""Where notes were due that were played to a click, several to each click.

The click's own moments are known, beat by beat; between two of them lie as many grid points as notes were played. A
player leads or lags (sources.md E-20), and so does everything between the note and the click's sound: that common part
is taken out first, so that each note finds its own grid point, and is given back apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from .delay import DelayEstimate, Interval, Struck, against_click
from .profile import t_975

if TYPE_CHECKING:
    import numpy as np

MOST_NOTES = 8  # a click
_LONGEST_GAP = 8  # beats that may be missing between two clicks
_ROUND = 12  # notes: over six strings and back
_SLIP_S = 0.030

Beat = tuple[float, int]
"""A click: seconds, and its number."""


class Grid(NamedTuple):
    """Moments at which notes were due, shifted by ``common_s``; ``per_click``: notes to a click."""

    due_s: list[float]
    common_s: float
    per_click: int


def grid_of(notes: Sequence[Struck], clicks: Sequence[Beat]) -> Grid | None:
    """The grid that notes were played on; None where clicks or notes are too few to tell.

    clicks: with their beats' numbers, rising; a beat that was left out has none.
    """
    steps = [(t_s - s) / (n - m) for (s, m), (t_s, n) in zip(clicks, clicks[1:]) if 0 < n - m <= _LONGEST_GAP]
    times = sorted(note.t_s for note in notes)
    gaps = [later - t_s for t_s, later in zip(times, times[1:])]
    if not steps or len(gaps) < 2:
        return None
    beat_s, gap_s = median(steps), median(gaps)
    per_click = min(max(1, round(beat_s / gap_s)), MOST_NOTES) if gap_s > 0.0 else MOST_NOTES
    due_s: list[float] = []
    for (s, m), (t_s, n) in zip(clicks, clicks[1:]):
        if 0 < n - m <= _LONGEST_GAP:
            parts = per_click * (n - m)
            due_s += [s + (t_s - s) * part / parts for part in range(parts)]
    last_s = clicks[-1][0]
    due_s += [last_s + beat_s * part / per_click for part in range(per_click)]
    common_s = _common(times, due_s, beat_s / per_click)
    return Grid([due + common_s for due in due_s], common_s, per_click)


def _common(times: Sequence[float], due_s: Sequence[float], step_s: float) -> float:
    """How far the notes lie behind the grid as a whole: the direction of their mean on the circle of one step."""
    import numpy as np

    due = np.array(due_s)
    places = np.searchsorted(due, np.array(times), side="right") - 1
    inside = places >= 0
    turns = (np.array(times)[inside] - due[places[inside]]) / step_s
    if not len(turns):
        return 0.0
    return float(np.angle(np.mean(np.exp(2j * np.pi * turns)))) / (2.0 * np.pi) * step_s


def against_beats(notes: Sequence[Struck], clicks: Sequence[Beat]) -> DelayEstimate:
    """Delays from notes played to a click, one or several to each.

    A player wanders about the click for several notes on end (sources.md E-13); what all strings of a round have in
    common is taken out, so that only differences between strings are left. ``common_ms`` holds what was taken out; it
    lies within half of a note's interval, and its own interval comes from rounds, not from notes, for the same reason.
    """
    import numpy as np

    grid = grid_of(notes, clicks)
    if grid is None:
        return DelayEstimate("click", len(notes), why=f"too few notes or clicks ({len(notes)} and {len(clicks)})")
    ordered = sorted(notes)
    times, due = np.array([note.t_s for note in ordered]), np.array(grid.due_s)
    after = np.clip(np.searchsorted(due, times), 1, len(due) - 1)
    away_s = times - np.where(times - due[after - 1] < due[after] - times, due[after - 1], due[after])
    own_s = away_s.copy()
    for string in {note.string for note in ordered}:
        rows = [at for at, note in enumerate(ordered) if note.string == string]
        own_s[rows] -= np.median(away_s[rows])
    found = against_click([note._replace(t_s=note.t_s - by) for note, by in zip(ordered, _wander(own_s))], grid.due_s)
    rounds = [float(np.median(away_s[at : at + _ROUND])) for at in range(0, len(away_s) - _ROUND + 1, _ROUND)]
    if found.common_ms is None or len(rounds) < 3:
        return found
    middle = 1000.0 * (grid.common_s + float(np.mean(rounds)))
    half = 1000.0 * float(np.std(rounds, ddof=1)) / len(rounds) ** 0.5 * t_975(len(rounds) - 1)
    return replace(found, common_ms=Interval(middle, middle - half, middle + half))


def _wander(own_s: np.ndarray) -> list[float]:
    """The mean over a round about each note; single slips count for no more than ``_SLIP_S``."""
    import numpy as np

    window = np.ones(min(_ROUND, len(own_s)))
    clipped = np.clip(own_s, -_SLIP_S, _SLIP_S)
    sums, counts = np.convolve(clipped, window, "same"), np.convolve(np.ones(len(own_s)), window, "same")
    return [float(value) for value in sums / counts]
