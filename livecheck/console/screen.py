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

from rich.color import ColorSystem
from rich.console import Console
from rich.control import Control
from rich.segment import Segment

from ..core.plain_text import clean
from ..report.outlet import raw
from .lines import Line
from .palette import NORMAL

_COLOURS = {
    "standard": ColorSystem.STANDARD,
    "256": ColorSystem.EIGHT_BIT,
    "truecolor": ColorSystem.TRUECOLOR,
}


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
        self._colours = _COLOURS.get(self._console.color_system or "")
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
        sent = []
        if size != self._size:
            sent.append(str(Control.clear()))
            self._size, self._shown = size, []
        for row, line in enumerate(lines):
            if row >= len(self._shown) or (
                line is not self._shown[row] and line != self._shown[row]
            ):
                sent.append(str(Control.move_to(0, row)))
                sent += map(self._drawn, _cleaned(line))
        self._shown = lines
        if sent:
            self._console.file.write("".join(sent))
            self._console.file.flush()

    def _drawn(self, segment: Segment) -> str:
        """A piece of a line as the terminal wants it."""
        text, style = segment.text, segment.style
        if style is None or style is NORMAL:
            return text
        if self._console.no_color:
            style = style.without_color
        return style.render(text, color_system=self._colours)


def _cleaned(line: Line) -> Line:
    """The line as it may be sent to a terminal, whatever texts it was made of."""
    if all(segment.text.isprintable() for segment in line):
        return line
    return [segment._replace(text=clean(segment.text)) for segment in line]
