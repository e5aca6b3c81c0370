"""Start a recorder as a process of its own, for a console that shows what it records.

The child has a session of its own, so that Ctrl-C at the terminal ends the console alone, which
then stops the recorder in order. It ends by itself, in order, when the console dies: its standard
input closes.
"""

from __future__ import annotations

import contextlib
import json
import os
import select
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..control import state_folder
from ..errors import BadInput, LivecheckError, NoDevice
from ..files.own import open_own
from . import spawn
from .options import Options, cells_line, to_arguments
from .source import FIRST_S

START_S = FIRST_S + 5.0
STOP_S = 30.0
_ERRORS: dict[int, type[LivecheckError]] = {
    BadInput.exit_status: BadInput,
    NoDevice.exit_status: NoDevice,
}


class RecorderProcess:
    """A recorder that runs as a child. ``session`` is the folder of the session it began with, None
    if none yet; ``unsaved`` how many records could not be saved, known after ``stop``, and
    ``lost_why`` why."""

    def __init__(self, process: subprocess.Popen[bytes], session: Path | None) -> None:
        self._process = process
        self.session = session
        self.unsaved = 0
        self.lost_why: str | None = None

    @property
    def pid(self) -> int:
        return self._process.pid

    def poll(self) -> int | None:
        """The exit status, None while it runs."""
        return self._process.poll()

    def stop(self) -> int:
        """End it in an orderly way and wait; by force when that takes too long. Returns the exit
        status."""
        assert self._process.stdin is not None
        with contextlib.suppress(OSError):
            self._process.stdin.close()
        try:
            status = self._process.wait(STOP_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            status = self._process.wait()
        told = _line_from(self._process, 0.0)
        if told is not None:
            self.unsaved, self.lost_why = int(told.get("unsaved", 0)), told.get("why")
        self._close()
        return status

    def _close(self) -> None:
        if self._process.stdout is not None:
            self._process.stdout.close()


def start_recorder(options: Options) -> RecorderProcess:
    """Start a recorder and wait until it records.

    Raises what the recorder met: BadInput, NoDevice; or LivecheckError where it did not start at
    all.
    """
    with _complaints(options.home) as complaints:
        command = spawn.module("livecheck.daemon", "--child", *to_arguments(options))
        process = spawn.start(command, stdin=spawn.PIPE, stdout=spawn.PIPE, stderr=complaints)
    assert process.stdin is not None
    with contextlib.suppress(OSError):  # where it died at once there is no answer either
        left = memoryview(cells_line(options))
        while left:
            left = left[process.stdin.write(left) :]
    answer = _line_from(process, START_S)
    if answer is None or "error" in answer:
        process.kill()
        process.wait()
        if process.stdout is not None:
            process.stdout.close()
        if answer is None:
            log = state_folder(options.home) / "recorder.log"
            raise LivecheckError(f"the recorder did not start; its log is {log}")
        raise _ERRORS.get(answer["status"], LivecheckError)(answer["error"])
    session = answer.get("session")
    return RecorderProcess(process, Path(session) if session else None)


def _complaints(home: Path) -> Any:
    """Where a child writes what its log cannot take; never the terminal, which belongs to the
    console."""
    folder = state_folder(home)
    try:
        fd = open_own(folder / "recorder.err", os.O_WRONLY | os.O_CREAT)
        os.ftruncate(fd, 0)
        return open(fd, "wb")
    except OSError as error:
        why = error.strerror or error
        raise BadInput(
            f"{folder}: cannot be used: {why}; choose another folder by --home"
        ) from error


def _line_from(process: subprocess.Popen[bytes], within_s: float) -> Mapping[str, Any] | None:
    """What the child says next; None where it says nothing."""
    stream = process.stdout
    if stream is None or stream.closed:
        return None
    ready, _, _ = select.select([stream], [], [], within_s)
    try:
        answer = json.loads(stream.readline()) if ready else None
    except ValueError:
        return None
    return answer if isinstance(answer, dict) else None
