"""Conversion delay estimated from playing: against a click, from a steady pulse, or from ordinary
practice.

Only differences between strings show in the notes. What is common to all of them cannot be told
from the player's own lead or lag (with a click) or from nothing at all (without), and matters only
against an outside click. So every estimate is given against the mean of the strings that were
heard; ``common_ms`` stands apart.

Two descriptions: ``periods`` × period of the sounding pitch (sources.md C-01 to C-05), which holds
at every fret, and one constant a string. What the player does and what the converter does is told
apart in ``lateness.py``; all estimates are suggestions with 95 % intervals that hold the doubt
between the two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log2
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from ...core.events import Repetition
from ...core.pitch import A4_HZ, STANDARD_TUNING, period_s
from ...core.rig import Delay, Rig
from ..stats import robust_sd
from .lateness import Columns, Lateness, columns, lateness
from .model_average import Interval as Interval
from .practice import Practised, practised
from .pulse import Strokes, on_click, on_pulse, single
from .pulse import Struck as Struck
from .timekeeper import CLICK, PULSE, likeliest, whiten

if TYPE_CHECKING:
    import numpy as np

LEAST_NOTES = 24
LEAST_SLOTS = 6
DOUBT_MS = 1.0
_LEAST_OF_A_STRING = 6  # notes
_FAR = 4.0  # robust scatters from its neighbours beyond which a stroke is a slip
_NEIGHBOURS = 4  # on either side
# of a step, twice the spread of non-musicians (E-19); beyond it nothing was steady
_MOST_SCATTER = 0.12
_MOST_SCATTER_MS = 40.0  # beyond it two minutes tell nothing
_LEAST_MS = 0.01  # no converter and no player is more exact: the least scatter
# SD of the slots' habits, in a hundredth of a step
_SLOT_PCT = (0.3, 0.5, 0.8, 1.2, 1.8, 2.7, 4.0, 6.0)


class StringDelay(NamedTuple):
    """One string's delay against the mean of all strings heard."""

    string: int
    notes: int
    pitch: float  # whose period is the mean of its notes' periods
    relative_ms: Interval | None  # None where too little was heard of it
    # later than its pitches tell: the player's habit or its own, not told apart
    beyond_ms: Interval | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DelayEstimate:
    """What was found; ``why`` says why nothing was, and is None otherwise."""

    how: str  # "click", "pulse" or "practice"
    notes: int
    strings: tuple[StringDelay, ...] = ()
    periods: Interval | None = None
    # of single strokes, the pulse's own wandering apart; of practice None
    scatter_ms: float | None = None
    common_ms: Interval | None = None  # click only: player, converter and sound path together
    constant: float | None = None  # chance that the delay goes by the string, whatever the fret
    why: str | None = None

    @property
    def in_doubt(self) -> tuple[StringDelay, ...]:
        """Strings that for sure come earlier or later than their pitches tell, by more than
        ``DOUBT_MS``.

        By the player's habit or by the converter: the notes do not say which. A suggestion by
        periods leaves it out.
        """
        return tuple(
            one
            for one in self.strings
            if one.beyond_ms is not None and _least(one.beyond_ms) > DOUBT_MS
        )

    def suggestion(self, rig: Rig, per_string: bool = False) -> Delay | None:
        """A delay for the rig that keeps its common part; None where nothing can be suggested.

        By periods, or by string where that is asked for or the delay plainly goes by the string and
        not by the pitch. The rig's mean over what was heard stays as it is unless a delay would
        fall below zero.
        """
        if not per_string and (self.constant or 0.0) <= 0.5:
            return self._by_periods(rig)
        heard = {one.string: one for one in self.strings if one.relative_ms is not None}
        if not heard or any(string not in heard for string in range(1, len(rig.channels) + 1)):
            return None
        away_ms = {
            string: one.relative_ms.value
            for string, one in heard.items()
            if one.relative_ms is not None
        }
        common_ms = max(_common_ms(rig, list(heard.values())), -min(away_ms.values()))
        return Delay(
            per_string_ms=tuple(round(common_ms + away_ms[string], 1) for string in sorted(heard))
        )

    def _by_periods(self, rig: Rig) -> Delay | None:
        if self.periods is None:
            return None
        periods = max(0.0, self.periods.value)
        mean_ms = sum(1000.0 * periods * period_s(one.pitch) for one in self.strings) / len(
            self.strings
        )
        return Delay(round(max(0.0, _common_ms(rig, self.strings) - mean_ms), 1), round(periods, 2))


def _least(ms: Interval) -> float:
    """How far the whole interval lies from zero."""
    return max(ms.low, -ms.high)


def _common_ms(rig: Rig, strings: Sequence[StringDelay]) -> float:
    """What the rig takes off on average at the pitches that were heard."""
    return sum(1000.0 * rig.delay.seconds(one.string, one.pitch) for one in strings) / len(strings)


# --------------------------------------------------------------------------- to a click, in a pulse


def against_click(
    notes: Sequence[Struck], clicks_s: Sequence[float], tuning: Sequence[int] = STANDARD_TUNING
) -> DelayEstimate:
    """Delays from notes played to a click, one or several to each.

    clicks_s: times at which the clicks were sent. A note further than a third of a step from where
    the others lie on the grid is left out. A player wanders about the click for several notes on
    end (sources.md E-13) and leads or lags as a whole (E-20): ``common_ms``, known within half a
    step.
    """
    strokes = on_click(single(notes), clicks_s)
    if strokes is None or len(strokes.notes) < LEAST_NOTES:
        count = len(strokes.notes) if strokes else len(notes)
        return DelayEstimate(
            how="click", notes=count, why=f"too few notes or clicks ({count} and {len(clicks_s)})"
        )
    return _of_strokes("click", strokes, tuning)


def from_pulse(notes: Sequence[Struck], tuning: Sequence[int] = STANDARD_TUNING) -> DelayEstimate:
    """Delays from a steady pulse over several strings, reached from lower and from higher strings
    alike.

    Best on two frets that lie far apart: only there a string's delay changes and the player's habit
    does not. tuning: open strings, string 1 first.
    """
    kept = single(notes)
    if len(kept) < LEAST_NOTES:
        return DelayEstimate(how="pulse", notes=len(kept), why=f"too few notes ({len(kept)})")
    strokes = on_pulse(kept)
    found = _of_strokes("pulse", strokes, tuning) if strokes is not None else None
    step_s = median(later.t_s - note.t_s for note, later in zip(kept, kept[1:]))
    most_ms = min(1000.0 * _MOST_SCATTER * step_s, _MOST_SCATTER_MS)
    if found is None or (found.scatter_ms or 0.0) > most_ms:
        return DelayEstimate(
            how="pulse", notes=len(kept), why="no steady pulse: the intervals are too unlike"
        )
    return found


def _of_strokes(how: str, strokes: Strokes, tuning: Sequence[int]) -> DelayEstimate:
    """Fit; leave out slips; learn the player's clock; leave out slips anew; and tell."""
    import numpy as np

    to_click = how == "click"
    given = columns(strokes.notes, strokes.before, tuning, to_click=to_click)
    if not _is_tied(given):
        return DelayEstimate(how=how, notes=len(strokes.notes), why=_NOT_TIED)
    both = np.concatenate([given.values, strokes.away_ms[:, None]], axis=1)
    kept, clock = np.ones(len(both), bool), CLICK if to_click else PULSE
    for _ in range(2):
        white = whiten(both[kept], strokes.some(kept.tolist()), clock)
        value = np.linalg.lstsq(white[:, :-1], white[:, -1], rcond=1e-6)[0]
        rest = both[:, -1] - both[:, :-1] @ value
        kept = _near(rest, kept)
        clock = likeliest(rest[kept], strokes.some(kept.tolist()), to_click)
    white = whiten(both[kept], strokes.some(kept.tolist()), clock)
    own, away = white[:, :-1], white[:, -1]
    value, _, rank, _ = np.linalg.lstsq(own, away, rcond=1e-6)
    variance = float(np.sum((away - own @ value) ** 2)) / max(len(own) - int(rank), 1)
    variance = max(variance, _LEAST_MS**2)
    found = lateness(given, own, away, (variance,), _LEAST_OF_A_STRING)
    return _told(how, len(strokes.notes), given, found, variance**0.5)


def _near(rest: np.ndarray, kept: np.ndarray) -> np.ndarray:
    """Strokes that lie no further from their neighbours' median than strokes do."""
    import numpy as np

    around = [
        np.median(rest[max(0, at - _NEIGHBOURS) : at + _NEIGHBOURS + 1]) for at in range(len(rest))
    ]
    off = np.abs(rest - np.array(around))
    return np.asarray(off <= max(_FAR * robust_sd(off[kept]), 5.0 * _LEAST_MS))


# ------------------------------------------------------------------------------------ from practice


def from_practice(reps: Sequence[Repetition]) -> DelayEstimate:
    """Delays from ordinary practice: where the slots of several cells lie against their
    repetitions' own tempo.

    A slot that is early or late by habit looks like a delay, so a slot counts once however often it
    was played, and the interval comes from how unlike the slots of one string are. Several cells,
    frets and orders make it narrow. Complete repetitions with most picked slots hit count; of each
    slot the median over them. Habits grow with the step (sources.md E-22: longer intervals scatter
    more), so fast cells say more than slow ones. Arrival times are used, whatever delay was taken
    off when they were judged.
    """
    import numpy as np

    pieces = practised(reps)
    notes = [Struck(0.0, slot.string, slot.pitch) for piece in pieces for slot in piece.slots]
    count = sum(piece.reps * len(piece.slots) for piece in pieces)
    if len(notes) < LEAST_SLOTS:
        return DelayEstimate(
            how="practice",
            notes=count,
            why=f"too few notes of cells with enough whole repetitions ({len(notes)})",
        )
    before = [_slot_before(piece, at) for piece in pieces for at in range(len(piece.slots))]
    given = columns(notes, before, pieces[0].cell.tuning, crossings=False)
    if not _is_tied(given):
        return DelayEstimate(how="practice", notes=count, why=_NOT_TIED)
    white, away = [], []
    begin = 0
    for piece in pieces:
        end = begin + len(piece.slots)
        free = np.linalg.qr(piece.span, mode="complete")[0][:, 2:].T / (0.01 * piece.step_ms)
        white.append(free @ given.values[begin:end])
        away.append(free @ piece.away_ms)
        begin = end
    own, off = np.concatenate(white), np.concatenate(away)
    found = lateness(given, own, off, [pct**2 for pct in _SLOT_PCT])
    return _told("practice", count, given, found, None)


def _slot_before(piece: Practised, at: int) -> Struck | None:
    """The slot before a picked one in the loop, where that is picked and a step away; else nothing
    is said of it."""
    slot, last = piece.slots[at], piece.slots[at - 1]
    alone = (slot.start - last.start) % piece.cell.steps == 1
    return Struck(0.0, last.string, last.pitch) if alone else None


# ---------------------------------------------------------------------------------------- in common

_NOT_TIED = "the strings are not tied together: play across them in both orders"


def _is_tied(given: Columns) -> bool:
    """Anything at all can be compared: two strings, or two pitches."""
    return len(given.strings) > 1 or len({float(ms) for ms in given.values[:, 0]}) > 1


def _told(
    how: str, count: int, given: Columns, found: Lateness, scatter_ms: float | None
) -> DelayEstimate:
    strings = []
    for string, notes, period_ms in zip(given.strings, given.counts, given.period_ms):
        relative, beyond = found.strings.get(string, (None, None))
        strings.append(
            StringDelay(
                string, notes, 69.0 - 12.0 * log2(A4_HZ * period_ms / 1000.0), relative, beyond
            )
        )
    return DelayEstimate(
        how=how,
        notes=count,
        strings=tuple(strings),
        periods=found.periods,
        scatter_ms=scatter_ms,
        common_ms=found.common_ms,
        constant=found.constant,
    )
