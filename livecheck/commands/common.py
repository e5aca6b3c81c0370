"""What the commands share in what they print: JSON, tables, paths, lines as wide as the output."""

from __future__ import annotations

import json
import os
import re
import shutil
import sys
import textwrap
from pathlib import Path
from typing import TextIO

from ..errors import BadInput
from ..files.paths import path_of

NARROWEST, WIDEST = 60, 200
NO_RIG = "none: channel 1 is taken for string 1, and no delay is taken off"


def print_json(value: object, out: TextIO) -> None:
    """One JSON value on one line."""
    print(json.dumps(value, allow_nan=False), file=out)


def program_name() -> str:
    """How this program is called from the same shell again: its name, or its path where the name
    would not find it."""
    called = sys.argv[0] if sys.argv else ""
    if os.path.basename(called) != "livecheck":
        return "livecheck"
    found = shutil.which("livecheck")
    if found is not None and os.path.realpath(found) == os.path.realpath(called):
        return "livecheck"
    return near_path(Path(called).absolute())


def near_path(path: Path) -> str:
    """A path as it is written from the current folder, where it lies below."""
    relative = os.path.relpath(path)
    return str(path) if relative.startswith(os.pardir) else relative


def new_file(name: str, example: str) -> Path:
    """Where something is to be written: a file, there already or not. Raises BadInput, which
    suggests the name of ``example``, where it is a folder."""
    path = path_of(name)
    if path.is_dir():
        raise BadInput(f"{name}: is a folder; name a file, {path / example} for example")
    return path


def full_path(name: str) -> str:
    """A file by its full path; what is only a name stays one."""
    return os.path.abspath(name) if os.path.exists(name) else name


def width_of(out: TextIO) -> int:
    """Columns to fill: the terminal's, or 80 where output goes elsewhere."""
    columns = shutil.get_terminal_size().columns if out.isatty() else 80
    return min(max(columns, NARROWEST), WIDEST)


_HEAD = re.compile(r"\d+\. |\S.{0,26}?  +| +")


def print_wrapped(text: str, out: TextIO) -> None:
    """Print a text in lines that a terminal need not break within a word; in one line anywhere
    else. What goes on stands under what follows a number, a first column or an indent."""
    if not out.isatty():
        print(text, file=out, flush=True)
        return
    head = _HEAD.match(text)
    under = " " * (head.end() if head is not None else 0)
    lines = textwrap.wrap(
        text,
        width_of(out) - 1,
        subsequent_indent=under,
        break_long_words=False,
        break_on_hyphens=False,
    )
    print(*(lines or [""]), sep="\n", file=out, flush=True)


def hung(lead: str, text: str, out: TextIO) -> list[str]:
    """Text behind a lead. On a terminal in lines that it need not break within a word, the later
    ones below the beginning of the text; one line anywhere else."""
    if not out.isatty():
        return [lead + text]
    return textwrap.wrap(
        text,
        width_of(out) - 1,
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_long_words=False,
        break_on_hyphens=False,
    ) or [lead.rstrip()]


def only_ascii(out: TextIO) -> bool:
    """Whether the output cannot show more than ASCII."""
    try:
        "⊓".encode(getattr(out, "encoding", None) or "utf-8")
    except (UnicodeEncodeError, LookupError):
        return True
    return False


def rows(table: list[list[str]], right: tuple[int, ...] = ()) -> list[str]:
    """A table as lines, columns two spaces apart; ``right`` names the columns that hold numbers.

    >>> rows([["cell", "slots"], ["two", "2"]], right=(1,))
    ['cell  slots', 'two       2']
    """
    widths = [max(map(len, column)) for column in zip(*table, strict=True)]
    lines = []
    for row in table:
        placed = enumerate(zip(row, widths, strict=True))
        cells = [
            text.rjust(width) if at in right else text.ljust(width) for at, (text, width) in placed
        ]
        lines.append("  ".join(cells).rstrip())
    return lines


def lost(records: int, why: str | None) -> str:
    """The line about what a recorder could not save."""
    many = "1 record" if records == 1 else f"{records} records"
    return (
        f"NOT SAVED: {many} of what was played ({why or 'the disk refused'}). The session says so "
        "where they are missing; make room on the disk before you play on."
    )
