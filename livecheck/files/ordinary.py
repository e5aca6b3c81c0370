"""Everything that is read from a practice folder is opened here: ordinary files only, without
waiting for anybody, in bounded memory, and what goes wrong is one line about that one file.

A pipe, a device, a folder or a socket in a file's place is refused before it is opened. Where a
program writes the file itself (journals, what is derived from them) a link is refused, too: it
would lead out of the folder. ``disk`` is what tests put a failing one in the place of.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from types import TracebackType

from ..errors import BadInput
from .disk import Disk

disk = Disk()


class NotOrdinary(OSError):
    """A pipe, a device or a socket."""


class OrdinaryFile:
    """An ordinary file, open for reading."""

    def __init__(self, path: Path, *, follow: bool = False) -> None:
        """follow: a link is as good as what it leads to. Raises OSError; ``strerror`` says what is
        wrong in any case."""
        self.path = path
        if not follow:
            _refuse(disk.look(path))
        elif stat.S_ISCHR(os.stat(path).st_mode):  # to open one may already do something
            raise NotOrdinary(errno.EINVAL, "is no ordinary file")
        try:
            self._fd = disk.open(path, follow)
        except OSError as error:
            if error.errno == errno.ENXIO:  # a socket, or a pipe nobody writes to
                raise NotOrdinary(errno.EINVAL, "is no ordinary file") from None
            raise
        try:
            _refuse(disk.status(self._fd))
        except OSError:
            self.close()
            raise

    @property
    def size(self) -> int:
        """Bytes. Raises OSError."""
        return disk.status(self._fd).st_size

    def read(self, size: int, at: int) -> bytes:
        """At most so many bytes from a place on. Raises OSError."""
        while True:
            try:
                return disk.read(self._fd, size, at)
            except InterruptedError:
                continue

    def close(self) -> None:
        if self._fd >= 0:
            os.close(self._fd)
            self._fd = -1

    def __enter__(self) -> OrdinaryFile:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def contents(path: Path, most: int, *, follow: bool = False) -> bytes:
    """All of a file, at most ``most`` bytes and one more, so that a longer one shows. Raises
    OSError."""
    parts = []
    left = most + 1
    with OrdinaryFile(path, follow=follow) as file:
        at = 0
        while left > 0 and (part := file.read(left, at)):
            parts.append(part)
            at += len(part)
            left -= len(part)
    return b"".join(parts)


def names_in(folder: Path) -> list[str]:
    """What stands in a folder, sorted; nothing where there is no such folder. Raises BadInput where
    it cannot be read."""
    try:
        return sorted(disk.names(folder))
    except FileNotFoundError:
        return []
    except OSError as error:
        raise unreadable(folder, error) from error


FILE, FOLDER, LINK, OTHER = "file", "folder", "link", "other"


def kind_of(path: Path) -> str | None:
    """What a name stands for, a link for itself; None for nothing. Raises BadInput where that
    cannot be found out."""
    try:
        mode = disk.look(path).st_mode
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        if error.errno == errno.ENAMETOOLONG:  # so nothing can have it
            return None
        raise unreadable(path, error) from error
    kinds = ((stat.S_ISREG, FILE), (stat.S_ISDIR, FOLDER), (stat.S_ISLNK, LINK))
    return next((kind for is_it, kind in kinds if is_it(mode)), OTHER)


def unreadable(path: Path, error: OSError) -> BadInput:
    """The line about a file that cannot be read."""
    return BadInput(f"{path}: cannot be read: {reason(error)}")


def reason(error: OSError) -> str:
    """The system's own words for an error, without number and path."""
    return error.strerror or str(error)


def _refuse(status: os.stat_result) -> None:
    mode = status.st_mode
    if stat.S_ISREG(mode):
        return
    if stat.S_ISLNK(mode):
        raise OSError(errno.ELOOP, "is a link, which is not followed")
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, "is a folder, not a file")
    raise NotOrdinary(errno.EINVAL, "is no ordinary file")
