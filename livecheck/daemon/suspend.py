"""Notice that the computer has slept: the clock that stamps the notes stood still meanwhile.

Two clocks are compared, one of which runs on in sleep; neither is the wall clock, so setting that
changes nothing.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

JUMP_NS = 2_000_000_000


def asleep_ns() -> int | None:
    """Nanoseconds slept since the computer was started; None where the system does not tell."""
    if sys.platform == "linux":
        return time.clock_gettime_ns(time.CLOCK_BOOTTIME) - time.clock_gettime_ns(
            time.CLOCK_MONOTONIC
        )
    if sys.platform == "darwin":
        return time.clock_gettime_ns(time.CLOCK_MONOTONIC) - time.clock_gettime_ns(
            time.CLOCK_UPTIME_RAW
        )
    return None


class SuspendCheck:
    """Asked again and again, tells how long the computer has slept since it was asked last."""

    def __init__(self, slept: Callable[[], int | None] = asleep_ns) -> None:
        self._slept = slept
        self._before = slept()

    def slept_s(self) -> float:
        """Seconds slept since the last call; 0 for less than two."""
        now = self._slept()
        before, self._before = self._before, now
        if now is None or before is None or now - before < JUMP_NS:
            return 0.0
        return (now - before) / 1e9
