"""What the declarations of commands share: ``add``, options that several commands take, and the
kinds of argument."""

from __future__ import annotations

import argparse
import re
from argparse import ArgumentParser, ArgumentTypeError
from datetime import date
from typing import Any

from ...core.cell import AS_WRITTEN
from ...files.settingsfile import NEVER

Commands = Any  # what ArgumentParser.add_subparsers returns; its class is private

DRIVERS = ("alsa", "jack", "core", "mm")
_DATE = re.compile(r"\d{4}(-\d\d(-\d\d)?)?")
_SHORT_END = re.compile(r"\d\d(-\d\d)?")


def add(
    commands: Commands, name: str, run: str, about: str, more: str = "", json_too: bool = False
) -> ArgumentParser:
    """Declare one command: its name, what runs it ("module:function" below ``commands``), one
    sentence for the list, more for its own help.

    The function takes the parsed options, the output and the error output; it returns the exit
    status or raises LivecheckError.
    """
    parser: ArgumentParser = commands.add_parser(
        name,
        help=about,
        description=f"{about[0].upper()}{about[1:]}. {more}".strip(),
        allow_abbrev=False,
    )
    parser.set_defaults(run=run, parser=parser)
    # the defaults stand at the top: a verb's must not undo what its group was given
    kept: Any = argparse.SUPPRESS
    parser.add_argument(
        "--home",
        metavar="DIR",
        default=kept,
        help="practice folder, instead of the current one or LIVECHECK_HOME",
    )
    if json_too:
        parser.add_argument(
            "--json", action="store_true", default=kept, help="print JSON for other programs"
        )
    return parser


def add_group(commands: Commands, name: str, about: str, more: str) -> Commands:
    """Declare a word that only heads commands; alone it prints their list."""
    parser = commands.add_parser(name, help=about, description=more)
    parser.set_defaults(run=None, parser=parser)
    return add_verbs(parser)


def add_verbs(parser: ArgumentParser) -> Commands:
    """Where the commands below a word are declared."""
    return parser.add_subparsers(title="commands", metavar="COMMAND", parser_class=type(parser))


# ------------------------------------------------------------------------------ options that recur


def add_cells(parser: ArgumentParser, about: str) -> None:
    """``--cell``, which may be said several times: what was to be played, the cells that it may
    have been."""
    more = "; said again, or of a folder, the one that was played is recognised"
    parser.add_argument("--cell", dest="cells", metavar="CELL", action="append", help=about + more)


def add_sessions(parser: ArgumentParser) -> None:
    """The options that choose sessions, cell, variant and rig."""
    add_chosen(parser)
    parser.add_argument(
        "--cell",
        dest="cells",
        metavar="CELL",
        help="which of the cells that were played; it also says what MIDI files hold, and "
        "sessions without a cell",
    )


def add_chosen(parser: ArgumentParser) -> None:
    """The options that choose sessions, variant and rig."""
    parser.add_argument(
        "sessions",
        metavar="SESSION",
        nargs="*",
        default=(),  # without it the parser calls for one
        help="a session's name, the beginning of one, `last`, a folder, or a Standard MIDI File "
        "(with --cell); all sessions but demos where none is chosen",
    )
    parser.add_argument("--last", metavar="N", type=count, help="the last N sessions")
    parser.add_argument(
        "--since", metavar="DATE", type=a_date, help="sessions from a day, month or year on"
    )
    parser.add_argument(
        "--until",
        metavar="DATE",
        type=a_date,
        help="sessions up to a day, month or year, it included",
    )
    parser.add_argument(
        "--variant",
        metavar="NAME",
        help=f"which way of playing it; '{AS_WRITTEN}' for the cell's own strokes",
    )
    parser.add_argument(
        "--rig", metavar="RIG", help="judge anew with this rig (nothing of that is kept)"
    )


def add_input(parser: ArgumentParser) -> None:
    """Options of every command that records from a port."""
    parser.add_argument(
        "--rig",
        metavar="RIG",
        help="a rig file or name; without it configs/rig.yaml if there is one",
    )
    parser.add_argument(
        "--port", metavar="TEXT", help="part of the port's name, or a /regular expression/"
    )
    add_driver(parser)


def add_driver(parser: ArgumentParser) -> None:
    """The option of every command that opens or lists ports."""
    parser.add_argument(
        "--driver", choices=DRIVERS, help="MIDI system; on Linux alsa where it is there, else jack"
    )


def add_console(parser: ArgumentParser) -> None:
    """Options of every command that shows a session."""
    parser.add_argument(
        "--seconds", metavar="N", type=positive, help="stop by itself after so long"
    )
    parser.add_argument("--plain", action="store_true", help="no screen, one line a repetition")


def add_rest(parser: ArgumentParser) -> None:
    """The option of every command that shows practice as it goes on."""
    told = (
        "remind of a rest after so many minutes of play, or `never`; else as "
        "configs/settings.yaml says, or 25"
    )
    parser.add_argument("--rest", metavar="MINUTES", type=minutes_or_never, help=told)


def add_silence(parser: ArgumentParser) -> None:
    """The option of every command that records one session after the other."""
    told = "silence that ends a session, or `never`; else as configs/settings.yaml says, or 15"
    parser.add_argument("--silence", metavar="MINUTES", type=minutes_or_never, help=told)


# -------------------------------------------------------------------------------- kinds of argument


def positive(text: str) -> float:
    """A number above 0."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not value > 0.0:
        raise ArgumentTypeError(f"{text!r} is no number above 0")
    if value >= 1e9:
        raise ArgumentTypeError(f"{text!r} is too large; write less than 1000000000")
    return value


def count(text: str) -> int:
    """A number of sessions, from 1."""
    if not text.isascii() or not text.isdigit() or not 0 < int(text) < 10**6:
        raise ArgumentTypeError(f"{text!r} is no number of sessions")
    return int(text)


def repetition(text: str) -> int:
    """The number of a repetition, from 1."""
    if not text.isascii() or not text.isdigit() or not 0 < int(text) < 10**9:
        raise ArgumentTypeError(f"{text!r} is no number of a repetition")
    return int(text)


def minutes_or_never(text: str) -> float:
    """Minutes above 0; 0 for ``never``."""
    try:
        return 0.0 if text == NEVER else positive(text)
    except ArgumentTypeError as error:
        raise ArgumentTypeError(f"{error}: write minutes, or `{NEVER}`") from error


def a_date(text: str) -> str:
    """A day, a month or a year as written: 2026-11-25, 2026-11 or 2026."""
    try:
        if not _DATE.fullmatch(text):
            raise ValueError
        date.fromisoformat(f"{text}-01-01"[:10])
    except ValueError:
        raise ArgumentTypeError(f"{text!r} is no date; write 2026-11-25, 2026-11 or 2026") from None
    return text


def span(text: str) -> tuple[str, str]:
    """A day, month or year, or an interval of two, both ends included: 2026-10-01/2026-10-14.

    What the end leaves out is taken from the start: 2026-10-01/14. Source: ISO 8601-1:2019, 5.5
    (time intervals, their representation by start and end).

    >>> span("2026-10-01/14"), span("2026")
    (('2026-10-01', '2026-10-14'), ('2026', '2026'))
    """
    if ".." in text:
        raise ArgumentTypeError(f"{text!r}: write it {text.replace('..', '/')}")
    first, slash, last = text.partition("/")
    if _SHORT_END.fullmatch(last) and len(last) < len(first):
        last = first[: -len(last)] + last
    ends = a_date(first), a_date(last if slash else first)
    if ends[1][: len(ends[0])] < ends[0][: len(ends[1])]:
        raise ArgumentTypeError(f"{text!r} ends before it begins")
    return ends
