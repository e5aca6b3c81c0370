"""The few things that journals, and everything that reads a practice folder, ask of the operating
system, in one place so that tests can make any of them fail.

Nothing here decides anything: each method is one call, and raises OSError as the system does.
"""

from __future__ import annotations

import errno
import os
import secrets
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

    def reserve(self, folder: Path, size: int) -> int:
        """Take so many bytes of room, to be given back by ``close``, however the process ends: they
        are a file without a name."""
        path = folder / f".{secrets.token_hex(12)}.part"
        fd = os.open(
            path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600
        )
        try:
            path.unlink()
            if os.write(fd, os.urandom(size)) < size:  # zeros might take no room
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        except OSError:
            os.close(fd)
            raise
        return fd

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

    def names(self, folder: Path) -> list[str]:
        """What stands in a folder, in any order."""
        return os.listdir(folder)

    def look(self, path: Path) -> os.stat_result:
        """What a name stands for; a link for itself."""
        return os.lstat(path)

    def open(self, path: Path, follow: bool) -> int:
        """Open for reading, without waiting for anybody: a pipe or device is not held up by."""
        flags = os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK | (0 if follow else os.O_NOFOLLOW)
        return os.open(path, flags)

    def status(self, fd: int) -> os.stat_result:
        return os.fstat(fd)

    def read(self, fd: int, size: int, at: int) -> bytes:
        """At most so many bytes from a place on; fewer only where the file ends."""
        return os.pread(fd, size, at)

    def close(self, fd: int) -> None:
        os.close(fd)
