"""The few things the journal asks of the operating system, in one place so that tests can make any
of them fail.

Nothing here decides anything: each method is one call, and raises OSError as the system does.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

if sys.platform == "darwin":
    import fcntl


class Disk:
    """The real disk."""

    def make_folder(self, folder: Path) -> None:
        """Make a folder for this user alone, with whatever is missing above it."""
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)

    def create(self, path: Path) -> int:
        """Open a file that must not exist yet, for appending by this user alone."""
        return os.open(
            path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | os.O_CLOEXEC, 0o600
        )

    def write(self, fd: int, data: bytes) -> int:
        return os.write(fd, data)

    def truncate(self, fd: int, length: int) -> None:
        os.ftruncate(fd, length)

    def size(self, fd: int) -> int:
        return os.fstat(fd).st_size

    def links(self, fd: int) -> int:
        """How many names the open file has; 0 once somebody has deleted it."""
        return os.fstat(fd).st_nlink

    def sync(self, fd: int) -> None:
        """Bring a file's bytes to the medium. Plain fsync stops at the drive's own cache on
        macOS."""
        if sys.platform == "darwin":
            try:
                fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
            except OSError:  # a file system without it
                os.fsync(fd)
        else:
            os.fdatasync(fd)

    def sync_folder(self, folder: Path) -> None:
        """Bring a folder's names to the medium, so that a new file is still there after a power
        cut."""
        fd = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)

    def remove(self, path: Path) -> None:
        path.unlink()

    def close(self, fd: int) -> None:
        os.close(fd)
