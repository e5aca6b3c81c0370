"""What may stand in the place of a file, or befall it."""

from __future__ import annotations

import os
import socket
from pathlib import Path

STAND_INS = ("pipe", "device", "dangling", "link", "folder", "socket")


def stand_in(path: Path, what: str, elsewhere: Path) -> None:
    """Put something into the place of a file that is not there. elsewhere: what a link leads to; it
    is made with the bytes ``mine``."""
    if what == "pipe":
        os.mkfifo(path)
    elif what == "device":
        path.symlink_to("/dev/zero") if os.getuid() else _zero(path)
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


def _zero(path: Path) -> None:
    """An endless device, where the right to make one is there."""
    import stat

    try:
        os.mknod(path, stat.S_IFCHR | 0o600, os.makedev(1, 5))
    except OSError:
        path.symlink_to("/dev/zero")
