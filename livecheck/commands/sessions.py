"""Recorded sessions: list them, check that they are whole."""

from __future__ import annotations

import os
from argparse import Namespace
from dataclasses import asdict
from pathlib import Path
from typing import Any, TextIO

from ..console.words import named
from ..control import Client
from ..errors import BadInput, LivecheckError
from ..files.index import with_takes
from ..files.journal_reader import read
from ..files.library import SALVAGED
from ..files.lines import NewerFormat
from ..files.salvage import findings, salvage
from ..files.summary import SessionInfo
from .choice import Choice, practice_folder
from .common import near_path, print_json, rows


def run_sessions(options: Namespace, out: TextIO, err: TextIO) -> int:
    folder = practice_folder(Choice.of(options))
    found = with_takes(folder.sessions())
    live = _being_recorded(folder.root)
    if options.json:
        print_json([_told(info) for info in found], out)
    elif not found:
        print(f"{folder.recordings} holds no sessions yet", file=out)
    else:
        table = [["session", "minutes", "notes", "takes", "cells", ""]]
        for info in found:
            if info.trouble is not None:
                table.append([info.name, "", "", "", "", info.trouble])
                continue
            cells = named(info.cells) or "none"
            remarks = ["demo"] if info.demo else []
            if info.name == live:
                remarks.append("recording now")
            elif not info.whole:
                remarks.append("not whole")
            figures = [f"{info.duration_s / 60:.1f}", str(info.notes), str(info.takes or 0)]
            table.append([info.name, *figures, cells, ", ".join(remarks)])
        print(*rows(table, right=(1, 2, 3)), sep="\n", file=out)
    return 0


def _being_recorded(home: Path) -> str | None:
    """Name of the session that the folder's recorder is writing; None where it writes none."""
    try:
        session = Client(home).ask({"command": "status"}, timeout_s=1.0)["session"]
    except LivecheckError:
        return None
    return None if session is None else Path(session).name


def _told(info: SessionInfo) -> dict[str, Any]:
    told = {**asdict(info), "path": near_path(Path(info.path))}
    del told["played_s"]
    if info.trouble is not None:
        told |= {key: None for key in ("started", "duration_s", "notes", "takes", "demo")}
    return told


def run_check(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    folder = practice_folder(choice)
    paths = [folder.session(name) for name in choice.sessions] or folder.session_paths()
    live = _being_recorded(folder.root)
    told = [_checked(path, options.salvage, path.name == live) for path in paths]
    if options.json:
        print_json(told, out)
    elif not told:
        print(f"{folder.recordings} holds no sessions yet", file=out)
    else:
        for one in told:
            lines = "" if one["lines"] is None else f" {one['lines']} lines:"
            print(f"{one['name']}:{lines} {'; '.join(one['findings']) or 'whole'}", file=out)
            if one["saved"]:
                print(f"  {one['saved']}", file=out)
    hurt = any(one["damaged"] or one["lines"] is None for one in told)
    return BadInput.exit_status if hurt else 0


def _checked(path: Path, salvaging: bool, live: bool) -> dict[str, Any]:
    """One session looked over, and what is good of it saved where that is asked for and needed; a
    live one is still being written."""

    told: dict[str, Any] = {"name": path.name, "path": near_path(path), "whole": False}
    told |= {"damaged": True, "lines": None, "salvaged": None, "saved": None}
    try:
        reading = read(path)
        for _ in reading:
            pass
    except BadInput as error:
        told["damaged"] = not isinstance(error, NewerFormat)
        told["findings"] = [str(error).removeprefix(f"{path}/").removeprefix(f"{path}: ")]
        return told
    account = reading.account
    own = f"{path.name}: "
    told |= {
        "whole": account.whole and not account.dropped,
        "damaged": account.hurt,
        "lines": account.lines,
        "findings": [text.removeprefix(own) for text in findings(account, Path(path.name), live)],
    }
    if account.hurt and salvaging:
        told["salvaged"], told["saved"] = _salvaged(path)
    return told


def _salvaged(path: Path) -> tuple[str | None, str]:
    """Where the good part of a damaged session stands, and that in words; None where nothing could
    be saved."""

    target = path.with_name(f"{path.name}{SALVAGED}")
    if os.path.lexists(target):
        return near_path(target), f"what is good of it was saved before, in {near_path(target)}"
    try:
        salvage(path, target)
    except BadInput as error:
        return None, f"nothing of it was saved: {error}"
    return near_path(target), f"what is good of it was saved in {near_path(target)}"
