"""Text on its way out: everything that a command prints goes through here, line by line.

Names of ports, files and folders, marks and titles come from elsewhere; none may act on the
terminal, forge a line or turn the order of reading. So one ``write`` is one line: what it holds
besides the line break at its end is cleaned. Whoever draws on a terminal asks for the stream itself
by ``raw`` and cleans what it draws.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TextIO, cast

from ..core.plain_text import clean


class Outlet:
    """A text stream whose lines are cleaned; else as the stream that it writes to."""

    def __init__(self, stream: TextIO) -> None:
        self.raw = stream

    def write(self, text: str) -> int:
        """Write a text of one line, or only line breaks."""
        if not text.isprintable() and text.strip("\n"):
            line, end = (text[:-1], "\n") if text.endswith("\n") else (text, "")
            self.raw.write(clean(line) + end)
        else:
            self.raw.write(text)
        return len(text)

    def writelines(self, lines: Iterable[str]) -> None:
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.raw, name)


def outlet(stream: TextIO) -> TextIO:
    """The stream, cleaned; once is enough."""
    return stream if isinstance(stream, Outlet) else cast(TextIO, Outlet(stream))


def raw(stream: TextIO) -> TextIO:
    """The stream itself, for whoever knows what acts on a terminal."""
    return stream.raw if isinstance(stream, Outlet) else stream


def clean_lines(text: str) -> str:
    """A text of several lines, each of them cleaned."""
    return "\n".join(map(clean, text.split("\n")))


def print_text(text: str, out: TextIO) -> None:
    """Print a text of our own of several lines."""
    for line in text.rstrip("\n").split("\n"):
        print(line, file=out)
