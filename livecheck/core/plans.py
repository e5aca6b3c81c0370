"""All ways to pick and slur a cell that can be played, chosen by plain filters.

A plan picks or slurs each note: what is slurred follows another fret of its string, what is picked
alternates and goes over the seam by the cell's own ``picking``. Slides and taps that are written
stay. Plans are counted and told in order by dynamic programming over the slots, so that a long cell
costs no more than what is told of it. No plan is called better than another.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import chain

from .cell import ALTERNATE, PICK, PICKED, Cell, other_way
from .picking import strokes_of
from .plan import INSIDE, direction, side_of, string_changes, strings_between

SLURS = ("hammer", "pull")
KEPT = ("slide", "tap")
"""Strokes that stay where the cell has them."""
_AT_ONCE = 64  # so many ways to end are put together once, and kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a plan must be like; None and False ask for nothing. Filters add up."""

    leave: str | None = None  # every string change comes after this stroke of the pick
    same_start: bool = False  # the second repetition has the first one's strokes
    slurs: int | None = None  # exactly so many notes hammered or pulled
    no_inside: bool = False
    no_skip_under: str | None = None  # no string is skipped after this stroke of the pick
    from_nowhere: bool = False  # also notes hammered on a string that does not sound before

    @property
    def anything(self) -> bool:
        """Whether any plan will do."""
        return replace(self, from_nowhere=False) == Wanted()


@dataclass(frozen=True, slots=True)
class Plan:
    """One way to play a cell."""

    strokes: tuple[str, ...]  # of the first repetition
    slurs: int  # notes hammered or pulled
    same_start: bool
    leaves: tuple[str | None, ...]  # of the whole round's string changes, in order
    differs: tuple[int, ...]  # slots whose stroke is another than today's


class Plans:
    """The plans of a cell, in the variant in force, that are as wanted.

    ``count`` is how many there are; iterating tells them one by one: today's first, where it is
    told, then those with fewer slurs first.
    """

    def __init__(self, cell: Cell, wanted: Wanted | None = None) -> None:
        self._cell, self._wanted = cell, wanted or Wanted()
        self._today = strokes_of(cell, 1)
        self._alternate = goes_on(cell)
        self._search = _Search(cell, self._wanted, self._alternate)
        strings = [slot.string for slot in cell.slots]
        self._leaving = [a != b for a, b in zip(strings, strings[1:] + strings[:1])]
        self._searched = self._search.has(self._today)
        self._first = self._todays()
        self.count = self._search.total + (self._first is not None and not self._searched)

    def __iter__(self) -> Iterator[Plan]:
        if self._first is not None:
            yield self._first
        for strokes in self._search:
            if self._first is None or strokes != self._today:
                yield self._made(strokes)

    def _todays(self) -> Plan | None:
        """The cell as it is, where it is to be told: without filters always, else where its strokes
        alternate and the filters let it through."""
        cell, wanted = self._cell, self._wanted
        second = strokes_of(cell, 2)
        changes = string_changes(cell)
        slurs = sum(stroke in SLURS for stroke in self._today)
        plan = Plan(
            self._today,
            slurs,
            second == self._today,
            tuple(change.leaves for change in changes),
            (),
        )
        if wanted.anything:
            return plan
        passes = (
            self._is_strict()
            and (wanted.leave is None or set(plan.leaves) <= {wanted.leave})
            and (plan.same_start or not wanted.same_start)
            and wanted.slurs in (None, slurs)
            and not (wanted.no_inside and any(change.side == INSIDE for change in changes))
            and not any(
                change.skipped and change.leaves == wanted.no_skip_under
                for change in changes
                if wanted.no_skip_under is not None
            )
        )
        return plan if passes else None

    def _is_strict(self) -> bool:
        """Whether the cell's own strokes alternate, within a repetition and over the seam."""
        picked = [stroke for stroke in self._today if stroke in PICKED]
        if any(one == other for one, other in zip(picked, picked[1:])):
            return False
        turned = self._alternate and len(picked) % 2 == 1
        second = tuple(map(_turned, self._today)) if turned else self._today
        return strokes_of(self._cell, 2) == second

    def _made(self, strokes: tuple[str, ...]) -> Plan:
        downs, ups = strokes.count("down"), strokes.count("up")
        turned = self._alternate and (downs + ups) % 2 == 1
        last = next(stroke for stroke in reversed(strokes) if stroke in PICKED)
        last = other_way(last) if turned else last
        leaves = []
        for stroke, leaving in zip(strokes, self._leaving):
            if stroke in PICKED:
                last = stroke
            if leaving:
                leaves.append(last)
        if turned:
            leaves += [other_way(stroke) for stroke in leaves]
        differs = tuple([at for at, one in enumerate(strokes, 1) if one != self._today[at - 1]])
        slurs = strokes.count("hammer") + strokes.count("pull")
        return Plan(strokes, slurs, not turned, tuple(leaves), differs)


def goes_on(cell: Cell) -> bool:
    """Whether alternation goes on over the seam in the variant in force."""
    return cell.picking == ALTERNATE and None in cell.written_in(cell.variant)


def _turned(stroke: str) -> str:
    return other_way(stroke) if stroke in PICKED else stroke


def slur_of(cell: Cell, index: int, from_nowhere: bool = False) -> str | None:
    """How the slot at an index can be slurred from the one before it as the cell loops: hammer from
    a lower, pull from a higher fret of its string; None where it cannot."""
    slot, before = cell.slots[index], cell.slots[index - 1]
    if slot.string != before.string:
        return "hammer" if from_nowhere and slot.fret > 0 else None
    if slot.fret == before.fret:
        return None
    return "hammer" if before.fret < slot.fret else "pull"


class _Search:
    """Counts and tells the strokes of every plan as wanted, fewer slurs first.

    For a first stroke, for how the first slot sounds, and for an even or odd number of picked notes
    the last stroke of the pick before every slot is known, and so is which string changes the
    filters let through. ``ways`` counts what can follow a slot by how many slurs are still to come.
    """

    def __init__(self, cell: Cell, wanted: Wanted, alternate: bool) -> None:
        self._wanted, self._alternate = wanted, alternate
        count = len(cell.slots)
        now = strokes_of(cell, 1)
        self._kept = [stroke if stroke in KEPT else None for stroke in now]
        self._slur = [
            None if self._kept[at] else slur_of(cell, at, wanted.from_nowhere)
            for at in range(count)
        ]
        self._free = sum(stroke is None for stroke in self._kept)
        pairs = [
            (cell.slots[at].string, cell.slots[(at + 1) % count].string) for at in range(count)
        ]
        self._toward = [direction(cell, *pair) if pair[0] != pair[1] else None for pair in pairs]
        self._skips = [bool(strings_between(*pair)) for pair in pairs]
        self._ways = lru_cache(maxsize=None)(self._count)
        self._ends = lru_cache(maxsize=None)(self._ended)
        self._by_slurs = {
            slurs: sum(self._kind_count(kind, slurs) for kind in self._kinds(slurs))
            for slurs in range(self._free)
            if wanted.slurs in (None, slurs)
        }
        self.total = sum(self._by_slurs.values())

    def __iter__(self) -> Iterator[tuple[str, ...]]:
        for slurs, count in self._by_slurs.items():
            if count:
                for kind in self._kinds(slurs):
                    if self._kind_count(kind, slurs):
                        yield from self._told((), kind, 0, kind.last, False, False, slurs)

    def has(self, strokes: tuple[str, ...]) -> bool:
        """Whether a plan is one of those."""
        slurs = sum(stroke in SLURS for stroke in strokes)
        kinds = self._kinds(slurs) if slurs in self._by_slurs else []
        first = next((stroke for stroke in strokes if stroke in PICKED), None)
        for kind in kinds:
            if kind.begin == first and kind.first_picked == (strokes[0] in PICKED):
                return self._leads(kind, strokes)
        return False

    def _leads(self, kind: _Kind, strokes: tuple[str, ...]) -> bool:
        state = (kind.last, False, False)
        left = sum(stroke in SLURS for stroke in strokes)
        for at, stroke in enumerate(strokes):
            step = next((one for one in self._steps(kind, at, *state) if one[0] == stroke), None)
            if step is None:
                return False
            state = step[1]
            left -= stroke in SLURS
        return left == 0 and self._closes(kind, state[0], state[2])

    def _kinds(self, slurs: int) -> list[_Kind]:
        """The kinds of plans with so many slurs; none where nothing would be picked."""
        picks = self._free - slurs
        if picks < 1:
            return []
        odd = picks % 2 == 1
        turned = self._alternate and odd
        if turned and self._wanted.same_start:
            return []
        return [
            _Kind(begin, begin if odd and not turned else other_way(begin), turned, first)
            for begin in PICKED
            for first in (True, False)
        ]

    def _kind_count(self, kind: _Kind, slurs: int) -> int:
        return self._ways(kind, 0, kind.last, False, False).get(slurs, 0)

    def _count(
        self, kind: _Kind, at: int, last: str, begun: bool, picked: bool
    ) -> Mapping[int, int]:
        """Plans by the number of slurs from a slot on; ``last`` is the pick's last stroke before
        it, ``begun`` whether that was in this repetition, ``picked`` whether the slot before
        was."""
        if at == len(self._kept):
            return {0: 1} if begun and self._closes(kind, last, picked) else {}
        ways: dict[int, int] = {}
        for stroke, state in self._steps(kind, at, last, begun, picked):
            for slurs, count in self._ways(kind, at + 1, *state).items():
                slurs += stroke in SLURS
                ways[slurs] = ways.get(slurs, 0) + count
        return ways

    def _told(
        self,
        before: tuple[str, ...],
        kind: _Kind,
        at: int,
        last: str,
        begun: bool,
        picked: bool,
        slurs: int,
    ) -> Iterator[tuple[str, ...]]:
        """The strokes of every plan that goes on like this, with so many slurs from here on."""
        if self._ways(kind, at, last, begun, picked).get(slurs, 0) <= _AT_ONCE:
            for rest in self._ends(kind, at, last, begun, picked, slurs):
                yield before + rest
            return
        for stroke, state in self._steps(kind, at, last, begun, picked):
            left = slurs - (stroke in SLURS)
            if self._ways(kind, at + 1, *state).get(left):
                yield from self._told((*before, stroke), kind, at + 1, *state, left)

    def _ended(
        self, kind: _Kind, at: int, last: str, begun: bool, picked: bool, slurs: int
    ) -> tuple[tuple[str, ...], ...]:
        """The same from a slot on, all together, where they are few."""
        if at == len(self._kept):
            return ((),)
        return tuple(
            (stroke, *rest)
            for stroke, state in self._steps(kind, at, last, begun, picked)
            for left in [slurs - (stroke in SLURS)]
            if self._ways(kind, at + 1, *state).get(left)
            for rest in self._ends(kind, at + 1, *state, left)
        )

    def _steps(
        self, kind: _Kind, at: int, last: str, begun: bool, picked: bool
    ) -> Iterator[tuple[str, tuple[str, bool, bool]]]:
        """How a slot may sound: its stroke, and last, begun and picked after it."""
        kept, slur = self._kept[at], self._slur[at]
        pick = (other_way(last) if begun else kind.begin) if kept is None else None
        for stroke in (pick, slur, kept):
            if stroke is None or (at == 0 and kind.first_picked != (stroke in PICKED)):
                continue
            if at and not self._lets(kind, at - 1, last, picked, stroke):
                continue
            if stroke in PICKED:
                yield stroke, (stroke, True, True)
            else:
                yield stroke, (last, begun, False)

    def _closes(self, kind: _Kind, last: str, picked: bool) -> bool:
        """Whether the way over the seam, back to the first slot, is let through."""
        after = "" if not kind.first_picked else other_way(last) if kind.turned else kind.begin
        return self._lets(kind, len(self._kept) - 1, last, picked, after)

    def _lets(self, kind: _Kind, at: int, last: str, picked: bool, after: str) -> bool:
        """Whether the filters let the way from a slot to the next through, in a plan that turns
        round in both of its repetitions."""
        toward, wanted = self._toward[at], self._wanted
        if toward is None:
            return True
        if wanted.leave is not None and (kind.turned or last != wanted.leave):
            return False
        skipped = wanted.no_skip_under is not None and self._skips[at]
        if skipped and (kind.turned or last == wanted.no_skip_under):
            return False
        side = side_of(last, after, toward) if picked else None
        return not (wanted.no_inside and (side == INSIDE or (side is not None and kind.turned)))


@dataclass(frozen=True, slots=True)
class _Kind:
    begin: str  # the first picked note's stroke
    last: str  # the pick's last stroke before the repetition, as the plan loops
    turned: bool  # every second repetition has the other strokes
    first_picked: bool  # whether slot 1 is picked


def as_variant(cell: Cell, plan: Plan) -> tuple[str | None, dict[int, str]]:
    """How a plan is written as a variant of the cell: what it begins with, where that is another,
    and strokes by slot number.

    What alternates stays free to turn round; only where that does not give the plan's strokes in
    every repetition are all of them written.
    """
    wanted = [_in_repetition(plan, repetition) for repetition in (1, 2, 3)]
    written = {
        number: stroke
        for number, (stroke, own) in enumerate(zip(plan.strokes, cell.written), 1)
        if stroke != own
    }
    free = {}
    for number, (stroke, own) in enumerate(zip(plan.strokes, cell.written), 1):
        if stroke not in PICKED and stroke != own:
            free[number] = stroke
        elif stroke in PICKED and own is not None and {rep[number - 1] for rep in wanted} != {own}:
            free[number] = PICK
    begin = next((stroke for stroke in plan.strokes if stroke in PICKED), None)
    ways: list[tuple[str | None, dict[int, str]]] = [(None, free), (begin, free)]
    for way in chain([(None, written)] if None not in cell.written else [], ways):
        if [strokes_of(_with(cell, *way), repetition) for repetition in (1, 2, 3)] == wanted:
            return way
    return None, dict(enumerate(plan.strokes, 1))


def _in_repetition(plan: Plan, repetition: int) -> tuple[str, ...]:
    turned = not plan.same_start and repetition % 2 == 0
    return tuple(map(_turned, plan.strokes)) if turned else plan.strokes


def _with(cell: Cell, begin: str | None, strokes: Mapping[int, str]) -> Cell:
    begins = {"": begin} if begin is not None else {}
    return replace(cell, variants={"": strokes}, begins=begins).with_variant("")
