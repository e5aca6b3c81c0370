"""How `livecheck cell vary` is called."""

from __future__ import annotations

import re
from argparse import ArgumentTypeError

from .common import Commands, add

ALL = "all"
MOST = 64  # of a list


def declare_vary(verbs: Commands) -> None:
    vary = add(
        verbs,
        "vary",
        "cell_vary:run_vary",
        "make other cells of a cell: moved, begun elsewhere, reversed, doubled, in another rhythm",
        "Without options: on all sets of strings, begun at every note, reversed and doubled. "
        "Nothing is written without --write or --out.",
        json_too=True,
    )
    vary.add_argument("cells", metavar="CELL", help="a cell file, or the name of a cell")
    vary.add_argument(
        "--frets", metavar="N,N…", type=numbers, help="so many frets up the neck, or down: 2,-3"
    )
    vary.add_argument(
        "--strings",
        metavar="N,N…|all",
        type=numbers_or_all,
        help="so many strings lower, or higher: 1,-1",
    )
    vary.add_argument(
        "--start", metavar="N,N…|all", type=numbers_or_all, help="begun at these notes: 3,5"
    )
    vary.add_argument("--reverse", action="store_true", help="in the other order")
    vary.add_argument("--double", action="store_true", help="every note twice")
    vary.add_argument(
        "--rhythm",
        metavar="N,N…",
        type=numbers,
        help="lengths in grid steps, over and over: 3,1 is long short",
    )
    vary.add_argument(
        "--write", action="store_true", help="write them into the practice folder's cells"
    )
    vary.add_argument("--out", metavar="DIR", help="write them into this folder instead")
    vary.add_argument("--force", action="store_true", help="write over files that are there")


def numbers(text: str) -> tuple[int, ...]:
    """Whole numbers with commas between."""
    words = text.replace(" ", "").split(",")
    if len(words) > MOST or not all(
        re.fullmatch(r"[-+]?\d{1,3}", word, re.ASCII) for word in words
    ):
        raise ArgumentTypeError(f"{text[:40]!r} are no whole numbers; write them as in 2,-3")
    return tuple(map(int, words))


def numbers_or_all(text: str) -> tuple[int, ...]:
    """The same; none for ``all`` that make sense."""
    return () if text == ALL else numbers(text)
