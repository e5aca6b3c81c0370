"""Cells: show one, list them, check files, choose one on a running recorder."""

from __future__ import annotations

from argparse import Namespace
from typing import TextIO

from ..errors import BadInput
from .common import Commands, add, cell_of, cells_of, only_ascii, practice_folder, print_json, rows, width_of


def register(commands: Commands) -> None:
    group = commands.add_parser(
        "cell", help="show, list and check cells, or choose one while recording", description="Work with cells."
    )
    group.set_defaults(run=lambda options, out, err: print(group.format_help(), end="", file=out) or 0, parser=group)
    verbs = group.add_subparsers(title="commands", metavar="COMMAND", parser_class=type(group))

    show = add(verbs, "show", run_show, "print a cell as tablature with its strokes and grid", json_too=True)
    show.add_argument("cell", metavar="CELL", help="a cell file, or the name of a cell")
    show.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")

    add(verbs, "list", run_list, "list the cells of the practice folder and the shipped ones", json_too=True)

    check = add(verbs, "check", run_check, "say of each file whether it is sound", json_too=True)
    check.add_argument("files", metavar="FILE", nargs="+", help="cell files")

    use = add(verbs, "use", run_use, "tell the running recorder which cell is practised from now on")
    use.add_argument("cell", metavar="CELL", nargs="+", help="a cell file, the name of a cell, or a folder of cells")
    use.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")


def run_show(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..console.tab import tab_lines
    from ..files.config import cell_to_dict

    cell = cell_of(options, options.cell)
    if options.json:
        print_json({**cell_to_dict(cell), "variant": cell.variant}, out)
    else:
        print(*tab_lines(cell, width_of(out), only_ascii(out)), sep="\n", file=out)
    return 0


def run_list(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..files.config import load_cell
    from .common import known_files

    folder = practice_folder(options)
    told, broken = [], []
    for name, path in known_files(folder, "cell").items():
        try:
            cell = load_cell(path)
        except BadInput as error:
            broken.append(str(error))
            continue
        told.append(
            {
                "name": name,
                "title": cell.name,
                "path": str(path),
                "slots": len(cell.slots),
                "strings": list(cell.strings),
                "variants": list(cell.variants),
            }
        )
    if options.json:
        print_json(told, out)
    elif told:
        table = [["name", "slots", "strings", "variants"]]
        for one in told:
            strings = " ".join(map(str, one["strings"]))  # type: ignore[call-overload]
            table.append([str(one["name"]), str(one["slots"]), strings, ", ".join(one["variants"])])  # type: ignore[arg-type]
        print(*rows(table, right=(1,)), sep="\n", file=out)
    else:
        print(f"{folder.cells} holds no cells", file=out)
    for line in broken:
        print(f"livecheck: {line}", file=err)
    return BadInput.exit_status if broken else 0


def run_check(options: Namespace, out: TextIO, err: TextIO) -> int:
    """Every file is looked at; status 2 where one is not sound."""
    from ..files.config import load_cell

    told = []
    for path in options.files:
        try:
            load_cell(path)
            told.append({"path": path, "sound": True, "why": None})
        except BadInput as error:
            told.append({"path": path, "sound": False, "why": str(error)})
    if options.json:
        print_json(told, out)
    else:
        for one in told:
            print(f"{one['path']}: sound" if one["sound"] else one["why"], file=out)
    return 0 if all(one["sound"] for one in told) else BadInput.exit_status


def run_use(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..control import Client
    from .live import as_told

    cells = cells_of(options, options.cell, None, err)
    Client(practice_folder(options).root).ask({"command": "cells", "cells": as_told(cells)})
    names = [cell.name + (f", {cell.variant}" if cell.variant else "") for cell in cells]
    print("from now on: " + ("one of " if len(names) > 1 else "") + "; ".join(names), file=out)
    return 0
