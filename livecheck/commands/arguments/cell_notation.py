"""How `livecheck cell import` and `cell export` are called."""

from __future__ import annotations

import re
from argparse import ArgumentTypeError

from ...core.pitch import pitch_of
from ...core.tunings import TUNINGS, tuning_named
from .cell_plan import number
from .common import Commands, add

KINDS = ("midi", "musicxml", "tab")
MOST_STRINGS = 12


def declare_import(verbs: Commands) -> None:
    read = add(
        verbs,
        "import",
        "cell_notation:run_import",
        "read a cell from a MIDI file, MusicXML or text tablature",
        "Shows what was read; --write NAME keeps it.",
        json_too=True,
    )
    read.add_argument("file", metavar="FILE", help="a Standard MIDI File, .musicxml, .mxl, or text")
    read.add_argument("--bars", metavar="A-B", type=bars, help="only these bars, counted from 1")
    read.add_argument(
        "--track", metavar="N", type=number, help="only this track or part, counted from 1"
    )
    read.add_argument("--grid", metavar="N", type=grid, help="so many grid steps to the beat")
    read.add_argument(
        "--tuning",
        metavar="NOTES",
        type=tuning,
        help="open strings, string 1 first: 'E4 B3 …', or a name such as 'drop D'",
    )
    read.add_argument("--capo", metavar="N", type=capo, help="the fret of the capo")
    read.add_argument("--write", metavar="NAME", help="keep it as a cell of this name")
    read.add_argument(
        "--reading", metavar="N", type=number, help="with --write: another reading than the first"
    )
    read.add_argument("--force", action="store_true", help="write over a cell of this name")


def declare_export(verbs: Commands) -> None:
    write = add(
        verbs,
        "export",
        "cell_notation:run_export",
        "write a cell as a MIDI file, MusicXML or text tablature",
        json_too=True,
    )
    write.add_argument("cells", metavar="CELL", help="a cell file, or the name of a cell")
    write.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")
    write.add_argument("--to", choices=KINDS, required=True, help="the kind of file")
    write.add_argument(
        "--out", metavar="FILE", help="write it there (.mxl is packed), instead of printing it"
    )
    write.add_argument("--force", action="store_true", help="write over a file that is there")


def bars(text: str) -> tuple[int, int]:
    """First and last bar; a single number is one bar."""
    found = re.fullmatch(r"(\d{1,5})(?:-(\d{1,5}))?", text, re.ASCII)
    first, last = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
    if not 1 <= first <= last:
        raise ArgumentTypeError(
            f"{text[:40]!r} are no bars; write the first and the last, as in 3-4"
        )
    return first, last


def grid(text: str) -> int:
    """Grid steps to the beat."""
    return _within(text, 1, 16, "grid")


def capo(text: str) -> int:
    """A fret that a capo may be at; 0: none."""
    return _within(text, 0, 12, "capo")


def _within(text: str, low: int, high: int, noun: str) -> int:
    value = int(text) if text.isascii() and text.isdigit() and len(text) < 7 else -1
    if not low <= value <= high:
        raise ArgumentTypeError(
            f"{text[:40]!r} is no {noun}; write a whole number from {low} to {high}"
        )
    return value


def tuning(text: str) -> tuple[int, ...]:
    """Open strings as MIDI note numbers, string 1 first; by their notes or a tuning's name."""
    if (known := tuning_named(text)) is not None:
        return known
    names = text.replace(",", " ").split()
    try:
        found = tuple(pitch_of(name) for name in names)
    except ValueError as error:
        raise ArgumentTypeError(
            f"{error}: write notes with octaves, as in 'E4 B3 G3 D3 A2 D2', or one of "
            + ", ".join(map(repr, TUNINGS))
        ) from None
    if not 1 <= len(found) <= MOST_STRINGS:
        raise ArgumentTypeError(f"{len(found)} strings; give 1 to {MOST_STRINGS}")
    return found
