"""From told notes to repetitions: where each begins and ends, what was missed, what the extras
were.

Owns every rule of formats.md about repetitions and extras except their figures
(measures/timing.py). Knows nothing of the search: it is given notes in the order struck, each with
the slot it answers or none, and the time that passes.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from .cell import Cell
from .crossings import Crossings
from .decode import OCTAVE_ERRORS, OCTAVE_HOLD_S, is_double
from .events import ARTEFACT, HIT, MISSED, NOISE, STRAY, Extra, ExtraTold, Note, SlotTold
from .line import Line, line_through
from .match import Told
from .pace import Pace
from .played import Answer, Certain, Closed, Played

PAUSE_S = 0.2
"""A step longer by more than this and a quarter of a step is a stop, not a slow note. No source."""

NEW_TAKE_S = 2.0
"""A pause longer than the cell's length and this ends the take (measures.md)."""

LATEST_S = 0.3
"""The longest delay that a converter may have, and a little."""

_UNKNOWN_STEP_S = 0.2
_MOST_LOOSE = 256


@dataclass(slots=True)
class _Loose:
    """A note that answers no slot and waits to be given its kind and its place."""

    note: Note
    artefact: bool


class Repetitions:
    """Gather told notes into repetitions; every call gives back what became certain, oldest first.

    ``under_way`` is the repetition being played. ``deadline_s`` is when ``passed`` has something to
    say if no note is waiting to be told; ``closing_s``: no untold note may have arrived before it
    when ``close`` is called. opening_delay_s: how late the cell's first slot arrives.
    """

    def __init__(
        self, cell: Cell, first_rep: int = 1, first_take: int = 1, opening_delay_s: float = 0.0
    ) -> None:
        self._cell = cell
        self._count = len(cell.slots)
        self._beat_steps = cell.grid
        self._quiet = frozenset(cell.quiet)
        self._crossings = Crossings(cell)
        self.next_rep = first_rep
        self.take = first_take - 1
        self.under_way: Played | None = None
        self.closing_s: float | None = None
        self.deadline_s: float | None = None
        # waiting for notes that arrived before the next one began
        self._ended: Played | None = None
        self._loose: list[_Loose] = []
        self._early: list[_Loose] = []  # while nothing is played: it may begin before they arrived
        self._heard: dict[int, _Loose | Note] = {}  # the last sounding note of each string
        self._pace = Pace()
        self._last_s: float | None = None  # stroke of the last answer
        self._line_step_s: float | None = None  # of the last repetition that has a line
        self._opening_delay_s = opening_delay_s
        self._placed_s = -inf  # arrival of the latest extra placed so far
        self._began_s = -inf  # arrival of the first answer of the repetition before

    # -------------------------------------------------------------------------------------- playing

    def told(self, told: Told) -> list[Certain]:
        """Take what became certain of the next note."""
        note = told.note
        early = self._before(note.struck_s) if self._early else []
        if told.slot < 0:
            # else a glide, vibrato or a wheel put back
            return early + self._extra(note) if note.by == "note" else early
        return early + self._answered(told)

    def _answered(self, told: Told) -> list[Certain]:
        note = told.note
        assert told.verdict is not None
        answer = Answer(told.slot, told.verdict, note)
        self._mark_octave(note)
        self._heard[note.string] = note
        certain = self._stop() if self._over(note.struck_s) else []
        now = self.under_way
        if now is None:
            self._pace.begin(answer.note)
            return certain + self._begin(answer, answer.slot)
        last = now.answers[-1]
        if answer.slot > last.slot:
            certain += self._settle(answer)
            certain += _missed(now, last.slot + 1, answer.slot)
            certain.append(SlotTold(now.rep, answer.slot + 1, answer.verdict, note))
            self._forward(now, last, answer)
            now.answers.append(answer)
            if answer.slot == self._count - 1:
                now.line = self._line(now)
            self._last_s = note.struck_s
            self._set_deadline(now)
        else:
            certain += self._turn(now, last, answer)
        return certain

    def _forward(self, now: Played, last: Answer, answer: Answer) -> None:
        steps = self._cell.slots[answer.slot].start - self._cell.slots[last.slot].start
        interval_s = answer.note.struck_s - last.note.struck_s
        step_s = self._pace.step_s
        if step_s is not None:
            beyond = interval_s - steps * step_s
            if beyond > PAUSE_S + 0.25 * step_s:
                now.pause_s += beyond
                self._pace.begin(answer.note)
                return
        self._pace.learn(interval_s / steps)
        self._pace.go_on(steps, answer.note)

    def _comes_round(self, last: Answer, answer: Answer, steps: int) -> bool:
        """Does a note of the next repetition come within half a step of where it was due?

        Where two estimates of the tempo disagree, a figure of which most was not played was broken
        off.
        """
        near = [abs(late) <= 0.5 for late in self._pace.late(last.note, answer.note, steps)]
        left_out = self._count - 1 - last.slot
        if not near:
            return left_out == 0
        return all(near) if 2 * left_out > self._count else any(near)

    def _turn(self, now: Played, last: Answer, answer: Answer) -> list[Certain]:
        """From one repetition into the next, in time or by starting again."""
        steps = (
            self._cell.steps
            + self._cell.slots[answer.slot].start
            - self._cell.slots[last.slot].start
        )
        interval_s = answer.note.struck_s - last.note.struck_s
        on_time = self._comes_round(last, answer, steps)
        if on_time:
            self._pace.learn(interval_s / steps)
            self._pace.go_on(steps, answer.note)
        else:
            self._pace.begin(answer.note)
        now.complete = on_time or last.slot == self._count - 1
        if on_time and answer.slot == 0 and answer.verdict == HIT:
            now.follower = answer.note
        entered = 0 if on_time else answer.slot
        certain: list[Certain] = []
        if now.complete:
            certain += _missed(now, last.slot + 1, self._count)
        now.line = self._line(now)
        certain += self._settle(answer, begins_s=self._begins(answer, entered))
        certain += self._end(now)
        return certain + self._begin(answer, entered, now.since_start + 1 if on_time else 1)

    def _begins(self, answer: Answer, entered: int) -> float:
        """Arrival time at which a repetition begins whose first answer this is."""
        slots = self._cell.slots
        if answer.slot == entered or self._pace.step_s is None:
            return answer.note.onset_s
        return answer.note.onset_s - (slots[answer.slot].start - slots[0].start) * self._pace.step_s

    def _begin(self, answer: Answer, entered: int, since_start: int = 1) -> list[Certain]:
        if self._last_s is None or answer.note.struck_s - self._last_s > self._longest_pause_s():
            self.take += 1
        now = self.under_way = Played(
            self.next_rep, self.take, entered, [answer], since_start=since_start
        )
        self.next_rep += 1
        begun = self._before(answer.note.onset_s)
        loose, self._loose = self._loose + self._early, []  # those that arrived after the beginning
        self._early = []
        certain = begun + _missed(now, 0, answer.slot)
        now.after_s = max(self._placed_s, self._began_s)
        self._began_s = answer.note.onset_s
        for item in loose:
            certain.append(self._place(item, now, None, answer))
        certain.append(SlotTold(now.rep, answer.slot + 1, answer.verdict, answer.note))
        if answer.slot == self._count - 1:
            now.line = self._line(now)
        self.closing_s = self._begins(answer, entered) if self._ended is not None else None
        self._last_s = answer.note.struck_s
        self._set_deadline(now)
        return certain

    def _end(self, now: Played) -> list[Certain]:
        """The repetition is over; it waits only for notes that arrived before the next one
        began."""
        certain = self.close()
        now.step_s = self._pace.step_s
        if now.line is not None:
            self._line_step_s = now.line.step_s
        self._ended, self.under_way = now, None
        return certain

    def close(self) -> list[Certain]:
        """Nothing that is still untold arrived before ``closing_s``."""
        ended, self._ended, self.closing_s = self._ended, None, None
        return [] if ended is None else [Closed(ended)]

    # -------------------------------------------------------------------------------------- silence

    def _longest_pause_s(self) -> float:
        return self._cell.steps * (self._pace.step_s or _UNKNOWN_STEP_S) + NEW_TAKE_S

    def _line(self, now: Played) -> Line | None:
        """Where its own tempo puts the grid, as far as it was played."""
        if now.pause_s > 0.0:
            return None
        return line_through(now.points(self._cell), self._line_step_s)

    def _due_s(self, now: Played) -> float:
        """Where the next repetition is due after one that went through; in corrected time."""
        steps = self._cell.steps + self._cell.slots[0].start
        if now.line is not None:
            return now.line.start_s + now.line.step_s * steps
        last, step_s = now.answers[-1], self._pace.step_s or _UNKNOWN_STEP_S
        return last.note.corrected_s + (steps - self._cell.slots[last.slot].start) * step_s

    def _beat_s(self, now: Played) -> float:
        step_s = now.line.step_s if now.line is not None else self._pace.step_s
        return self._beat_steps * (step_s or _UNKNOWN_STEP_S)

    def _over_s(self, now: Played) -> float:
        """From here on nothing belongs to the repetition any more, if the next one has not
        begun."""
        if now.answers[-1].slot == self._count - 1:
            return self._due_s(now) + self._beat_s(now)
        return now.answers[-1].note.struck_s + self._longest_pause_s()

    def _lateness_s(self, now: Played) -> float:
        """How much later than struck a note arrives, at the end of a repetition."""
        last = now.answers[-1]
        through = last.slot == self._count - 1
        return self._opening_delay_s if through else last.note.onset_s - last.note.struck_s

    def _owned_s(self, now: Played) -> float:
        """Arrival time up to which extras are the repetition's, once it is over."""
        if now.complete:
            return self._due_s(now) + self._opening_delay_s + self._beat_s(now)
        return now.answers[-1].note.onset_s + self._beat_s(now)

    def _over(self, struck_s: float) -> bool:
        return self.under_way is not None and struck_s > self._over_s(self.under_way)

    def _set_deadline(self, now: Played) -> None:
        self.deadline_s = self._over_s(now) + LATEST_S

    def passed(self) -> list[Certain]:
        """The deadline is over and no note waits to be told: play has stopped."""
        return self._stop()

    def finish(self) -> list[Certain]:
        """Nothing more will come."""
        return self._stop() + self.close()

    def _stop(self) -> list[Certain]:
        now = self.under_way
        self.deadline_s = None
        if now is None:
            return self._before(inf) + self.close()
        now.complete = now.answers[-1].slot == self._count - 1
        now.line = self._line(now)
        return self._settle(None) + self._end(now) + self.close()

    # --------------------------------------------------------------------------------------- extras

    def _extra(self, note: Note) -> list[Certain]:
        heard = self._heard.get(note.string)
        before = heard.note if isinstance(heard, _Loose) else heard
        item = _Loose(note, note.gated or is_double(before, note))
        if not note.gated:
            self._mark_octave(note)
            self._heard[note.string] = item
        now, ended = self.under_way, self._ended
        certain: list[Certain] = []
        if now is not None and note.onset_s > self._over_s(now) + self._lateness_s(now):
            certain = self._stop()
            now = None
        if now is None:
            self._early.append(item)
            self.deadline_s = note.onset_s + LATEST_S
            return certain
        if ended is not None and self.closing_s is not None and note.onset_s < self.closing_s:
            now.after_s = max(now.after_s, note.onset_s)
            if note.onset_s > self._owned_s(ended):
                return [self._outside(item, ended.answers[-1], now.answers[0])]
            return [self._place(item, ended, ended.answers[-1], now.answers[0])]
        first = now.answers[0]
        if ended is None and first.slot == now.entered and note.onset_s < first.note.onset_s:
            return [*certain, self._outside(item, None, first)]  # play began after it
        self._loose.append(item)
        if len(self._loose) > _MOST_LOOSE:  # nobody plays the cell any more
            certain += self._stop()
        return certain

    def _before(self, s: float) -> list[Certain]:
        """Those that sounded outside of play and arrived before a time: nothing that is still to be
        told begins before them, since notes are told in the order struck."""
        over = [item for item in self._early if item.note.onset_s < s]
        self._early = [item for item in self._early if item.note.onset_s >= s]
        return [self._outside(item, None, None) for item in over]

    def _mark_octave(self, note: Note) -> None:
        """The right pitch so soon after its octave: the octave was the converter's."""
        heard = self._heard.get(note.string)
        if isinstance(heard, _Loose) and heard.note.pitch - note.pitch in OCTAVE_ERRORS:
            heard.artefact |= note.onset_s - heard.note.onset_s <= OCTAVE_HOLD_S

    def _settle(self, following: Answer | None, begins_s: float | None = None) -> list[Certain]:
        """Give the extras since the last answer their kind and place; those from ``begins_s`` on
        stay loose."""
        if not self._loose:
            return []
        now = self.under_way
        assert now is not None
        loose, self._loose = self._loose, []
        certain: list[Certain] = []
        last = now.answers[-1]
        through = begins_s is not None or following is None
        limit_s = self._owned_s(now) if through else inf
        for item in loose:
            if begins_s is not None and item.note.onset_s >= begins_s:
                self._loose.append(item)
            elif item.note.onset_s > limit_s:
                certain.append(self._outside(item, last, following))
            else:
                certain.append(self._place(item, now, last, following))
        return certain

    def _place(
        self, item: _Loose, played: Played, last: Answer | None, following: Answer | None
    ) -> Certain:
        extra = Extra(item.note, self._kind(item, last, following))
        played.extras.append(extra)
        self._placed_s = max(self._placed_s, item.note.onset_s)
        return ExtraTold(played.rep, extra)

    def _outside(self, item: _Loose, last: Answer | None, following: Answer | None) -> Certain:
        self._placed_s = max(self._placed_s, item.note.onset_s)
        return ExtraTold(None, Extra(item.note, self._kind(item, last, following)))

    def _kind(self, item: _Loose, last: Answer | None, following: Answer | None) -> str:
        note = item.note
        if item.artefact:
            return ARTEFACT
        passed = self._crossings.passed_over(note, last, following, self._pace.step_s)
        if note.string in self._quiet or note.string in passed:
            return NOISE
        return STRAY


def _missed(played: Played, begin: int, end: int) -> list[Certain]:
    """Slots from one index up to another that did not sound."""
    return [SlotTold(played.rep, index + 1, MISSED, None) for index in range(begin, end)]
