"""A recorder and a console together: start the one, show what it writes with the other, end both in
good order."""

from __future__ import annotations

import contextlib
import time
from argparse import Namespace
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, TextIO

from ..console.live import Acts, run_console, signals
from ..console.source import Following
from ..control import STOPPING, Client
from ..core.cell import Cell
from ..core.events import Repetition
from ..core.hands import Hands
from ..daemon.options import Options
from ..daemon.process import RecorderProcess, start_recorder
from ..errors import BadInput, LivecheckError, NoDevice
from ..files.journal_reader import Follower
from ..files.library import PracticeFolder
from ..files.settingsfile import SHOWN, Settings
from ..files.unrested import unrested
from .common import lost, near_path
from .record import settings_of

if TYPE_CHECKING:
    from ..files.waynames import Learned

MOST_STARTS = 5  # again, of a recorder that died
ASK_S = 0.5
"""Longest wait for the recorder's answer: the screen stands still meanwhile."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Showing:
    """How a session is shown: for how long, with a screen or in plain lines, when a rest is called
    for (minutes; 0: never; None: as the settings say)."""

    seconds: float | None = None
    plain: bool = False
    rest: float | None = None
    opening: str = ""  # what will happen, told before the first repetition
    mark: str | None = None  # set at the beginning of each session

    @classmethod
    def of(cls, options: Namespace, opening: str = "") -> Showing:
        """What was typed."""
        typed = vars(options)
        return cls(
            seconds=typed["seconds"], plain=typed["plain"], rest=typed.get("rest"), opening=opening
        )


class Recorded(NamedTuple):
    """What came of it: the last session's folder (None where nothing was played, so that nothing is
    kept), and the exit status, which is not 0 where something played was lost."""

    folder: Path | None
    status: int


class Shown(NamedTuple):
    """Folders of the sessions that were shown, and why that ended (``Summary.why``)."""

    folders: list[Path]
    why: str


def ways_known(folder: PracticeFolder) -> Callable[[Cell], Learned | None]:
    """What is known of a cell's ways, where one of them was named. A file of names that cannot be
    read is told of by whoever asks for the ways; here it says nothing."""

    def known(cell: Cell) -> Learned | None:
        if not (folder.root / "configs" / "ways").exists():
            return None
        from ..files.waynames import learned, path_in  # heavy, and mostly not needed

        with contextlib.suppress(BadInput):
            return learned(path_in(folder.root, cell.name))
        return None

    return known


class _Marking:
    """Sets marks by key, for whoever only looks on."""

    def __init__(self, client: Client) -> None:
        self._client = client

    @property
    def hands(self) -> Hands | None:
        return None

    @property
    def keys(self) -> str:
        return ""

    def act(self, action: str, cell: Cell | None) -> None:
        if action == "mark":
            self.mark("by key")

    def mark(self, text: str) -> None:
        with contextlib.suppress(BadInput, NoDevice):  # what is wrong is on the screen by itself
            self._client.ask({"command": "mark", "text": text}, timeout_s=ASK_S)

    def paused(self, reps: Sequence[Repetition]) -> None:
        return


def record_and_show(
    recorder: Options,
    showing: Showing,
    out: TextIO,
    acting: Acts | None = None,
    begin: Callable[[Client], object] | None = None,
) -> Recorded:
    """Record and show until the player, the time or the source ends it; then say what was saved.

    A recorder of several sessions shows them one after the other; one that dies is started again.
    acting: does what the player asks for. begin: called for each recorder once it takes commands.
    Raises what the recorder met at its start.
    """
    told = replace(recorder, at_once=True, need_port=True)
    until = None if showing.seconds is None else time.monotonic() + showing.seconds
    folders: list[Path] = []
    unsaved: list[str] = []
    process = start_recorder(told)
    for starts_left in range(MOST_STARTS, -1, -1):
        left_s = None if until is None else max(until - time.monotonic(), 0.0)
        try:
            if begin is not None:
                begin(Client(recorder.home))
            why = _shown(process, recorder, replace(showing, seconds=left_s), out, folders, acting)
        finally:
            alive = process.poll() is None
            status = process.stop()
        if process.unsaved:
            unsaved.append(lost(process.unsaved, process.lost_why))
        if alive or status == 0 or why != "end":
            break
        unsaved.append("The recorder ended unexpectedly. What it had written down is safe.")
        print(unsaved[-1], file=out, flush=True)
        if not starts_left:
            break
        try:
            process = start_recorder(told)
        except LivecheckError as error:
            unsaved.append(f"It could not be started again: {error}")
            break
        print("It has been started again.", file=out, flush=True)
    return Recorded(_told(folders, unsaved, out), LivecheckError.exit_status if unsaved else 0)


def _shown(
    process: RecorderProcess,
    recorder: Options,
    showing: Showing,
    out: TextIO,
    folders: list[Path],
    acting: Acts | None,
) -> str:
    """Show what a recorder records, and add its sessions to the folders; returns why that ended."""
    if process.session is None:
        raise LivecheckError("the recorder began no session")
    shown = show_sessions(
        process.session,
        Client(recorder.home),
        showing,
        out,
        lambda: process.poll() is None,
        own=recorder.source is None,
        acting=acting,
    )
    folders += shown.folders
    return shown.why


def _told(folders: list[Path], unsaved: list[str], out: TextIO) -> Path | None:
    """Say what was saved, and what was not."""
    kept = [folder for folder in folders if folder.exists()]
    if not kept:
        print("Nothing was played, so nothing is kept.", file=out)
    for folder in kept:
        print(f"Saved in {near_path(folder)}", file=out)
    for line in unsaved:
        print(line, file=out)
    return kept[-1] if kept else None


def show_sessions(
    first: Path | None,
    client: Client,
    showing: Showing,
    out: TextIO,
    alive: Callable[[], bool] | None = None,
    own: bool = True,
    acting: Acts | None = None,
) -> Shown:
    """Follow one session after the other until the viewer, the time or the recorder ends it.

    first: None where no session has begun yet. alive: whether the recorder is; None where whoever
    shows has not started it, and waits for another one. own: the player plays, not the demo, so
    that it counts as played today. acting: does what the player asks for; None: only marks are set.
    """
    settings = settings_of(PracticeFolder(client.home), rest=showing.rest)
    acts: Acts = _Marking(client) if acting is None else acting
    until = None if showing.seconds is None else time.monotonic() + showing.seconds
    folder = first
    shown: list[Path] = []
    while True:
        if folder is None:
            folder = _next_session(client, out, until)
        if folder is None:
            return Shown(shown, "end")
        shown.append(folder)
        why = _show(folder, client, showing, settings, out, alive, until, own, acts)
        if why != "end" or (alive is not None and not alive()):
            return Shown(shown, why)
        folder = None


def _next_session(client: Client, out: TextIO, until: float | None) -> Path | None:
    """The session that begins next; None where the recorder, the time or a signal ends the
    waiting."""
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
    showing: Showing,
    settings: Settings,
    out: TextIO,
    alive: Callable[[], bool] | None,
    until: float | None,
    own: bool,
    acting: Acts,
) -> str:
    """Follow a session that is being recorded, from its start; returns why that ended
    (``Summary.why``)."""
    source = Following(Follower(folder))
    gone = False  # looked for in vain before, so that all it wrote has been read since

    def trouble() -> str | None:
        nonlocal gone
        asked_s = time.perf_counter()
        try:
            status = client.ask({"command": "status"}, timeout_s=ASK_S)
        except (BadInput, NoDevice) as error:
            if str(error) == STOPPING:
                return None
            if (alive is None or alive()) and client.is_there():
                return "the recorder does not answer"
            before, gone = gone, True
            if not before or source.certain_s() is None:  # its last record may be still to come
                return None
            source.written_until(inf)
            source.ended = alive is not None
            return "the recorder has ended"
        gone = False
        if not status["waiting"]:  # else it is no silence that nothing is read
            source.written_until(asked_s)
        if status["session"] not in (str(folder), None) and source.certain_s() is not None:
            source.ended = True  # another recorder has taken over from one that died
        why: str | None = status["trouble"]
        return why

    if showing.mark is not None:
        acting.mark(showing.mark)
    practice, today = PracticeFolder(client.home), f"{datetime.now():%Y-%m-%d}"
    summary = run_console(
        source,
        seconds=None if until is None else max(until - time.monotonic(), 0.0),
        plain=showing.plain,
        opening=showing.opening,
        out=out,
        acting=acting,
        trouble=trouble,
        earlier_s=practice.played_s(today, but=folder.name) if own else None,
        unrested=unrested(practice, datetime.now().astimezone(), folder.name) if own else None,
        rest_after_s=settings.rest_s,
        in_place=settings.lateness == SHOWN,
        ways=ways_known(practice),
    )
    return summary.why
