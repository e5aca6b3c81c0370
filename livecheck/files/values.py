"""How values are written for other programs and on pages: numbers rounded, days as dates."""

from __future__ import annotations

from datetime import date


def rounded(value: float | None, places: int) -> float | None:
    """A number to so many places; None stays None."""
    return None if value is None else round(value, places)


def date_of(day: int) -> str:
    """A day number as it is written.

    >>> date_of(739_949)
    '2026-11-29'
    """
    return date.fromordinal(day).isoformat()
