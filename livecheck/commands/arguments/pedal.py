"""Options of commands that obey gestures and pedals, and how `livecheck pedal learn` is called."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError, BooleanOptionalAction

from ...core.actions import ACTIONS
from ...core.pedal import Pedal, switch_from
from ...errors import BadInput
from .common import Commands, add, add_driver, add_group, positive


def pedal(text: str) -> tuple[Pedal, bool, str]:
    """``control 64=up``; with ``2x`` in front for two presses."""
    switch, equals, action = (part.strip() for part in text.rpartition("="))
    if not equals or action not in ACTIONS:
        raise ArgumentTypeError(
            f"{text!r} maps no pedal; write 'control 64=up' with one of: {', '.join(ACTIONS)}"
        )
    try:
        return (*switch_from(switch), action)
    except BadInput as error:
        raise ArgumentTypeError(str(error)) from error


def add_hands(parser: ArgumentParser, usual: str) -> None:
    """Gestures, pedals and the sounds that answer them. usual: whether gestures are obeyed where
    nothing is said of them."""
    parser.add_argument(
        "--gestures",
        action=BooleanOptionalAction,
        help="obey what the guitar itself asks for, as configs/settings.yaml has it (lowest string "
        f"open twice, three times, four times: again, faster, slower); {usual}",
    )
    parser.add_argument(
        "--pedal",
        metavar="SWITCH=ACTION",
        type=pedal,
        action="append",
        help="a switch, 'control 64=up' or 'program 3 channel 16=again'; '2x control 64=stop' for "
        "two presses; may be said again, and kept by `livecheck pedal learn`",
    )
    parser.add_argument(
        "--pedal-port",
        metavar="TEXT",
        help="MIDI input of the pedal: part of its name; without it the guitar's",
    )


def register(commands: Commands) -> None:
    verbs = add_group(
        commands, "pedal", "say which switch asks for what", "Pedals and other switches."
    )
    learn = add(
        verbs,
        "learn",
        "pedal:run_learn",
        "press a switch, and see or keep what it is",
        "Without ACTION it only says which message came. With one it is written into "
        "configs/settings.yaml, which `climb` and `listen` obey.",
        json_too=True,
    )
    learn.add_argument(
        "action", metavar="ACTION", nargs="?", choices=ACTIONS, help=", ".join(ACTIONS)
    )
    learn.add_argument("--twice", action="store_true", help="ask for it by two quick presses")
    learn.add_argument(
        "--any-channel", action="store_true", help="obey the switch on whatever channel it comes"
    )
    learn.add_argument("--port", metavar="TEXT", help="MIDI input of the pedal: part of its name")
    learn.add_argument(
        "--with-guitar",
        action="store_true",
        help="the pedal comes in at the guitar's own port: keep no port for it",
    )
    add_driver(learn)
    learn.add_argument(
        "--seconds", metavar="N", type=positive, default=30.0, help="wait so long for it (30)"
    )
