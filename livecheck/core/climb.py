"""A climb: blocks of repetitions to a click, a rest of two bars with one sound in it, the next
block.

A pure state machine: it is told the time, what was heard of a block, what the player asks for and
which ports are there; it gives back what is to be done. Which tempo comes next is asked of a rule
(``measures/climb/rules.py``), handed in as a function. Times are nanoseconds of one clock.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from . import playing
from .actions import CELLS, VARIANTS
from .cell import Cell
from .click import BEATS_A_BAR, Schedule, block_end_ns, block_schedule, whole_bpm
from .cues import AGAIN, CONFIRMS, DOWN, END, MARK, PAUSE, REST, STRING, UP

REST_BARS = 2
LEAD_NS = 1_500_000_000  # from the first word to the first beat
SHORTEST_LEAD_NS = 700_000_000
SETTLE_NS = 50_000_000
"""From the end of a block until it is judged: its last note is a step older, and a converter takes
up to some 20 ms."""
LATE_NS = 90_000_000
"""Beyond where the player's own place in the beat puts the last note it is missed (no source)."""
LATEST_NS = 300_000_000
"""The cue comes within half a second after the end of a block, whatever is still to come."""
LOOK_AGAIN_NS = 20_000_000
REST_AFTER_S, REST_S = 300.0, 45.0
"""Play after which a longer rest is called for, and how long that is (no source; H-03 has the rests
of a day)."""
GIVE_UP_NS = 60_000_000_000  # without a port
SILENT_BLOCKS = 3
ASKED_STEP = 1.05
ELSEWHERE = "the player went on to another one"
MOST_BLOCKS = 24
"""Where no number is asked for."""


class Ahead(Protocol):
    """The block to come, as a rule gives it."""

    @property
    def bpm(self) -> float: ...
    @property
    def reps(self) -> int: ...
    @property
    def kind(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Plan:
    """A block with its place in time. ``from_ns``: where its first repetition begins, ``until_ns``:
    where its last one ends."""

    number: int
    bpm: float
    reps: int
    kind: str
    schedule: Schedule
    from_ns: int
    until_ns: int


@dataclass(frozen=True, slots=True)
class Heard:
    """What was heard of a block.

    reps: repetitions found, at most those it lasts; clean: of them. last: whether its last note
    was. lag_ns: how far behind the click the player was (None: not known). bpm: at which tempo it
    was played (None: not known). failed: repetitions by note in which it failed; noise: by string.
    """

    reps: int
    clean: int
    last: bool = True
    lag_ns: int | None = None
    bpm: float | None = None
    failed: Counter[int] = field(default_factory=Counter)
    noise: Counter[int] = field(default_factory=Counter)


@dataclass(frozen=True, slots=True)
class Over:
    """A block that is over: what was heard, the cue that told it. lost: a port was, meanwhile."""

    plan: Plan
    heard: Heard
    cue: str
    lost: bool = False

    @property
    def void(self) -> bool:
        """Whether it says nothing of the player."""
        return self.lost or not self.heard.reps


@dataclass(frozen=True, slots=True)
class Begin:
    """Sound this block, and say that it comes."""

    plan: Plan


@dataclass(frozen=True, slots=True)
class Judge:
    """Say what was heard of this block, by ``Climb.judged``."""

    plan: Plan


@dataclass(frozen=True, slots=True)
class Sound:
    """Sound this cue at once."""

    word: str


@dataclass(frozen=True, slots=True)
class Tell:
    """Say this to the player."""

    text: str


Do = Begin | Judge | Sound | Tell | Over
Choose = Callable[[Sequence[Over]], Ahead | None]
"""The next block after those that are over; None: no more are needed."""


class Climb:
    """One climb. ``over`` says why it ended, once it has; ``blocks`` are those that are over."""

    def __init__(
        self,
        cell: Cell,
        choose: Choose,
        blocks: int | None = None,
        enough: str = "the question is answered",
    ) -> None:
        """enough: what is said where ``choose`` gives no further block."""
        self.blocks: list[Over] = []
        self.over: str | None = None
        self.plan: Plan | None = None  # the block under way, or to come
        self.ahead: Ahead | None = None
        self.paused = False
        self.leaves: str | None = None  # with which action the player leaves this cell
        self._cell = cell
        self._choose = choose
        self._enough = enough
        self._wanted = blocks
        self._most = MOST_BLOCKS if blocks is None else blocks
        self._begin_ns: int | None = None  # when the next block may begin
        self._look_ns = 0
        self._down: dict[str, str] = {}  # what is lost, and why
        self._lost_ns: int | None = None
        self._lost = False
        self._asked: str | None = None
        self._played_s = 0.0  # since the last longer rest
        self._silent = 0

    # ----------------------------------------------------------------------------------- what comes

    def begin(self, now_ns: int) -> list[Do]:
        """Begin with the first block, as soon as all ports are there."""
        self._begin_ns = now_ns + LEAD_NS
        self.ahead = self._choose([])
        return self.tick(now_ns)

    def tick(self, now_ns: int) -> list[Do]:
        """Time passed."""
        if self.over is not None:
            return []
        if self.plan is not None:
            if now_ns >= self.plan.until_ns + SETTLE_NS and now_ns >= self._look_ns:
                self._look_ns = now_ns + LOOK_AGAIN_NS
                return [Judge(self.plan)]
            return []
        if self._down:
            if self._lost_ns is not None and now_ns - self._lost_ns > GIVE_UP_NS:
                self.over = f"{next(iter(self._down.values()))}, and nothing came back for a minute"
            return []
        if self._begin_ns is None or self.paused or self.ahead is None:
            return []
        # the schedule goes out ahead of the first beat, and not before the rest is nearly over
        if now_ns < self._begin_ns - LEAD_NS:
            return []
        begin_ns = max(self._begin_ns, now_ns + SHORTEST_LEAD_NS)
        self.plan = _placed(len(self.blocks) + 1, self.ahead, self._cell, begin_ns)
        self._begin_ns, self._lost, self._look_ns = None, False, 0
        return [Begin(self.plan)]

    def judged(self, now_ns: int, heard: Heard, unrested_s: float | None = None) -> list[Do]:
        """The answer to ``Judge``: the cue, and what comes next; nothing while the block's last
        note may still come. unrested_s: what was played without a rest, over all sessions, where
        the rest of a day is due."""
        plan = self.plan
        if plan is None or self.over is not None:
            return []
        if not heard.last and heard.reps and now_ns < self._latest_ns(plan, heard):
            return []
        silent = heard.reps == 0
        self._silent = self._silent + 1 if silent else 0
        if not silent:
            self._played_s += (plan.until_ns - plan.from_ns) / 1e9
        cue, said = self._after(Over(plan, heard, AGAIN, self._lost), unrested_s)
        told = Over(plan, heard, cue, self._lost)
        self.blocks.append(told)
        self.plan = None
        rest_ns = round(REST_BARS * BEATS_A_BAR * 60e9 / plan.bpm)
        if cue == REST:
            long_s = REST_S if unrested_s is None else playing.REST_S
            rest_ns = max(rest_ns, round(long_s * 1e9))
            self._played_s = 0.0
        self._begin_ns = plan.until_ns + rest_ns
        return [Sound(cue), told, *said]

    def link(self, now_ns: int, what: str, up: bool, why: str) -> list[Do]:
        """A port (``what``: guitar, click, cue) came or was lost."""
        if up:
            back = self._down.pop(what, None) is not None
            if not self._down:
                self._lost_ns = None
                if self.plan is None and self._begin_ns is not None:
                    self._begin_ns = max(self._begin_ns, now_ns + LEAD_NS)
            return [Tell(f"The {what} is back.")] if back else []
        known = what in self._down
        self._down[what] = f"the {what}: {why}"
        self._lost_ns = now_ns if self._lost_ns is None else self._lost_ns
        if self.plan is not None and now_ns < self.plan.until_ns:
            self._lost = True
        return [] if known else [Tell(f"The {what}: {why}. It goes on when it is back.")]

    def ask(self, now_ns: int, action: str) -> list[Do]:
        """The player asks for something (one of ``core.actions.ACTIONS``); what asks for a tempo is
        done with the next block."""
        if self.over is not None:
            return []
        if action == "stop":
            self.over = "stopped by the player"
            return [Sound(END)]
        if action in (*CELLS, *VARIANTS):  # ends this climb and begins one of another
            self.leaves = action
            if self.plan is None:
                self.over = ELSEWHERE
                return [Sound(CONFIRMS[action])]
            return [Sound(CONFIRMS[action]), Tell("After this block it goes on elsewhere.")]
        if action == "pause":
            self.paused = not self.paused
            if not self.paused and self.plan is None:
                self._begin_ns = max(self._begin_ns or 0, now_ns + LEAD_NS)
            text = "Pause after this block." if self.plan is not None else "Pause."
            return [Sound(PAUSE), Tell(text if self.paused else "On it goes.")]
        if action == MARK:
            return [Sound(MARK)]
        if action in (AGAIN, UP, DOWN):
            self._asked = action
            if self.plan is None and self.blocks:
                self._obey()
                if self.paused:
                    return [Sound(action), *self.ask(now_ns, "pause")]
            return [Sound(action)]
        return []

    # --------------------------------------------------------------------------------- what is next

    def _after(self, told: Over, unrested_s: float | None) -> tuple[str, list[Do]]:
        """The cue after a block, and what else is said; the block to come is known then."""
        blocks = [*self.blocks, told]
        counted = [one for one in blocks if not one.void]
        if self.leaves is not None:
            self.over = ELSEWHERE
            return END, []
        done = sum(not (one.void if self._wanted is None else one.lost) for one in blocks)
        if done >= self._most:
            self.over = f"{done} blocks are over"
            return END, []
        if self._wanted is None and self._silent >= SILENT_BLOCKS:
            self.over = f"nothing was heard in {SILENT_BLOCKS} blocks"
            return END, []
        if told.void:
            self.ahead = _Again(told.plan.bpm, told.plan.reps, told.plan.kind)
        else:
            self.ahead = self._choose(counted)
        if self.ahead is None:
            self.over = self._enough
            return END, []
        if self._asked is not None:
            self._obey(told)
        if unrested_s is not None:
            return REST, [
                Tell(
                    f"{unrested_s / 60.0:.0f} minutes played without a rest, over all sessions: "
                    f"put the guitar down for {playing.REST_S / 60.0:.0f}. It goes on by itself."
                )
            ]
        if self._played_s >= REST_AFTER_S:
            minutes = self._played_s / 60.0
            return REST, [
                Tell(
                    f"{minutes:.0f} minutes of play: rest {REST_S:.0f} s, let the hands hang. It "
                    "goes on by itself."
                )
            ]
        return self._word(told), []

    def _word(self, told: Over) -> str:
        assert self.ahead is not None
        now, after = told.plan.bpm, self.ahead.bpm
        spoilt = told.heard.reps - told.heard.clean
        if (
            spoilt
            and sum(told.heard.noise.values()) > sum(told.heard.failed.values())
            and after <= now
        ):
            return STRING
        return UP if after > 1.002 * now else DOWN if after < 0.998 * now else AGAIN

    def _obey(self, told: Over | None = None) -> None:
        """What the player asked for goes before the rule."""
        last = told if told is not None else self.blocks[-1]
        bpm = last.plan.bpm
        if self._asked in (UP, DOWN):
            bpm = whole_bpm(bpm * ASKED_STEP if self._asked == UP else bpm / ASKED_STEP)
        self.ahead = _Again(bpm, last.plan.reps, last.plan.kind)
        self._asked = None

    def _latest_ns(self, plan: Plan, heard: Heard) -> int:
        """Until when the last note of a block is waited for."""
        lag_ns = max(heard.lag_ns or 0, 0)
        slot = self._cell.slots[-1]
        after = (self._cell.steps - slot.start) / self._cell.grid * 60e9 / plan.bpm
        due_ns = plan.until_ns - round(after) + lag_ns + LATE_NS
        return min(max(due_ns, plan.until_ns + SETTLE_NS), plan.until_ns + LATEST_NS)


@dataclass(frozen=True, slots=True)
class _Again:
    """A block that no rule chose."""

    bpm: float
    reps: int
    kind: str


def _placed(number: int, ahead: Ahead, cell: Cell, begin_ns: int) -> Plan:
    schedule = block_schedule(cell, ahead.bpm, ahead.reps, begin_ns)
    until_ns = block_end_ns(cell, schedule, ahead.reps)
    return Plan(number, ahead.bpm, ahead.reps, ahead.kind, schedule, schedule.play_ns(), until_ns)
