"""The journal's lines and the names of its files.

A line is ``crc32 as eight hex digits, a space, JSON, newline``. The JSON is ASCII on one line and
begins with ``seq`` (0, 1, 2 … over the whole session), ``t`` (clock reading of the moment,
nanoseconds) and ``type``; the type's own fields follow. Each file of a session begins with a
``head`` line. A long session goes on in the next file; every head repeats the same clock pair, so
that any one of them is enough to read the times of all. A later head has no number of its own
but repeats that of the record before it: a record that failed in one file and is written again in
the next keeps its number, so that a reader takes it once.
"""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from math import isfinite
from pathlib import Path
from typing import Any, NamedTuple
from zlib import crc32

from ..errors import BadInput
from .ordinary import names_in

FORMAT = "livecheck-journal"
VERSION = 1
MAX_LINE = 1 << 20  # bytes; a longer one is damage, so that no reader needs more memory than this
SHORTEST_LINE = len('00000000 {"seq":0,"t":0,"type":""}')  # without its newline
CLOCK_LIMIT_NS = 1 << 63
NUMBER_LIMIT = 1 << 63  # of records: no session comes near it
VERSION_DIGITS = 9


class NewerFormat(BadInput):
    """A newer program wrote it."""


def _finite(text: str) -> float:
    """A number that can be written again; JSON has no others."""
    number = float(text)
    if not isfinite(number):
        raise ValueError(f"{text} is no number of JSON")
    return number


decode_json = json.JSONDecoder(parse_float=_finite, parse_constant=_finite).decode
"""Strict JSON: no NaN, nothing infinite. Raises ValueError, or RecursionError where it is too
deep."""
_encode = json.JSONEncoder(separators=(",", ":"), allow_nan=False).encode
_NAME = re.compile(r"journal-(\d{3,})\.log")


class Line(NamedTuple):
    """One good line."""

    seq: int
    t_ns: int
    kind: str
    fields: dict[str, Any]  # all of the line's JSON


@dataclass(frozen=True, slots=True)
class Head:
    """What the first line of a file says: the two clocks read at one moment, and who wrote it."""

    wall: str  # ISO 8601 with offset
    perf_ns: int  # time.perf_counter_ns() at that moment; zero of the session's times
    # identifies the run of the host for which perf_ns holds; "" where the host tells none
    boot: str
    program: str  # version of the writing program

    def fields(self, number: int) -> dict[str, Any]:
        return {
            "format": f"{FORMAT}/{VERSION}",
            "file": number,
            "wall": self.wall,
            "perf": self.perf_ns,
            "boot": self.boot,
            "program": self.program,
        }


def head_now(program: str) -> Head:
    """A head for a session that starts now, from this machine's clocks."""
    return Head(datetime.now().astimezone().isoformat(), time.perf_counter_ns(), boot_id(), program)


def boot_id() -> str:
    """What tells one run of this host from the next (Linux); "" elsewhere."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
    except (OSError, ValueError):
        return ""


def head_of(line: Line, source: Path) -> Head:
    """The head that a ``head`` line holds.

    Raises BadInput where a newer program wrote it, or where it makes no sense.
    """
    family, _, version = str(line.fields.get("format")).partition("/")
    if family == FORMAT and version.isascii() and version.isdecimal():
        told = version.lstrip("0")
        if len(told) > VERSION_DIGITS or int(told or "0") > VERSION:
            shown = told if len(told) <= VERSION_DIGITS else f"{told[:VERSION_DIGITS]}…"
            raise NewerFormat(
                f"{source}: journal format {shown} is newer than the {VERSION} known here; update "
                "livecheck"
            )
    wall, perf = line.fields.get("wall"), line.fields.get("perf")
    if (
        family != FORMAT
        or version != str(VERSION)
        or not isinstance(wall, str)
        or type(perf) is not int
        or not 0 <= perf < CLOCK_LIMIT_NS
    ):
        raise BadInput(f"{source}: its first line is no head of a livecheck journal")
    return Head(wall, perf, str(line.fields.get("boot", "")), str(line.fields.get("program", "")))


def body_of(kind: str, t_ns: int, fields: Mapping[str, Any]) -> str:
    """A line's JSON but for its number, which is given when it is written."""
    begun = f'"t":{t_ns},"type":{_encode(kind)}'
    return f"{begun},{_encode(fields)[1:]}" if fields else f"{begun}}}"


def line_of(seq: int, body: str) -> bytes:
    """The bytes of one line.

    >>> line_of(0, body_of("mark", 12, {"text": "go"}))
    b'7034e25a {"seq":0,"t":12,"type":"mark","text":"go"}\\n'
    """
    text = f'{{"seq":{seq},{body}'.encode("ascii")
    return b"%08x %b\n" % (crc32(text), text)


def parse(raw: bytes) -> Line | None:
    """The line that these bytes (newline included) hold; None where a single bit of it is not as it
    was written."""
    text = raw[9:-1]
    if raw[:9] != b"%08x " % crc32(text) or raw[-1:] != b"\n":
        return None
    try:
        fields = decode_json(text.decode("ascii"))
        seq, t_ns, kind = fields["seq"], fields["t"], fields["type"]
    except (ValueError, LookupError, TypeError, RecursionError):
        return None
    if type(seq) is not int or type(t_ns) is not int or type(kind) is not str:
        return None
    if not 0 <= seq < NUMBER_LIMIT or not 0 <= t_ns < CLOCK_LIMIT_NS:
        return None
    return Line(seq, t_ns, kind, fields)


def file_name(number: int) -> str:
    """Name of a session's n-th file, from 1."""
    return f"journal-{number:03d}.log"


def file_number(path: Path) -> int | None:
    """Which file of its session this is; None where the name is no journal's."""
    found = _NAME.fullmatch(path.name)
    return int(found[1]) if found else None


def journal_files(folder: Path) -> list[Path]:
    """The journal files of a session folder in order; empty where it has none or cannot be
    read."""
    try:
        return ordered(folder, names_in(folder))
    except BadInput:
        return []


def ordered(folder: Path, names: Iterable[str]) -> list[Path]:
    """Those of the names in a folder that are a journal's, in order."""
    paths = [folder / name for name in names if name.startswith("journal-")]
    numbered = [(number, path) for path in paths if (number := file_number(path)) is not None]
    return [path for _, path in sorted(numbered)]
