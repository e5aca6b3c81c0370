"""A recorder that runs by itself, and what is said to it while it runs."""

from __future__ import annotations

import time
from argparse import Namespace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from ..core.playing import BUILT_IN
from ..files.settingsfile import NEVER
from .common import Commands, add, cells_of, near_path, practice_folder, print_json, rig_of, wrapped
from .live import add_console, add_input, add_rest, add_silence, recording, show_sessions

if TYPE_CHECKING:
    from ..control import Client
    from ..daemon.options import Options

STOP_S = 30.0  # that `stop` waits for the end


def register(commands: Commands) -> None:
    daemon = add(
        commands,
        "daemon",
        run_daemon,
        "record everything that is played, without a screen, until told to stop",
        "Waits for the converter where it is not there yet. A session begins with the first note and ends after a long "
        "silence. SIGHUP reads cell, rig and settings again.",
    )
    daemon.add_argument(
        "cell",
        metavar="CELL",
        nargs="*",
        help="what is practised; it may be said later by `cell use`; of several, or a folder of them, the one that is "
        "played is recognised",
    )
    daemon.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")
    add_input(daemon)
    add_silence(daemon)
    daemon.add_argument(
        "--print-unit",
        nargs="?",
        choices=("systemd", "launchd"),
        const=True,
        help="print the file with which systemd or launchd (this system's where none is named) starts it, do nothing",
    )

    watch = add(
        commands,
        "watch",
        run_watch,
        "show what a running recorder hears",
        "From the start of the session on, and the next one after it. Any number of them may watch; none disturbs the "
        "recording.",
    )
    add_console(watch)
    add_rest(watch)

    mark = add(commands, "mark", run_mark, "set a mark in the session that is being recorded")
    mark.add_argument("text", metavar="TEXT", nargs="+", help="what to remember")

    variant = add(
        commands,
        "variant",
        run_variant,
        "tell the running recorder which variant is played from now on",
    )
    variant.add_argument(
        "name",
        metavar="NAME",
        nargs="?",
        help="`as written`, or nothing, for the cell's own strokes",
    )

    add(commands, "status", run_status, "say what the running recorder is doing", json_too=True)
    add(commands, "stop", run_stop, "end the running recorder in good order")


def run_daemon(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..console.words import CAUTION
    from ..daemon.service import run_recorder
    from ..daemon.units import default_kind, print_unit

    home = practice_folder(options).root

    def load() -> Options:
        rig = rig_of(options, own=True)
        cells = cells_of(options, options.cell, rig, err)
        return recording(options, home, cells, rig)

    told = load()
    if options.print_unit is not None:
        kind = default_kind() if options.print_unit is True else options.print_unit
        print(print_unit(kind, home, _words(options)), end="", file=out)
        return 0

    def ready(_session: Path | None) -> None:
        for text in (
            f"recording into {home / 'recordings'}; `livecheck stop` or Ctrl-C ends it",
            CAUTION,
        ):
            print(wrapped(text, out), file=out, flush=True)

    return run_recorder(told, on_ready=ready, reload=load, to_terminal=True)


def _words(options: Namespace) -> tuple[str, ...]:
    """The arguments of ``daemon`` that a unit repeats; files by their full path."""
    from .common import full_path

    words = [full_path(name) for name in options.cell]
    named = {"variant": options.variant, "port": options.port, "driver": options.driver}
    named["rig"] = full_path(options.rig) if options.rig is not None else None
    if options.silence is not None:
        named["silence"] = f"{options.silence:g}" if options.silence else NEVER
    return (*words, *(f"--{name}={value}" for name, value in named.items() if value is not None))


def run_watch(options: Namespace, out: TextIO, err: TextIO) -> int:
    """Show one session after the other, until the viewer or the recorder ends it."""
    client = _client(options)
    status = client.ask({"command": "status"})
    session, own = status["session"], status["link"]["port"] != BUILT_IN
    show_sessions(
        None if session is None else Path(session), client, options, out, lambda: True, own
    )
    if not client.is_there():
        print("The recorder has ended.", file=out)
    return 0


def run_mark(options: Namespace, out: TextIO, err: TextIO) -> int:
    text = " ".join(options.text)
    _client(options).ask({"command": "mark", "text": text})
    print(f"mark set: {text}", file=out)
    return 0


def run_variant(options: Namespace, out: TextIO, err: TextIO) -> int:
    _client(options).ask({"command": "variant", "name": options.name})
    print(f"from now on: {options.name or 'as written'}", file=out)
    return 0


def run_status(options: Namespace, out: TextIO, err: TextIO) -> int:
    status = _client(options).ask({"command": "status"})
    session = None if status["session"] is None else Path(status["session"])
    earlier_s = practice_folder(options).played_s(
        f"{datetime.now():%Y-%m-%d}", but=session.name if session else None
    )
    now_s = 0.0 if status["link"]["port"] == BUILT_IN else status["played_s"] or 0.0
    status["played_today_s"] = round(earlier_s + now_s, 1)
    if options.json:
        print_json({key: value for key, value in status.items() if key != "ok"}, out)
        return 0
    link = status["link"]
    print(f"link: {link['port']}" if link["up"] else f"no link: {link['port']}", file=out)
    if session is None:
        print("session: none yet, it begins with the first note", file=out)
    else:
        minutes = status["duration_s"] / 60
        print(
            f"session: {near_path(session)}, {minutes:.1f} minutes, {status['notes']} notes",
            file=out,
        )
    silence_s = status["silence_s"]
    ends = (
        "never by silence" if silence_s is None else f"after {silence_s / 60:g} minutes of silence"
    )
    print(f"a session ends: {ends}", file=out)
    print(f"played today: {status['played_today_s'] / 60:.1f} minutes", file=out)
    for cell in status["cells"]:
        print(
            f"cell: {cell['name']}" + (f", {cell['variant']}" if cell["variant"] else ""), file=out
        )
    if not status["cells"]:
        print("cell: none, only recording; choose one by `livecheck cell use CELL`", file=out)
    print(f"rig: {status['rig'] or 'none named'}", file=out)
    saved = status["trouble"] or "everything is saved"
    lost = f"; {status['dropped']} messages lost" if status["dropped"] else ""
    held = f"; {status['waiting']} messages wait in memory" if status["waiting"] else ""
    print(f"disk: {saved}{held}{lost}", file=out)
    return 0


def run_stop(options: Namespace, out: TextIO, err: TextIO) -> int:
    client = _client(options)
    session = client.ask({"command": "stop"})["session"]
    until = time.monotonic() + STOP_S
    while client.is_there():  # it may have a MIDI file to write
        if time.monotonic() > until:
            print("it is stopping, and has not ended yet", file=out)
            return 0
        time.sleep(0.05)
    print(
        "stopped" + (f"; the session is in {near_path(Path(session))}" if session else ""), file=out
    )
    return 0


def _client(options: Namespace) -> Client:
    from ..control import Client

    return Client(practice_folder(options).root)
