"""What a recorder is told when it is started, and the same as arguments for a process of its
own."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from ..files.settingsfile import Settings
from .resting import RestCall


@dataclass(frozen=True, slots=True)
class Options:
    """How to record.

    home: the practice folder. driver, port: as on the command line; a port given goes before the
    rig's. rig, cells: as ``rig_to_dict`` and the journal's ``cells`` record give them. source:
    another command that speaks the reader's part (``frames.py``) in its place; when it says that it
    is at its end, so is the recorder. silence_s: a longer silence ends the session; None: nothing
    but the end of the recorder does. at_once: begin a session now, not with the first note.
    need_port: give up where there is no port to open at the start. export: leave a ``session.mid``
    behind. rest: calls for rests, of a recorder in this process alone.
    """

    home: Path
    driver: str | None = None
    port: str | None = None
    rig: Mapping[str, Any] | None = None
    cells: tuple[Mapping[str, Any], ...] = ()
    source: tuple[str, ...] | None = None
    silence_s: float | None = Settings().silence_s
    at_once: bool = False
    need_port: bool = False
    export: bool = True
    rest: RestCall | None = None

    @property
    def wanted_port(self) -> str | None:
        return self.port or (self.rig or {}).get("port")


STDIN = "-"
"""In the place of cells: they are the first line of standard input, since they may be too much for
a command line."""


def cells_line(options: Options) -> bytes:
    """What a recorder with the arguments of ``to_arguments`` reads first from its standard
    input."""
    return json.dumps(options.cells).encode("ascii") + b"\n" if options.cells else b""


def to_arguments(options: Options) -> list[str]:
    """The arguments that ``from_arguments`` makes the same options of, with ``cells_line`` on
    standard input."""
    words = ["--home", str(options.home)]
    texts = {
        "--driver": options.driver,
        "--port": options.port,
        "--rig": json.dumps(options.rig) if options.rig is not None else None,
        "--cells": STDIN if options.cells else None,
        "--source": json.dumps(options.source) if options.source else None,
        "--silence": repr(options.silence_s) if options.silence_s is not None else "never",
    }
    words += [f"{name}={text}" for name, text in texts.items() if text is not None]
    switches = {
        "--at-once": options.at_once,
        "--need-port": options.need_port,
        "--no-export": not options.export,
    }
    return words + [name for name, on in switches.items() if on]


def from_arguments(words: Sequence[str], stdin: BinaryIO | None = None) -> tuple[Options, bool]:
    """The options, and whether the recorder is a child that ends with its parent."""
    parser = argparse.ArgumentParser(
        prog="python -m livecheck.daemon", description="Record every note."
    )
    parser.add_argument("--home", type=Path, required=True, help="the practice folder")
    parser.add_argument("--driver", help="alsa, jack, core or mm")
    parser.add_argument("--port", help="part of the port's name, or /a regular expression/")
    parser.add_argument("--rig", type=json.loads, help="rig as JSON")
    parser.add_argument(
        "--cells", default="[]", help=f"list of cells as JSON; {STDIN}: standard input's first line"
    )
    parser.add_argument(
        "--source", type=json.loads, help="command to listen to in place of a port, as a JSON list"
    )
    parser.add_argument(
        "--silence",
        type=_seconds,
        default=Settings().silence_s,
        help="seconds that end a session, or never",
    )
    parser.add_argument(
        "--at-once", action="store_true", help="begin a session now, not with the first note"
    )
    parser.add_argument("--need-port", action="store_true", help="give up where there is no port")
    parser.add_argument("--no-export", action="store_true", help="leave no session.mid behind")
    parser.add_argument(
        "--child", action="store_true", help="end with standard input, report on standard output"
    )
    asked = parser.parse_args(words)
    cells = (stdin or sys.stdin.buffer).readline() if asked.cells == STDIN else asked.cells
    options = Options(
        home=asked.home,
        driver=asked.driver,
        port=asked.port,
        rig=asked.rig,
        cells=tuple(json.loads(cells)),
        source=tuple(asked.source) if asked.source else None,
        silence_s=asked.silence,
        at_once=asked.at_once,
        need_port=asked.need_port,
        export=not asked.no_export,
    )
    return options, asked.child


def _seconds(text: str) -> float | None:
    return None if text == "never" else float(text)
