"""The terminal as a surface for finished lines: the alternate screen, entered and left cleanly.

rich knows the terminal's colours and honours NO_COLOR. Only lines that changed are sent, each frame
in one write. The size is read from the terminal for each frame, so that a resized window needs no
signal.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from types import TracebackType
from typing import TextIO

from rich.console import Console
from rich.control import Control

from ..core.plain_text import clean
from ..report.outlet import raw
from .lines import Frame, Line


class Screen:
    """``with Screen(stream, environment) as screen: screen.show(lines, size)``."""

    def __init__(self, stream: TextIO, environment: Mapping[str, str]) -> None:
        self._stream = stream
        kept = {key: value for key, value in environment.items() if key not in ("COLUMNS", "LINES")}
        self._console = Console(
            file=raw(stream),
            force_terminal=True,
            legacy_windows=False,
            highlight=False,
            _environ=kept,
        )
        self._size = (0, 0)
        self._shown: list[Line] = []

    def __enter__(self) -> Screen:
        self._console.set_alt_screen(True)
        self._console.show_cursor(False)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        # some terminals keep what stood there when the window was resized
        self._console.control(Control.clear())
        self._console.set_alt_screen(False)
        self._console.show_cursor(True)

    def size(self) -> tuple[int, int]:
        """Columns and rows just now."""
        try:
            width, height = os.get_terminal_size(self._stream.fileno())
        except (OSError, ValueError):
            return 80, 24
        return (width, height) if width and height else (80, 24)

    def show(self, lines: list[Line], size: tuple[int, int]) -> None:
        """Draw a frame that fills the screen."""
        console = self._console
        with console:  # holds everything back until the frame is complete
            if size != self._size:
                console.size = size
                console.control(Control.clear())
                self._size, self._shown = size, []
            for row, line in enumerate(lines):
                if row >= len(self._shown) or line != self._shown[row]:
                    console.control(Control.move_to(0, row))
                    console.print(Frame([_cleaned(line)]), end="", soft_wrap=True)
        self._shown = lines


def _cleaned(line: Line) -> Line:
    """The line as it may be sent to a terminal, whatever texts it was made of."""
    if all(segment.text.isprintable() for segment in line):
        return line
    return [segment._replace(text=clean(segment.text)) for segment in line]
