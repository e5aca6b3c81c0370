"""What may stand in the place of a file, or befall it, or the disk that it is on."""

from __future__ import annotations

import errno
import os
import socket
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any
from zlib import crc32

from livecheck.files.disk import Disk
from livecheck.files.lines import body_of, line_of

STAND_INS = ("pipe", "device", "dangling", "link", "folder", "socket")


def stand_in(path: Path, what: str, elsewhere: Path) -> None:
    """Put something into the place of a file that is not there. elsewhere: what a link leads to; it
    is made with the bytes ``mine``."""
    if what == "pipe":
        os.mkfifo(path)
    elif what == "device":
        _device(path)
    elif what == "dangling":
        path.symlink_to(elsewhere.with_name("nowhere"))
    elif what == "link":
        elsewhere.write_bytes(b"mine")
        path.symlink_to(elsewhere)
    elif what == "folder":
        path.mkdir()
    else:
        here = os.getcwd()
        os.chdir(path.parent)  # a socket's name may have some hundred bytes
        try:
            with socket.socket(socket.AF_UNIX) as made:
                made.bind(path.name)
        finally:
            os.chdir(here)


def _device(path: Path) -> None:
    """An endless one, where the right to make one is there."""
    try:
        os.mknod(path, stat.S_IFCHR | 0o600, os.makedev(1, 5))
    except OSError:
        path.symlink_to("/dev/zero")


class FaultyReads(Disk):
    """Everything that reads files whose path holds a text fails, from the n-th such call on: once,
    or for good.

    calls: the kinds of call that fail: names, look, open, status, read.
    """

    def __init__(
        self,
        calls: tuple[str, ...],
        code: int = errno.EIO,
        where: str = "",
        nth: int = 1,
        for_good: bool = True,
    ) -> None:
        self.calls, self.code, self.where = calls, code, where
        self.nth, self.for_good = nth, for_good
        self.seen = 0
        self.open_here: set[int] = set()

    def _may_fail(self, call: str, here: bool) -> None:
        if call not in self.calls or not here:
            return
        self.seen += 1
        if self.seen == self.nth or (self.for_good and self.seen > self.nth):
            raise OSError(self.code, os.strerror(self.code))

    def names(self, folder: Path) -> list[str]:
        self._may_fail("names", self.where in str(folder))
        return super().names(folder)

    def look(self, path: Path) -> os.stat_result:
        self._may_fail("look", self.where in str(path))
        return super().look(path)

    def open(self, path: Path, follow: bool) -> int:
        self._may_fail("open", self.where in str(path))
        fd = super().open(path, follow)
        self.open_here.discard(fd)
        if self.where in str(path):
            self.open_here.add(fd)
        return fd

    def status(self, fd: int) -> os.stat_result:
        self._may_fail("status", fd in self.open_here)
        return super().status(fd)

    def read(self, fd: int, size: int, at: int) -> bytes:
        self._may_fail("read", fd in self.open_here)
        return super().read(fd, size, at)


# ------------------------------------------------------------------- damage of a session's journal

HEAD_FIELDS = {
    "format": "livecheck-journal/1",
    "file": 1,
    "wall": "2026-11-01T18:03:11+01:00",
    "perf": 0,
    "boot": "",
    "program": "",
}
PERF_NS = 5_000_000_000_000  # of the sessions that tests write


def crafted(*lines: tuple[str, int, dict[str, Any]], **head: Any) -> bytes:
    """A journal whose checksums are right, of (type, time, fields)."""
    all_lines = [("head", PERF_NS, {**HEAD_FIELDS, "perf": PERF_NS, **head}), *lines]
    return b"".join(line_of(at, body_of(*line)) for at, line in enumerate(all_lines))


def raw(json_text: str) -> bytes:
    """A line with the right checksum over any text."""
    text = json_text.encode("utf-8", "surrogatepass")
    return b"%08x %b\n" % (crc32(text), text)


Damage = Callable[[bytes], bytes]

DAMAGES: dict[str, Damage] = {
    "nothing in it": lambda good: b"",
    "a byte": lambda good: b"x",
    "cut in the middle": lambda good: good[: len(good) // 2],
    "a byte turned": lambda good: good[:900] + bytes([good[900] ^ 1]) + good[901:],
    "no head": lambda good: b"x" + good[1:],
    "zeros": lambda good: bytes(len(good)),
    "zeros behind": lambda good: good + bytes(1 << 20),
    "only an end": lambda good: crafted(("stop", PERF_NS, {"why": "x"})),
    "nothing to save in front": lambda good: b"damaged\n" * 5,
    "empty lines": lambda good: good + b"\n" * 3_000_000,
    "short lines": lambda good: good + b"x\n" * 500_000,
    "a line without end": lambda good: good + b"x" * 5_000_000,
    "newer format": lambda good: crafted(format="livecheck-journal/2"),
    "version of 4,000 digits": lambda good: crafted(format=f"livecheck-journal/{'9' * 4000}"),
    "version of 5,000 digits": lambda good: raw(
        '{"seq":0,"t":0,"type":"head","format":"livecheck-journal/' + "9" * 5000 + '"}'
    ),
    "a clock of 5,000 digits": lambda good: (
        raw(
            '{"seq":0,"t":0,"type":"head","format":"livecheck-journal/1","wall":"2026-11-25",'
            '"perf":' + "9" * 5000 + "}"
        )
        + good
    ),
    "a clock beyond a float": lambda good: crafted(perf=10**400),
    "a clock below nothing": lambda good: crafted(perf=-(10**30)),
    "a year of nine digits": lambda good: crafted(wall="999999999-01-01T00:00:00+01:00"),
    "the year 1": lambda good: crafted(("stop", PERF_NS, {"why": ""}), wall="0001-01-01T00:00:00"),
    "the year 9999": lambda good: crafted(
        ("stop", PERF_NS, {"why": ""}), wall="9999-12-31T23:59:59-23:59"
    ),
    "a time that is none": lambda good: crafted(wall="yesterday"),
    "a wall that is no text": lambda good: crafted(wall=7),
    "the latest time": lambda good: good + crafted(("stop", (1 << 63) - 1, {"why": ""})),
    "a number of the highest": lambda good: (
        good + line_of((1 << 63) - 1, body_of("mark", PERF_NS, {"text": "x"}))
    ),
    "gaps with absurd counts": lambda good: crafted(
        *(
            ("gap", PERF_NS, {"dropped": 10**digits, "why": "x"})
            for digits in (5, 18, 19, 300, 4200)
        ),
        ("gap", PERF_NS, {"dropped": -5, "why": "x"}),
        ("gap", PERF_NS, {"dropped": True, "why": "x"}),
        ("stop", PERF_NS, {"why": ""}),
    ),
    "clicks with absurd numbers": lambda good: crafted(
        ("click", PERF_NS, {"beat": 10**300, "bpm": 1e308}),
        ("click", PERF_NS, {"beat": -(10**300), "bpm": -1e308}),
        ("click", PERF_NS + 1, {"beat": 0, "bpm": 0.0}),
        ("stop", PERF_NS, {"why": ""}),
    ),
    "not a number": lambda good: (
        good + raw('{"seq":9,"t":5000000000000,"type":"click","beat":NaN,"bpm":Infinity}')
    ),
    "nested deep": lambda good: (
        good + raw('{"seq":9,"t":0,"type":"mark","text":' + "[" * 50_000 + "]" * 50_000 + "}")
    ),
    "a rig of nonsense": lambda good: crafted(
        ("rig", PERF_NS, {"rig": {"name": "x", "channels": [10**300], "bend_range": 1e308}}),
        ("rig", PERF_NS, {"rig": None}),
        ("cells", PERF_NS, {"cells": [None, 7, {"name": 1e308}]}),
        ("cells", PERF_NS, {"cells": {}}),
        ("stop", PERF_NS, {"why": ""}),
    ),
    "texts that act on a terminal": lambda good: crafted(
        ("link", PERF_NS, {"up": True, "port": "\x1b[2Jhex\r\nconverter\u202e"}),
        ("mark", PERF_NS, {"text": "\x1b]0;title\x07\x9b31m\u2028mark"}),
        ("midi", PERF_NS, {"data": "903c40"}),
        ("stop", PERF_NS, {"why": "\x1b[31mred"}),
    ),
}
"""What befalls a journal's bytes."""
