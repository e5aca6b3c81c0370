"""What today: where each cell stands, what is open, and the blocks that would answer most."""

from __future__ import annotations

import subprocess
import sys
from argparse import Namespace
from typing import TextIO

from ..errors import BadInput
from ..files.agenda_report import today_to_dict
from ..measures.agenda.blocks import Item, plan_day
from ..report.agenda_text import block_text, today_lines
from .agenda import practised, today_number
from .choice import Choice
from .common import print_json, wrapped

BLOCK = 8
"""Repetitions of one stretch of a climb, with a rest after it."""


def run_today(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    day = today_number()
    items = plan_day((one.standing(day) for one in practised(choice, err)), options.minutes)
    if options.json:
        print_json(today_to_dict(day, items), out)
        return 0
    if options.start:
        return _start(choice, items, options.port, options.click_port, out)
    for line in today_lines(items, options.why):
        print(wrapped(line, out), file=out)
    return 0


def _start(
    choice: Choice, items: list[Item], port: str | None, click_port: str | None, out: TextIO
) -> int:
    """Play the day's blocks one after the other, each a command of its own; one that is stopped
    ends the day."""
    chosen = [item for item in items if item.chosen and item.block is not None]
    if not chosen:
        raise BadInput("nothing is open today; `livecheck listen CELL` plays what you like")
    for item in chosen:
        assert item.block is not None
        print(f"{item.standing.name}: {block_text(item.block)}", file=out, flush=True)
        words = _command(item)
        words += ["--home", choice.home] if choice.home is not None else []
        words += ["--port", port] if port is not None else []
        words += ["--click-port", click_port] if click_port is not None else []
        status = subprocess.run([sys.executable, "-m", "livecheck", *words]).returncode
        if status:
            return status
    return 0


def _command(item: Item) -> list[str]:
    """The command line that plays a block."""
    block = item.block
    assert block is not None
    if block.bpm is None or block.reps is None:
        return ["rig", "latency"]
    reps = str(min(block.reps, BLOCK))
    blocks = str(-(-block.reps // BLOCK))
    rule = "search" if block.kind == "search" else "free"
    return [
        "climb",
        item.standing.name,
        *("--rule", rule, "--start", f"{block.bpm:.0f}", "--reps", reps, "--blocks", blocks),
    ]
