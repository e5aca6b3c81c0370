"""A recorder that runs by itself, and what is said to it while it runs."""

from __future__ import annotations

from ...core.actions import ACTIONS
from .common import Commands, add, add_console, add_input, add_rest, add_silence


def register(commands: Commands) -> None:
    daemon = add(
        commands,
        "daemon",
        "daemon:run_daemon",
        "record everything that is played, without a screen, until told to stop",
        "Waits for the converter where it is not there yet. A session begins with the first note "
        "and ends after a long silence. SIGHUP reads cell, rig and settings again.",
    )
    daemon.add_argument(
        "cells",
        metavar="CELL",
        nargs="*",
        help="what is practised; it may be said later by `cell use`; of several, or a folder of "
        "them, the one that is played is recognised",
    )
    daemon.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")
    add_input(daemon)
    add_silence(daemon)
    daemon.add_argument(
        "--print-unit",
        nargs="?",
        choices=("systemd", "launchd"),
        const=True,
        help="print the file with which systemd or launchd (this system's where none is named) "
        "starts it, do nothing",
    )

    watch = add(
        commands,
        "watch",
        "watch:run_watch",
        "show what a running recorder hears",
        "From the start of the session on, and the next one after it. Any number of them may "
        "watch; none disturbs the recorder.",
    )
    add_console(watch)
    add_rest(watch)

    about = "set a mark in the session that is being recorded"
    ask = add(
        commands,
        "ask",
        "recorder:run_ask",
        "ask a running `climb` or `listen` for something: faster, slower, another cell, a pause, "
        "the end",
    )
    ask.add_argument("action", metavar="ACTION", choices=ACTIONS, help=", ".join(ACTIONS))

    mark = add(commands, "mark", "recorder:run_mark", about)
    mark.add_argument("text", metavar="TEXT", nargs="+", help="what to remember")

    variant = add(
        commands,
        "variant",
        "recorder:run_variant",
        "tell the running recorder which variant is played from now on",
    )
    variant.add_argument(
        "name",
        metavar="NAME",
        nargs="?",
        help="`as written`, or nothing, for the cell's own strokes",
    )

    about = "say what the running recorder is doing"
    add(commands, "status", "recorder:run_status", about, json_too=True)
    add(commands, "stop", "recorder:run_stop", "end the running recorder in good order")
