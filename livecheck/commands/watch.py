"""Showing what a running recorder hears."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import TextIO

from ..control import Client
from ..core.playing import BUILT_IN
from .choice import Choice, practice_folder
from .live import Showing, show_sessions

OPENING = "A recorder that runs by itself is shown; q ends only the showing."


def run_watch(options: Namespace, out: TextIO, err: TextIO) -> int:
    """Show one session after the other, until the viewer or the recorder ends it."""
    client = Client(practice_folder(Choice.of(options)).root)
    status = client.ask({"command": "status"})
    session, own = status["session"], status["link"]["port"] != BUILT_IN
    first = None if session is None else Path(session)
    show_sessions(first, client, Showing.of(options, OPENING), out, own=own)
    if not client.is_there():
        print("The recorder has ended.", file=out)
    return 0
