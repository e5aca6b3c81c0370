"""Which blocks a day is made of: each cell's open question, and what would answer it.

Chosen by the doubt that a block would take away in a minute and by nothing else: no points, no
streaks. A cell whose break is known, and whose questions are answered, gets no block.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import log

from ..review.answers import Review
from ..review.limits import Limit
from ..stats import Z95
from .now import Move

KNOWN = 0.04
"""A break whose 95 % interval reaches no further than this part of it to either side is known."""

WIDTH, TAKE_LUCK = 0.05, 0.45
"""The usual width of the fall in log tempo, and how much takes differ in log odds (common practice,
no source)."""

FEWEST, MOST = 8, 24
"""Repetitions of a block: fewer say little, more tire one movement."""

SLOWER, FASTER = 0.92, 1.05
UNKNOWN_BPM = 70.0
UNKNOWN_SD = 0.2
"""Doubt about a cell that was never tried, in log tempo."""

PAUSES = 1.4
"""A block takes so many times its notes: count-in, starts, a pause after each few repetitions."""

REST_EVERY, REST = 25.0, 3.0
"""Minutes of play after which some of rest are planned (sources.md, section 8)."""


@dataclass(frozen=True, slots=True)
class Block:
    """What to play. kind: ``tempo`` (at one tempo), ``search`` (begin there and climb), ``rig``
    (measure the conversion delay; bpm and reps are None). faster: than anything played before."""

    kind: str
    bpm: float | None
    reps: int | None
    minutes: float
    faster: bool = False


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a cell stands today.

    beats: of a repetition. review: None where it was never played. secure, broken: as of today.
    """

    name: str
    beats: float
    days_since: int | None
    review: Review | None
    secure: Limit
    broken: Limit
    move: Move
    start_bpm: float | None = None  # where the cell file says to begin


@dataclass(frozen=True, slots=True)
class Item:
    """A cell's place in the day. ``question`` and ``block`` are None where nothing is open; worth:
    doubt taken away in a minute; ``chosen``: it fits into the day's time."""

    standing: Standing
    question: str | None
    block: Block | None
    worth: float
    chosen: bool = False


def doubt_left(sd: float, width: float, reps: int) -> float:
    """Standard deviation of a break's log tempo after so many repetitions at it.

    One repetition there has an information of 1 / (4 width²); a take's luck hides TAKE_LUCK × width
    however many there are.
    """
    told = 4.0 * width**2 / reps + (TAKE_LUCK * width) ** 2
    return (1.0 / (1.0 / sd**2 + 1.0 / told)) ** 0.5


def plan_day(cells: Iterable[Standing], minutes: float) -> list[Item]:
    """Each cell's open question with its block; those that fit into the time are chosen, easy ones
    first, the others follow by name."""
    items = sorted((_item(one) for one in cells), key=lambda item: -item.worth)
    left = minutes
    chosen: list[Item] = []
    for item in items:
        if item.block is not None and item.block.minutes <= left:
            chosen.append(replace(item, chosen=True))
            left -= item.block.minutes
            if (minutes - left) % REST_EVERY < item.block.minutes and minutes - left > REST_EVERY:
                left -= REST
    names = {item.standing.name for item in chosen}
    others = sorted(
        (item for item in items if item.standing.name not in names),
        key=lambda item: item.standing.name,
    )
    return sorted(chosen, key=_hardness) + others


def _hardness(item: Item) -> float:
    """How near a block comes to where its cell breaks; measuring and the unknown come first."""
    block, broken = item.block, item.standing.broken
    if block is None or block.bpm is None or broken.bpm is None:
        return 0.0
    return block.bpm / broken.bpm


def _item(cell: Standing) -> Item:
    question, block, gain = _open(cell)
    return Item(cell, question, block, gain / block.minutes if block is not None else 0.0)


def _open(cell: Standing) -> tuple[str | None, Block | None, float]:
    """The question that is open, its block, and the doubt (nats) that it would take away."""
    review, broken = cell.review, cell.broken
    if review is None or review.tempo_range_bpm is None or broken.status == "too_few":
        bpm = cell.start_bpm or UNKNOWN_BPM
        if review is not None and review.tempo_range_bpm is not None:
            bpm = review.tempo_range_bpm[0]
        return "where it breaks is not known", _block(cell, "search", bpm, MOST), _gain(UNKNOWN_SD)
    slow, fast = review.tempo_range_bpm
    if broken.status == "above_range":
        question = f"it was not yet played as fast as it breaks; {fast:.0f} bpm is the fastest"
        block = replace(_block(cell, "tempo", fast * FASTER, 10), faster=True)
        return question, block, _gain(UNKNOWN_SD / 2)
    if broken.status == "below_range":
        question = f"it breaks below {slow:.0f} bpm, the slowest that was played"
        return question, _block(cell, "tempo", slow * SLOWER, 10), _gain(UNKNOWN_SD / 2)
    dip = review.suspected
    if dip is not None:
        ends = f"{dip.low_bpm:.0f}", f"{dip.high_bpm:.0f}"
        where = f"from {ends[0]} to {ends[1]}" if ends[0] != ends[1] else f"around {ends[0]}"
        bpm = (dip.low_bpm * dip.high_bpm) ** 0.5
        return f"is it awkward {where} bpm?", _block(cell, "tempo", bpm, 10), _gain(0.1)
    sd = _sd(broken)
    if broken.bpm is not None and Z95 * sd > KNOWN:
        low, high = broken.low_bpm or slow, broken.high_bpm or fast
        question = f"it breaks somewhere from {low:.0f} to {high:.0f} bpm"
        if cell.days_since and cell.days_since > 7:
            question += f", {cell.days_since} days ago"
        reps = _reps_to_know(sd)
        gain = log(sd / max(doubt_left(sd, WIDTH, reps), KNOWN / 4))
        return question, _block(cell, "tempo", broken.bpm, reps), gain
    if review.even is not None and review.even.why and "delay" in review.even.why:
        return (
            "whether it gallops cannot be said before the rig's delay is measured",
            Block("rig", None, None, 4.0),
            0.2,
        )
    return None, None, 0.0


def _gain(sd: float) -> float:
    return log(sd / doubt_left(sd, WIDTH, MOST))


def _reps_to_know(sd: float) -> int:
    """The fewest repetitions of a block that leave the break known, as far as a block can."""
    fitting = (
        reps for reps in range(FEWEST, MOST + 1) if Z95 * doubt_left(sd, WIDTH, reps) <= KNOWN
    )
    return next(fitting, MOST)


def _sd(limit: Limit) -> float:
    if limit.bpm is None:
        return UNKNOWN_SD
    low, high = limit.low_bpm or limit.bpm, limit.high_bpm or limit.bpm
    return max(log(limit.bpm / low), log(high / limit.bpm), 1e-3) / Z95


def _block(cell: Standing, kind: str, bpm: float, reps: int) -> Block:
    minutes = PAUSES * reps * cell.beats / bpm
    return Block(kind, bpm, reps, max(round(minutes, 1), 0.5))


def minutes_of(items: Sequence[Item]) -> float:
    """Minutes that the chosen blocks take, the rests between them left out."""
    return sum(item.block.minutes for item in items if item.chosen and item.block is not None)
