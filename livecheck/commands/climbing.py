"""One climb at the ports: hand to the recorder what is to sound, follow the journal, and let the
state machine (``core/climb.py``) decide."""

from __future__ import annotations

import time
from argparse import Namespace
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ..console.climb_screen import Shown
from ..console.keys import Keys, asked_by
from ..console.live import Stopping, quiet_gc, signals
from ..control import Client
from ..core.cell import Cell
from ..core.climb import ELSEWHERE, Ahead, Begin, Climb, Do, Heard, Judge, Over, Sound, Tell
from ..core.cues import CONFIRMS
from ..core.events import Ask, ClickLink, FootLink, Link, Midi, Record, Stop
from ..core.hands import Hands
from ..core.playing import PlayingTime, is_note
from ..core.rig import Rig
from ..daemon.carry import Carry
from ..daemon.frames import CLOSED
from ..daemon.process import RecorderProcess
from ..errors import BadInput, LivecheckError, NoDevice
from ..files.config import rig_for
from ..files.journal_reader import Follower
from ..measures.climb.belief import Known
from ..measures.climb.rules import TRY, WARM_UP, Played, answered, listed, next_block
from .climb_judge import heard_in
from .hands import HandsAre
from .record import as_told

FOOT = "\0pedal"  # no port is called so
POLL_S = 0.008
ASK_S = 1.0
CUE_TAIL_S = 0.45  # that the last cue sounds
CERTAIN_S = 0.05  # a note played before that is in the journal
NOT_NEAR_NS = 300_000_000  # so near to its end nothing is thought about
OPEN_S = 20.0  # until a port of the click has said something


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How a climb is asked for."""

    rule: str
    reps: int
    start: float | None = None
    tempos: tuple[float, ...] = ()  # one after the other, instead of a rule
    blocks: int | None = None
    click_port: str | None = None
    cue_port: str | None = None
    seed: int = 0
    plain: bool = False
    json: bool = False
    rest_s: float | None = None  # played without a rest after which one is called for

    @classmethod
    def of(cls, options: Namespace) -> Asked:
        """What was typed."""
        return cls(
            rule=options.rule,
            reps=options.reps,
            start=options.start,
            tempos=options.tempos,
            blocks=options.blocks,
            click_port=options.click_port,
            cue_port=options.cue_port,
            seed=options.seed,
            plain=options.plain,
            json=options.json,
        )


@dataclass(slots=True)
class Climbed:
    """How the climb of a cell ended. trouble: what went wrong, if that ended it; leaves: with which
    action the player left the cell."""

    cell: Cell
    known: Known
    blocks: list[Over] = field(default_factory=list)
    why: str = ""
    trouble: str | None = None
    leaves: str | None = None


class Climbing:
    """The loop of a sitting: the climb of a cell, and of others that the player goes on to.

    playing: play since the last rest, before this session; it is counted on.
    """

    def __init__(
        self,
        asked: Asked,
        rig: Rig | None,
        process: RecorderProcess,
        hands: HandsAre,
        playing: PlayingTime,
        shown: Callable[[Cell], Shown],
    ) -> None:
        self._asked, self._rig, self._process = asked, rig, process
        self._sounds, self._playing, self._show = hands, playing, shown
        self._client = Client(practice_root(process))
        self._click_port = asked.click_port or ""
        self._cue_port = asked.cue_port if asked.cue_port is not None else self._click_port
        self._hands = Hands(hands.wanted, None, rig or Rig())
        self._carry = Carry()
        self._messages: list[Midi] = []  # of the block under way
        self._before: list[bytes] = []
        self._zero_ns = 0
        self._follower: Follower | None = None
        self._begun = False
        self._open: dict[str, bool] = {}
        self._lost: dict[str, str] = {}  # ports, and why
        self._ended: str | None = None  # why the session has
        self._trouble: str | None = None

    def run(self, cell: Cell, known: Known) -> Climbed:
        """Until the climb of a cell is over, or the recorder is."""
        self._cell, self._known = cell, known
        enough = {"enough": "all tempos were played"} if self._asked.tempos else {}
        self._climb = climb = Climb(cell, self._choose, self._asked.blocks, **enough)
        self._said: dict[tuple[Played, ...], Ahead | None] = {}
        self._shown = self._show(cell)
        self._hands.use(cell, rig_for(cell, self._rig))
        self._warm()
        follower = self._followed()
        with signals() as stopping, Keys() as keys, self._shown as shown, quiet_gc():
            if not self._begun:
                self._wait_for_ports(follower, stopping)
                self._begun = True
            now_ns = time.perf_counter_ns()
            for what, why in self._lost.items():
                self._do(climb.link(now_ns, what, False, why))
            self._do(climb.begin(now_ns) if stopping.by is None else [])
            while climb.over is None and self._ended is None:
                for key in keys.wait(POLL_S):
                    self._obey(asked_by(key))
                for record in follower.poll():
                    self._hear(record)
                if stopping.by is not None:
                    climb.over = "stopped"
                if self._process.poll() is not None and self._ended is None:
                    self._lose("the recorder has ended; what it had written is kept")
                self._look_at_hands()
                self._do(climb.tick(time.perf_counter_ns()))
                shown.show(climb, time.perf_counter_ns())
                self._think_ahead(time.perf_counter_ns())
            self._silence(climb)
        why = climb.over or self._ended or "stopped"
        leaves = climb.leaves if self._ended is None and climb.over == ELSEWHERE else None
        return Climbed(cell, known, climb.blocks, why, self._trouble, leaves)

    def use(self, cell: Cell) -> None:
        """Another cell is played from now on."""
        self._ask({"command": "cells", "cells": as_told([cell])})

    def _silence(self, climb: Climb) -> None:
        """No click any more; the last cue sounds to its end."""
        if self._ended is None and climb.plan is not None:
            self._ask({"command": "click", "port": self._click_port, "schedule": None})
        if self._ended is None and (climb.blocks or climb.over):
            time.sleep(CUE_TAIL_S)

    def _followed(self) -> Follower:
        """The session, from its beginning on, gone through once."""
        if self._follower is None:
            assert self._process.session is not None
            self._follower = Follower(self._process.session)
            for record in self._follower.poll():
                self._hear(record)
            if self._follower.head is None:
                raise LivecheckError(
                    "the recorder wrote nothing; its log is .livecheck/recorder.log"
                )
            self._zero_ns = self._follower.head.perf_ns
        return self._follower

    # ------------------------------------------------------------------------------------ beginning

    def _warm(self) -> None:
        """Load and fill what choosing a tempo needs, so that the first cue is not late for it."""
        reps = self._asked.reps
        blocks = [Played(100.0, reps, reps, WARM_UP), Played(110.0, reps, 0, TRY)]
        next_block(self._asked.rule, blocks, reps, self._asked.start, self._known)

    def _wait_for_ports(self, follower: Follower, stopping: Stopping) -> None:
        """Open the ports of click and cues, and wait until each is there. Raises NoDevice."""
        for port in dict.fromkeys((self._click_port, self._cue_port)):
            self._ask({"command": "click", "port": port, "schedule": None})
        for command in self._sounds.commands():
            self._ask(command)
        foot = self._sounds.pedal_port is not None
        until = time.monotonic() + OPEN_S
        wanted = [self._click_port, self._cue_port, *([FOOT] if foot else [])]
        while not all(self._open.get(port) for port in wanted):
            for record in follower.poll():
                self._hear(record)
                if isinstance(record, (ClickLink, FootLink)) and not record.up:
                    raise NoDevice(record.port)
            if self._process.poll() is not None:
                raise LivecheckError("the recorder has ended; its log is .livecheck/recorder.log")
            if self._ended is not None or stopping.by is not None:
                return
            if time.monotonic() > until:
                raise NoDevice("the MIDI output for the click does not answer")
            time.sleep(POLL_S)

    # -------------------------------------------------------------------------------- what is heard

    def _hear(self, record: Record) -> None:
        for action in self._hands.hear(record):
            self._obey(action)
        if isinstance(record, Midi):
            self._carry.note(record.data)
            self._messages.append(record)
            if is_note(record.data):
                self._playing.note(record.t_s)
        elif isinstance(record, Link):
            if not record.up:
                self._carry.clear()
            self._link("guitar", record.up, record.port)
        elif isinstance(record, ClickLink):
            self._open[record.wanted or ""] = record.up
            what = "click" if record.wanted == self._click_port else "cue"
            if record.up or self._begun:
                self._link(what, record.up, record.port)
        elif isinstance(record, FootLink):
            if self._begun and record.up != self._open.get(FOOT):
                self._shown.say("The pedal is back." if record.up else f"The pedal: {record.port}.")
            self._open[FOOT] = record.up
        elif isinstance(record, Ask):
            self._obey(record.action)
        elif isinstance(record, Stop):
            self._ended = record.why
            self._climb.over = self._climb.over or record.why

    def _link(self, what: str, up: bool, why: str) -> None:
        if not up and why == CLOSED:
            return  # the session ends
        if up:
            self._lost.pop(what, None)
        else:
            self._lost[what] = why
        self._do(self._climb.link(time.perf_counter_ns(), what, up, why))

    def _look_at_hands(self) -> None:
        """What a gesture or a pedal asks for may be sure only after a while."""
        certain_s = self._session_s(time.perf_counter_ns()) - CERTAIN_S
        for action in self._hands.tick(certain_s):
            self._obey(action)

    def _obey(self, action: str | None) -> None:
        if action == "mark":
            self._ask({"command": "mark", "text": "by hand"})
        if action == "far":
            self._shown.turn()
            self._do([Sound(CONFIRMS[action])])
        elif action is not None:
            self._do(self._climb.ask(time.perf_counter_ns(), action))

    # --------------------------------------------------------------------------- what is to be done

    def _do(self, what: Sequence[Do]) -> None:
        for one in what:
            if isinstance(one, Begin):
                self._begin(one)
            elif isinstance(one, Judge):
                heard = self._heard(one)
                self._do(self._climb.judged(time.perf_counter_ns(), heard, self._unrested_s()))
            elif isinstance(one, Sound):
                self._ask(self._sounds.cue(one.word, self._cue_port))
            elif isinstance(one, Tell):
                self._shown.say(one.text)
            else:
                self._shown.over(one)

    def _begin(self, begin: Begin) -> None:
        plan = begin.plan
        self._ask(
            {"command": "click", "port": self._click_port, "schedule": plan.schedule.to_dict()}
        )
        self._ask(
            {
                "command": "block",
                "bpm": float(plan.bpm),
                "reps": plan.reps,
                "from_s": self._session_s(plan.from_ns),
                "until_s": self._session_s(plan.until_ns),
                "kind": plan.kind,
            }
        )
        self._before = self._carry.messages()
        self._messages = []
        self._shown.begin(plan)

    def _heard(self, judge: Judge) -> Heard:
        plan = judge.plan
        return heard_in(
            self._cell,
            self._rig,
            self._before,
            self._messages,
            plan.bpm,
            plan.reps,
            self._session_s(plan.from_ns),
        )

    def _choose(self, blocks: Sequence[Over]) -> Ahead | None:
        return self._next(tuple(played_of(one) for one in blocks))

    def _next(self, played: tuple[Played, ...]) -> Ahead | None:
        """What the rule says after these blocks, kept as it was first said."""
        if played not in self._said:
            asked = self._asked
            if asked.tempos:
                return listed(asked.tempos, played, asked.reps, self._known)
            ends = asked.rule == "search" and asked.blocks is None
            self._said[played] = (
                None
                if ends and answered(played, self._known, asked.start)
                else next_block(
                    asked.rule, played, asked.reps, asked.start, self._known, asked.seed
                )
            )
        return self._said[played]

    def _think_ahead(self, now_ns: int) -> None:
        """While a block runs, find what would come after each way it can end, one at a time: the
        cue is not to wait for it."""
        plan = self._climb.plan
        if plan is None or not plan.from_ns < now_ns < plan.until_ns - NOT_NEAR_NS:
            return
        before = tuple(played_of(one) for one in self._climb.blocks if not one.void)
        for clean in range(plan.reps, -1, -1):
            played = (*before, Played(plan.bpm, plan.reps, clean, plan.kind))
            if played not in self._said:
                self._next(played)
                return

    def _unrested_s(self) -> float | None:
        """Played without a rest, where one is due."""
        played_s, most_s = self._playing.since_rest_s, self._asked.rest_s
        return played_s if most_s is not None and played_s >= most_s else None

    def _session_s(self, t_ns: int) -> float:
        return max(0.0, (t_ns - self._zero_ns) / 1e9)

    def _ask(self, command: dict[str, Any]) -> None:
        try:
            self._client.ask(command, timeout_s=ASK_S)
        except NoDevice:
            if self._process.poll() is not None:
                self._lose("the recorder has ended; what it had written is kept")
        except BadInput as error:
            self._shown.say(str(error))

    def _lose(self, why: str) -> None:
        self._ended = self._trouble = why


def practice_root(process: RecorderProcess) -> Path:
    """The practice folder that a recorder records into."""
    assert process.session is not None
    return process.session.parent.parent


FOLLOWED = 0.03
"""Who is within this of the click's tempo followed it; else the tempo played counts."""


def played_of(one: Over) -> Played:
    """A block as the rules have it: at the click's tempo, or that which was played in its place."""
    plan, heard = one.plan, one.heard
    followed = heard.bpm is None or abs(heard.bpm / plan.bpm - 1.0) <= FOLLOWED
    bpm = plan.bpm if followed or heard.bpm is None else heard.bpm
    return Played(bpm, plan.reps, heard.clean, plan.kind)
