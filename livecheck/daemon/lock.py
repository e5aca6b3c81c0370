"""One recorder for each practice folder.

The lock is the system's own on an open file, so that it is free at once when its holder dies,
however it dies. The file is never deleted: another one of the same name would be another lock. The
number in it is only for the message.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
from pathlib import Path
from types import TracebackType

from ..control import state_folder
from ..errors import BadInput
from ..files.own import open_own


class Lock:
    """Held from its making to ``free`` (or the end of the process). Raises BadInput where another
    one holds it."""

    def __init__(self, home: Path) -> None:
        path = state_folder(home) / "lock"
        try:
            self._fd = open_own(path, os.O_RDWR | os.O_CREAT)
        except OSError as error:
            why = error.strerror or error
            raise BadInput(
                f"{path}: cannot be made: {why}; choose another folder by --home"
            ) from error
        try:
            fcntl.flock(self._fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            holder = os.read(self._fd, 20).decode("ascii", "replace").strip()
            os.close(self._fd)
            raise BadInput(
                f"something is recording in {home} already (process {holder or 'unknown'}): "
                "`livecheck watch` shows it, `livecheck stop` ends it"
            ) from error
        with contextlib.suppress(OSError):  # a full disk: the number is only for the message
            os.ftruncate(self._fd, 0)
            os.write(self._fd, b"%d\n" % os.getpid())

    def free(self) -> None:
        os.close(self._fd)

    def __enter__(self) -> Lock:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.free()
