"""What a command is about, made once of what was typed: practice folder, cells, variant, rig,
sessions; and how that is found on disk."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from ..core.cell import AS_WRITTEN, Cell
from ..core.rig import Rig
from ..errors import BadInput
from ..files.config import load_cell, load_rig
from ..files.library import SHIPPED, PracticeFolder
from ..files.near import near_names
from ..files.paths import path_of

OWN_RIG = "rig.yaml"  # in configs/: the rig that is used where none is named
MOST_CELLS = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Names as they were typed; another choice is made of it by ``dataclasses.replace``."""

    home: str | None = None
    cells: tuple[str, ...] = ()
    variant: str | None = None
    rig: str | None = None
    sessions: tuple[str, ...] = ()  # MIDI files, too
    last: int | None = None
    since: str | None = None
    until: str | None = None
    command: str = ""  # as it is called

    @classmethod
    def of(cls, options: Namespace) -> Choice:
        """What was typed; of what the command does not take, nothing."""
        typed = vars(options)
        return cls(
            home=typed.get("home"),
            cells=_names(typed.get("cells")),
            variant=typed.get("variant"),
            rig=typed.get("rig"),
            sessions=_names(typed.get("sessions")),
            last=typed.get("last"),
            since=typed.get("since"),
            until=typed.get("until"),
            command=typed["parser"].prog if "parser" in typed else "",
        )

    @property
    def cell(self) -> str | None:
        """The cell named by commands that take one."""
        return self.cells[0] if self.cells else None


def _names(typed: str | Iterable[str] | None) -> tuple[str, ...]:
    if typed is None:
        return ()
    return (typed,) if isinstance(typed, str) else tuple(typed)


def practice_folder(choice: Choice) -> PracticeFolder:
    """The practice folder that is meant; a new one is made."""
    return PracticeFolder.find(choice.home)


def cell_of(choice: Choice, name: str, rig: Rig | None = None) -> Cell:
    """A cell by its file or by its name among the folder's and the shipped ones, in the variant
    asked for.

    A cell without a tuning takes the rig's. Raises BadInput with what is near.
    """
    return _in_variant([_as_written(choice, name, rig)], choice.variant)[0]


def _as_written(choice: Choice, name: str, rig: Rig | None) -> Cell:
    return load_cell(file_of(choice, name, "cell"), rig.tuning if rig is not None else None)


def _in_variant(cells: Sequence[Cell], variant: str | None) -> tuple[Cell, ...]:
    """Those that have the variant asked for, in it, the others as written. Raises BadInput where
    none has it."""
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


def cells_of(choice: Choice, rig: Rig | None, err: TextIO) -> tuple[Cell, ...]:
    """The cells by file or name, a folder giving all that are in it. Several are told apart by what
    is played.

    A folder's cells that the rig has no strings for are left out, which is said; those that have
    the variant asked for are played in it. Raises BadInput.
    """
    found: list[Cell] = []
    for name in choice.cells:
        if not os.path.isdir(path_of(name)):
            found.append(_as_written(choice, name, rig))
            continue
        paths = sorted(path_of(name).glob("*.y*ml"))
        if not paths:
            raise BadInput(f"{name}: the folder holds no cell file (.yaml)")
        for path in paths:
            cell = _as_written(choice, str(path), rig)
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
    return _in_variant(found, choice.variant)


def rig_of(choice: Choice, own: bool = False) -> Rig | None:
    """The rig that was named, by its file or name; None where none is.

    own: where none is named take the practice folder's own ``configs/rig.yaml`` if there is one.
    """
    if choice.rig is not None:
        return load_rig(file_of(choice, choice.rig, "rig"))
    if own and (path := own_rig_path(choice)).exists():
        return load_rig(path)
    return None


def own_rig_path(choice: Choice) -> Path:
    """The practice folder's own rig, which is used where none is named."""
    return practice_folder(choice).root / "configs" / OWN_RIG


def file_of(choice: Choice, name: str, kind: str) -> Path:
    """The YAML file that is meant. A name that looks like a path is taken as one."""
    given = path_of(name)
    if given.suffix in (".yaml", ".yml") or os.path.exists(given) or len(given.parts) > 1:
        return given
    folder = practice_folder(choice)
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
    known: dict[str, Path] = {}
    for place in (SHIPPED / f"{kind}s", folder.cells if kind == "cell" else folder.rigs):
        known.update({path.stem: path for path in sorted(place.glob("*.y*ml"))})
    return known


def plain(name: str) -> str:
    """A name as it is compared: however it is spelt."""
    return "-".join(name.lower().split())
