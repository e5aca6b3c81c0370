"""Practice: the demonstration with the built-in player, listening to a converter, the ports there
are."""

from __future__ import annotations

from .click import add_click, add_part
from .common import Commands, add, add_console, add_driver, add_input, add_rest, add_silence
from .pedal import add_hands

DEMO_S = 60.0


def register(commands: Commands) -> None:
    demo = add(
        commands,
        "demo",
        "demo:run_demo",
        "let the built-in player practise for a minute; no guitar needed",
        "A simulated guitarist and converter go through the same chain as yours would: recorder, "
        "journal, judgment, console.",
    )
    demo.add_argument(
        "cells", metavar="CELL", nargs="?", help="what it plays; else a cell of seven notes"
    )
    demo.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")
    add_console(demo)
    demo.set_defaults(seconds=DEMO_S)

    listen = add(
        commands,
        "listen",
        "listen:run_listen",
        "record a cell as you practise it, and show what happens to every note",
        "Keys: q ends, m sets a mark, f shows it large, to be read from afar; n says that the next "
        "take begins with a down stroke, v with an up stroke; c and C go to the next cell and "
        "back, w and W to the next variant and back; u, d, a, p: the click faster, slower, once "
        "more from its count-in, paused.",
    )
    listen.add_argument(
        "cells",
        metavar="CELL",
        nargs="+",
        help="a cell file, or the name of a cell (`livecheck cell list`); of several, or a folder "
        "of them, the one that is played is recognised",
    )
    listen.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")
    listen.add_argument(
        "--lone-pick",
        action="store_true",
        help="a note that is none of the cell's, picked alone with a second of silence before and "
        "after, says that the take begins with a down stroke; picked twice, with an up stroke",
    )
    add_input(listen)
    add_click(listen)
    add_hands(listen, "off unless it is said")
    listen.add_argument(
        "--cues",
        action="store_true",
        help="after each stretch of play sound what came of it, in a second of silence: clean, "
        "failed, a string sounded",
    )
    listen.add_argument(
        "--cue-port",
        metavar="TEXT",
        help="MIDI output for cues and answers; without it the click's",
    )
    add_part(listen, "--start")
    add_console(listen)
    add_rest(listen)
    add_silence(listen)

    ports = add(
        commands, "ports", "ports:run_ports", "list the MIDI ports that send", json_too=True
    )
    add_driver(ports)
