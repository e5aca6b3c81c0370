"""Follow a session on the screen: wait, feed, redraw, and nothing else.

On a terminal it draws the view on the alternate screen, at most ``FRAMES_PER_S`` times a second and
only when something changed; anywhere else it prints plain lines. Whatever ends it (a key, a signal,
the session's end, a lost terminal), the terminal is left as it was found and the summary is
printed.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from types import FrameType
from typing import TYPE_CHECKING, Protocol, TextIO

from ..core.cell import Cell
from ..core.events import Ask, Record, Repetition
from ..core.hands import Hands
from ..core.playing import PlayingTime
from ..core.said import DOWN, UP
from ..session import Session
from .feed import Feed, Judge
from .footer import KEYS, SELDOM
from .keys import Keys, asked_by
from .later import Later
from .model import REST_AFTER_S, LogItem, Model
from .palette import Signs, signs_for
from .plain import plain_line, summary_lines
from .screen import Screen
from .source import LATEST_S, Source
from .view import catching_up_lines, screen_lines
from .waymarks import WayMarks
from .words import CAUTION

if TYPE_CHECKING:
    from ..files.waynames import Learned

FRAMES_PER_S = 30
POLL_S = 0.01
"""Wait between looks at the journal: a note is on the screen some 40 ms after it was played."""
TURN_S = 0.001
TROUBLE_EVERY_S = 0.5
MARKS = {"n": DOWN, "v": UP}
"""What each key marks: n and v look like the signs of the strokes (⊓ ∨)."""
STRETCH_S = 1.5
"""Silence after which a stretch of play is over, and what was played in it is certain."""
SOONER_S = LATEST_S - 0.05
"""A gesture is sure as soon as nothing played before can still come: a note is there after some
20 ms."""
CATCH_UP_S = 1.0
"""One who comes late sees the session so far after so long, or until then how far it has come."""


@dataclass(frozen=True, slots=True)
class Summary:
    """How the following ended: ``why`` is "key", "signal", "time", "end" or "terminal"."""

    why: str
    lines: tuple[str, ...]
    model: Model


class Acts(Protocol):
    """Does what the player asks for. ``hands``: None where only keys ask; ``keys``: those there are
    beside the console's own."""

    @property
    def hands(self) -> Hands | None: ...
    @property
    def keys(self) -> str: ...

    def act(self, action: str, cell: Cell | None) -> str | None:
        """Do it while a cell is played; returns what to say of it. ``far`` and ``stop`` are done by
        the console besides."""

    def mark(self, text: str) -> None:
        """Set a mark that says something of the first stroke."""

    def paused(self, reps: Sequence[Repetition]) -> None:
        """A stretch of play with these repetitions is over."""


class Stopping:
    """Set by a signal; a second one interrupts at once."""

    def __init__(self) -> None:
        self.by: int | None = None

    def __call__(self, number: int, frame: FrameType | None) -> None:
        if self.by is not None and number == signal.SIGINT:
            raise KeyboardInterrupt
        self.by = number


def run_console(
    source: Source,
    *,
    session: Judge | None = None,
    seconds: float | None = None,
    plain: bool = False,
    out: TextIO | None = None,
    keys: Keys | None = None,
    acting: Acts | None = None,
    trouble: Callable[[], str | None] | None = None,
    title: str = "",
    opening: str = "",
    practising: bool = True,
    rest_after_s: float | None = REST_AFTER_S,
    earlier_s: float | None = None,
    unrested: PlayingTime | None = None,
    in_place: bool = True,
    ways: Callable[[Cell], Learned | None] | None = None,
    now: Callable[[], float] = time.perf_counter,
    environment: Mapping[str, str] | None = None,
) -> Summary:
    """Show a session until it ends, ``seconds`` have passed, or the player stops; prints the
    summary.

    ``opening`` says before the first repetition what will happen. ``practising`` is False where an
    old session is looked at again: then no word of caution. ``rest_after_s`` and ``earlier_s``,
    ``unrested``, ``in_place``: as ``Model`` takes them. ``ways``: what is known of a cell's ways.
    ``acting`` does what is asked for by key, hand or foot. ``trouble`` is asked twice a second why
    nothing is saved (None: it is).
    """
    stream = sys.stdout if out is None else out
    environment = os.environ if environment is None else environment
    model = Model(
        title=title,
        opening=opening,
        practising=practising,
        rest_after_s=rest_after_s,
        earlier_s=earlier_s,
        unrested=unrested,
        in_place=in_place,
    )
    model.ways = WayMarks(ways)
    feed = Feed(Session() if session is None else session, model)
    if acting is not None:
        feed.model.keys = KEYS + acting.keys + SELDOM
    drawn = not plain and can_draw(stream, environment)
    follower = _Follower(source, feed, now, seconds, acting, trouble)
    with signals() as stopping, keys or Keys() as pressed, quiet_gc():
        if drawn:
            signs = signs_for(stream.encoding, environment.get("TERM"))
            why = follower.draw(Screen(stream, environment), signs, stopping, pressed)
        else:
            why = follower.print(stream, stopping, pressed)
    lines = tuple(summary_lines(feed.model, cut_off=not practising and why != "end"))
    if why != "terminal":
        try:
            print(*lines, sep="\n", file=stream, flush=True)
        except OSError:
            why = "terminal"
    return Summary(why, lines, feed.model)


def can_draw(stream: TextIO, environment: Mapping[str, str]) -> bool:
    """Whether the stream is a terminal that can place text."""
    return stream.isatty() and environment.get("TERM", "dumb") not in ("dumb", "unknown", "")


class _Follower:
    """The loop that both ways of showing share."""

    def __init__(
        self,
        source: Source,
        feed: Feed,
        clock: Callable[[], float],
        seconds: float | None,
        acting: Acts | None,
        trouble: Callable[[], str | None] | None,
    ) -> None:
        self.source = source
        self.feed = feed
        self.clock = clock
        self.until = None if seconds is None else clock() + seconds
        self.acting = acting
        self.trouble = trouble
        self.far = False
        self._ask_at = clock()
        self._asked_end = False
        self.pressed: list[LogItem] = []  # lines that keys gave, not printed yet
        self._stretch: list[Repetition] = []  # repetitions since the last pause

    def draw(self, screen: Screen, signs: Signs, stopping: Stopping, pressed: Keys) -> str:
        """Follow on the screen; returns why it ended."""
        model, due, behind_from = self.feed.model, 0.0, None
        shown: tuple[object, ...] = ()
        try:
            with screen, quick_turns(), Later(model.sounds) as later:
                model.later = later
                while True:
                    busy = bool(self._advance())
                    why = self._end(stopping) or self._keys(pressed.wait(0.0 if busy else POLL_S))
                    if why:
                        model.later = None
                        self.feed.finish()
                        return why
                    later.raise_fault()
                    later.playing = model.current is not None
                    now, behind_s = self.clock(), self.source.behind_s
                    behind_from = (
                        (now if behind_from is None else behind_from) if behind_s else None
                    )
                    if behind_from is not None and now < behind_from + CATCH_UP_S:
                        continue
                    width, height = screen.size()
                    state = (model.version, later.done, self.far, width, height)
                    if state != shown and now >= due:
                        if behind_s:
                            lines = catching_up_lines(
                                model.now_s, model.now_s + behind_s, width, height, signs
                            )
                        else:
                            lines = screen_lines(model, width, height, signs, self.far)
                        screen.show(lines, (width, height))
                        shown, due = state, now + 1.0 / FRAMES_PER_S
        except OSError:
            return "terminal"

    def print(self, stream: TextIO, stopping: Stopping, pressed: Keys) -> str:
        """Follow with plain lines; returns why it ended."""
        try:
            if self.feed.model.practising:
                print(f"note {CAUTION}", file=stream, flush=True)
            unsaved = None
            while True:
                lines = self._advance()
                why = self._end(stopping) or self._keys(pressed.wait(0.0 if lines else POLL_S))
                lines, self.pressed = lines + self.pressed, []
                if why:
                    lines += self.feed.finish()
                model = self.feed.model
                for item in lines:
                    print(plain_line(item, model.sounds, model.ways), file=stream, flush=True)
                if unsaved != self.feed.model.unsaved:
                    unsaved = self.feed.model.unsaved
                    print(
                        f"disk not saved: {unsaved}" if unsaved else "disk saved again",
                        file=stream,
                        flush=True,
                    )
                if why:
                    return why
        except OSError:
            return "terminal"

    def _advance(self) -> list[LogItem]:
        """Take what has come; returns the new lines of the log."""
        now = self.clock()
        if self.trouble is not None and now >= self._ask_at:
            self._ask_at = now + TROUBLE_EVERY_S
            self.feed.model.say_unsaved(self.trouble())
        records = self.source.poll()
        lines = self.feed.take(records) if records else self.feed.tick(self.source.certain_s())
        if self.acting is None or self.source.ended:
            return lines
        self._stretch += [line for line in lines if isinstance(line, Repetition)]
        return lines + self._asked(self.acting, records)

    def _asked(self, acting: Acts, records: Sequence[Record]) -> list[LogItem]:
        """What hands, feet and other programs ask for, done."""
        lines: list[LogItem] = []
        hands, model = acting.hands, self.feed.model
        for record in records:
            actions = [record.action] if isinstance(record, Ask) else []
            actions += hands.hear(record) if hands is not None else []
            for action in actions:
                lines += self._act(action)
        certain_s = self.source.certain_s()
        if certain_s is None:
            return lines
        for action in hands.tick(certain_s + SOONER_S) if hands is not None else []:
            lines += self._act(action)
        if self._stretch and model.heard_s is not None and certain_s - model.heard_s > STRETCH_S:
            acting.paused(self._stretch)
            self._stretch = []
        return lines

    def _act(self, action: str) -> list[LogItem]:
        """Do what an action asks for; returns the lines that it gave."""
        if action == "far":
            self.far = not self.far
        if action == "stop":
            self._asked_end = True
        model = self.feed.model
        said = self.acting.act(action, model.cell) if self.acting is not None else None
        return [] if said is None else [model.say(said)]

    def _end(self, stopping: Stopping) -> str | None:
        if stopping.by is not None:
            return "signal"
        if self._asked_end:
            return "key"
        if self.feed.over or self.source.ended:
            return "end"
        if self.until is not None and self.clock() >= self.until:
            return "time"
        return None

    def _keys(self, pressed: str) -> str | None:
        for key in pressed:
            action = asked_by(key)
            if action == "stop":
                return "key"
            if key in "lL":
                self.feed.model.place_signs(not self.feed.model.in_place)
            if key.lower() in MARKS and self.acting is not None:
                self.acting.mark(MARKS[key.lower()])
            if action is not None:
                self.pressed += self._act(action)
        return None


@contextmanager
def signals() -> Iterator[Stopping]:
    """Let Ctrl-C, SIGTERM and SIGHUP end the loop in good order; handlers are put back
    afterwards."""
    stopping = Stopping()
    if threading.current_thread() is not threading.main_thread():
        yield stopping
        return
    names = [name for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), stopping) for name in names}
    try:
        yield stopping
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)


@contextmanager
def quick_turns() -> Iterator[None]:
    """Threads that work take turns every millisecond, so that the one that draws waits no
    longer."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(TURN_S)
    try:
        yield
    finally:
        sys.setswitchinterval(before)


@contextmanager
def quiet_gc() -> Iterator[None]:
    """Keep full collections, 5 to 14 ms each, out of the loop: what exists now is set aside,
    thresholds are raised."""
    before = gc.get_threshold()
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 50, 100)
    try:
        yield
    finally:
        gc.set_threshold(*before)
        gc.unfreeze()
