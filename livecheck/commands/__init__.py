"""The commands: what each does when it runs. How it is called stands in ``arguments/``.

A function named there takes what was typed, the output and the error output. It makes a ``Choice``
and what else it needs of what was typed at once; nothing below it sees the parsed arguments.
"""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Callable
from importlib import import_module
from typing import Any, TextIO

Run = Callable[[Namespace, TextIO, TextIO], int]
"""A command: what was typed, output, error output; returns the exit status or raises
LivecheckError."""


def resolve(name: str) -> Callable[..., Any]:
    """The function of ``"module:function"`` below this package, loaded now."""
    # for numpy, before it is loaded: tables this small are only slowed down by threads of its own
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    module, _, function = name.partition(":")
    run: Callable[..., Any] = getattr(import_module(f".{module}", __name__), function)
    return run
