"""What today: where each cell stands, what is open, and the blocks that would answer most."""

from __future__ import annotations

import subprocess
import sys
from argparse import Namespace
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TextIO

from ..console.live import signals
from ..errors import BadInput
from ..files.agenda_report import today_to_dict
from ..measures.agenda.blocks import STRETCH, Block
from ..measures.agenda.day import Day, plan_day
from ..report.agenda_text import NOTHING_YET, block_text, rest_text, today_lines
from .agenda import practised, today_number
from .choice import Choice
from .common import print_json, print_wrapped


@dataclass(frozen=True, slots=True, kw_only=True)
class Ports:
    """Where the blocks are played: parts of the names of ports, and the MIDI system."""

    port: str | None = None
    click_port: str | None = None
    driver: str | None = None

    @classmethod
    def of(cls, options: Namespace) -> Ports:
        """What was typed."""
        return cls(port=options.port, click_port=options.click_port, driver=options.driver)

    def words(self) -> list[str]:
        """As they are typed to the command of a block."""
        typed = {"--port": self.port, "--click-port": self.click_port, "--driver": self.driver}
        return [word for pair in typed.items() if pair[1] is not None for word in pair if word]


def run_today(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    ports = Ports.of(options)
    if ports.words() and not options.start:
        raise BadInput(f"{ports.words()[0]} goes with --start; alone it does nothing")
    day = today_number()
    cells = practised(choice, err)
    planned = plan_day((one.standing(day) for one in cells), options.minutes)
    if options.json:
        print_json(today_to_dict(day, planned), out)
        return 0
    if options.start:
        there = {one.name for one in cells if one.file is not None}
        return _start(choice, planned, there, ports, out)
    for line in today_lines(planned, options.why):
        print_wrapped(line, out)
    return 0


def _start(choice: Choice, day: Day, there: set[str], ports: Ports, out: TextIO) -> int:
    """Play the day's blocks one after the other, each a command of its own; one that is stopped
    ends the day. there: cells that still have a file."""
    turns = [turn for turn in day.turns if turn.standing.name in there]
    if not turns:
        gone = {turn.standing.name for turn in day.turns}
        if not day.items:
            raise BadInput(NOTHING_YET)
        if gone:
            raise BadInput(
                f"no cell file is called {' or '.join(map(repr, sorted(gone)))} any more"
            )
        raise BadInput("nothing is open today; `livecheck listen CELL` plays what you like")
    home = ["--home", choice.home] if choice.home is not None else []
    for number, turn in enumerate(turns, 1):
        name = turn.standing.name
        told = f"{number} of {len(turns)}. {name}: {block_text(turn.block)}"
        print(told, file=out, flush=True)
        for words in commands_of(name, turn.block):
            typed = [*words, *home, *ports.words()]
            with signals() as stopping:  # Ctrl-C is the block's to answer, and ends the day
                status = subprocess.run([sys.executable, "-m", "livecheck", *typed]).returncode
            if status or stopping.by is not None:
                return status
        if turn.rest_after:
            print(rest_text(turn.rest_after), file=out, flush=True)
    print("These were all blocks of the day; `livecheck today` says what they told.", file=out)
    return 0


def commands_of(cell: str, block: Block) -> Iterator[list[str]]:
    """The command lines that play a block of a cell."""
    if block.kind == "rig" or block.bpm is None or block.reps is None:
        yield ["rig", "latency"]
        return
    climb = ["climb", cell, "--reps", str(STRETCH)]
    if block.kind == "search":
        blocks = str(-(-block.reps // STRETCH))
        yield [*climb, "--rule", "search", "--start", f"{block.bpm:.0f}", "--blocks", blocks]
        return
    tempos = [f"{bpm:.0f}" for bpm in block.tempos]
    if block.notes:
        climb += ["--notes", f"{block.notes[0]}-{block.notes[-1]}"]
    if not block.variants:
        yield [*climb, "--tempos", ",".join(tempos)]
        return
    for at, variant in enumerate(block.variants):
        name = ["--variant", variant] if variant else []
        yield [*climb, *name, "--tempos", ",".join(tempos[at :: len(block.variants)])]
