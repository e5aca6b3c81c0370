"""Files of the program's own (lock, logs), opened so that nobody else can make it write elsewhere.

The folder may be another account's, as the temporary folder is, or hold what somebody put there: a
link is never followed, a file of another account or with a second name is refused.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path


def open_own(path: Path, flags: int) -> int:
    """Open an ordinary file of this account, made for it alone where it is not there; its folder,
    too. Raises OSError."""
    own_folder(path.parent)
    fd = os.open(path, flags | os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK, 0o600)
    try:
        found = os.fstat(fd)
        if not stat.S_ISREG(found.st_mode):
            raise PermissionError(1, "is no ordinary file")
        if found.st_uid != os.getuid() or found.st_nlink != 1:
            raise PermissionError(1, "is not this account's own file, or has a second name")
    except OSError:
        os.close(fd)
        raise
    return fd


def own_folder(folder: Path, *, private: bool = False) -> None:
    """Make sure that a folder is there and this account's own, and no link. private: and that
    nobody else can put anything there. Raises OSError."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    found = os.lstat(folder)
    if not stat.S_ISDIR(found.st_mode) or found.st_uid != os.getuid():
        raise PermissionError(1, f"{folder} is not this account's own folder")
    if private and stat.S_IMODE(found.st_mode) != 0o700:
        os.chmod(folder, 0o700)
