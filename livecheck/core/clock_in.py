"""Beats out of another program's MIDI clock: 24 timing clocks a beat, start, continue, stop.

Pure: clocks come in with the time of their arrival. Each is late by what a busy machine holds it
up, never early, so the line through the last two beats is fitted to medians: the step is the median
of differences over a beat, the place the median of what is left. Clocks that were lost are counted
as gone where a gap is a whole number of steps; a longer silence is a loss, which is told.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from statistics import median

from .click import CLOCKS_A_BEAT

KEPT = 2 * CLOCKS_A_BEAT
FEWEST = CLOCKS_A_BEAT + 1  # clocks before a beat is told
_SLOWEST_S = 60.0 / (20.0 * CLOCKS_A_BEAT)
_LOST_STEPS, _LOST_S = 6.0, 0.25
_MOST_GONE = CLOCKS_A_BEAT
_OFF = 0.35
"""Of a step: a gap further from a whole number of steps is a change of tempo, not a loss (no
source)."""
_CHANGED = 0.06
"""A tempo that differs by this share over half a beat is a new one: what was kept is dropped (no
source)."""


@dataclass(frozen=True, slots=True)
class ClockBeat:
    """A beat: its place on the fitted line, its number from the start, the tempo there."""

    t_ns: int
    beat: int
    bpm: float


class ClockIn:
    """Follow one clock. ``lost`` counts clocks that did not come; ``running`` is whether play was
    started; a clock that never says start is taken to run."""

    def __init__(self) -> None:
        self.lost = 0
        self.running = True
        self._kept: deque[tuple[int, int]] = deque(maxlen=KEPT)  # number, time
        self._number = -1  # of the last clock since the start
        self._told = -1  # number of the last beat told
        self._last_ns: int | None = None

    def start(self) -> None:
        """Start: the next clock is the first beat."""
        self._number, self._told, self.running = -1, -1, True
        self._kept.clear()

    def resume(self) -> None:
        """Continue: the next clock comes after the last one played."""
        self.running = True
        self._kept.clear()

    def stop(self) -> None:
        """Stop: clocks that come are not counted."""
        self.running = False

    def position(self, sixteenths: int) -> None:
        """The song position: so many sixteenths, of six clocks each, are played (M-29)."""
        self._number = 6 * sixteenths - 1
        self._told = self._number // CLOCKS_A_BEAT
        self._kept.clear()

    @property
    def bpm(self) -> float | None:
        """The tempo; None before a beat of clocks has come."""
        fit = self._fit()
        return None if fit is None else 60e9 / (fit[0] * CLOCKS_A_BEAT)

    def clock(self, t_ns: int) -> list[ClockBeat]:
        """A timing clock came: the beat that it is, if it is one."""
        if not self.running:
            self._last_ns = t_ns
            return []
        self._number += 1 + self._gone(t_ns)
        self._last_ns = t_ns
        self._kept.append((self._number, t_ns))
        self._drop_old_tempo()
        beat, between = divmod(self._number, CLOCKS_A_BEAT)
        if between or beat <= self._told:
            return []
        self._told = beat
        fit = self._fit()
        if fit is None:
            return []
        step_ns, zero_ns = fit
        at_ns = round(zero_ns + self._number * step_ns)
        return [ClockBeat(min(at_ns, t_ns), beat, 60e9 / (step_ns * CLOCKS_A_BEAT))]

    def is_lost(self, now_ns: int) -> bool:
        """Whether the clock has stopped coming without a word."""
        if not self.running or self._last_ns is None:
            return False
        fit = self._fit()
        step_s = _SLOWEST_S if fit is None else fit[0] / 1e9
        return now_ns - self._last_ns > 1e9 * max(_LOST_S, _LOST_STEPS * step_s)

    def _gone(self, t_ns: int) -> int:
        """How many clocks are missing before one that came."""
        fit = self._fit()
        if fit is None or not self._kept:
            return 0
        number, _ = self._kept[-1]
        steps = (t_ns - fit[1]) / fit[0] - number
        gone = round(steps) - 1
        if not 0 < gone <= _MOST_GONE or abs(steps - round(steps)) > _OFF:
            return 0
        self.lost += gone
        return gone

    def _drop_old_tempo(self) -> None:
        """After a change of tempo go on with the new clocks alone."""
        if len(self._kept) < FEWEST:
            return
        half = CLOCKS_A_BEAT // 2
        some = list(self._kept)
        (n0, t0), (n1, t1), (n2, t2) = some[-2 * half - 1], some[-half - 1], some[-1]
        before, after = (t1 - t0) / max(n1 - n0, 1), (t2 - t1) / max(n2 - n1, 1)
        if abs(after / before - 1.0) > _CHANGED:
            kept = some[-half - 1 :]
            self._kept.clear()
            self._kept.extend(kept)

    def _fit(self) -> tuple[float, float] | None:
        """Nanoseconds a step, and where number 0 lies."""
        some = list(self._kept)
        span = CLOCKS_A_BEAT if len(some) > CLOCKS_A_BEAT else CLOCKS_A_BEAT // 2
        if len(some) <= span:
            return None
        step_ns = median(
            (later[1] - one[1]) / (later[0] - one[0]) for one, later in zip(some, some[span:])
        )
        return step_ns, median(t_ns - number * step_ns for number, t_ns in some)
