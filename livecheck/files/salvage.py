"""Look a journal over, and save the whole lines of a damaged one into a new one. The original is
only read."""

from __future__ import annotations

import os
import secrets
import shutil
from pathlib import Path

from ..core.plain_text import counted
from ..errors import BadInput
from .atomic import sync_folder
from .journal import Journal
from .journal_reader import Account, Reading, read
from .lines import Head
from .ordinary import reason

LOST = "lost with damaged lines"


def check(folder: str | Path) -> list[str]:
    """What is not as it should be with a session's journal, a line each; nothing where it is whole.

    Raises BadInput where there is no journal, or a newer program's.
    """
    reading = read(folder)
    for _ in reading:
        pass
    return findings(reading.account, Path(folder))


def findings(account: Account, folder: Path, live: bool = False) -> list[str]:
    """An account in words. live: it is being recorded, and its end is still to come."""
    found = [f"{name}: belongs to another session and was left out" for name in account.foreign]
    if account.head is None or not account.head.wall:
        found.append(f"{folder}: no head can be read; when it began is unknown")
    found += [
        f"{name}: cannot be read, or not all: {why}" for name, why in account.unreadable.items()
    ]
    if account.damaged:
        found.append(f"{folder}: {counted(account.damaged, 'damaged line')} passed over")
    found += [
        f"{name}: {counted(many, 'record')} missing after number {last}"
        for name, last, many in account.missing
    ]
    if account.repeated:
        found.append(f"{folder}: {counted(account.repeated, 'line')} repeated; taken once")
    if account.unknown:
        found.append(
            f"{folder}: {counted(account.unknown, 'record')} that this program does not understand"
        )
    if account.dropped:
        found.append(f"{folder}: {counted(account.dropped, 'record')} could not be kept")
    if account.torn:
        found.append(f"{folder}: the last line is cut short")
    if live and not account.stopped:
        found.append(f"{folder}: being recorded now")
    elif not account.stopped:
        found.append(f"{folder}: ends without its last record")
    return found


def salvage(source: str | Path, target: str | Path) -> int:
    """Write the good records of a journal into a new one; returns how many. The new session's
    folder appears whole or not at all.

    The new journal is whole: its records are numbered anew, a ``gap`` record stands where some are
    missing, and it ends with a ``stop`` record. Raises BadInput where there is nothing to save, the
    new one cannot be written, or something stands in its place.
    """
    target = Path(target)
    reading = read(source)
    head = reading.head or _first_time(source)
    if os.path.lexists(target):
        raise BadInput(f"{target}: is there already; a session is never written into")
    growing = target.with_name(f".{target.name}.{secrets.token_hex(12)}.part")
    try:
        kept = _copied(reading, head, growing)
        os.rename(growing, target)
        sync_folder(target.parent)
    except OSError as error:
        raise BadInput(f"{target}: cannot be written: {reason(error)}") from error
    except BadInput as error:  # it names the folder by its other name
        raise BadInput(str(error).replace(str(growing), str(target))) from error
    finally:
        shutil.rmtree(growing, ignore_errors=True)  # gone, where all went well
    return kept


def _copied(reading: Reading, head: Head, folder: Path) -> int:
    journal = Journal.create(folder, head)
    kept, last_ns, stopped = 0, head.perf_ns, False
    expected = 0
    for line in reading.lines():
        lost = line.seq - (max(expected - 1, 0) if line.kind == "head" else expected)
        if lost > 0:
            journal.append("gap", line.t_ns, {"dropped": lost, "why": LOST})
        expected = line.seq + 1
        if line.kind == "head":
            continue
        fields = {
            key: value for key, value in line.fields.items() if key not in ("seq", "t", "type")
        }
        journal.append(line.kind, line.t_ns, fields)
        kept, last_ns, stopped = kept + 1, line.t_ns, line.kind == "stop"
    if not stopped:
        if reading.account.torn or reading.account.damaged or reading.account.unreadable:
            journal.append(
                "gap", last_ns, {"dropped": 0, "why": "how much is lost at the end is unknown"}
            )
        journal.append("stop", last_ns, {"why": "salvaged"})
    journal.close()
    if journal.dropped or journal.trouble:
        raise BadInput(f"{folder}: not all could be written: {journal.trouble}")
    if kept == 0:
        raise BadInput(f"{reading.path}: holds no whole record; nothing can be saved")
    return kept


def _first_time(source: str | Path) -> Head:
    """A head for a journal that has lost its own: times then count from the first record."""
    reading: Reading = read(source)
    line = next(reading.lines(), None)
    if line is None:
        raise BadInput(f"{source}: holds no whole line; nothing can be saved")
    return Head("", line.t_ns, "", "")
