"""Start another module of this program as a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

PIPE, DEVNULL = subprocess.PIPE, subprocess.DEVNULL
_PACKAGE = Path(__file__).resolve().parents[2]


def start(
    command: Sequence[str], *, stdin: Any = DEVNULL, stdout: Any = DEVNULL, stderr: Any = DEVNULL
) -> subprocess.Popen[bytes]:
    """Start a command that finds this package and belongs to no terminal: a Ctrl-C there is not
    meant for it."""
    paths = [str(_PACKAGE), *filter(None, [os.environ.get("PYTHONPATH")])]
    return subprocess.Popen(
        list(command),
        stdin=stdin,
        stdout=stdout,
        stderr=stderr,
        bufsize=0,
        start_new_session=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
    )


def module(name: str, *words: str) -> list[str]:
    """The command that runs a module under this interpreter."""
    return [sys.executable, "-m", name, *words]


def at_port(name: str, driver: str | None, port: str | None) -> list[str]:
    """The command of a module that owns a MIDI port."""
    words = [f"--driver={driver}"] if driver else []
    words += [f"--port={port}"] if port else []
    return module(name, *words)
