"""When a click is due and what is sent for it. Pure: the clock's reading is an argument.

A schedule lies on a grid of ticks, so many a beat, each counted from the beginning, so that nothing
adds up. What could only come late (the process was stopped, the computer slept, the port was away)
is left out: a burst of clicks caught up with would mislead.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from math import ceil, lcm
from typing import Any

from ..errors import BadInput
from .cell import Cell

LOWEST_BPM, HIGHEST_BPM = 20.0, 400.0
BEATS_A_BAR = 4
COUNT_IN = BEATS_A_BAR
LATE_NS = 20_000_000
"""A click later than this is left out: no source; an asynchrony of 20 ms is within what players do
(E-20)."""

LENGTH_NS = 30_000_000
HIGH, LOW, SOFT = 76, 77, 75  # wood blocks and claves of General MIDI (M-32)
NOTES = frozenset((HIGH, LOW, SOFT))
ACCENTS = ("count-in", "bar", "repetition", "none")
MOST_SUBDIVISIONS = 8
CLOCKS_A_BEAT = 24  # of MIDI clock (sources.md M-27)
CLOCK, START, CONTINUE, STOP = b"\xf8", b"\xfa", b"\xfb", b"\xfc"

_ON, _OFF = 0x99, 0x89  # channel 10 (sources.md M-34)
_VELOCITY, _SOFT_VELOCITY = 110, 70


@dataclass(frozen=True, slots=True)
class Schedule:
    """Clicks from a moment on, a count-in first.

    begin_ns: the first beat, in nanoseconds of perf_counter. beats: how many there are, the
    count-in included; None: without end. accent: what is high: the count-in alone, each bar's first
    beat too, or each beat on which a repetition of ``steps`` grid steps, ``grid`` a beat, begins
    (one of six sixteenths comes round on every third beat); or nothing. subdivide: clicks a beat,
    those between the beats softer. sounding, silent: so many bars with the click, then so many
    without, over and over after the count-in. notes: send clicks; clock: send MIDI clock, with
    start where the count-in is over and stop at the end; resume: continue in the place of start.
    """

    begin_ns: int
    bpm: float
    beats: int | None = None
    count_in: int = COUNT_IN
    accent: str = "count-in"
    steps: int = 0
    grid: int = 1
    subdivide: int = 1
    sounding: int = 0
    silent: int = 0
    notes: bool = True
    clock: bool = False
    resume: bool = False

    @property
    def ticks(self) -> int:
        """Ticks a beat.

        >>> Schedule(0, 90.0).ticks, Schedule(0, 90.0, subdivide=3, clock=True).ticks
        (1, 24)
        """
        return lcm(self.subdivide, CLOCKS_A_BEAT) if self.clock else self.subdivide

    def due_ns(self, tick: int) -> int:
        """When a tick is due.

        >>> Schedule(0, 90.0).due_ns(90)
        60000000000
        """
        return self.begin_ns + round(tick * 60e9 / (self.bpm * self.ticks))

    def next_tick(self, last: int, now_ns: int) -> int | None:
        """The tick to be sent after ``last`` (-1 before the first): the next one that is not too
        late already; None: it is over. The end of MIDI clock is never too late.

        >>> ticks = Schedule(0, 60.0)
        >>> ticks.next_tick(4, 5_010_000_000), ticks.next_tick(4, 9_500_000_000)
        (5, 10)
        """
        soonest = now_ns - LATE_NS
        tick = max(last + 1, int((soonest - self.begin_ns) * self.bpm * self.ticks / 60e9))
        while self.due_ns(tick) < soonest:
            tick += 1
        if self.beats is not None:
            end = self.beats * self.ticks
            if self.clock and last < end:
                return min(tick, end)
            if tick >= end:
                return None
        return tick

    def beat_at(self, tick: int) -> int | None:
        """The number, from 0, of the beat that sounds at a tick; None where none does."""
        beat, between = divmod(tick, self.ticks)
        if between or not self.notes or not self._audible(beat):
            return None
        return beat if self.beats is None or beat < self.beats else None

    def note_at(self, tick: int) -> int | None:
        """The note number that sounds at a tick; None where none does."""
        beat, between = divmod(tick, self.ticks)
        if not self.notes or not self._audible(beat):
            return None
        if self.beats is not None and beat >= self.beats:
            return None
        if between:
            return (
                SOFT
                if (tick * self.subdivide) % self.ticks == 0 and beat >= self.count_in
                else None
            )
        return HIGH if self._accented(beat) else LOW

    def sent_at(self, tick: int) -> tuple[bytes, ...]:
        """The messages of a tick, in order; the clock's before the note.

        Play begins at the first clock after the start (M-28), so that it goes out a clock earlier.
        """
        sent: list[bytes] = []
        if self.clock:
            if self.beats is not None and tick == self.beats * self.ticks:
                return (STOP,)
            if tick % self._clock_ticks == 0:
                sent.append(CLOCK)
            if tick == self.start_tick:
                sent.append(CONTINUE if self.resume else START)
        note = self.note_at(tick)
        if note is not None:
            sent.append(bytes((_ON, note, _SOFT_VELOCITY if note == SOFT else _VELOCITY)))
        return tuple(sent)

    @property
    def start_tick(self) -> int:
        """The tick whose clock is followed by the start."""
        return self.count_in * self.ticks - self._clock_ticks

    def again_at(self, tick: int) -> tuple[bytes, ...]:
        """What sets receivers going again after clocks were left out: the song position, in
        sixteenths of six clocks, and continue (M-29); nothing at ticks where it cannot be told."""
        clocks = (tick - self.start_tick) // self._clock_ticks  # played when the next one comes
        if tick < self.start_tick or tick % self._clock_ticks or clocks % 6:
            return ()
        sixteenths = (clocks // 6) & 0x3FFF
        return (bytes((0xF2, sixteenths & 0x7F, sixteenths >> 7)), CONTINUE)

    @property
    def _clock_ticks(self) -> int:
        return self.ticks // CLOCKS_A_BEAT

    def play_ns(self) -> int:
        """When the count-in is over: the beat on which play begins."""
        return self.due_ns(self.count_in * self.ticks)

    def _accented(self, beat: int) -> bool:
        if self.accent == "none":
            return False
        played = beat - self.count_in
        if played < 0:
            return True
        if self.accent == "bar":
            return played % BEATS_A_BAR == 0
        return (
            self.accent == "repetition"
            and self.steps > 0
            and (played * self.grid) % self.steps == 0
        )

    def _audible(self, beat: int) -> bool:
        played = beat - self.count_in
        if played < 0 or not self.silent:
            return True
        return (played // BEATS_A_BAR) % (self.sounding + self.silent) < self.sounding

    def to_dict(self) -> dict[str, Any]:
        """Ready for JSON."""
        return asdict(self)


def note_off(note: int) -> bytes:
    """The note-off of a click."""
    return bytes((_OFF, note, 64))


def schedule_from(told: Mapping[str, Any], begin_ns: int) -> Schedule:
    """The schedule that a command tells; ``begin_ns`` is used where it says none. Raises
    BadInput."""
    if not isinstance(told, Mapping):
        raise BadInput("click: a schedule is needed")
    known = {field.name: field for field in fields(Schedule)}
    unknown = sorted(set(told) - set(known))
    if unknown:
        raise BadInput(f"click: a schedule has no {unknown[0]!r}")
    values = {"begin_ns": begin_ns, **told, "bpm": tempo_from(told.get("bpm"))}
    least = {"begin_ns": 0, "beats": 1, "count_in": 0, "steps": 0, "grid": 1, "subdivide": 1}
    least |= {"sounding": 0, "silent": 0}
    for name, low in least.items():
        value = values.get(name, low)
        if name == "beats" and value is None:
            continue
        if type(value) is not int or value < low:
            raise BadInput(f"click: {name}: {value!r} is no whole number from {low} on")
    for name in ("notes", "clock", "resume"):
        if type(values.get(name, False)) is not bool:
            raise BadInput(f"click: {name}: true or false is needed")
    if values.get("accent", ACCENTS[0]) not in ACCENTS:
        raise BadInput(f"click: accent: {values['accent']!r}; there is: {', '.join(ACCENTS)}")
    if values.get("subdivide", 1) > MOST_SUBDIVISIONS:
        raise BadInput(f"click: subdivide: at most {MOST_SUBDIVISIONS} clicks a beat")
    if values.get("clock") and not values.get("count_in", COUNT_IN):
        raise BadInput("click: MIDI clock needs a count-in: start goes out before play begins")
    if values.get("silent", 0) and not values.get("sounding", 0):
        raise BadInput("click: silent bars need sounding ones between them")
    return Schedule(**values)


def tempo_from(value: Any) -> float:
    """A tempo that a click can have. Raises BadInput."""
    if (
        isinstance(value, bool)
        or not isinstance(value, (int, float))
        or not LOWEST_BPM <= value <= HIGHEST_BPM
    ):
        raise BadInput(
            f"click: {value!r} is no tempo; {LOWEST_BPM:g} to {HIGHEST_BPM:g} beats a minute can "
            "be had"
        )
    return float(value)


def whole_bpm(bpm: float) -> float:
    """The tempo nearest to this one that a click is given: whole beats a minute (below 60 halves),
    within what it can have.

    >>> whole_bpm(52.4), whole_bpm(99.6), whole_bpm(7.0)
    (52.5, 100.0, 20.0)
    """
    step = 1.0 if bpm >= 60.0 else 0.5
    return min(max(round(bpm / step) * step, LOWEST_BPM), HIGHEST_BPM)


def beats_of(cell: Cell, repetitions: int) -> float:
    """How many beats so many repetitions last.

    >>> from .cell import make_cell
    >>> beats_of(make_cell("six", [(2, 10)] * 6), 4)
    6.0
    """
    return repetitions * cell.steps / cell.grid


def block_schedule(
    cell: Cell, bpm: float, repetitions: int, begin_ns: int, **more: Any
) -> Schedule:
    """A count-in, then a click on each beat that begins before the last repetition ends."""
    played = ceil(beats_of(cell, repetitions) - 1e-9)
    return Schedule(begin_ns, bpm, COUNT_IN + played, steps=cell.steps, grid=cell.grid, **more)


def block_end_ns(cell: Cell, schedule: Schedule, repetitions: int) -> int:
    """When the last repetition ends."""
    return schedule.play_ns() + round(beats_of(cell, repetitions) * 60e9 / schedule.bpm)
