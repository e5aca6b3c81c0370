"""Tempo, deviations and evenness of one repetition; the definitions are measures.md's.

All times are corrected onsets (conversion delay taken off) unless a name says arrival. A figure
that the notes cannot say is None.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, sqrt

from ..core.cell import Cell
from ..core.events import HIT, MISSED, NOISE, STRAY, Evenness, Repetition, SlotResult
from ..core.line import LEAST_POINTS, Line
from ..core.played import Played
from ..core.rig import Rig

LEAST_INTERVALS = 3
_APART_S = 2e-6  # told apart when times are rounded to microseconds


def just_noticeable_ms(interval_s: float) -> float:
    """Displacement of one tone in an even row that is just noticed: 6 ms below 240 ms, 2.5 % of the
    interval above.

    Source: Friberg & Sundberg 1995; sources.md E-01 (below 100 ms extrapolated).

    >>> just_noticeable_ms(0.125), just_noticeable_ms(0.3)
    (6.0, 7.5)
    """
    return 6.0 if interval_s < 0.24 else 25.0 * interval_s


def cv_pct(intervals_s: Sequence[float]) -> float | None:
    """Coefficient of variation, 100 × sample SD (n − 1) / mean; None for fewer than three
    intervals.

    intervals_s: seconds, each divided by its length in grid steps. Source: definition; sources.md
    E-10.

    >>> round(cv_pct([0.100, 0.110, 0.090, 0.100]), 3)
    8.165
    """
    count = len(intervals_s)
    if count < LEAST_INTERVALS:
        return None
    mean = sum(intervals_s) / count
    if mean <= 0.0:
        return None
    return (
        100.0 * sqrt(sum((interval - mean) ** 2 for interval in intervals_s) / (count - 1)) / mean
    )


def npvi(intervals_s: Sequence[float]) -> float | None:
    """Normalised pairwise variability index: how unlike neighbouring intervals are.

    100 × mean of |a − b| / ((a + b) / 2) over neighbours; 0 is perfectly even. intervals_s as for
    ``cv_pct``. None for fewer than two intervals, or where one is not positive. Source: Grabe & Low
    2002; sources.md E-03 to E-09.

    >>> round(npvi([0.100, 0.200]), 1)
    66.7
    """
    if len(intervals_s) < 2 or min(intervals_s) <= 0.0:
        return None
    total = 0.0
    for one, other in zip(intervals_s, intervals_s[1:]):
        total += abs(one - other) / (one + other)
    return 200.0 * total / (len(intervals_s) - 1)


def figures(played: Played, cell: Cell, rig: Rig) -> Repetition:
    """A finished repetition with all its figures."""
    slots = cell.slots
    heard = {answer.slot: answer for answer in played.answers}
    points = played.points(cell)
    paused = played.pause_s > 0.0
    line = played.line

    results = []
    deviations = []
    hits = 0
    last = len(slots) if played.complete else played.answers[-1].slot + 1
    for index in range(last):
        slot = slots[index]
        expected = deviation = None
        if line is not None:
            on_line = line.start_s + line.step_s * slot.start
            expected = on_line + rig.delay.seconds(slot.string, slot.pitch)
            if index == played.entered:
                expected = _beside_extras(expected, played)
        answer = heard.get(index)
        if answer is None:
            results.append(SlotResult(index + 1, MISSED, None, expected, None))
            continue
        if line is not None:
            deviation = 1000.0 * (answer.note.corrected_s - on_line)
        if answer.verdict == HIT:
            hits += 1
            if deviation is not None:
                deviations.append(deviation)
        results.append(SlotResult(index + 1, answer.verdict, answer.note, expected, deviation))

    tempo_bpm = 60.0 / (line.step_s * cell.grid) if line is not None else None
    noisy = any(extra.kind in (NOISE, STRAY) for extra in played.extras)
    return Repetition(
        rep=played.rep,
        take=played.take,
        cell=cell,
        start_s=_start_s(played, cell, results, line),
        end_s=_end_s(played, cell, rig, line),
        complete=played.complete,
        pause_s=played.pause_s,
        tempo_bpm=tempo_bpm,
        notes_per_s=1.0 / line.step_s if line is not None else None,
        slots=tuple(results),
        extras=tuple(sorted(played.extras, key=lambda extra: extra.note.onset_s)),
        accuracy=hits / len(results),
        clean=played.complete and hits == len(results) and not noisy,
        evenness=Evenness(None, None, None, None)
        if paused
        else _evenness(points, deviations, line),
        since_start=played.since_start,
    )


def _evenness(
    points: Sequence[tuple[int, float]], deviations: Sequence[float], line: Line | None
) -> Evenness:
    intervals = [
        (onset_s - before_s) / (position - before)
        for (before, before_s), (position, onset_s) in zip(points, points[1:])
    ]
    if line is None or len(points) < LEAST_POINTS:
        return Evenness(cv_pct(intervals), npvi(intervals), None, None)
    worst = max((abs(deviation) for deviation in deviations), default=None)
    audible = None
    if deviations:
        rms = sqrt(sum(deviation * deviation for deviation in deviations) / len(deviations))
        audible = rms > just_noticeable_ms(line.step_s)
    return Evenness(cv_pct(intervals), npvi(intervals), worst, audible)


def _start_s(played: Played, cell: Cell, results: Sequence[SlotResult], line: Line | None) -> float:
    first = played.answers[0]
    if first.slot == played.entered:
        return first.note.onset_s
    expected = results[played.entered].expected_s if line is not None else None
    if expected is not None:
        return expected
    steps = cell.slots[first.slot].start - cell.slots[played.entered].start
    return _beside_extras(first.note.onset_s - steps * (played.step_s or 0.0), played)


def _beside_extras(expected_s: float, played: Played) -> float:
    """Where a missed first slot was due, on the right side of the extras near it: whose they are
    was told before the place was known to the millisecond."""
    if played.answers[0].slot == played.entered:
        return expected_s
    own_s = min((extra.note.onset_s for extra in played.extras), default=inf)
    return min(max(expected_s, played.after_s + _APART_S), own_s)


def _end_s(played: Played, cell: Cell, rig: Rig, line: Line | None) -> float:
    last = played.answers[-1]
    if not played.complete:
        return last.note.onset_s
    opening = cell.slots[0]
    steps = cell.steps + opening.start
    if line is not None:
        return line.start_s + line.step_s * steps + rig.delay.seconds(opening.string, opening.pitch)
    step_s = played.step_s or 0.0
    corrected = last.note.corrected_s + (steps - cell.slots[last.slot].start) * step_s
    return corrected + rig.delay.seconds(opening.string, opening.pitch)
