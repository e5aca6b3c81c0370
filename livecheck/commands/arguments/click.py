"""Options of commands that sound a click or follow one, and the kinds of argument for it."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError
from collections.abc import Callable

from ...core.click import ACCENTS, HIGHEST_BPM, LOWEST_BPM, MOST_SUBDIVISIONS


def add_click(parser: ArgumentParser) -> None:
    """The click of ``listen``."""
    parser.add_argument(
        "--click",
        metavar="BPM",
        type=tempo,
        help="sound a click on --click-port; a bar of count-in",
    )
    parser.add_argument(
        "--click-port", metavar="TEXT", help="MIDI output for the click: part of its name"
    )
    parser.add_argument(
        "--clock",
        action="store_true",
        help="send MIDI clock beside the click (start after the count-in, stop at the end)",
    )
    parser.add_argument(
        "--follow-clock",
        metavar="TEXT",
        help="take the beats of the MIDI clock that comes in at this port for the click",
    )
    parser.add_argument(
        "--accent",
        choices=ACCENTS,
        help="what is high: the count-in alone, each bar, each repetition that begins on a beat, "
        "or nothing",
    )
    parser.add_argument(
        "--subdivide",
        metavar="N",
        type=whole(MOST_SUBDIVISIONS),
        help="soft clicks between the beats: so many parts a beat",
    )
    parser.add_argument(
        "--bars",
        metavar="ON/OFF",
        type=bars,
        help="so many bars with the click, then so many without, over and over: 3/1",
    )


def tempo(text: str) -> float:
    """A tempo that a click can have."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not LOWEST_BPM <= value <= HIGHEST_BPM:
        raise ArgumentTypeError(
            f"{text!r} is no tempo; a click can have {LOWEST_BPM:g} to {HIGHEST_BPM:g} a minute"
        )
    return value


def whole(most: int, least: int = 1) -> Callable[[str], int]:
    """A whole number within bounds."""

    def number(text: str) -> int:
        if not text.isascii() or not text.isdigit() or not least <= int(text) <= most:
            raise ArgumentTypeError(f"{text!r} is no whole number from {least} to {most}")
        return int(text)

    return number


def bars(text: str) -> tuple[int, int]:
    """``3/1``: three bars with the click, one without."""
    on, slash, off = text.partition("/")
    if not slash or not (on.isdigit() and off.isdigit()) or not (0 < int(on) < 100 > int(off)):
        raise ArgumentTypeError(f"{text!r} are no bars; write 3/1")
    return int(on), int(off)


def add_part(parser: ArgumentParser, start: str) -> None:
    """Parts of a cell, looped by themselves. start: the option that begins it elsewhere."""
    part = parser.add_mutually_exclusive_group()
    part.add_argument(
        "--notes", metavar="A-B", type=note_run, help="loop only these notes of the cell: 3-5"
    )
    part.add_argument(
        "--seam", action="store_true", help="loop only its last two and first two notes"
    )
    part.add_argument(
        start,
        dest="from_note",
        metavar="NOTE",
        type=whole(64),
        help="begin the cell at another of its notes",
    )


def note_run(text: str) -> tuple[int, int]:
    """``3-5``: notes 3 to 5; ``5-2`` runs over the seam."""
    first, dash, last = text.partition("-")
    if not dash or not (first.isascii() and first.isdigit() and last.isascii() and last.isdigit()):
        raise ArgumentTypeError(f"{text!r} are no notes; write 3-5")
    if not (0 < int(first) < 100 and 0 < int(last) < 100) or first == last:
        raise ArgumentTypeError(f"{text!r}: two notes or more are needed; write 3-5")
    return int(first), int(last)
