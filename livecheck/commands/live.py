"""A recorder and a console together: start the one, show what it writes with the other, end both in good order."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from ..errors import BadInput, LivecheckError, NoDevice
from .common import near_path, positive

if TYPE_CHECKING:
    from ..console.live import Summary
    from ..control import Client
    from ..core.cell import Cell
    from ..core.rig import Rig
    from ..daemon.options import Options

DRIVERS = ("alsa", "jack", "core", "mm")
ASK_S = 0.5
"""Longest wait for the recorder's answer: the screen stands still meanwhile."""


def add_console(parser: ArgumentParser) -> None:
    """Options of every command that shows a session."""
    parser.add_argument("--seconds", metavar="N", type=positive, help="stop by itself after so long")
    parser.add_argument("--plain", action="store_true", help="no screen, one line a repetition")


def add_input(parser: ArgumentParser) -> None:
    """Options of every command that records from a port."""
    parser.add_argument("--rig", metavar="RIG", help="a rig file or name; without it configs/rig.yaml if there is one")
    parser.add_argument("--port", metavar="TEXT", help="part of the port's name, or a /regular expression/")
    parser.add_argument("--driver", choices=DRIVERS, help="MIDI system; on Linux alsa where it is there, else jack")


def recording(
    options: Namespace, home: Path, cell: Cell | None, rig: Rig | None, source: Sequence[str] | None = None
) -> Options:
    """What a recorder is told. Raises BadInput where cell and rig do not go together, or the port is nonsense."""
    from ..daemon.options import Options
    from ..daemon.ports import matcher
    from ..files.config import cell_to_dict, rig_for, rig_to_dict

    if cell is not None:
        rig = rig_for(cell, rig)
    port: str | None = getattr(options, "port", None)
    wanted = port or (rig.port if rig is not None else None)
    if source is None and wanted is not None:
        matcher(wanted)
    return Options(
        home=home,
        driver=getattr(options, "driver", None),
        port=port,
        rig=rig_to_dict(rig) if rig is not None else None,
        cells=({**cell_to_dict(cell), "variant": cell.variant},) if cell is not None else (),
        source=tuple(source) if source is not None else None,
    )


def record_and_show(recorder_options: Options, options: Namespace, out: TextIO) -> Path | None:
    """Record and show until the player, the time or the source ends it; then say what was saved.

    Returns the session's folder; None where nothing was played, so that nothing is kept. Raises what the recorder met
    at its start.
    """
    from ..control import Client
    from ..daemon.process import start_recorder

    process = start_recorder(replace(recorder_options, at_once=True, need_port=True, silence_s=None))
    try:
        folder = process.session
        if folder is None:
            raise LivecheckError("the recorder began no session")
        client = Client(recorder_options.home)
        show(folder, client, options, out, lambda: process.poll() is None)
    finally:
        process.stop()
    if not folder.exists():
        print("Nothing was played, so nothing is kept.", file=out)
        return None
    print(f"Saved in {near_path(folder)}", file=out)
    return folder


def show(folder: Path, client: Client, options: Namespace, out: TextIO, alive: Callable[[], bool]) -> Summary:
    """Follow a session that is being recorded."""
    from ..console.live import run_console
    from ..console.source import Following
    from ..files.journal_reader import Follower

    def mark() -> None:
        try:
            client.ask({"command": "mark", "text": "by key"}, timeout_s=ASK_S)
        except (BadInput, NoDevice):
            return  # what is wrong is on the screen by itself

    def trouble() -> str | None:
        if not alive():
            return "the recorder has ended"
        try:
            why: str | None = client.ask({"command": "status"}, timeout_s=ASK_S)["trouble"]
        except (BadInput, NoDevice):
            return "the recorder does not answer" if alive() else "the recorder has ended"
        return why

    source = Following(Follower(folder))
    return run_console(source, seconds=options.seconds, plain=options.plain, out=out, on_mark=mark, trouble=trouble)
