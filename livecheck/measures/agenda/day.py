"""The blocks of a day: which cells are played, in which order, and when there is a rest."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import inf

from .blocks import Block, within_reach
from .questions import WHERE, Question, Standing, questions

REST_EVERY, REST = 25.0, 3.0
"""Minutes of play after which some of rest are planned (sources.md, section 8)."""


@dataclass(frozen=True, slots=True)
class Item:
    """A cell with its open questions, what is worth most first; ``chosen``: the first one's block
    is in the day's time; ``waits``: one block tells where it breaks on any day, and it is not for
    this one."""

    standing: Standing
    open: tuple[Question, ...]
    chosen: bool = False
    waits: bool = False

    @property
    def question(self) -> str | None:
        return self.open[0].text if self.open else None

    @property
    def block(self) -> Block | None:
        return self.open[0].block if self.open else None


@dataclass(frozen=True, slots=True)
class Turn:
    """A block in the day's order; ``rest_after``: minutes."""

    standing: Standing
    question: Question
    block: Block
    rest_after: float = 0.0


@dataclass(frozen=True, slots=True)
class Day:
    """``items``: the cells, chosen ones first in the order in which they are played, then the
    others by name. ``turns``: what is played, one after the other."""

    items: tuple[Item, ...]
    turns: tuple[Turn, ...]

    @property
    def minutes(self) -> float:
        """Of all turns, rests between them included."""
        return _minutes(self.turns)


def plan_day(cells: Iterable[Standing], minutes: float) -> Day:
    """The day's blocks: each cell's first by what it is worth in a minute, then the second ones,
    as long as they fit into the time. They are played in rounds, so that cells are mixed, and
    within a round easy ones before hard ones.

    While one cell needs more days than one, the others that a block makes known on any day wait:
    what is known grows old, and would have to be played again.
    """
    items = [Item(one, tuple(questions(one))) for one in cells]
    if any(_needs_days(item) for item in items):
        items = [replace(item, waits=_one_block_does(item)) for item in items]
    turns: list[Turn] = []
    first: dict[str, int] = {}  # places of the cells whose first block fits
    for place in range(max((len(item.open) for item in items), default=0)):
        asked = [
            (item, item.open[place])
            for item in items
            if len(item.open) > place and not (item.waits and item.open[place].about == WHERE)
        ]
        taken: list[Turn] = []
        for item, question in sorted(asked, key=lambda pair: -pair[1].worth):
            if question.block is not None:
                turn = Turn(item.standing, question, question.block)
                if _minutes(_rested([*turns, *taken, turn])) <= minutes:
                    taken.append(turn)
        turns += sorted(taken, key=_hardness)
        if place == 0:
            first = {turn.standing.name: at for at, turn in enumerate(turns)}
    items = [replace(item, chosen=item.standing.name in first) for item in items]
    items.sort(key=lambda item: (first.get(item.standing.name, len(first)), item.standing.name))
    return Day(tuple(items), tuple(_rested(turns)))


def _needs_days(item: Item) -> bool:
    """Whether it is open where a cell breaks, and one block will not tell."""
    return _where(item) and not _one_block_does(item)


def _one_block_does(item: Item) -> bool:
    state = item.standing.state
    return _where(item) and state is not None and within_reach(state)


def _where(item: Item) -> bool:
    return any(one.about == WHERE and one.block is not None for one in item.open)


def _minutes(turns: Sequence[Turn]) -> float:
    return sum(turn.rest_after + turn.block.minutes for turn in turns)


def _rested(turns: Sequence[Turn]) -> list[Turn]:
    """With a rest after each REST_EVERY minutes of play and before each block that goes faster than
    ever, none after the last block."""
    played, found = 0.0, []
    for turn, following in zip(turns, [*turns[1:], None]):
        before, played = played, played + turn.block.minutes
        due = played // REST_EVERY > before // REST_EVERY
        due = following is not None and (due or following.block.faster)
        found.append(replace(turn, rest_after=REST if due else 0.0))
    return found


def _hardness(turn: Turn) -> float:
    """How near a block comes to where its cell breaks; measuring and the unknown come first, what
    goes faster than ever last."""
    block, broken = turn.block, turn.standing.broken
    if block.faster:
        return inf
    if block.bpm is None or broken.bpm is None:
        return 0.0
    return block.bpm / broken.bpm
