"""The blocks of a day: which cells are played, in which order, and when there is a rest."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from .blocks import Block
from .questions import Question, Standing, questions

REST_EVERY, REST = 25.0, 3.0
"""Minutes of play after which some of rest are planned (sources.md, section 8)."""


@dataclass(frozen=True, slots=True)
class Item:
    """A cell's place in the day: its open questions, what is worth most first; ``chosen``: the
    first one's block fits into the day's time; ``rest_after``: minutes."""

    standing: Standing
    open: tuple[Question, ...]
    chosen: bool = False
    rest_after: float = 0.0

    @property
    def question(self) -> str | None:
        return self.open[0].text if self.open else None

    @property
    def block(self) -> Block | None:
        return self.open[0].block if self.open else None

    @property
    def worth(self) -> float:
        return self.open[0].worth if self.open else 0.0


def plan_day(cells: Iterable[Standing], minutes: float) -> list[Item]:
    """Each cell with what is open; those whose blocks fit into the time are chosen by worth and
    come first, easy ones before hard ones, the others by name."""
    items = [Item(one, tuple(questions(one))) for one in cells]
    chosen: list[Item] = []
    for item in sorted(items, key=lambda one: -one.worth):
        if item.block is not None and total_minutes(_rested([*chosen, item])) <= minutes:
            chosen.append(replace(item, chosen=True))
    names = {item.standing.name for item in chosen}
    others = [item for item in items if item.standing.name not in names]
    return [
        *_rested(sorted(chosen, key=_hardness)),
        *sorted(others, key=lambda item: item.standing.name),
    ]


def total_minutes(items: Sequence[Item]) -> float:
    """Minutes that blocks take, rests between them included."""
    return sum(item.rest_after + item.block.minutes for item in items if item.block is not None)


def _rested(items: list[Item]) -> list[Item]:
    """With a rest after each REST_EVERY minutes of play, none after the last block."""
    played, found = 0.0, []
    for number, item in enumerate(items, 1):
        before, played = played, played + (0.0 if item.block is None else item.block.minutes)
        due = played // REST_EVERY > before // REST_EVERY and number < len(items)
        found.append(replace(item, rest_after=REST if due else 0.0))
    return found


def _hardness(item: Item) -> float:
    """How near a block comes to where its cell breaks; measuring and the unknown come first."""
    block, broken = item.block, item.standing.broken
    if block is None or block.bpm is None or broken.bpm is None:
        return 0.0
    return block.bpm / broken.bpm
