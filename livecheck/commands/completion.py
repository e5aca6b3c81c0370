"""Completion in the shell: names of cells, rigs and sessions, where the extra *complete* is
installed.

The shell runs the program once for each Tab; the library (argcomplete) reads the declared commands
and options, and asks here for names. Nothing is made or changed.
"""

from __future__ import annotations

import argparse
from argparse import ArgumentParser, Namespace
from collections.abc import Iterator

from ..files.library import PracticeFolder
from .choice import known_files


def complete(program: ArgumentParser) -> None:
    """Answer the shell and end the process; returns where the library is not installed."""
    try:
        import argcomplete
    except ImportError:
        return
    for parser in _parsers(program):
        for action in parser._actions:
            kinds = str(action.metavar).split("|")
            if NAMES.keys() & set(kinds):
                action.completer = _Names(kinds)  # type: ignore[attr-defined]
    argcomplete.autocomplete(program)


def _parsers(program: ArgumentParser) -> Iterator[ArgumentParser]:
    yield program
    for action in program._actions:
        if isinstance(action, argparse._SubParsersAction):
            for child in action.choices.values():
                yield from _parsers(child)


class _Names:
    """Completes what an argument may be, by the words of its place: CELL, RIG, SESSION, FILE."""

    def __init__(self, kinds: list[str]) -> None:
        self._kinds = kinds

    def __call__(self, prefix: str, parsed_args: Namespace, **_: object) -> list[str]:
        from argcomplete.completers import FilesCompleter

        folder = PracticeFolder.find(parsed_args.home, make=False)
        found = [name for kind in self._kinds if kind in NAMES for name in NAMES[kind](folder)]
        return [name for name in found if name.startswith(prefix)] or list(FilesCompleter()(prefix))


def _sessions(folder: PracticeFolder) -> list[str]:
    return ["last", *(path.name for path in folder.session_paths())]


NAMES = {
    "CELL": lambda folder: list(known_files(folder, "cell")),
    "RIG": lambda folder: list(known_files(folder, "rig")),
    "SESSION": _sessions,
}
