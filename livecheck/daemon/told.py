"""What a command to the recorder may say: checked before anything is changed or written down."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from ..core.cell import AS_WRITTEN
from ..errors import BadInput
from ..files.lines import MAX_LINE
from ..files.records import from_dict

MARK_CHARACTERS = 500
MOST_BYTES = MAX_LINE - (64 << 10)  # of a command that is written down as one record


def mark_text(text: Any) -> str:
    """The text of a mark. Raises BadInput."""
    if not isinstance(text, str) or not text.strip():
        raise BadInput("mark: a text is needed")
    if len(text) > MARK_CHARACTERS:
        raise BadInput(f"mark: {len(text)} characters; at most {MARK_CHARACTERS}")
    return text.strip()


def cells_told(cells: Any) -> list[dict[str, Any]]:
    """Cells that can be practised. Raises BadInput."""
    if not isinstance(cells, list):
        raise BadInput("cells: a list of cells is needed")
    from_dict({"type": "cells", "cells": cells}, 0.0)
    if len(json.dumps(cells)) > MOST_BYTES:
        raise BadInput(f"cells: too much for one record; at most {MOST_BYTES >> 10} KB")
    return [dict(cell) for cell in cells]


def in_variant(cells: Sequence[Mapping[str, Any]], name: Any) -> list[dict[str, Any]]:
    """Cells in the variant of a name, those that have none of that name as written. Raises
    BadInput."""
    if name is not None and not isinstance(name, str):
        raise BadInput("variant: a name is needed")
    known = sorted({variant for cell in cells for variant in cell.get("variants") or {}})
    if name == AS_WRITTEN and name not in known:
        name = None
    if name is not None and name not in known:
        raise BadInput(
            f"no cell in use has a variant {name!r}; there is: {', '.join([AS_WRITTEN, *known])}"
        )
    return [
        {**cell, "variant": name if name in (cell.get("variants") or {}) else None}
        for cell in cells
    ]


def block_told(fields: Mapping[str, Any]) -> dict[str, Any]:
    """A block of repetitions, without the word that names the command. Raises BadInput."""
    told = {name: value for name, value in fields.items() if name != "command"}
    from_dict({"type": "block", **told}, 0.0)
    if len(json.dumps(told)) > MARK_CHARACTERS:
        raise BadInput(f"block: at most {MARK_CHARACTERS} characters")
    return told
