"""Cells: show one, list them, check files, choose one on a running recorder."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TextIO

from ..control import Client
from ..core.picking import second_repetition
from ..core.plain_text import clean
from ..errors import BadInput
from ..files.config import cell_to_dict, load_cell
from ..files.paths import path_of
from ..report.cell_remarks import facts, remarks
from ..report.tablature import tab_lines
from .choice import Choice, cell_of, cells_of, file_of, known_files, practice_folder
from .common import hung, only_ascii, print_json, rows, width_of
from .record import as_told


def run_show(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    cell = cell_of(choice, choice.cells[0])
    if options.json:
        print_json({**cell_to_dict(cell), "variant": cell.variant}, out)
    else:
        print(*tab_lines(cell, width_of(out), only_ascii(out)), sep="\n", file=out)
    return 0


def run_list(options: Namespace, out: TextIO, err: TextIO) -> int:
    folder = practice_folder(Choice.of(options))
    told: list[dict[str, Any]] = []
    broken = []
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
                "tempo": cell.tempo_bpm,
                "slots": len(cell.slots),
                "strings": list(cell.strings),
                "variants": list(cell.variants),
            }
        )
    if options.json:
        print_json(told, out)
    elif told:
        print(*_listed(told, out), sep="\n", file=out)
    else:
        print(f"{folder.cells} holds no cells", file=out)
    for line in broken:
        print(f"livecheck: {line}", file=err)
    return BadInput.exit_status if broken else 0


def _listed(told: Sequence[Mapping[str, Any]], out: TextIO) -> Iterator[str]:
    """A line a cell; titles and variants below it where the terminal is too narrow for them."""
    heads = ["name", "title", "bpm", "notes", "strings", "variants"]
    table = [heads]
    for one in told:
        tempo = "" if one["tempo"] is None else f"{one['tempo']:g}"
        strings, variants = " ".join(map(str, one["strings"])), ", ".join(one["variants"])
        title = clean(one["title"])
        table.append([one["name"], title, tempo, str(one["slots"]), strings, variants])
    lines = rows(table, right=(2, 3))
    if not out.isatty() or max(map(len, lines)) < width_of(out):
        yield from lines
        return
    short = rows([[name, *more[1:-1]] for name, *more in table], right=(1, 2))
    for (_, title, *_, variants), line in zip(table, short):
        yield line
        if line is not short[0]:
            yield from hung("    ", title + (f"; variants: {variants}" if variants else ""), out)


def run_check(options: Namespace, out: TextIO, err: TextIO) -> int:
    """Every cell is looked at; status 2 where one is not sound."""
    choice = Choice.of(options)
    told: list[dict[str, Any]] = []
    for path in (path for name in options.cells for path in _files(choice, name)):
        one: dict[str, Any] = {
            "path": path,
            "sound": False,
            "why": None,
            "second": None,
            "facts": [],
            "notes": [],
        }
        try:
            cell = load_cell(path)
            one |= {
                "sound": True,
                "second": second_repetition(cell),
                "facts": facts(cell),
                "notes": remarks(cell),
            }
        except BadInput as error:
            one["why"] = str(error)
        told.append(one)
    if options.json:
        print_json(told, out)
    else:
        for one in told:
            head = f"{one['path']}: sound" if one["sound"] else one["why"]
            print(*hung("", head, out), sep="\n", file=out)
            for line in [one["second"], *one["facts"]] if one["sound"] else []:
                print(*hung("  ", line, out), sep="\n", file=out)
            for note in one["notes"]:
                print(*hung("  remark: ", note, out), sep="\n", file=out)
    return 0 if all(one["sound"] for one in told) else BadInput.exit_status


def _files(choice: Choice, name: str) -> list[str]:
    """The file that is meant, or all cell files of a folder. Raises BadInput where it holds none,
    and for a name that no cell has."""
    folder = path_of(name)
    if not os.path.isdir(folder):
        return [str(file_of(choice, name, "cell"))]
    if found := sorted(folder.glob("*.y*ml")):
        return [str(path) for path in found]
    raise BadInput(f"{name}: the folder holds no cell file (.yaml)")


def run_use(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    cells = cells_of(choice, None, err)
    Client(practice_folder(choice).root).ask({"command": "cells", "cells": as_told(cells)})
    names = [cell.name + (f", {cell.variant}" if cell.variant else "") for cell in cells]
    print("from now on: " + ("one of " if len(names) > 1 else "") + "; ".join(names), file=out)
    return 0
