"""The kind of argument that maps a pedal, and the command that asks for an action."""

from __future__ import annotations

from argparse import ArgumentTypeError

from ...core.actions import ACTIONS
from ...core.pedal import Pedal, pedal_from
from ...errors import BadInput


def pedal(text: str) -> tuple[Pedal, bool, str]:
    """``control 64=up``; with ``2x`` in front for two presses."""
    switch, equals, action = (part.strip() for part in text.rpartition("="))
    if not equals or action not in ACTIONS:
        raise ArgumentTypeError(
            f"{text!r} maps no pedal; write 'control 64=up' with one of: {', '.join(ACTIONS)}"
        )
    twice = switch.startswith("2x ")
    try:
        return pedal_from(switch.removeprefix("2x ")), twice, action
    except BadInput as error:
        raise ArgumentTypeError(str(error)) from error
