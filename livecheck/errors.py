"""Kinds of trouble that a person can mend, each with the exit status it ends the program with.

The text of an error is one line for people: what is wrong, where, and how to mend it. A fault of
our own is any other exception; it keeps its traceback in the log and ends with status 1.
"""

from __future__ import annotations


class LivecheckError(Exception):
    """Something that can be told in one line."""

    exit_status = 1


class BadInput(LivecheckError):
    """A file, an argument or a command that cannot be used as it stands."""

    exit_status = 2


class NoDevice(LivecheckError):
    """No MIDI driver, no matching port, or nothing is listening."""

    exit_status = 3
