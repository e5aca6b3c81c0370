"""What today, and what a week came to."""

from __future__ import annotations

import re
from argparse import ArgumentTypeError
from datetime import date

from .common import Commands, add, add_driver, positive


def register(commands: Commands) -> None:
    today = add(
        commands,
        "today",
        "today:run_today",
        "where each cell stands, what is open, and what to play today",
        "Chosen by what a block would answer, not by scores.",
        json_too=True,
    )
    today.add_argument(
        "--minutes",
        metavar="N",
        type=positive,
        default=30.0,
        help="how long there is to practise (30)",
    )
    today.add_argument("--why", action="store_true", help="say what each place in the day rests on")
    today.add_argument(
        "--start", action="store_true", help="play the blocks, one after the other, to a click"
    )
    today.add_argument(
        "--port", metavar="TEXT", help="with --start: part of the guitar's port name"
    )
    today.add_argument(
        "--click-port", metavar="TEXT", help="with --start: MIDI output for the click"
    )
    add_driver(today)
    week = add(
        commands,
        "week",
        "week:run_week",
        "time played, what moved, what was answered and what is open, over seven days",
        json_too=True,
    )
    week.add_argument("--to", metavar="DATE", type=_day, help="the last of the seven days (today)")
    week.add_argument("--html", metavar="FILE", help="write it as a page that prints on one sheet")


def _day(text: str) -> str:
    """A whole date."""
    try:
        if not re.fullmatch(r"\d{4}-\d\d-\d\d", text, re.ASCII):
            raise ValueError
        date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f"{text!r} is no day; write it as 2026-01-31") from None
    return text
