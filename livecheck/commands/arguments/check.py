"""Say what works here."""

from __future__ import annotations

from .common import Commands, add


def register(commands: Commands) -> None:
    about = "say what works here, what does not, and the remedy"
    more = "Nothing is changed or made. Exit status 2 where practice cannot go on as things stand."
    add(commands, "check", "check:run_check", about, more, json_too=True)
