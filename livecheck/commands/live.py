"""A recorder and a console together: start the one, show what it writes with the other, end both in
good order."""

from __future__ import annotations

import json
import time
from argparse import ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from ..errors import BadInput, LivecheckError, NoDevice
from ..files.settingsfile import NEVER, Settings
from .common import near_path, positive, practice_folder

if TYPE_CHECKING:
    from ..control import Client
    from ..core.cell import Cell
    from ..core.rig import Rig
    from ..daemon.options import Options
    from ..files.library import PracticeFolder

DRIVERS = ("alsa", "jack", "core", "mm")
MOST_BYTES = 900 << 10  # of cells: a line of the journal holds a little more
ASK_S = 0.5
"""Longest wait for the recorder's answer: the screen stands still meanwhile."""


def add_console(parser: ArgumentParser) -> None:
    """Options of every command that shows a session."""
    parser.add_argument(
        "--seconds", metavar="N", type=positive, help="stop by itself after so long"
    )
    parser.add_argument("--plain", action="store_true", help="no screen, one line a repetition")


def add_rest(parser: ArgumentParser) -> None:
    """The option of every command that shows practice as it goes on."""
    told = (
        "remind of a rest after so many minutes of play, or `never`; else as "
        "configs/settings.yaml says, or 25"
    )
    parser.add_argument("--rest", metavar="MINUTES", type=minutes_or_never, help=told)


def add_silence(parser: ArgumentParser) -> None:
    """The option of every command that records one sitting after the other."""
    told = "silence that ends a session, or `never`; else as configs/settings.yaml says, or 15"
    parser.add_argument("--silence", metavar="MINUTES", type=minutes_or_never, help=told)


def minutes_or_never(text: str) -> float:
    """Minutes above 0; 0 for ``never``."""
    try:
        return 0.0 if text == NEVER else positive(text)
    except ArgumentTypeError as error:
        raise ArgumentTypeError(f"{error}: write minutes, or `{NEVER}`") from error


def settings_of(options: Namespace, folder: PracticeFolder | None = None) -> Settings:
    """The practice folder's settings, and in their place what the command line says. Raises
    BadInput."""
    from ..files.config import load_settings

    path = (folder or practice_folder(options)).settings
    settings = load_settings(path) if path.exists() else Settings()
    for name in ("rest", "silence"):
        minutes: float | None = getattr(options, name, None)
        if minutes is not None:
            settings = replace(settings, **{f"{name}_s": 60.0 * minutes or None})
    return settings


def add_input(parser: ArgumentParser) -> None:
    """Options of every command that records from a port."""
    parser.add_argument(
        "--rig",
        metavar="RIG",
        help="a rig file or name; without it configs/rig.yaml if there is one",
    )
    parser.add_argument(
        "--port", metavar="TEXT", help="part of the port's name, or a /regular expression/"
    )
    parser.add_argument(
        "--driver", choices=DRIVERS, help="MIDI system; on Linux alsa where it is there, else jack"
    )


def as_told(cells: Sequence[Cell]) -> list[dict[str, Any]]:
    """Cells as a recorder is told them and writes them down. Raises BadInput where that is too much
    for one record."""
    from ..files.config import cell_to_dict

    told = [{**cell_to_dict(cell), "variant": cell.variant} for cell in cells]
    size = len(json.dumps(told))
    if size > MOST_BYTES:
        raise BadInput(
            f"these {len(cells)} cells are too much for one record ({size >> 10} KB; at most "
            f"{MOST_BYTES >> 10} KB): "
            "name fewer of them, or take out variants that are not played"
        )
    return told


def recording(
    options: Namespace,
    home: Path,
    cells: Sequence[Cell],
    rig: Rig | None,
    source: Sequence[str] | None = None,
) -> Options:
    """What a recorder is told. Raises BadInput where cell and rig do not go together, or the port
    is nonsense."""
    from ..daemon.options import Options
    from ..daemon.ports import matcher
    from ..files.config import rig_for, rig_to_dict

    if rig is None and cells:
        rig = rig_for(max(cells, key=lambda cell: len(cell.tuning)), None)
    for cell in cells:
        rig_for(cell, rig)
    port: str | None = getattr(options, "port", None)
    wanted = port or (rig.port if rig is not None else None)
    if source is None and wanted is not None:
        matcher(wanted)
    return Options(
        home=home,
        driver=getattr(options, "driver", None),
        port=port,
        rig=rig_to_dict(rig) if rig is not None else None,
        cells=tuple(as_told(cells)),
        source=tuple(source) if source is not None else None,
        silence_s=None if source is not None else settings_of(options).silence_s,
    )


def record_and_show(recorder_options: Options, options: Namespace, out: TextIO) -> Path | None:
    """Record and show until the player, the time or the source ends it; then say what was saved.

    A recorder of several sittings shows them one after the other.

    Returns the last session's folder; None where nothing was played, so that nothing is kept.
    Raises what the recorder met at its start.
    """
    from ..control import Client
    from ..daemon.process import start_recorder

    process = start_recorder(replace(recorder_options, at_once=True, need_port=True))
    try:
        if process.session is None:
            raise LivecheckError("the recorder began no session")
        client = Client(recorder_options.home)
        own = recorder_options.source is None
        shown = show_sessions(
            process.session, client, options, out, lambda: process.poll() is None, own
        )
    finally:
        process.stop()
    kept = [folder for folder in shown if folder.exists()]
    if not kept:
        print("Nothing was played, so nothing is kept.", file=out)
        return None
    for folder in kept:
        print(f"Saved in {near_path(folder)}", file=out)
    return kept[-1]


def show_sessions(
    first: Path | None,
    client: Client,
    options: Namespace,
    out: TextIO,
    alive: Callable[[], bool],
    own: bool = True,
) -> list[Path]:
    """Follow one session after the other until the viewer, the time or the recorder ends it;
    returns their folders.

    first: None where no session has begun yet. alive: whether the recorder is, as far as is known.
    own: the player plays, not the demo, so that it counts as played today.
    """
    settings = settings_of(options)
    until = None if options.seconds is None else time.monotonic() + options.seconds
    folder = first
    shown: list[Path] = []
    while True:
        if folder is None:
            folder = _next_session(client, out, until)
        if folder is None:
            return shown
        shown.append(folder)
        if _show(folder, client, options, settings, out, alive, until, own) != "end":
            return shown
        folder = None


def _next_session(client: Client, out: TextIO, until: float | None) -> Path | None:
    """The session that begins next; None where the recorder, the time or a signal ends the
    waiting."""
    from ..console.live import signals

    told = False
    with signals() as stopping:
        while stopping.by is None and (until is None or time.monotonic() < until):
            try:
                session: str | None = client.ask({"command": "status"})["session"]
            except NoDevice:
                return None
            except BadInput:  # busy, or about to end
                session = None
            else:
                if session is None and not told:
                    print(
                        "waiting for the first note of a session; Ctrl-C ends this",
                        file=out,
                        flush=True,
                    )
                    told = True
            if session is not None:
                return Path(session)
            time.sleep(0.1)
    return None


def _show(
    folder: Path,
    client: Client,
    options: Namespace,
    settings: Settings,
    out: TextIO,
    alive: Callable[[], bool],
    until: float | None,
    own: bool,
) -> str:
    """Follow a session that is being recorded, from its start; returns why that ended
    (``Summary.why``)."""
    from ..console.live import run_console
    from ..console.source import Following
    from ..files.journal_reader import Follower
    from ..files.library import PracticeFolder

    source = Following(Follower(folder))

    def mark() -> None:
        try:
            client.ask({"command": "mark", "text": "by key"}, timeout_s=ASK_S)
        except (BadInput, NoDevice):
            return  # what is wrong is on the screen by itself

    def trouble() -> str | None:
        asked_s = time.perf_counter()
        try:
            status = client.ask({"command": "status"}, timeout_s=ASK_S)
        except (BadInput, NoDevice):
            if alive() and client.is_there():
                return "the recorder does not answer"
            source.written_until(inf)
            return "the recorder has ended"
        if not status["waiting"]:  # else it is no silence that nothing is read
            source.written_until(asked_s)
        if status["session"] not in (str(folder), None) and source.certain_s() is not None:
            source.ended = True  # another recorder has taken over from one that died
        why: str | None = status["trouble"]
        return why

    practice, today = PracticeFolder(client.home), f"{datetime.now():%Y-%m-%d}"
    summary = run_console(
        source,
        seconds=None if until is None else max(until - time.monotonic(), 0.0),
        plain=options.plain,
        out=out,
        on_mark=mark,
        trouble=trouble,
        earlier_s=practice.played_s(today, but=folder.name) if own else None,
        rest_after_s=settings.rest_s,
    )
    return summary.why
