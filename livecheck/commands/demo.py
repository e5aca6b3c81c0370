"""The demonstration: the built-in player practises, through the same chain as a guitarist would."""

from __future__ import annotations

from argparse import Namespace
from shlex import quote
from typing import TextIO

from ..errors import BadInput
from ..player.demo import CELL, demo_rig, feed_command
from .arguments.practice import DEMO_S
from .choice import Choice, cell_of, file_of, plain, practice_folder
from .common import program_name, rows, width_of
from .live import Showing, record_and_show
from .record import recording

OPENING = (
    "The built-in player practises by itself for a while: warm-up, then faster. It is saved as a "
    "demo and counts as nobody's practice; q or Ctrl-C ends it."
)

ANOTHER = 1000
"""Seeds from one demo of a folder to the next: each plays other takes, since the same ones twice
would tell a review no more than once, and look as if they did."""


def run_demo(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice, showing = Choice.of(options), Showing.of(options, OPENING)
    if choice.cell is None and choice.variant is not None:
        raise BadInput(
            f"--variant needs a CELL, as in `livecheck demo {plain(CELL.name)} --variant "
            f"{quote(choice.variant)}`"
        )
    cell = CELL if choice.cell is None else cell_of(choice, choice.cell)
    file = None if choice.cell is None else file_of(choice, choice.cell, "cell").absolute()
    folder = practice_folder(choice)
    seed = 1 + ANOTHER * len(folder.session_paths())
    source = feed_command(showing.seconds or DEMO_S, seed, cell=file, variant=cell.variant)
    told = recording(folder.root, (cell,), demo_rig(cell), source=source)
    recorded = record_and_show(told, showing, out)
    if recorded.folder is not None:
        print(*_what_next(choice.home, width_of(out)), sep="\n", file=out)
    return recorded.status


def _what_next(home: str | None, width: int) -> list[str]:
    """Commands that answer, each whole on a line; what they show beside it, or below where there is
    no room."""
    me, where = program_name(), f" --home {quote(home)}" if home else ""
    table = [
        (f"{me} review last{where}", "where the built-in player's cell breaks"),
        (f"{me} replay last{where} --speed 4", "the same once more, faster"),
        (f"{me} score last{where}", "each repetition of it in a line"),
        (f"{me} cell list{where}", "the cells that are there"),
        (f"{me} check{where}", "what your own guitar still needs"),
    ]
    lines = rows([[f"  {command}", told] for command, told in table])
    if max(map(len, lines)) > width:
        lines = [line for command, told in table for line in (f"  {command}", f"      {told}")]
    return ["That was the built-in player. What to try next:", *lines]
