"""What was drawn once and may be drawn again as it is: most rows of a frame are those of the last
one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

MOST = 1000

T = TypeVar("T")


class Kept:
    """Keeps a value by its name as long as what it rests on are the same objects, or equal words
    and numbers."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, int], tuple[tuple[object, ...], Any]] = {}

    def of(self, kind: str, number: int, rests_on: tuple[object, ...], make: Callable[[], T]) -> T:
        """The value kept under a kind and a number; made anew where it rests on other objects."""
        found = self._kept.get((kind, number))
        if found is not None and all(map(_same, found[0], rests_on)):
            value: T = found[1]
            return value
        if len(self._kept) >= MOST:
            self._kept.clear()
        value = make()
        self._kept[kind, number] = rests_on, value
        return value


def _same(one: object, other: object) -> bool:
    return one is other or (isinstance(one, int | str) and one == other)
