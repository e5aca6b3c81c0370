"""What is shown of a climb: lines, or on a terminal large figures to be read from two metres."""

from __future__ import annotations

import os
from types import TracebackType
from typing import TextIO

from ..core.cell import Cell
from ..core.climb import Climb, Over, Plan
from ..core.events import HIT, MISSED
from ..report.climb_text import CUE_WORDS, begin_line, block_line, faults, outcome
from .big import HEIGHT, largest
from .far import shapes
from .lines import Line, fitted, piece, wrapped
from .live import FRAMES_PER_S, can_draw
from .palette import FAINT, GOOD, NORMAL, SLIP, STRONG, Signs, signs_for
from .screen import Screen
from .words import CAUTION, STOP_IF, cell_title

KEYS = "q stop  p pause  u d a faster slower again  m mark  c cell  w variant  f view"

OPENING = (
    "A bar of count-in, a block of repetitions to the click, two bars of rest with one sound in "
    "them; then the next block. Two tones up: faster; down: slower; the same twice: again. Play "
    "each block to its end and stop with the click; nothing has to be typed."
)
LEAST_FIGURES = 12  # rows of figures beside which it is told


class Shown:
    """Says nothing but trouble: for other programs."""

    def __init__(self, err: TextIO) -> None:
        self._err = err

    def __enter__(self) -> Shown:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        return

    def begin(self, plan: Plan) -> None:
        """A block is to come."""

    def over(self, over: Over) -> None:
        """A block is over."""

    def say(self, text: str) -> None:
        """Something is said to the player."""
        print(f"livecheck: {text}", file=self._err, flush=True)

    def show(self, climb: Climb, now_ns: int) -> None:
        """Time passed."""

    def turn(self) -> None:
        """The other view, where there are two."""


class Lines(Shown):
    """One line a block."""

    def __init__(self, out: TextIO) -> None:
        super().__init__(out)
        self._out = out

    def __enter__(self) -> Lines:
        print(f"note {CAUTION}", file=self._out, flush=True)
        return self

    def begin(self, plan: Plan) -> None:
        print(begin_line(plan), file=self._out, flush=True)

    def over(self, over: Over) -> None:
        print(block_line(over), file=self._out, flush=True)

    def say(self, text: str) -> None:
        print(text, file=self._out, flush=True)


class Views(Shown):
    """On a terminal: large figures, or the blocks so far line by line."""

    def __init__(self, out: TextIO, cell: Cell) -> None:
        super().__init__(out)
        self._cell = cell
        self._screen = Screen(out, os.environ)
        self._signs = signs_for(out.encoding, os.environ.get("TERM"))
        self._said = ""
        self._far = True
        self._due_ns = 0

    def __enter__(self) -> Views:
        self._screen.__enter__()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._screen.__exit__(kind, error, trace)

    def begin(self, plan: Plan) -> None:
        self._said = ""

    def say(self, text: str) -> None:
        self._said = text

    def turn(self) -> None:
        self._far = not self._far
        self._due_ns = 0

    def show(self, climb: Climb, now_ns: int) -> None:
        if now_ns < self._due_ns:
            return
        self._due_ns = now_ns + 1_000_000_000 // FRAMES_PER_S
        size = self._screen.size()
        lines = far_lines if self._far else near_lines
        self._screen.show(lines(climb, now_ns, self._cell, self._said, *size, self._signs), size)


def shown_on(out: TextIO, err: TextIO, plain: bool, json: bool, cell: Cell) -> Shown:
    """How a climb is shown there."""
    if json:
        return Shown(err)
    if plain or not can_draw(out, os.environ):
        return Lines(out)
    return Views(out, cell)


def left_in(plan: Plan, now_ns: int) -> int:
    """How many repetitions of a block are left, the one under way included."""
    length_ns = (plan.until_ns - plan.from_ns) / plan.reps
    return min(plan.reps, max(0, -int((now_ns - plan.until_ns) // length_ns)))


def far_lines(
    climb: Climb, now_ns: int, cell: Cell, said: str, width: int, height: int, signs: Signs
) -> list[Line]:
    """The screen of a climb from afar: the tempo now, or in a rest the next one; what is left of
    the block; what came of the last, note by note over its numbers, and what failed in words. In
    every size 'stop at pain' stands first in the last line."""
    last = climb.blocks[-1] if climb.blocks else None
    word, figure, small = _now(climb, now_ns)
    ink = "█" if signs.blocks else signs.bar
    told: list[Line] = []
    if last is not None:
        style = GOOD if last.heard.clean == last.plan.reps else SLIP
        told = [[piece(line, style)] for line in wrapped(_last_words(last), width)[:2]]
    elif len(opening := wrapped(OPENING, width)) <= height - LEAST_FIGURES:
        told = [[], *([piece(line, NORMAL)] for line in opening)]
    if said:
        told.append([piece(said[:width], STRONG)])
    room = height - 2 - len(told)  # under the first line, over the last
    notes: list[Line] = []
    if last is not None and not last.void and room >= 8:
        notes = shapes(_verdicts(last, cell), width, room // 4, signs)
    room -= len(notes)
    large = largest(figure, width, max(room // 2, min(HEIGHT, room - 1)), ink, signs.blocks)
    room -= len(large)
    shown = largest(small.upper(), width, room, ink, signs.blocks) if room >= 3 else []
    lines: list[Line] = [[piece(f"{word}: bpm", FAINT)]]
    lines += [[piece(row, STRONG)] for row in large]
    lines += [[piece(row, NORMAL)] for row in shown] if shown else [[piece(small, STRONG)]]
    lines = [fitted(line, width) for line in [*lines, *notes, *told]][: max(height - 1, 0)]
    lines += [[] for _ in range(height - 1 - len(lines))]
    return [*lines, _foot(cell, width)][:height] if height > 1 else [_foot(cell, width)]


def near_lines(
    climb: Climb, now_ns: int, cell: Cell, said: str, width: int, height: int, signs: Signs
) -> list[Line]:
    """The blocks so far, a line each, the newest at the bottom; above them what is played now."""
    word, figure, small = _now(climb, now_ns)
    head: list[Line] = [[piece(f"{word}: {figure} bpm, {small}"[:width], STRONG)]]
    foot: list[Line] = [[piece(said[:width], STRONG)]] if said else []
    room = max(height - len(head) - len(foot) - 1, 0)
    body: list[Line] = []
    for one in climb.blocks[-room:] if room else []:
        style = GOOD if one.heard.clean == one.plan.reps else SLIP
        body += [[piece(line, style)] for line in wrapped(block_line(one), width)]
    body = body[-room:] if room else []
    lines = [*head, *([] for _ in range(room - len(body))), *body, *foot]
    lines = [fitted(line, width) for line in lines]
    return [*lines[: height - 1], _foot(cell, width)] if height > 1 else [_foot(cell, width)]


def _now(climb: Climb, now_ns: int) -> tuple[str, str, str]:
    """Whether the tempo is that of now or the next, the tempo, and what is left or comes."""
    plan = climb.plan
    if plan is not None and now_ns >= plan.schedule.begin_ns:
        small = "count-in" if now_ns < plan.from_ns else f"{left_in(plan, now_ns)} left"
        return "now", f"{plan.bpm:g}", small
    ahead = plan.bpm if plan is not None else climb.ahead.bpm if climb.ahead else None
    small = "pause" if climb.paused else "rest"
    return "next", f"{ahead:g}" if ahead is not None else "-", small


def _last_words(last: Over) -> str:
    """The last block: its tempo, how it went, what failed, and what was sounded."""
    told = [f"last: {last.plan.bpm:g} bpm, {outcome(last)}"]
    told += [] if last.void else faults(last.heard.failed, last.heard.noise)
    return "; ".join([*told, CUE_WORDS.get(last.cue, last.cue)])


def _verdicts(last: Over, cell: Cell) -> list[str | None]:
    """Hit where a note never failed in the block, else missed."""
    return [MISSED if last.heard.failed[slot.number] else HIT for slot in cell.slots]


def _foot(cell: Cell, width: int) -> Line:
    return [piece(f"{STOP_IF}.  {cell_title(cell)}  {KEYS}"[:width], FAINT)]
