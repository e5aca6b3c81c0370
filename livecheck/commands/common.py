"""What the commands share: how they are declared, cells and rigs by file or name, output as
JSON."""

from __future__ import annotations

import argparse
import json
import os
import shutil
import sys
import textwrap
from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from ..core.cell import AS_WRITTEN
from ..errors import BadInput
from ..files.near import near_names

if TYPE_CHECKING:
    from ..core.cell import Cell
    from ..core.rig import Rig
    from ..files.library import PracticeFolder

Commands = Any  # what ArgumentParser.add_subparsers returns; its class is private
Run = Callable[[Namespace, TextIO, TextIO], int]
"""A command: options, output, error output; returns the exit status or raises LivecheckError."""

OWN_RIG = "rig.yaml"  # in configs/: the rig that is used where none is named
NARROWEST, WIDEST = 60, 200
MOST_CELLS = 32


def add(
    commands: Commands, name: str, run: Run, about: str, more: str = "", json_too: bool = False
) -> ArgumentParser:
    """Declare one command: its name, what runs it, one sentence for the list, more for its own
    help."""
    parser: ArgumentParser = commands.add_parser(
        name,
        help=about,
        description=f"{about[0].upper()}{about[1:]}. {more}".strip(),
        allow_abbrev=False,
    )
    parser.set_defaults(run=run, parser=parser)
    # the defaults stand at the top: a verb's must not undo what its group was given
    kept: Any = argparse.SUPPRESS
    parser.add_argument(
        "--home",
        metavar="DIR",
        default=kept,
        help="practice folder, instead of the current one or LIVECHECK_HOME",
    )
    if json_too:
        parser.add_argument(
            "--json", action="store_true", default=kept, help="print JSON for other programs"
        )
    return parser


def positive(text: str) -> float:
    """An argument that must be a number above 0."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.0 < value < 1e9:
        raise argparse.ArgumentTypeError(f"{text!r} is no number above 0")
    return value


def practice_folder(options: Namespace) -> PracticeFolder:
    """The practice folder that the options mean."""
    from ..files.library import PracticeFolder

    return PracticeFolder.find(options.home)


def cell_of(options: Namespace, name: str, rig: Rig | None = None) -> Cell:
    """A cell by its file or by its name among the folder's and the shipped ones, in the variant
    asked for.

    A cell without a tuning takes the rig's. Raises BadInput with what is near.
    """
    return _in_variant([_as_written(options, name, rig)], options)[0]


def _as_written(options: Namespace, name: str, rig: Rig | None) -> Cell:
    from ..files.config import load_cell

    return load_cell(file_of(options, name, "cell"), rig.tuning if rig is not None else None)


def _in_variant(cells: Sequence[Cell], options: Namespace) -> tuple[Cell, ...]:
    """Those that have the variant asked for, in it, the others as written. Raises BadInput where
    none has it."""
    variant: str | None = getattr(options, "variant", None)
    if variant == AS_WRITTEN and not any(variant in cell.variants for cell in cells):
        variant = None
    if variant is None or not cells:
        return tuple(cells)
    if not any(variant in cell.variants for cell in cells):
        whose = (
            f"cell {cells[0].name!r} has no"
            if len(cells) == 1
            else f"none of the {len(cells)} cells has a"
        )
        there = ", ".join([AS_WRITTEN, *sorted({name for cell in cells for name in cell.variants})])
        raise BadInput(f"{whose} variant {variant!r}; there is: {there}")
    return tuple(cell.with_variant(variant) if variant in cell.variants else cell for cell in cells)


def add_cells(parser: ArgumentParser, about: str) -> None:
    """Declare ``--cell``, which may be said several times: what was to be played, the cells that it
    may have been."""
    more = "; said again, or of a folder, the one that was played is recognised"
    parser.add_argument("--cell", metavar="CELL", action="append", help=about + more)


def cells_of(
    options: Namespace, names: Sequence[str], rig: Rig | None, err: TextIO
) -> tuple[Cell, ...]:
    """Cells by file or name, a folder giving all that are in it. Several are told apart by what is
    played.

    A folder's cells that the rig has no strings for are left out, which is said; those that have
    the variant asked for are played in it. Raises BadInput.
    """
    found: list[Cell] = []
    for name in names:
        if not os.path.isdir(Path(name).expanduser()):
            found.append(_as_written(options, name, rig))
            continue
        paths = sorted(Path(name).expanduser().glob("*.y*ml"))
        if not paths:
            raise BadInput(f"{name}: the folder holds no cell file (.yaml)")
        for path in paths:
            cell = _as_written(options, str(path), rig)
            if rig is not None and cell.strings[-1] > len(rig.channels):
                print(
                    f"livecheck: {path} is left out: the rig has {len(rig.channels)} channels",
                    file=err,
                )
            else:
                found.append(cell)
    if len(found) > MOST_CELLS:
        raise BadInput(
            f"{len(found)} cells are too many to tell apart while they are played; at most "
            f"{MOST_CELLS}"
        )
    return _in_variant(found, options)


def rig_of(options: Namespace, own: bool = False) -> Rig | None:
    """The rig named by ``--rig``, by its file or name; None where none is named.

    own: without ``--rig`` take the practice folder's own ``configs/rig.yaml`` where there is one.
    """
    from ..files.config import load_rig

    if options.rig is not None:
        return load_rig(file_of(options, options.rig, "rig"))
    if own:
        path = practice_folder(options).root / "configs" / OWN_RIG
        if path.exists():
            return load_rig(path)
    return None


def file_of(options: Namespace, name: str, kind: str) -> Path:
    """The YAML file that is meant. A name that looks like a path is taken as one."""
    given = Path(name).expanduser()
    if given.suffix in (".yaml", ".yml") or os.path.exists(given) or len(given.parts) > 1:
        return given
    folder = practice_folder(options)
    known = known_files(folder, kind)
    wanted = name.strip().replace(" ", "-").lower()
    if wanted in known:
        return known[wanted]
    near = near_names(wanted, known)
    if near:
        hint = f"did you mean {' or '.join(near)}?"
    else:
        hint = f"there is: {', '.join(known)}" if known else f"{folder.root / 'configs'} holds none"
    raise BadInput(f"no {kind} {name[:100]!r}; {hint}")


def known_files(folder: PracticeFolder, kind: str) -> dict[str, Path]:
    """Cell or rig files by name: the shipped ones, and the folder's, which go before them."""
    from ..files.library import SHIPPED

    known: dict[str, Path] = {}
    for place in (SHIPPED / f"{kind}s", folder.cells if kind == "cell" else folder.rigs):
        known.update({path.stem: path for path in sorted(place.glob("*.y*ml"))})
    return known


def print_json(value: object, out: TextIO) -> None:
    """One JSON value on one line."""
    print(json.dumps(value, allow_nan=False), file=out)


def program_name() -> str:
    """How this program is called from the same shell again: its name, or its path where the name
    would not find it."""
    called = sys.argv[0] if sys.argv else ""
    if os.path.basename(called) != "livecheck":
        return "livecheck"
    found = shutil.which("livecheck")
    if found is not None and os.path.realpath(found) == os.path.realpath(called):
        return "livecheck"
    return near_path(Path(called).absolute())


def near_path(path: Path) -> str:
    """A path as it is written from the current folder, where it lies below."""
    relative = os.path.relpath(path)
    return str(path) if relative.startswith(os.pardir) else relative


def full_path(name: str) -> str:
    """A file by its full path; what is only a name stays one."""
    return os.path.abspath(name) if os.path.exists(name) else name


def width_of(out: TextIO) -> int:
    """Columns to fill: the terminal's, or 80 where output goes elsewhere."""
    columns = shutil.get_terminal_size().columns if out.isatty() else 80
    return min(max(columns, NARROWEST), WIDEST)


def wrapped(text: str, out: TextIO) -> str:
    """Text in lines that a terminal need not break within a word; one line anywhere else."""
    if not out.isatty():
        return text
    return textwrap.fill(text, width_of(out) - 1, break_long_words=False, break_on_hyphens=False)


def only_ascii(out: TextIO) -> bool:
    """Whether the output cannot show more than ASCII."""
    try:
        "⊓".encode(getattr(out, "encoding", None) or "utf-8")
    except (UnicodeEncodeError, LookupError):
        return True
    return False


def rows(table: list[list[str]], right: tuple[int, ...] = ()) -> list[str]:
    """A table as lines, columns two spaces apart; ``right`` names the columns that hold numbers.

    >>> rows([["cell", "slots"], ["two", "2"]], right=(1,))
    ['cell  slots', 'two       2']
    """
    widths = [max(map(len, column)) for column in zip(*table, strict=True)]
    lines = []
    for row in table:
        placed = enumerate(zip(row, widths, strict=True))
        cells = [
            text.rjust(width) if at in right else text.ljust(width) for at, (text, width) in placed
        ]
        lines.append("  ".join(cells).rstrip())
    return lines
