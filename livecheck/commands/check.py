"""Say what works here, what does not, and the remedy, a line each.

Each check is a function that looks at one thing and changes nothing.
"""

from __future__ import annotations

import contextlib
import os
import platform
import shutil
import signal
import socket
import sys
from argparse import Namespace
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TextIO

from ..control import Client, socket_paths
from ..core.plain_text import counted
from ..core.rig import Delay, Rig
from ..daemon.drivers import ALSA_SEQUENCER, default_api
from ..daemon.ports import SOUND, plain_name, usable
from ..errors import BadInput, LivecheckError
from ..files.config import load_cell, load_rig
from ..files.library import PracticeFolder
from ..files.settingsfile import Settings
from .choice import OWN_RIG, Choice, known_files
from .common import NO_RIG, hung, near_path, only_ascii, print_json, rows
from .midi_system import ask
from .record import settings_of

OK, NOTE, BAD = "ok", "note", "bad"
OLDEST_PYTHON = (3, 10)
ROOM_BYTES = 500 << 20
"""Free space below which check speaks up; an hour at 20 notes a second takes about 12 MB."""
LEAST_BYTES = 20 << 20  # below this an evening does not fit
NARROW, LOW = 60, 16  # columns and rows that the console needs


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was looked at. ``state``: ok, note (practice goes on without it) or bad."""

    what: str
    state: str
    found: str
    remedy: str | None = None


def run_check(options: Namespace, out: TextIO, err: TextIO) -> int:
    checks = list(_checks(Choice.of(options), out))
    ok = all(check.state != BAD for check in checks)
    if options.json:
        print_json({"ok": ok, "checks": [asdict(one) for one in checks]}, out)
        return 0 if ok else BadInput.exit_status
    leads = rows([[one.state, one.what] for one in checks])
    wide = max(map(len, leads)) + 2
    for one, lead in zip(checks, leads):
        found = one.found + (f"; {one.remedy}" if one.remedy else "")
        print(*hung(lead.ljust(wide), found, out), sep="\n", file=out)
    return 0 if ok else BadInput.exit_status


def _checks(choice: Choice, out: TextIO) -> Iterator[Check]:
    yield _python()
    driver = _driver()
    yield driver
    if driver.state == OK:
        if sys.platform.startswith("linux"):
            jack = _jack()
            yield _alsa(jack.state == OK)
            yield jack
        yield _ports()
    yield _sounding(driver.state == OK)
    yield _terminal(out)
    yield _signals()
    yield from _folder(choice)


def _python() -> Check:
    if sys.version_info < OLDEST_PYTHON:
        return Check("Python", BAD, platform.python_version(), "livecheck needs 3.10 or later")
    return Check("Python", OK, f"{platform.python_version()} on {platform.system()}")


# --------------------------------------------------------------------------------------------- MIDI


def _driver() -> Check:
    try:
        return Check("MIDI driver", OK, f"{ask('binding')} loads")
    except LivecheckError as error:
        return Check("MIDI driver", BAD, str(error))


def _alsa(jack: bool) -> Check:
    """jack: whether a JACK server answers, so that practice can go on without ALSA."""
    if not os.path.exists(ALSA_SEQUENCER):
        remedy = "sudo modprobe snd-seq, or use a JACK server"
        return Check("ALSA sequencer", NOTE, f"there is no {ALSA_SEQUENCER}", remedy)
    if not os.access(ALSA_SEQUENCER, os.R_OK | os.W_OK):
        remedy = "sudo usermod -aG audio $USER, then log in again"
        state = NOTE if jack else BAD
        return Check("ALSA sequencer", state, f"no permission for {ALSA_SEQUENCER}", remedy)
    return Check("ALSA sequencer", OK, ALSA_SEQUENCER)


def _jack() -> Check:
    try:
        ask("jack")
    except LivecheckError as error:
        return Check("JACK server", NOTE, str(error))
    return Check("JACK server", OK, "answers")


def _ports() -> Check:
    api = default_api()
    try:
        names = ask("ports", api)
    except LivecheckError as error:
        return Check("MIDI ports", BAD, str(error))
    there = [plain_name(names[at]) for at in usable(names)]
    if not there:
        return Check("MIDI ports", BAD, f"{api} has none", "plug the converter in and switch it on")
    return Check("MIDI ports", OK, f"{', '.join(there)} ({api})")


def _sounding(midi: bool) -> Check:
    """Which way clicks and cues can take here."""
    ways, missing = [], []
    try:
        names = ask("outputs", default_api()) if midi else []
        if there := [plain_name(names[at]) for at in usable(names)]:
            ways.append(f"MIDI outputs: {', '.join(there)}")
    except LivecheckError as error:
        missing.append(str(error))
    try:
        ways.append(f"--click-port '{SOUND}': {ask('sound')}")
    except LivecheckError as error:
        missing.append(str(error))
    if ways:
        return Check("click and cues", OK, "; ".join(ways))
    return Check("click and cues", NOTE, "there is no MIDI output", "; ".join(missing[-1:]) or None)


# ------------------------------------------------------------------------------ terminal and folder


def _terminal(out: TextIO) -> Check:
    encoding = getattr(out, "encoding", None) or "unknown encoding"
    if not out.isatty():
        return Check(
            "terminal",
            NOTE,
            "output goes elsewhere",
            "there the console prints one plain line a repetition",
        )
    name = os.environ.get("TERM", "")
    if name in ("", "dumb", "unknown"):
        remedy = "the console prints one plain line a repetition; set TERM to what the terminal is"
        return Check("terminal", NOTE, f"TERM is {name or 'not set'}", remedy)
    columns, lines = shutil.get_terminal_size()
    colour = "no colour (NO_COLOR)" if os.environ.get("NO_COLOR") else "colour"
    found = f"{columns} columns, {lines} rows, {name}, {encoding}, {colour}"
    if columns < NARROW or lines < LOW:
        return Check("terminal", NOTE, found, f"make it {NARROW} columns by {LOW} rows or larger")
    if only_ascii(out):
        return Check(
            "terminal", NOTE, found, "only plain signs can be shown; set LANG to a UTF-8 locale"
        )
    return Check("terminal", OK, found)


def _signals() -> Check:
    """Which signals end or change a recording for whoever starts it from a script.

    A shell without job control lets what it starts with & ignore SIGINT, and nohup lets it ignore
    SIGHUP. Source: POSIX.1-2017, shell command language, 2.11.
    """
    there = [name for name in ("SIGTERM", "SIGINT", "SIGHUP") if hasattr(signal, name)]
    blocked = signal.pthread_sigmask(signal.SIG_BLOCK, ()) if hasattr(signal, "SIGHUP") else ()
    deaf = [
        name
        for name in there
        if getattr(signal, name) in blocked
        or signal.getsignal(getattr(signal, name)) == signal.SIG_IGN
    ]
    does = {
        "SIGTERM": "SIGTERM ends a session in good order",
        "SIGINT": "SIGINT (Ctrl-C) too",
        "SIGHUP": "SIGHUP makes `daemon` read its files again and ends the others",
    }
    found = ", ".join(does[name] for name in there if name not in deaf)
    if not deaf:
        return Check("signals", OK, found)
    sure = "kill -TERM and `livecheck stop`" if "SIGTERM" not in deaf else "`livecheck stop`"
    told = f"not to be relied on here, since whoever started this ignores them: {', '.join(deaf)}"
    return Check("signals", NOTE, "; ".join(filter(None, [found, told])), f"use {sure}")


def _folder(choice: Choice) -> Iterator[Check]:
    folder = PracticeFolder.find(choice.home, make=False)
    root = folder.root
    there = next(path for path in (root, *root.absolute().parents) if path.exists())
    if not (there.is_dir() and os.access(there, os.W_OK | os.X_OK)):
        why = "may not be written to" if there.is_dir() else "is no folder"
        remedy = "choose another by --home or LIVECHECK_HOME"
        yield Check("practice folder", BAD, f"{there} {why}", remedy)
        return
    cells, sessions = known_files(folder, "cell"), len(folder.session_paths())
    found = f"{root}, {counted(len(cells), 'cell')}, {counted(sessions, 'session')}"
    if there != root:
        found = f"{root} is not there yet; the first session makes it"
    yield Check("practice folder", OK, found)
    yield from _broken_cells(cells)
    free = shutil.disk_usage(there).free
    room = f"{free / (1 << 30):.1f} GB free"
    if free > ROOM_BYTES:
        yield Check("disk", OK, room)
    else:
        state = NOTE if free > LEAST_BYTES else BAD
        yield Check("disk", state, room, "make room: an hour of dense practice takes about 12 MB")
    yield _own_rig(root)
    yield from _settings(folder, cells)
    yield _recorder(root)
    if not hasattr(socket, "AF_UNIX"):
        yield Check(
            "commands",
            NOTE,
            "this system has no Unix sockets",
            "mark, status and stop do not work here",
        )


def _broken_cells(cells: dict[str, Path]) -> Iterator[Check]:
    """A folder of cells is not listened for while one of its files is broken; the others can be
    named."""
    for path in cells.values():
        try:
            load_cell(path)
        except LivecheckError as error:
            yield Check("cell", NOTE, str(error))


def _own_rig(root: Path) -> Check:
    path = root / "configs" / OWN_RIG
    if not path.exists():
        return Check(
            "rig", NOTE, NO_RIG, f"write {near_path(path)} (see configs/rigs) or name one by --rig"
        )
    try:
        rig = load_rig(path)
        named = f"{rig.name} ({near_path(path)})"
        if rig.delay == Delay():
            return Check(
                "rig",
                NOTE,
                f"{named} takes no delay off",
                "measure it with `livecheck rig latency`",
            )
        return Check("rig", OK, named)
    except LivecheckError as error:
        return Check("rig", BAD, str(error))


def _settings(folder: PracticeFolder, cells: dict[str, Path]) -> Iterator[Check]:
    try:
        settings = settings_of(folder)
    except LivecheckError as error:
        yield Check("settings", BAD, str(error))
        return
    rest_s, silence_s = settings.rest_s, settings.silence_s
    rest = (
        "no rest is called for"
        if rest_s is None
        else f"a rest after {rest_s / 60:g} minutes of play"
    )
    end = (
        "no silence ends a session"
        if silence_s is None
        else f"{silence_s / 60:g} minutes of silence end a session"
    )
    yield Check("settings", OK, f"{rest}; {end}")
    yield from _without_effect(settings, _strings(folder.root, cells), near_path(folder.settings))


def _without_effect(settings: Settings, strings: int, path: str) -> Iterator[Check]:
    """What was set and does nothing: gestures on strings that there are not, cues without a
    note."""
    for one in settings.gestures:
        if one.string is not None and one.string > strings:
            found = f"{path} has one on string {one.string}, and there are {strings} strings"
            yield Check("gestures", NOTE, found, f"write a string from 1 to {strings}, or `lowest`")
    for word, tones in settings.cues.items():
        if not tones:
            found = f"{path} gives `{word}` no note, so it is silent"
            yield Check("cues", NOTE, found, "give it notes, or take it out for the usual ones")


def _strings(root: Path, cells: dict[str, Path]) -> int:
    """How many strings can be heard: as many as the rig has channels, without a rig as the cell
    of most strings has."""
    with contextlib.suppress(LivecheckError):
        path = root / "configs" / OWN_RIG
        if path.exists():
            return len(load_rig(path).channels)
    most = len(Rig().channels)
    for cell in cells.values():
        with contextlib.suppress(LivecheckError):
            most = max(most, len(load_cell(cell).tuning))
    return most


def _recorder(root: Path) -> Check:
    try:
        status = Client(root).ask({"command": "status"}, timeout_s=1.0)
    except LivecheckError:
        place = next(iter(socket_paths(root)), None)
        if place is None:
            return Check(
                "recorder",
                BAD,
                "no place for its socket has a short enough name",
                "use a folder nearer to /",
            )
        return Check("recorder", OK, f"none is running; its socket would be {place}")
    return Check("recorder", OK, f"running, process {status.get('pid')}")
