"""Readings: the stories of what is being played, and those a note gives rise to.

Owns how stories are kept apart, merged and dropped. What they cost is ``odds.py``'s; which of them
a note makes is ``match.py``'s.
"""

from __future__ import annotations

from math import inf

from .odds import BOUND

NO_SLOT = -1
"""The slot of a note that answers none, and of a reading outside of play."""

NONE = ((NO_SLOT, None, None),)
"""What a note that answers no slot adds to a reading's path."""

MOST_READINGS = 24
"""A bound on the work for one note; two or three stories are usual. No source."""

Path = tuple[tuple[int, "str | None", "float | None"], ...]


class Reading:
    """One story of the notes so far. ``slot`` is -1 outside of play; ``step_s`` 0 while the tempo
    is unknown."""

    __slots__ = ("cost", "doubt", "path", "phase_s", "slot", "step_s", "struck_s")

    def __init__(
        self,
        cost: float,
        slot: int,
        struck_s: float,
        phase_s: float,
        step_s: float,
        doubt: float,
        path: Path,
    ) -> None:
        self.cost = cost
        self.slot = slot
        self.struck_s = struck_s  # the last answered slot's stroke
        self.phase_s = phase_s  # where the grid puts that slot
        self.step_s = step_s  # seconds a grid step
        self.doubt = doubt  # factor on the spread: the tempo is new, or the last note surprised
        # for each note not yet told: (slot or -1, verdict, lateness in seconds where it is known)
        self.path = path


class Family:
    """The readings that a note gives rise to. Those that end in the same slot at the same stroke go
    on alike: the cheapest one stays. What lies ``BOUND`` behind the best is not even made."""

    __slots__ = ("base", "limit", "members")

    def __init__(self) -> None:
        self.members: dict[tuple[int, float], Reading] = {}
        self.limit = inf
        self.base = 0.0  # what the cheapest one costs more than the cheapest before the note

    def add(
        self,
        cost: float,
        slot: int,
        struck_s: float,
        phase_s: float,
        step_s: float,
        doubt: float,
        path: Path,
    ) -> None:
        key = (slot, struck_s)
        other = self.members.get(key)
        if other is None or cost < other.cost:
            self.members[key] = Reading(cost, slot, struck_s, phase_s, step_s, doubt, path)
            if cost + BOUND < self.limit:
                self.limit = cost + BOUND

    def outside(self, reading: Reading, cost: float) -> None:
        """The reading goes on outside of play, the note answering no slot."""
        self.add(cost, NO_SLOT, reading.struck_s, 0.0, 0.0, 1.0, reading.path + NONE)

    def best(self) -> list[Reading]:
        """The readings kept, cheapest first, the cheapest at no cost."""
        kept = list(self.members.values())
        if len(kept) > 1:
            limit = self.limit
            kept = [reading for reading in kept if reading.cost <= limit]
            kept.sort(key=_cost)
            del kept[MOST_READINGS:]
        base = self.base = kept[0].cost
        for reading in kept:
            reading.cost -= base
        return kept


def _cost(reading: Reading) -> float:
    return reading.cost
