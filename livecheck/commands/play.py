"""Practice: the demonstration with the built-in player, listening to a converter, the ports there
are."""

from __future__ import annotations

from argparse import Namespace
from shlex import quote
from typing import TextIO

from ..errors import BadInput
from .common import (
    Commands,
    add,
    cell_of,
    cells_of,
    file_of,
    practice_folder,
    print_json,
    program_name,
    rig_of,
    rows,
)
from .live import DRIVERS, add_console, add_input, add_rest, add_silence, record_and_show, recording
from .rig_hint import print_hint

DEMO_S = 60.0


def register(commands: Commands) -> None:
    demo = add(
        commands,
        "demo",
        run_demo,
        "let the built-in player practise for a minute; no guitar needed",
        "A simulated guitarist and converter go through the same chain as yours would: recorder, journal, judgment, "
        "console.",
    )
    demo.add_argument(
        "cell", metavar="CELL", nargs="?", help="what it plays; else a figure of six notes"
    )
    demo.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")
    add_console(demo)
    demo.set_defaults(seconds=DEMO_S)

    listen = add(
        commands,
        "listen",
        run_listen,
        "record a cell as you practise it, and show what happens to every note",
        "Keys: q ends, m sets a mark, f shows large figures to be read from afar.",
    )
    listen.add_argument(
        "cell",
        metavar="CELL",
        nargs="+",
        help="a cell file, or the name of a cell (`livecheck cell list`); of several, or a folder of them, the one "
        "that is played is recognised",
    )
    listen.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")
    add_input(listen)
    add_console(listen)
    add_rest(listen)
    add_silence(listen)

    ports = add(commands, "ports", run_ports, "list the MIDI ports that send", json_too=True)
    ports.add_argument(
        "--driver", choices=DRIVERS, help="MIDI system; on Linux alsa where it is there, else jack"
    )


def run_demo(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..player.demo import CELL, demo_rig, feed_command

    if options.cell is None and options.variant is not None:
        raise BadInput("--variant needs a CELL: the demo's own figure has none")
    cell = CELL if options.cell is None else cell_of(options, options.cell)
    file = None if options.cell is None else file_of(options, options.cell, "cell").absolute()
    source = feed_command(options.seconds, cell=file, variant=cell.variant)
    told = recording(options, practice_folder(options).root, (cell,), demo_rig(cell), source)
    folder = record_and_show(told, options, out)
    if folder is not None:
        print(*_what_next(options.home), sep="\n", file=out)
    return 0


def _what_next(home: str | None) -> list[str]:
    me = program_name()
    where = f" --home {quote(home)}" if home else ""
    table = [
        [f"  {me} replay last{where} --speed 4", "the same once more, faster"],
        [f"  {me} score last{where}", "each repetition of it in a line"],
        [f"  {me} cell list", "the figures that are there"],
        [f"  {me} check", "what your own guitar still needs"],
        [f"  {me} listen six-over-four", "your own playing"],
    ]
    return ["That was the built-in player. What to try next:", *rows(table)]


def run_listen(options: Namespace, out: TextIO, err: TextIO) -> int:
    rig = rig_of(options, own=True)
    cells = cells_of(options, options.cell, rig, err)
    told = recording(options, practice_folder(options).root, cells, rig)
    folder = record_and_show(told, options, out)
    if folder is not None:
        print_hint(options, out)
    return 0


def run_ports(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..daemon.drivers import chosen_api
    from ..daemon.ports import plain_name, usable
    from .midi_system import ask

    api = chosen_api(options.driver)
    names = ask("ports", api)
    fit = set(usable(names))
    if options.json:
        told = [{"name": plain_name(name), "usable": at in fit} for at, name in enumerate(names)]
        print_json({"driver": api, "ports": told}, out)
    elif not names:
        print(f"{api} knows no port that sends: plug the converter in and switch it on", file=out)
    else:
        for at, name in enumerate(names):
            print(
                plain_name(name) + ("" if at in fit else "  (no converter: passed over)"), file=out
            )
    return 0
