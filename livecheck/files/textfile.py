"""The player's own files, written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

from ..errors import BadInput
from .atomic import write_whole


def put_text(path: Path, text: str) -> None:
    """Write a file in the place of the one that may be there: UTF-8, line ends as they stand."""
    put_bytes(path, text.encode("utf-8"))


def put_bytes(path: Path, data: bytes) -> None:
    """Write a file in the place of the one that may be there; at every moment one of them is whole.

    Folders on the way are made. Raises BadInput where it cannot be written.
    """
    target = Path(os.path.realpath(path))  # a link stays one
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        write_whole(target, data, mode=None)
    except OSError as error:
        raise BadInput(f"{path}: cannot be written: {error.strerror or error}") from error
