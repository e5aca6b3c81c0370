"""Cells: show one, list them, check files, choose one on a running recorder."""

from __future__ import annotations

from .cell_learn import declare_learn
from .cell_notation import declare_export, declare_import
from .cell_plan import declare_plan
from .cell_vary import declare_vary
from .common import Commands, add, add_group


def register(commands: Commands) -> None:
    verbs = add_group(
        commands,
        "cell",
        "show, list and check cells, or choose one while recording",
        "Work with cells.",
    )
    show = add(
        verbs,
        "show",
        "cell:run_show",
        "print a cell as tablature with its strokes and grid",
        json_too=True,
    )
    show.add_argument("cells", metavar="CELL", help="a cell file, or the name of a cell")
    show.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")

    about = "list the cells of the practice folder and the shipped ones"
    add(verbs, "list", "cell:run_list", about, json_too=True)

    about = "say of each cell whether its file is sound, and what it asks of the hands"
    check = add(verbs, "check", "cell:run_check", about, json_too=True)
    check.add_argument(
        "cells",
        metavar="CELL",
        nargs="+",
        help="cell files, names of cells, or folders of cells",
    )

    declare_learn(verbs)
    declare_plan(verbs)
    declare_import(verbs)
    declare_export(verbs)
    declare_vary(verbs)

    about = "tell the running recorder which cell is practised from now on"
    use = add(verbs, "use", "cell:run_use", about)
    use.add_argument(
        "cells",
        metavar="CELL",
        nargs="+",
        help="a cell file, the name of a cell, or a folder of cells",
    )
    use.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")
