"""What is said to a recorder while it runs, and what it answers."""

from __future__ import annotations

import time
from argparse import Namespace
from datetime import datetime
from pathlib import Path
from typing import TextIO

from ..control import Client
from ..core.playing import BUILT_IN
from ..core.rig import Rig
from ..errors import LivecheckError
from .choice import Choice, practice_folder
from .common import NO_RIG, lost, near_path, print_json

STOP_S = 30.0  # that `stop` waits for the end


def run_mark(options: Namespace, out: TextIO, err: TextIO) -> int:
    text = " ".join(options.text)
    _client(options).ask({"command": "mark", "text": text})
    print(f"mark set: {text}", file=out)
    return 0


def run_ask(options: Namespace, out: TextIO, err: TextIO) -> int:
    _client(options).ask({"command": "ask", "action": options.action})
    print(f"asked for: {options.action}", file=out)
    return 0


def run_variant(options: Namespace, out: TextIO, err: TextIO) -> int:
    _client(options).ask({"command": "variant", "name": options.name})
    print(f"from now on: {options.name or 'as written'}", file=out)
    return 0


def run_status(options: Namespace, out: TextIO, err: TextIO) -> int:
    status = _client(options).ask({"command": "status"})
    session = None if status["session"] is None else Path(status["session"])
    earlier_s = practice_folder(Choice.of(options)).played_s(
        f"{datetime.now():%Y-%m-%d}", but=session.name if session else None
    )
    now_s = 0.0 if status["link"]["port"] == BUILT_IN else status["played_s"] or 0.0
    status["played_today_s"] = round(earlier_s + now_s, 1)
    if options.json:
        print_json({key: value for key, value in status.items() if key != "ok"}, out)
        return 0
    link = status["link"]
    print(f"port: {link['port']}" if link["up"] else f"no port: {link['port']}", file=out)
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
    named = status["rig"] not in (None, Rig().name)
    print(f"rig: {status['rig'] if named else NO_RIG}", file=out)
    saved = status["trouble"] or "everything is saved"
    lost = f"; {status['dropped']} messages lost" if status["dropped"] else ""
    held = f"; {status['waiting']} messages wait in memory" if status["waiting"] else ""
    print(f"disk: {saved}{held}{lost}", file=out)
    return 0


def run_stop(options: Namespace, out: TextIO, err: TextIO) -> int:
    client = _client(options)
    told = client.ask({"command": "stop"}, timeout_s=STOP_S)
    until = time.monotonic() + STOP_S
    while client.is_there():  # it may have a MIDI file to write
        if time.monotonic() > until:
            print("it is stopping, and has not ended yet", file=out)
            break
        time.sleep(0.05)
    session, unsaved = told["session"], told.get("unsaved", 0)
    where = f"; the session is in {near_path(Path(session))}" if session else ""
    print(f"stopped{where}", file=out)
    if unsaved:
        print(lost(unsaved, told.get("trouble")), file=out)
    return LivecheckError.exit_status if unsaved else 0


def _client(options: Namespace) -> Client:
    return Client(practice_folder(Choice.of(options)).root)
