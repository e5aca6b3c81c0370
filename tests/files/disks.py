"""Disks that fail on purpose, for the journal's tests."""

from __future__ import annotations

import errno
import os
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

from livecheck.files.disk import Disk

BLOCK = 4096
CALLS = (
    "make_folder",
    "create",
    "write",
    "truncate",
    "size",
    "links",
    "sync",
    "sync_folder",
    "remove",
    "close",
)


class FaultyDisk(Disk):
    """Works until the n-th call of one kind, which fails: once, or with every later one of that
    kind.

    fault: an error's name (``ENOSPC``), ``short`` (half is written and no error given), ``lying``
    (all is written, and an error given).
    """

    def __init__(self, call: str, nth: int, fault: str, for_good: bool) -> None:
        self.call, self.nth, self.fault, self.for_good = call, nth, fault, for_good
        self.seen = 0
        self.open_fds: set[int] = set()

    def _fails(self, call: str) -> bool:
        if call != self.call:
            return False
        self.seen += 1
        return self.seen == self.nth or (self.for_good and self.seen > self.nth)

    def write(self, fd: int, data: bytes) -> int:
        if self._fails("write"):
            if self.fault == "short":
                return super().write(fd, data[: len(data) // 2])
            if self.fault == "lying":
                super().write(fd, data)
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            raise self._error()
        return super().write(fd, data)

    def create(self, path: Path) -> int:
        if self._fails("create"):
            raise self._error()
        fd = super().create(path)
        self.open_fds.add(fd)
        return fd

    def close(self, fd: int) -> None:
        self.open_fds.discard(fd)
        super().close(fd)
        if self._fails("close"):
            raise self._error()

    def _error(self) -> OSError:
        code = getattr(errno, self.fault)
        return OSError(code, os.strerror(code))


def _failing(call: str) -> Callable[..., Any]:
    def method(self: FaultyDisk, *given: Any) -> Any:
        if self._fails(call):
            raise self._error()
        return getattr(Disk, call)(self, *given)

    return method


for _call in ("make_folder", "truncate", "size", "links", "sync", "sync_folder", "remove"):
    setattr(FaultyDisk, _call, _failing(_call))


class PowerCutDisk(Disk):
    """Remembers what has reached the medium, and can lay out what a power cut would leave
    behind."""

    def __init__(self) -> None:
        self.paths: dict[int, Path] = {}
        self.content: dict[Path, bytearray] = {}
        self.synced: dict[Path, int] = {}  # bytes that are safe
        self.named: set[Path] = set()  # files whose names are safe

    def create(self, path: Path) -> int:
        fd = super().create(path)
        self.paths[fd] = path
        self.content[path] = bytearray()
        self.synced[path] = 0
        return fd

    def write(self, fd: int, data: bytes) -> int:
        self.content[self.paths[fd]] += data
        return super().write(fd, data)

    def truncate(self, fd: int, length: int) -> None:
        del self.content[self.paths[fd]][length:]
        super().truncate(fd, length)

    def sync(self, fd: int) -> None:
        path = self.paths[fd]
        self.synced[path] = len(self.content[path])

    def sync_folder(self, folder: Path) -> None:
        self.named |= {path for path in self.content if path.parent == folder}

    def power_cut(self, folder: Path, chance: random.Random) -> None:
        """Write into a folder what is left: all that was synced, and any part of the blocks written
        after that."""
        folder.mkdir()
        for path, content in self.content.items():
            if path not in self.named and chance.random() < 0.5:
                continue
            safe = self.synced[path]
            left = bytearray(content[: chance.randint(safe, len(content))])
            for start in range(safe - safe % BLOCK, len(left), BLOCK):
                if chance.random() < 0.5:
                    begin, end = max(start, safe), min(start + BLOCK, len(left))
                    left[begin:end] = bytes(end - begin)
            (folder / path.name).write_bytes(left)


class SmallDisk(Disk):
    """Has room for so many bytes; what does not fit is written as far as it does, then refused.
    What is reserved takes room until it is closed."""

    def __init__(self, room: int) -> None:
        self.room = room
        self.reserved: dict[int, int] = {}

    def reserve(self, folder: Path, size: int) -> int:
        if size > self.room:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        fd = os.open(os.devnull, os.O_WRONLY)
        self.room -= size
        self.reserved[fd] = size
        return fd

    def write(self, fd: int, data: bytes) -> int:
        if self.room <= 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        written = super().write(fd, data[: self.room])
        self.room -= written
        return written

    def truncate(self, fd: int, length: int) -> None:
        self.room += self.size(fd) - length
        super().truncate(fd, length)

    def close(self, fd: int) -> None:
        self.room += self.reserved.pop(fd, 0)
        super().close(fd)
