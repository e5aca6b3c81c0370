"""Files that appear whole or not at all.

Each is written under a name that nobody can foresee, made exclusively, so that neither a link nor
another file is ever written through; brought to the medium; and then given its own name in the
place of whatever stood there. Nothing stays behind where that fails.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

SHARED = 0o666  # the umask says what is taken off


class Put(Protocol):
    """Writes one of several files; its name comes when all are written."""

    def __call__(self, path: Path, data: bytes) -> None: ...


def write_whole(path: Path, data: bytes, *, mode: int | None = 0o600, lasting: bool = True) -> None:
    """Write one file. mode: as for ``os.open``; None: that of the file in whose place it comes,
    else as any program makes one. lasting: wait until it would survive a power cut. Raises
    OSError."""
    with together(mode=mode, lasting=lasting) as put:
        put(path, data)


@contextlib.contextmanager
def together(*, mode: int | None = 0o600, lasting: bool = True) -> Iterator[Put]:
    """Write several files, which get their names when the block ends; none where it raises.

    Raises OSError.
    """
    made: list[tuple[Path, Path]] = []

    def put(path: Path, data: bytes) -> None:
        temporary = path.with_name(f".{secrets.token_hex(12)}.part")
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC
        fd = os.open(temporary, flags, SHARED if mode is None else mode)
        made.append((temporary, path))
        try:
            if mode is None:
                _as_before(fd, path)
            left = memoryview(data)
            while left:
                left = left[os.write(fd, left) :]
            if lasting:
                os.fsync(fd)
        finally:
            os.close(fd)

    try:
        yield put
        for temporary, path in made:
            os.replace(temporary, path)
        if lasting:
            for folder in {path.parent for _, path in made}:
                sync_folder(folder)
    finally:
        for temporary, _ in made:
            with contextlib.suppress(OSError):  # it has its name, or the disk refuses this, too
                temporary.unlink()


def _as_before(fd: int, path: Path) -> None:
    with contextlib.suppress(OSError):  # nothing stands there
        before = os.lstat(path)
        if stat.S_ISREG(before.st_mode):
            os.fchmod(fd, stat.S_IMODE(before.st_mode))


def sync_folder(folder: Path) -> None:
    """Bring a folder's names to the medium. A file system that cannot is no reason to fail."""
    with contextlib.suppress(OSError):
        fd = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)
