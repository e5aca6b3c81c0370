"""The terminal as a surface for finished lines: the alternate screen, entered and left cleanly.

rich knows the terminal's colours and honours NO_COLOR. The size is read from the terminal for each frame, so that a
resized window needs no signal.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from types import TracebackType
from typing import TextIO

from rich.console import Console
from rich.live import Live

from .lines import Frame, Line


class Screen:
    """``with Screen(stream, environment) as screen: screen.show(lines, size)``."""

    def __init__(self, stream: TextIO, environment: Mapping[str, str]) -> None:
        self._stream = stream
        kept = {key: value for key, value in environment.items() if key not in ("COLUMNS", "LINES")}
        self._console = Console(file=stream, force_terminal=True, legacy_windows=False, highlight=False, _environ=kept)
        self._live = Live(
            console=self._console, screen=True, auto_refresh=False, redirect_stdout=False, redirect_stderr=False
        )

    def __enter__(self) -> Screen:
        self._live.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._live.stop()

    def size(self) -> tuple[int, int]:
        """Columns and rows just now."""
        try:
            width, height = os.get_terminal_size(self._stream.fileno())
        except (OSError, ValueError):
            return 80, 24
        return (width, height) if width and height else (80, 24)

    def show(self, lines: list[Line], size: tuple[int, int]) -> None:
        """Draw a frame that fills the screen."""
        self._console.size = size
        self._live.update(Frame(lines), refresh=True)
