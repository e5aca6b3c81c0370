"""Work spread over processors: all of it is done, whatever becomes of the helpers."""

from __future__ import annotations

import os

import pytest

from livecheck.files import workers
from livecheck.files.workers import spread


def square(number: int) -> int:
    """An item's work."""
    return number * number


def deadly(number: int) -> int:
    """Kills the helper that does it; here it is harmless."""
    if number == 3 and os.getpid() != int(os.environ["LIVECHECK_TEST_PARENT"]):
        os._exit(1)
    return -number


def faulty(number: int) -> int:
    """A fault of ours."""
    if number == 2:
        raise ZeroDivisionError("two")
    return number


def sorted_results(work, items, helpers):
    found = sorted(spread(work, items, helpers))
    assert [number for number, _ in found] == list(range(len(items)))
    return [result for _, result in found]


@pytest.mark.parametrize("helpers", [1, 2, 3])
@pytest.mark.parametrize("count", [0, 1, 3, 9])
def test_every_item_is_done_once(helpers, count):
    """With one processor and with several."""
    assert sorted_results(square, list(range(count)), helpers) == [
        number**2 for number in range(count)
    ]


def test_a_helper_that_dies_costs_nothing(monkeypatch):
    """Its item is done here."""
    monkeypatch.setenv("LIVECHECK_TEST_PARENT", str(os.getpid()))
    assert sorted_results(deadly, list(range(8)), 2) == [-number for number in range(8)]


def test_where_no_helper_can_be_started_the_work_is_done_here(monkeypatch):
    """A system may allow no further process."""

    class Nothing:
        def Pipe(self):
            raise OSError(24, "Too many open files")

    monkeypatch.setattr(workers, "get_context", lambda kind: Nothing())
    assert sorted_results(square, list(range(6)), 2) == [0, 1, 4, 9, 16, 25]


@pytest.mark.parametrize("helpers", [1, 2])
def test_a_fault_in_the_work_is_raised_here(helpers):
    """It is no reason to pass an item over."""
    with pytest.raises(ZeroDivisionError, match="two"):
        list(spread(faulty, list(range(6)), helpers))
