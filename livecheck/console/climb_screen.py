"""What is shown of a climb: lines, or on a terminal large figures to be read from two metres."""

from __future__ import annotations

import os
from types import TracebackType
from typing import TextIO

from ..core.cell import Cell
from ..core.climb import Climb, Over, Plan
from ..report.climb_text import CUE_WORDS, begin_line, block_line, faults
from .big import HEIGHT, largest
from .lines import Line, piece
from .live import FRAMES_PER_S, can_draw
from .palette import FAINT, GOOD, NORMAL, SLIP, STRONG, Signs, signs_for
from .screen import Screen
from .words import CAUTION

STOP_AT_PAIN = "Stop at pain, tingling or numbness."


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


class Lines(Shown):
    """One line a block."""

    def __init__(self, out: TextIO, cell: Cell) -> None:
        super().__init__(out)
        self._out, self._cell = out, cell

    def __enter__(self) -> Lines:
        print(f"note {CAUTION}", file=self._out, flush=True)
        return self

    def begin(self, plan: Plan) -> None:
        print(begin_line(plan), file=self._out, flush=True)

    def over(self, over: Over) -> None:
        print(block_line(over, self._cell), file=self._out, flush=True)

    def say(self, text: str) -> None:
        print(text, file=self._out, flush=True)


class Far(Shown):
    """Large figures on a terminal."""

    def __init__(self, out: TextIO, cell: Cell) -> None:
        super().__init__(out)
        self._cell = cell
        self._screen = Screen(out, os.environ)
        self._signs = signs_for(out.encoding, os.environ.get("TERM"))
        self._said = ""
        self._due_ns = 0

    def __enter__(self) -> Far:
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

    def show(self, climb: Climb, now_ns: int) -> None:
        if now_ns < self._due_ns:
            return
        self._due_ns = now_ns + 1_000_000_000 // FRAMES_PER_S
        size = self._screen.size()
        self._screen.show(
            far_lines(climb, now_ns, self._cell, self._said, *size, self._signs), size
        )


def shown_on(out: TextIO, err: TextIO, plain: bool, json: bool, cell: Cell) -> Shown:
    """How a climb is shown there."""
    if json:
        return Shown(err)
    if plain or not can_draw(out, os.environ):
        return Lines(out, cell)
    return Far(out, cell)


def left_in(plan: Plan, now_ns: int) -> int:
    """How many repetitions of a block are left, the one under way included."""
    length_ns = (plan.until_ns - plan.from_ns) / plan.reps
    return min(plan.reps, max(0, -int((now_ns - plan.until_ns) // length_ns)))


def far_lines(
    climb: Climb, now_ns: int, cell: Cell, said: str, width: int, height: int, signs: Signs
) -> list[Line]:
    """The screen of a climb: the tempo now, or in a rest the next one; what is left of the block;
    what came of the last. In every size 'stop at pain' stands first in the last line."""
    plan, last = climb.plan, climb.blocks[-1] if climb.blocks else None
    if plan is not None and now_ns >= plan.schedule.begin_ns:
        figure, word = f"{plan.bpm:g}", "now"
        left = left_in(plan, now_ns)
        small = "count-in" if now_ns < plan.from_ns else f"{left} left"
    else:
        ahead = plan.bpm if plan is not None else climb.ahead.bpm if climb.ahead else None
        figure, word = (f"{ahead:g}" if ahead is not None else "-"), "next"
        small = "pause" if climb.paused else "rest"
    ink = "█" if signs.blocks else signs.bar
    large = min(max(HEIGHT, (height - 8) // 2), height - 4)
    lines: list[Line] = [[piece(f"{word}: bpm", FAINT)]]
    lines += [[piece(row, STRONG)] for row in largest(figure, width, large, ink, signs.blocks)]
    rows = height - len(lines) - 4
    shown = largest(small.upper(), width, rows, ink, signs.blocks) if rows >= 3 else []
    if shown:
        lines += [[], *([piece(row, NORMAL)] for row in shown)]
    else:
        lines.append([piece(small, STRONG)])
    if last is not None:
        told = [f"last: {last.plan.bpm:g} bpm, clean {last.heard.clean} of {last.plan.reps}"]
        told += faults(last.heard.failed, last.heard.noise)
        style = GOOD if last.heard.clean == last.plan.reps else SLIP
        lines.append(
            [piece(("; ".join(told) + f"; {CUE_WORDS.get(last.cue, last.cue)}")[:width], style)]
        )
    if said:
        lines.append([piece(said[:width], STRONG)])
    lines = lines[: max(height - 1, 0)]
    lines += [[] for _ in range(height - 1 - len(lines))]
    keys = "q stop  p pause  u d a faster slower again  m mark"
    foot = f"{STOP_AT_PAIN}  {cell.name}  {keys}"
    return [*lines, [piece(foot[:width], FAINT)]][:height]
