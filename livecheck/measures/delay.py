"""Conversion delay estimated from playing: against a click, from a steady pulse, or from ordinary practice.

Only differences between strings show in the notes. What is common to all of them cannot be told from the player's own
lead or lag (with a click) or from nothing at all (without), and matters only against an outside click. So every
estimate is given against the mean of the strings that were heard; ``common_ms`` stands apart.

Two descriptions: one constant a string, and ``periods`` × period of the sounding pitch (sources.md C-01 to C-05), which
needs far fewer notes and holds at every fret. All estimates are suggestions with 95 % intervals.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from ..core.events import HIT, Repetition
from ..core.pitch import period_s
from ..core.rig import Delay, Rig
from .profile import t_975
from .robust import fit

if TYPE_CHECKING:
    import numpy as np

LEAST_NOTES = 24
_AGAIN_S = 0.060  # the same string again within this is no stroke of the pulse (C-14)
_HABIT_MS = 0.4
"""SD of a player's habit of reaching one string a little late, which no pulse or click tells from delay. No source."""
_TREND_NOTES = 24  # the pulse may change its tempo this slowly


class Struck(NamedTuple):
    """One played note of a pulse or beside a click."""

    t_s: float  # arrival
    string: int
    pitch: int


class Interval(NamedTuple):
    """An estimate with its 95 % interval."""

    value: float
    low: float
    high: float


class StringDelay(NamedTuple):
    """One string's delay against the mean of all strings heard."""

    string: int
    notes: int
    pitch: float  # median sounding pitch of its notes
    relative_ms: Interval | None  # None where the notes do not tie it to the other strings


@dataclass(frozen=True, slots=True)
class DelayEstimate:
    """What was found; ``why`` says why nothing was, and is None otherwise."""

    how: str  # "click", "pulse" or "practice"
    notes: int
    strings: tuple[StringDelay, ...] = ()
    periods: Interval | None = None
    scatter_ms: float | None = None  # of single onsets (practice: of slots) about the model
    common_ms: Interval | None = None  # click only: player, converter and sound path together
    why: str | None = None

    def suggestion(self, rig: Rig, per_string: bool = False) -> Delay | None:
        """A delay for the rig that keeps its common part; None where nothing can be suggested.

        By periods, or by string for the strings that were heard. The rig's mean over what was heard stays as it is
        unless a delay would fall below zero.
        """
        if not per_string:
            return self._by_periods(rig)
        heard = {one.string: one for one in self.strings if one.relative_ms is not None}
        if not heard or any(string not in heard for string in range(1, len(rig.channels) + 1)):
            return None
        away_ms = {string: one.relative_ms.value for string, one in heard.items() if one.relative_ms is not None}
        common_ms = max(_common_ms(rig, list(heard.values())), -min(away_ms.values()))
        return Delay(per_string_ms=tuple(round(common_ms + away_ms[string], 1) for string in sorted(heard)))

    def _by_periods(self, rig: Rig) -> Delay | None:
        if self.periods is None:
            return None
        periods = max(0.0, self.periods.value)
        mean_ms = sum(1000.0 * periods * period_s(one.pitch) for one in self.strings) / len(self.strings)
        return Delay(round(max(0.0, _common_ms(rig, self.strings) - mean_ms), 1), round(periods, 2))


def _common_ms(rig: Rig, strings: Sequence[StringDelay]) -> float:
    """What the rig takes off on average at the pitches that were heard."""
    return sum(1000.0 * rig.delay.seconds(one.string, one.pitch) for one in strings) / len(strings)


# ---------------------------------------------------------------------------------------------------- against a click


def against_click(notes: Sequence[Struck], clicks_s: Sequence[float]) -> DelayEstimate:
    """Delays from notes played to a click.

    clicks_s: times at which the clicks were sent, rising. Each note is held against its nearest click; one further
    away than a third of the clicks' interval is left out.
    """
    import numpy as np

    kept = _single(notes)
    clicks = np.array(sorted(clicks_s))
    if len(clicks) < 2 or len(kept) < LEAST_NOTES:
        return DelayEstimate("click", len(kept), why=f"too few notes or clicks ({len(kept)} and {len(clicks)})")
    times = np.array([note.t_s for note in kept])
    after = np.clip(np.searchsorted(clicks, times), 1, len(clicks) - 1)
    nearest = np.where(times - clicks[after - 1] < clicks[after] - times, clicks[after - 1], clicks[after])
    away = times - nearest
    near = np.abs(away) < float(np.median(np.diff(clicks))) / 3.0
    kept = [note for note, is_near in zip(kept, near) if is_near]
    if len(kept) < LEAST_NOTES:
        return DelayEstimate("click", len(kept), why=f"only {len(kept)} notes came near a click")
    away_ms = 1000.0 * away[near]
    nothing = np.zeros((len(kept), 0))
    found = _estimate("click", kept, away_ms, nothing, lambda x: x - x.mean(axis=0))
    if found.scatter_ms is None:
        return found
    middle, half = float(np.mean(away_ms)), t_975(len(kept) - 1) * found.scatter_ms / len(kept) ** 0.5
    return replace(found, common_ms=Interval(middle, middle - half, middle + half))


# ------------------------------------------------------------------------------------------------------- from a pulse


def from_pulse(notes: Sequence[Struck]) -> DelayEstimate:
    """Delays from a steady pulse over several strings, reached from lower and from higher strings alike.

    Fits intervals, not onsets: a slowly changing tempo, the strings' differences, and a habit of coming early or late
    with the direction of the crossing. Neighbouring intervals share a stroke, so their errors are anticorrelated
    (sources.md E-12, E-13); the fit weighs them so.
    """
    import numpy as np

    kept = _single(notes)
    times = np.array([note.t_s for note in kept])
    gaps = np.diff(times)
    if len(kept) < LEAST_NOTES:
        return DelayEstimate("pulse", len(kept), why=f"too few notes ({len(kept)})")
    pulse_s = float(np.median(gaps))
    steps = np.maximum(np.round(gaps / pulse_s), 1.0)
    even = (np.abs(gaps / pulse_s - steps) < 0.4) & (steps <= 2)
    if float(np.mean(even)) < 0.7:
        return DelayEstimate("pulse", len(kept), why="no steady pulse: the intervals are too unlike")
    rows = np.flatnonzero(even)
    trend = _trend(len(kept) - 1)[rows] * steps[rows][:, None]
    way = np.sign([one.string - other.string for one, other in zip(kept[1:], kept)])
    direction = np.concatenate(([0.0], way))  # a note reached from a lower string, or a higher one
    habits = np.diff(direction)[rows][:, None]
    usable = [trend, habits] if float(np.abs(habits).sum()) > 0 and len(set(way)) > 1 else [trend]
    nuisance = np.concatenate(usable, axis=1)
    gaps_ms = 1000.0 * gaps[rows]

    def in_gaps(x: np.ndarray) -> np.ndarray:
        return np.asarray(np.diff(x, axis=0)[rows])

    return _estimate("pulse", kept, gaps_ms, nuisance, in_gaps, neighbours=rows)


def _trend(count: int) -> np.ndarray:
    """Piecewise straight lines: how the pulse may change over ``count`` intervals."""
    import numpy as np

    knots = np.linspace(0, count - 1, max(2, round(count / _TREND_NOTES) + 1))
    places = np.arange(count)[:, None]
    return np.asarray(np.clip(1.0 - np.abs(places - knots) / (knots[1] - knots[0]), 0.0, 1.0))


def _single(notes: Sequence[Struck]) -> list[Struck]:
    """Notes in order, without a string's second trigger."""
    kept: list[Struck] = []
    last: dict[int, float] = {}
    for note in sorted(notes):
        if note.t_s - last.get(note.string, -1e9) >= _AGAIN_S:
            kept.append(note)
        last[note.string] = note.t_s
    return kept


# ---------------------------------------------------------------------------------------------------- from practice


def from_practice(reps: Sequence[Repetition]) -> DelayEstimate:
    """Delays from ordinary practice: where the slots of several cells lie against their repetitions' own tempo.

    A slot that is early or late by habit looks like a delay, so a slot counts once however often it was played, and
    the interval comes from how unlike the slots of one string are. Several cells, frets and orders make it narrow.
    Only complete repetitions with every picked slot hit count; of each slot the median over them. Arrival times are
    used, whatever delay was taken off when they were judged.
    """
    import numpy as np

    pieces = [piece for piece in map(_piece, _alike(reps)) if piece is not None]
    notes = [Struck(0.0, string, pitch) for piece in pieces for string, pitch in zip(piece.strings, piece.pitches)]
    count = sum(piece.reps * len(piece.strings) for piece in pieces)
    if len(notes) < 6:
        return DelayEstimate("practice", count, why=f"too few slots with enough whole repetitions ({len(notes)})")
    ends = np.cumsum([0, *(len(piece.strings) for piece in pieces)])
    spans = [np.stack([np.ones(len(piece.places)), piece.places], axis=1) for piece in pieces]

    def off_line(x: np.ndarray) -> np.ndarray:
        parts = []
        for begin, end, span in zip(ends, ends[1:], spans):
            part = x[begin:end]
            parts.append(part - span @ np.linalg.lstsq(span, part, rcond=None)[0])
        return np.concatenate(parts)

    away_ms = np.concatenate([piece.away_ms for piece in pieces])
    lines = np.zeros((len(notes), 0))
    found = _estimate("practice", notes, off_line(away_ms), lines, off_line, taken=2 * len(pieces), least=1)
    return replace(found, notes=count)


class _Piece(NamedTuple):
    """The picked slots of one cell: places on the grid and how far from the line their notes arrive."""

    places: list[int]
    strings: list[int]
    pitches: list[int]
    away_ms: np.ndarray
    reps: int


def _alike(reps: Sequence[Repetition]) -> list[list[Repetition]]:
    groups: dict[tuple[object, ...], list[Repetition]] = {}
    for rep in reps:
        groups.setdefault((rep.cell.slots, rep.cell.steps, rep.cell.grid), []).append(rep)
    return list(groups.values())


def _piece(reps: Sequence[Repetition]) -> _Piece | None:
    import numpy as np

    slots = [slot for slot in reps[0].cell.slots if slot.picked]
    onsets = []
    for rep in reps:
        if not rep.complete or rep.pause_s > 0.0:
            continue
        results = [rep.slots[slot.number - 1] for slot in slots]
        own = [one.note.onset_s for one in results if one.verdict == HIT and one.note is not None]
        if len(own) == len(slots) and all(one.note is not None and one.note.by == "note" for one in results):
            onsets.append(own)
    if len(slots) < 4 or len(onsets) < 5:
        return None
    places = np.array([slot.start for slot in slots], float)
    span = np.stack([np.ones(len(places)), places], axis=1)
    times = np.array(onsets).T
    away = times - span @ np.linalg.lstsq(span, times, rcond=None)[0]
    return _Piece(
        [slot.start for slot in slots],
        [slot.string for slot in slots],
        [slot.pitch for slot in slots],
        1000.0 * np.median(away, axis=1),
        len(onsets),
    )


# -------------------------------------------------------------------------------------------------------- the fitting


def _estimate(
    how: str,
    notes: Sequence[Struck],
    y_ms: np.ndarray,
    nuisance: np.ndarray,
    seen: Callable[[np.ndarray], np.ndarray],
    *,
    neighbours: np.ndarray | None = None,
    taken: int = 1,
    least: int = 6,
) -> DelayEstimate:
    """Both descriptions from what was seen.

    y_ms: what was seen of the notes' delays after ``seen``, a linear map of columns with a row a note. neighbours: row
    numbers of intervals that share a stroke with the row one lower. taken: freedoms that ``seen`` has used up. least:
    notes that a string must have.
    """
    import numpy as np

    strings = sorted({note.string for note in notes})
    counts = {string: sum(note.string == string for note in notes) for string in strings}
    pitch = {string: float(median(note.pitch for note in notes if note.string == string)) for string in strings}
    habit_ms = 1.96 * _HABIT_MS if how != "practice" else 0.0  # there the scatter of slots holds it already
    known = [string for string in strings if counts[string] >= least]
    each = np.array([[float(note.string == string) for string in strings] for note in notes])
    period_ms = np.array([[1000.0 * period_s(note.pitch)] for note in notes])
    periods = None
    by_period = fit(y_ms, seen(period_ms), nuisance, taken, neighbours)
    if by_period is not None and float(np.ptp(period_ms)) > 0.5:
        by_place = np.array([1000.0 * period_s(pitch[string]) for string in strings])
        reach = max(float(np.sum((by_place - by_place.mean()) ** 2)), 1.0) ** 0.5
        value, half = float(by_period.value[0]), float(np.hypot(by_period.half(np.ones(1)), habit_ms / reach))
        periods = Interval(value, value - half, value + half)
    relative: dict[int, Interval] = {}
    by_string = fit(y_ms, seen(each[:, 1:]), nuisance, taken, neighbours) if len(strings) > 1 else None
    if by_string is not None:
        contrast = np.full((len(strings), len(strings)), -1.0 / len(strings)) + np.eye(len(strings))
        for at, string in enumerate(strings):
            if string in known:
                value = float(contrast[at, 1:] @ by_string.value)
                half = float(np.hypot(by_string.half(contrast[at, 1:]), habit_ms))
                relative[string] = Interval(value, value - half, value + half)
    best = by_string or by_period
    if best is None:
        return DelayEstimate(how, len(notes), why="the strings are not tied together: play across them in both orders")
    told = tuple(StringDelay(string, counts[string], pitch[string], relative.get(string)) for string in strings)
    return DelayEstimate(how, len(notes), told, periods, best.scatter)
