"""Recorded sessions: list them, check that they are whole."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict
from pathlib import Path
from typing import Any, TextIO

from ..control import Client
from ..core.events import RepDone
from ..errors import BadInput, LivecheckError
from ..files.journal_reader import read
from ..files.library import SALVAGED
from ..files.salvage import findings, salvage
from ..files.summary import SessionInfo
from .choice import Choice, practice_folder
from .common import near_path, print_json, rows
from .judging import judged


def run_sessions(options: Namespace, out: TextIO, err: TextIO) -> int:
    folder = practice_folder(Choice.of(options))
    found = folder.sessions(_count_takes)
    live = _being_recorded(folder.root)
    if options.json:
        print_json([_told(info) for info in found], out)
    elif not found:
        print(f"{folder.recordings} holds no sessions yet", file=out)
    else:
        table = [["session", "minutes", "notes", "takes", "cells", ""]]
        for info in found:
            cells = ", ".join(info.cells) or "none"
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
    return told


def run_check(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    folder = practice_folder(choice)
    paths = [folder.session(name) for name in choice.sessions] or folder.session_paths()
    told, damaged = [], False
    for path in paths:
        reading = read(path)
        for _ in reading:
            pass
        account = reading.account
        hurt = bool(account.damaged or account.missing or account.foreign)
        damaged |= hurt
        saved = None
        if hurt and options.salvage:
            saved = path.with_name(f"{path.name}{SALVAGED}")
            salvage(path, saved)
        told.append(
            {
                "name": path.name,
                "path": near_path(path),
                "whole": account.whole and not account.dropped,
                "damaged": hurt,
                "lines": account.lines,
                "findings": findings(account, Path(path.name)),
                "salvaged": near_path(saved) if saved else None,
            }
        )
    if options.json:
        print_json(told, out)
    elif not told:
        print(f"{folder.recordings} holds no sessions yet", file=out)
    else:
        for one in told:
            own = f"{one['name']}: "
            found = "; ".join(text.removeprefix(own) for text in one["findings"]) or "whole"  # type: ignore[attr-defined]
            print(f"{one['name']}: {one['lines']} lines: {found}", file=out)
            if one["salvaged"]:
                print(f"  what is good of it was saved in {one['salvaged']}", file=out)
    return BadInput.exit_status if damaged else 0


def _count_takes(path: Path) -> int:
    """Takes of a session: the last repetition tells."""
    _, outcomes = judged(read(path))
    return max(
        (outcome.repetition.take for outcome in outcomes if isinstance(outcome, RepDone)), default=0
    )
