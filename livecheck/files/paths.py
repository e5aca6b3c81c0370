"""Paths as a player writes them."""

from __future__ import annotations

from pathlib import Path

from ..errors import BadInput


def path_of(text: str) -> Path:
    """The path that is meant, ``~`` and ``~name`` being home folders. Raises BadInput where there
    is no such account."""
    path = Path(text)
    try:
        return path.expanduser()
    except RuntimeError as error:
        whose = path.parts[0]
        raise BadInput(
            f"{text}: the home folder of {whose} is not known here; write the path in full, or "
            f"./{whose} for a name that begins with ~"
        ) from error


def home_folder() -> Path:
    """The user's own. Raises BadInput where the system knows none."""
    try:
        return Path.home()
    except RuntimeError as error:
        raise BadInput(
            "this account has no home folder: name the practice folder by --home or LIVECHECK_HOME"
        ) from error
