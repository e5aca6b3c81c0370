"""Names that the player gave to ways of playing, kept in the practice folder by cell.

Beside each name stands in what the way differed from the first when it was named; a way found later
has the name as long as it differs in the same. Beside the names stands what was learned of all ways
then, so that repetitions can be marked as they are played.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import log, sqrt
from pathlib import Path
from typing import Any

from ..errors import BadInput
from ..measures.ways.describe import Differs
from ..measures.ways.find import Ways
from ..measures.ways.known import Known, from_dict, to_dict
from .atomic import write_whole

FOLDER = "ways"  # in configs/
LETTERS = ("A", "B", "C")
_USUAL = {"timing": 5.0, "seam": 10.0, "ring": 30.0, "loudness": 0.15}
_ALIKE = 0.6
_MEND = "mend it, or delete it to name them anew"

Signature = dict[str, float]


@dataclass(frozen=True, slots=True)
class Learned:
    """What was learned of a cell's ways when one was named, and what they are called."""

    names: tuple[str, ...]
    known: Known


def path_in(home: Path, cell: str) -> Path:
    """Where the names of a cell's ways are kept in a practice folder, however the cell is spelt."""
    plain = "-".join(cell.lower().split())
    name = re.sub(r"[^\w-]+", "-", plain).strip("-") or "cell"
    return home / "configs" / FOLDER / f"{name}.json"


def learned(path: Path) -> Learned | None:
    """None where no way has a name. Raises BadInput where the file cannot be read."""
    return _read(path)[1]


def names_of(ways: Ways, path: Path) -> list[str]:
    """A name for each way: the player's where it is recognised, else a letter.

    Raises BadInput where the file of names cannot be read.
    """
    named = _read(path)[0]
    own = [_signature(way.differs) for way in ways.ways]
    names = list(LETTERS[: len(ways.ways)])
    if len(own) < 2:
        return names
    for name, kept in named.items():
        if kept:
            alike = [(_alike(one, kept), at) for at, one in enumerate(own) if at]
            best, at = max(alike)
            turned = [(_alike(one, _opposite(kept)), 0) for one in own[1:]]
            if best >= _ALIKE:
                names[at] = name
            elif max(turned)[0] >= _ALIKE:  # the ways have changed places
                names[0] = name
    return names


def give_name(ways: Ways, path: Path, letter: str, name: str) -> None:
    """Keep a name for the way that is now called by a letter, or by another name.

    Raises BadInput where there is no such way, or only one.
    """
    names = names_of(ways, path)
    if len(names) < 2:
        raise BadInput(f"there is one way only, and nothing to name: {ways.why}")
    wanted = name.strip()
    if not wanted or len(wanted) > 60 or not wanted.isprintable():
        raise BadInput(f"{name!r} is no name; give some words")
    at = at_name(names, letter)
    if wanted in names and names.index(wanted) != at:
        raise BadInput(f"another way is called {wanted!r} already")
    kept = {key: value for key, value in _read(path)[0].items() if key not in (names[at], wanted)}
    differs = _signature(ways.ways[at or 1].differs)
    kept[wanted] = differs if at else _opposite(differs)
    names[at] = wanted
    told: dict[str, Any] = {"format": "livecheck-way-names/1", "names": kept}
    if ways.known is not None:
        told["learned"] = {"names": names, "ways": to_dict(ways.known)}
    path.parent.mkdir(parents=True, exist_ok=True)
    text = json.dumps(told, ensure_ascii=False)
    try:
        write_whole(path, text.encode("utf-8"))
    except OSError as error:
        raise BadInput(f"{path}: cannot be written: {error.strerror or error}") from error


def at_name(names: Sequence[str], told: str) -> int:
    """Which way is meant by its name or its letter. Raises BadInput where none is."""
    if told in names:
        return list(names).index(told)
    if told.upper() in LETTERS[: len(names)]:
        return LETTERS.index(told.upper())
    raise BadInput(f"no way {told!r}; there is: {', '.join(names)}")


def _read(path: Path) -> tuple[dict[str, Signature], Learned | None]:
    key = ""
    try:
        told: Any = json.loads(path.read_text("utf-8"))
        key = ": names"
        names = {
            str(name): {str(key): float(value) for key, value in kept.items()}
            for name, kept in told["names"].items()
        }
        if "learned" not in told:
            return names, None
        key = ": learned"
        ways = Learned(
            tuple(str(name) for name in told["learned"]["names"]),
            from_dict(told["learned"]["ways"]),
        )
        if len(ways.names) != ways.known.ways:
            raise ValueError("a name is missing")
        return names, ways
    except FileNotFoundError:
        return {}, None
    except json.JSONDecodeError as error:
        raise BadInput(
            f"{path}:{error.lineno}: holds no names of ways, since it is no JSON from column "
            f"{error.colno} on; {_MEND}"
        ) from error
    except OSError as error:
        raise BadInput(f"{path}: cannot be read: {error.strerror or error}") from error
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError) as error:
        raise BadInput(f"{path}{key}: holds no names of ways; {_MEND}") from error


def _signature(differs: Sequence[Differs]) -> Signature:
    """By thing, how far it differs in usual sizes."""
    found: Signature = {}
    for one in differs:
        by = one.this - one.other
        if one.what == "loudness":
            by = log(max(one.this, 0.01) / max(one.other, 0.01))
        size = by / _USUAL.get(one.what, 0.4)
        found[f"{one.what} {one.slot or one.string or ''}".strip()] = round(size, 3)
    return found


def _opposite(one: Signature) -> Signature:
    return {key: -value for key, value in one.items()}


def _alike(one: Signature, other: Signature) -> float:
    """The cosine of two lists of differences."""
    together = sum(value * other.get(key, 0.0) for key, value in one.items())
    sizes = [sqrt(sum(value**2 for value in each.values())) for each in (one, other)]
    return together / max(sizes[0] * sizes[1], 1e-9)
