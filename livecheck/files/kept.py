"""What was found out about a session, kept beside its journal so that years are listed and reviewed
in a moment.

Only a cache, and the only one: deleting it costs nothing but the time to find out again. It holds
for one journal and one way of judging; both are in its key, the latter as a number made from the
text of every module that judging runs. With a single bit otherwise than written it holds nothing.

A file is the crc32 of the rest as eight hex digits, a line of JSON, and the tables' bytes one after
the other.
"""

from __future__ import annotations

import contextlib
import json
import re
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any
from zlib import crc32

from . import ordinary
from .atomic import write_whole
from .lines import journal_files

NAME = "kept.bin"
LARGEST_BYTES = 32 << 20
ROOT = "files/index.py"  # where judging a whole session begins

_PACKAGE = Path(__file__).resolve().parents[1]
_FROM = re.compile(
    r"^[ \t]*from[ \t]+(\.+)([\w.]*)[ \t]+import[ \t]+(\([^)]*\)|[^\n]*)", re.MULTILINE
)

Key = list[Any]


def key_of(folder: Path) -> Key | None:
    """What can be found out now rests on this: another key, other findings. None where the journal
    cannot be looked at, so that nothing may be kept."""
    try:
        looks = [ordinary.disk.look(path) for path in journal_files(folder)]
    except OSError:
        return None
    sizes = [[look.st_size, look.st_mtime_ns] for look in looks]
    return [judgment(), sizes] if sizes else None


def load(folder: Path, key: Key | None) -> tuple[dict[str, Any], bytes] | None:
    """What was kept for a key, and the tables' bytes; None where there is nothing of it."""
    if key is None:
        return None
    try:
        data = ordinary.contents(folder / NAME, LARGEST_BYTES)
        if data[:9] != b"%08x\n" % crc32(memoryview(data)[9:]):
            return None
        end = data.index(b"\n", 9)
        told = json.loads(data[9:end])
        return (told, data[end + 1 :]) if told["key"] == key else None
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return None


def store(folder: Path, key: Key | None, told: dict[str, Any], tables: bytes = b"") -> None:
    """Keep it, all or nothing; a folder that cannot be written to simply has none."""
    if key is None:
        return
    data = json.dumps({"key": key, **told}).encode("ascii") + b"\n" + tables
    if len(data) < LARGEST_BYTES:
        with contextlib.suppress(OSError):
            write_whole(folder / NAME, b"%08x\n" % crc32(data) + data, lasting=False)


# ------------------------------------------------------------------------------ the way of judging


@lru_cache(maxsize=4)
def judgment(root: str = ROOT) -> int:
    """A number that is another one as soon as any module that takes part in judging is; 0 where the
    program's text cannot be read."""
    number = 0
    for path in sorted(closure(root)):
        try:
            number = crc32(path.read_bytes(), number)
        except OSError:
            return 0
    return number


def closure(root: str = ROOT) -> set[Path]:
    """The files of a module of this program and of all that it imports of it, wherever in them that
    stands. Raises nothing: a file that cannot be read imports nothing."""
    found: set[Path] = set()
    left = [_PACKAGE / root]
    while left:
        path = left.pop()
        if path not in found:
            found.add(path)
            left += [*_imported(path), *_packages(path)]
    return found


def _packages(path: Path) -> Iterator[Path]:
    """What is run before a module is: the packages that it stands in."""
    for folder in path.relative_to(_PACKAGE).parents:
        yield _PACKAGE / folder / "__init__.py"


def _imported(path: Path) -> Iterator[Path]:
    try:
        text = path.read_text("utf-8")
    except (OSError, ValueError):
        return
    for dots, dotted, names in _FROM.findall(text):
        base = path.parents[len(dots) - 1].joinpath(*filter(None, dotted.split(".")))
        places = [base, *(base / name for name in re.findall(r"\w+", names))]
        for place in places:
            for file in (place.with_name(f"{place.name}.py"), place / "__init__.py"):
                if file.is_file():
                    yield file
