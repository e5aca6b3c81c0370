"""Text files written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import shutil
from pathlib import Path

from ..errors import BadInput


def put_text(path: Path, text: str) -> None:
    """Write a file in the place of the one that may be there: UTF-8, line ends as they stand."""
    put_bytes(path, text.encode("utf-8"))


def put_bytes(path: Path, data: bytes) -> None:
    """Write a file in the place of the one that may be there; at every moment one of them is whole.

    Folders on the way are made. Raises BadInput where it cannot be written.
    """
    target = Path(os.path.realpath(path))  # a link stays one
    temporary = target.with_name(f"{target.name}.{os.getpid()}.part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with open(temporary, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            shutil.copymode(target, temporary)
        os.replace(temporary, target)
    except OSError as error:
        with contextlib.suppress(OSError):  # a disk that is read-only refuses this, too
            temporary.unlink(missing_ok=True)
        raise BadInput(f"{path}: cannot be written: {error.strerror or error}") from error
