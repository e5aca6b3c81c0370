"""The demonstration: the built-in player practises, through the same chain as a guitarist would."""

from __future__ import annotations

from argparse import Namespace
from shlex import quote
from typing import TextIO

from ..errors import BadInput
from ..player.demo import CELL, demo_rig, feed_command
from .arguments.practice import DEMO_S
from .choice import Choice, cell_of, file_of, practice_folder
from .common import program_name, rows
from .live import Showing, record_and_show
from .record import recording


def run_demo(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice, showing = Choice.of(options), Showing.of(options)
    if choice.cell is None and choice.variant is not None:
        raise BadInput("--variant needs a CELL: the demo's own cell has none")
    cell = CELL if choice.cell is None else cell_of(choice, choice.cell)
    file = None if choice.cell is None else file_of(choice, choice.cell, "cell").absolute()
    source = feed_command(showing.seconds or DEMO_S, cell=file, variant=cell.variant)
    told = recording(practice_folder(choice).root, (cell,), demo_rig(cell), source=source)
    recorded = record_and_show(told, showing, out)
    if recorded.folder is not None:
        print(*_what_next(choice.home), sep="\n", file=out)
    return recorded.status


def _what_next(home: str | None) -> list[str]:
    me = program_name()
    where = f" --home {quote(home)}" if home else ""
    table = [
        [f"  {me} replay last{where} --speed 4", "the same once more, faster"],
        [f"  {me} score last{where}", "each repetition of it in a line"],
        [f"  {me} cell list", "the cells that are there"],
        [f"  {me} check", "what your own guitar still needs"],
        [f"  {me} listen six-over-four", "your own playing"],
    ]
    return ["That was the built-in player. What to try next:", *rows(table)]
