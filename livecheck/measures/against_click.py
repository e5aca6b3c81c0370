"""Play against a click: how far behind or ahead of it, how steadily, and where in the figure.

A player's mean distance from a click is a habit, and the way from the string to the computer adds
to it: it is told apart and is never a fault. What is left is told as spread, drift and places.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, median

from ..core.events import HIT, Click, Repetition

FEWEST = 24
"""Notes below which nothing is told (no source)."""
_NEAR = 0.5
"""Of a grid step: a note further from its place on the grid does not follow the click."""
_FOLLOWED = 0.04
"""A repetition whose own tempo differs more from the click's does not follow it."""
_SAME = 0.02  # share by which the tempo of a followed clock wavers
_BEFORE = 4.5  # beats of the click before a repetition that its line goes through
_LOOK = 64  # clicks before and after the beginning of a repetition
_SILENT = 17.0  # beats of silence over which the click's line is drawn out: four bars
_OFF = 0.25  # of a beat: a click further from its place belongs to another schedule


@dataclass(frozen=True, slots=True)
class AgainstClick:
    """What is told. All in ms; plus is late. ``common``: the mean asynchrony; ``spread``: standard
    deviation of single notes about it, places taken out; ``drift``: ms a minute, beside its
    standard error; ``places``: by slot, mean against the grid without the common part, None where
    unheard. ``notes``, ``reps``: what it rests on; ``apart``: repetitions that did not follow the
    click."""

    common: float
    spread: float
    drift: float | None
    drift_error: float | None
    places: tuple[float | None, ...]
    notes: int
    reps: int
    apart: int


def against_click(reps: Sequence[Repetition], clicks: Iterable[Click]) -> AgainstClick | None:
    """Hit notes of one cell's repetitions against the clicks around them; None where there are too
    few to tell.

    Onsets have the conversion delay taken off as far as the rig knows it.
    """
    beats = sorted(clicks, key=lambda click: click.t_s)
    if not reps or len(beats) < 2:
        return None
    cell = reps[-1].cell
    found: list[tuple[int, float, float]] = []  # slot, time, ms off
    followed = apart = at = 0
    for rep in reps:
        if rep.cell.slots != cell.slots:
            continue
        while at + 1 < len(beats) and beats[at + 1].t_s <= rep.start_s:
            at += 1
        near = beats[max(0, at - _LOOK) : at + _LOOK]
        offs = _offsets(rep, near)
        if offs is None:
            apart += _has_click(rep, near)
            continue
        followed += 1
        found += offs
    if len(found) < FEWEST:
        return None
    common = fmean(off for _, _, off in found)
    places = _places(found, len(cell.slots), common)
    left = [off - common - (places[slot - 1] or 0.0) for slot, _, off in found]
    spread = sqrt(sum(one * one for one in left) / max(len(left) - len(cell.slots), 1))
    drift, error = _slope([t_s / 60.0 for _, t_s, _ in found], left)
    return AgainstClick(common, spread, drift, error, places, len(found), followed, apart)


def _offsets(rep: Repetition, clicks: Sequence[Click]) -> list[tuple[int, float, float]] | None:
    """Slot, time and ms off the grid of each hit note of one repetition; None where it does not
    follow the click."""
    hits = [slot for slot in rep.slots if slot.verdict == HIT and slot.note is not None]
    if not hits or rep.tempo_bpm is None:
        return None
    line = _line(rep, clicks)
    if line is None:
        return None
    zero_s, beat_s = line
    if abs(rep.tempo_bpm * beat_s / 60.0 - 1.0) > _FOLLOWED:
        return None
    step_s = beat_s / rep.cell.grid
    places = {slot.number: slot.start for slot in rep.cell.slots}
    off_steps = [
        ((slot.note.corrected_s - zero_s) / step_s - places[slot.slot], slot)
        for slot in hits
        if slot.note is not None
    ]
    begin = round(median(off for off, _ in off_steps))
    told = []
    for off, slot in off_steps:
        assert slot.note is not None
        if abs(off - begin) <= _NEAR:
            told.append((slot.slot, slot.note.corrected_s, 1e3 * (off - begin) * step_s))
    return told or None


def _line(rep: Repetition, clicks: Sequence[Click]) -> tuple[float, float] | None:
    """A click's time and the length of a beat, by the clicks around a repetition. Over silent bars
    the beats go on being counted."""
    some: list[Click] = []
    for click in clicks:
        beat_s = 60.0 / click.bpm
        if click.t_s > rep.end_s + beat_s:
            break
        if some:
            beats = click.beat - some[-1].beat
            if beats < 1 or abs(click.t_s - some[-1].t_s - beats * beat_s) > _OFF * beat_s:
                some = []  # another click began
        some.append(click)
    if len(some) < 2 or some[-1].t_s < rep.start_s - _SILENT * 60.0 / some[-1].bpm:
        return None
    bpm = some[-1].bpm
    steady = all(one.bpm == bpm for one in some)
    first_s = rep.start_s - (_SILENT if steady else _BEFORE) * 60.0 / bpm
    some = [one for one in some if one.t_s >= first_s and abs(one.bpm / bpm - 1.0) <= _SAME]
    if len(some) < 2:
        return None
    beat_s = 60.0 / median(one.bpm for one in some)
    first = some[0]
    zero_s = median(one.t_s - (one.beat - first.beat) * beat_s for one in some)
    return zero_s, beat_s


def _has_click(rep: Repetition, clicks: Sequence[Click]) -> bool:
    return any(rep.start_s - 1.0 <= click.t_s <= rep.end_s for click in clicks)


def _places(
    found: Sequence[tuple[int, float, float]], slots: int, common: float
) -> tuple[float | None, ...]:
    """Mean of each slot against the grid, without the common part."""
    by_slot: dict[int, list[float]] = {}
    for slot, _, off in found:
        by_slot.setdefault(slot, []).append(off)
    return tuple(
        fmean(by_slot[slot]) - common if slot in by_slot else None for slot in range(1, slots + 1)
    )


def _slope(x: Sequence[float], y: Sequence[float]) -> tuple[float | None, float | None]:
    """Least squares of y on x, and its standard error; None where x hardly varies."""
    middle = fmean(x)
    over = sum((one - middle) ** 2 for one in x)
    if over <= 1e-9 or len(x) < 3:
        return None, None
    mean = fmean(y)
    slope = sum((a - middle) * (b - mean) for a, b in zip(x, y)) / over
    rest = sum((b - mean - slope * (a - middle)) ** 2 for a, b in zip(x, y))
    return slope, sqrt(rest / (len(x) - 2) / over)
