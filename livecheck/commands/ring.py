"""Which cell or variant comes next where the player asks for another one."""

from __future__ import annotations

from collections.abc import Sequence

from ..core.actions import VARIANTS
from ..core.cell import Cell
from ..core.rig import Rig
from ..errors import BadInput
from ..files.config import load_cell, rig_for
from .choice import Choice, known_files, practice_folder


class Ring:
    """The cells that were named, or where only one was, those of `livecheck cell list`, one after
    the other and round again."""

    def __init__(self, choice: Choice, cells: Sequence[Cell], rig: Rig | None) -> None:
        self._named = {cell.name: cell for cell in cells}
        self._several = len(cells) > 1
        self._folder = practice_folder(choice)
        self._rig = rig

    def step(self, cell: Cell | None, action: str) -> Cell:
        """The one that comes next, or before. Raises BadInput where there is no other."""
        back = action.startswith("previous")
        if action in VARIANTS:
            return _other_variant(cell, back)
        cells = list(self._named.values()) if self._several else self._known()
        names = [one.name for one in cells]
        own = None if cell is None else cell.parent or cell.name
        others = [one for one in cells if one.name != own]
        if not others:
            raise BadInput("there is no other cell that fits this rig")
        at = names.index(own) if own in names else (0 if back else -1)
        return cells[(at + (-1 if back else 1)) % len(cells)]

    def _known(self) -> list[Cell]:
        found: dict[str, Cell] = {}
        tuning = self._rig.tuning if self._rig is not None else None
        for path in known_files(self._folder, "cell").values():
            try:
                cell = load_cell(path, tuning)
                rig_for(cell, self._rig)
            except BadInput:
                continue  # `livecheck check` tells of it
            found.setdefault(cell.name, self._named.get(cell.name, cell))
        return list(found.values())


def _other_variant(cell: Cell | None, back: bool) -> Cell:
    if cell is None:
        raise BadInput("no cell is played")
    names: list[str | None] = [None, *sorted(cell.variants)]
    if len(names) == 1:
        raise BadInput(f"cell {cell.name!r} has no variants")
    return cell.with_variant(names[(names.index(cell.variant) + (-1 if back else 1)) % len(names)])
