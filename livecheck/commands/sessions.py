"""Recorded sessions: list them, check that they are whole, show one again."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from ..errors import BadInput, LivecheckError
from .common import Commands, add, add_cells, near_path, positive, practice_folder, print_json, rows
from .live import add_console

if TYPE_CHECKING:
    from ..files.summary import SessionInfo


def register(commands: Commands) -> None:
    sessions = add(
        commands,
        "sessions",
        run_sessions,
        "list the recorded sessions, oldest first",
        json_too=True,
    )
    verbs = sessions.add_subparsers(
        title="commands", metavar="COMMAND", parser_class=type(sessions)
    )
    check = add(
        verbs,
        "check",
        run_check,
        "read every line of sessions and say what is not as it was written",
        "Nothing of them is changed. Exit status 2 where something is damaged or missing; a "
        "session that was cut off, "
        "by a power failure for example, is not damaged.",
        json_too=True,
    )
    check.add_argument(
        "sessions", metavar="SESSION", nargs="*", help="names or folders; all where none is given"
    )

    check.add_argument(
        "--salvage", action="store_true", help="save what is good of a damaged one as NAME-salvaged"
    )

    replay = add(commands, "replay", run_replay, "show a recorded session again, judged anew")
    replay.add_argument(
        "session", metavar="SESSION", help="its name or the beginning of it, `last`, or its folder"
    )
    pace = replay.add_mutually_exclusive_group()
    pace.add_argument(
        "--speed", metavar="X", type=positive, default=1.0, help="so many times as fast as played"
    )
    pace.add_argument("--fast", action="store_true", help="as fast as it can be judged")
    add_cells(replay, "judge it with this cell, not the one it was recorded with")
    replay.add_argument("--variant", metavar="NAME", help="which of that cell's ways to play it")
    replay.add_argument("--rig", metavar="RIG", help="judge it with this rig instead")
    add_console(replay)


def run_sessions(options: Namespace, out: TextIO, err: TextIO) -> int:
    folder = practice_folder(options)
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
    from ..control import Client

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
    from ..files.journal_reader import read
    from ..files.library import SALVAGED
    from ..files.salvage import findings, salvage

    folder = practice_folder(options)
    paths = [folder.session(name) for name in options.sessions] or folder.session_paths()
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


def run_replay(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..console.live import run_console
    from ..console.source import Paced
    from .judging import take_of

    take = take_of(options, options.session, err)
    take.say_trouble(err)
    source = Paced(take.records, None if options.fast else options.speed)
    run_console(source, seconds=options.seconds, plain=options.plain, out=out, practising=False)
    return 0


def _count_takes(path: Path) -> int:
    """Takes of a session: the last repetition tells."""
    from ..core.events import RepDone
    from ..files.journal_reader import read
    from .judging import judged

    _, outcomes = judged(read(path))
    return max(
        (outcome.repetition.take for outcome in outcomes if isinstance(outcome, RepDone)), default=0
    )
