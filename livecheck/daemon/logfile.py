"""The program's log: rotated, for this account alone, one line a message whatever is in it, and no
word on the terminal where the disk takes nothing."""

from __future__ import annotations

import contextlib
import logging
import os
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from ..control import state_folder
from ..core.plain_text import clean
from ..errors import BadInput
from ..files.own import open_own

if TYPE_CHECKING:
    _Stream = logging.StreamHandler[TextIO]
else:
    _Stream = logging.StreamHandler

LOG_BYTES, LOGS = 1 << 20, 3


class _OneLine(logging.Formatter):
    """A message in one line; the lines of a traceback follow it, each cleaned by itself."""

    def format(self, record: logging.LogRecord) -> str:
        record = logging.makeLogRecord(record.__dict__)
        record.msg, record.args = clean(record.getMessage()), None
        return super().format(record)

    def formatException(self, ei: object) -> str:
        lines = super().formatException(ei).splitlines()  # type: ignore[arg-type]
        return "\n".join(f"  | {clean(line)}" for line in lines)


class _Unbuffered:
    """A file to which each text goes at once: nothing is left that a full disk could refuse when it
    is closed."""

    def __init__(self, path: Path) -> None:
        self._fd = open_own(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)

    def write(self, text: str) -> None:
        os.write(self._fd, text.encode("utf-8", "backslashreplace"))

    def flush(self) -> None:
        """Nothing waits."""

    def seek(self, to: int, whence: int) -> None:
        os.lseek(self._fd, to, whence)

    def tell(self) -> int:
        return os.lseek(self._fd, 0, os.SEEK_CUR)

    def close(self) -> None:
        with contextlib.suppress(OSError):
            os.close(self._fd)


class LogFile(RotatingFileHandler):
    """A log file. Raises OSError where it cannot be opened; later, trouble is passed over: it is
    told elsewhere."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, maxBytes=LOG_BYTES, backupCount=LOGS, encoding="utf-8")
        self.setFormatter(_OneLine("%(asctime)s %(levelname)s %(name)s: %(message)s"))

    def _open(self) -> Any:
        return _Unbuffered(Path(self.baseFilename))

    def handleError(self, record: logging.LogRecord) -> None:
        """Nothing can be done about it."""


class Terminal(_Stream):
    """The log as whoever started the recorder sees it; what the driver's libraries print is for the
    file alone."""

    def __init__(self) -> None:
        super().__init__()
        self.setLevel(logging.INFO)
        self.setFormatter(_OneLine("%(asctime)s %(message)s", "%H:%M:%S"))

    def handleError(self, record: logging.LogRecord) -> None:
        """Nobody is there any more."""


def start_log(home: Path, to_terminal: bool) -> list[logging.Handler]:
    """The program's log; on the terminal, too, where that is asked for. Raises BadInput where there
    can be none."""
    path = state_folder(home) / "recorder.log"
    try:
        handlers: list[logging.Handler] = [LogFile(path)]
    except OSError as error:
        raise BadInput(
            f"{path}: cannot be made: {error.strerror or error}; choose another folder by --home"
        ) from error
    if to_terminal:
        handlers.append(Terminal())
    root = logging.getLogger("livecheck")
    root.setLevel(logging.DEBUG)
    root.propagate = False
    for handler in handlers:
        root.addHandler(handler)
    return handlers


def stop_log(handlers: list[logging.Handler]) -> None:
    """Take away what ``start_log`` gave."""
    for handler in handlers:
        logging.getLogger("livecheck").removeHandler(handler)
        handler.close()
