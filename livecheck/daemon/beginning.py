"""What a session's beginning needs of the disk: room, a head, and the way back where nothing came
of it."""

from __future__ import annotations

import contextlib
import logging
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from .. import __version__
from ..files.disk import Disk
from ..files.journal import RESERVE, Head, head_now
from ..files.lines import journal_files

log = logging.getLogger("livecheck.recorder")


def look_for_room(recordings: Path) -> None:
    """Say so where no session could be begun just now; by the first note there may be room."""
    disk = Disk()
    try:
        disk.close(disk.reserve(recordings, RESERVE))
    except OSError as error:
        log.error(
            "%s: nothing can be recorded there now: %s; make room, or choose another folder by "
            "--home",
            recordings,
            error.strerror or error,
        )


def head_at(t_ns: int) -> Head:
    """A head whose zero is a moment just passed, so that no message lies before it."""
    head = head_now(__version__)
    ago = timedelta(microseconds=max(0, head.perf_ns - t_ns) // 1000)
    wall = (datetime.fromisoformat(head.wall) - ago).isoformat()
    return replace(head, wall=wall, perf_ns=t_ns)


def remove_empty(folder: Path) -> None:
    """Take an empty session away; whatever else somebody put there stays."""
    with contextlib.suppress(OSError):
        for path in journal_files(folder):
            path.unlink()
        folder.rmdir()
