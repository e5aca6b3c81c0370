"""Spread work over the machine's processors, each item by itself.

Helpers are fresh interpreters that end when the program does, however it ends. Where none can be
started, or one dies, its work is done here: slower, never missing.
"""

from __future__ import annotations

import contextlib
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from typing import TypeVar, cast

Item = TypeVar("Item")
Result = TypeVar("Result")

FEWEST_ITEMS = 4  # a fresh interpreter costs about as much as one item
MOST_HELPERS = 8


def processors() -> int:
    """Processors that this program may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        return os.cpu_count() or 1


def spread(
    work: Callable[[Item], Result], items: Sequence[Item], helpers: int | None = None
) -> Iterator[tuple[int, Result]]:
    """Each item's number and result, as they come. ``work`` is a function of a module, for helpers
    to import.

    Whatever ``work`` raises is raised here.
    """
    count = min(processors() if helpers is None else helpers, MOST_HELPERS, len(items))
    left = list(reversed(range(len(items))))
    links = _started(work, count) if count > 1 and len(items) >= FEWEST_ITEMS else []
    busy: dict[Connection, int] = {}
    try:
        for link in links:
            _hand_on(link, left, items, busy)
        while busy:
            for link in cast("list[Connection]", wait(list(busy))):
                number = busy.pop(link)
                try:
                    result: Result = link.recv()
                except (EOFError, OSError):  # the helper died: the item goes back
                    left.append(number)
                    continue
                _hand_on(link, left, items, busy)
                yield number, result
    finally:
        for link in links:
            link.close()
    while left:
        number = left.pop()
        yield number, work(items[number])


def _started(work: Callable[[Item], Result], count: int) -> list[Connection]:
    spawn = get_context("spawn")
    links = []
    for _ in range(count):
        try:
            ours, theirs = spawn.Pipe()
            spawn.Process(target=_serve, args=(theirs, work), daemon=True).start()
        except (
            OSError,
            RuntimeError,
            ValueError,
            AssertionError,
        ):  # no room, or no helpers allowed here
            break
        theirs.close()
        links.append(ours)
    return links


def _hand_on(
    link: Connection, left: list[int], items: Sequence[Item], busy: dict[Connection, int]
) -> None:
    """Give a helper its next item; one that does not take it gets no more."""
    if not left:
        return
    number = left.pop()
    try:
        link.send(items[number])
        busy[link] = number
    except OSError:
        left.append(number)


def _serve(link: Connection, work: Callable[[Item], Result]) -> None:
    """A helper's life: work until the other end is closed. What ``work`` raises ends it, to be
    raised again there."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the program's to answer
    with contextlib.suppress(Exception):
        while True:
            link.send(work(link.recv()))
