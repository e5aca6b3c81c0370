"""Features as bytes, to be kept: the same to the last bit when they are read again."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from .features import COLUMNS, Features, Figure

_WHOLE = frozenset(("rep", "take", "sitting", "day"))


def pack(features: Features) -> tuple[dict[str, Any], bytes]:
    """What they are about and how their columns lie, for JSON; and the columns."""
    columns, parts = [], []
    for name in COLUMNS:
        column = np.ascontiguousarray(getattr(features, name), np.float64)
        columns.append([name, list(column.shape)])
        parts.append(column.tobytes())
    return {"of": asdict(features.figure), "columns": columns}, b"".join(parts)


def unpack(layout: dict[str, Any], data: bytes) -> Features:
    """Raises KeyError, TypeError or ValueError where layout and data are not of ``pack``."""
    of, at, columns = layout["of"], 0, {}
    for name, shape in layout["columns"]:
        count = int(np.prod(shape))
        column = np.frombuffer(data, np.float64, count, at).reshape(shape)
        at += 8 * count
        columns[name] = column.astype(int) if name in _WHOLE else column
    figure = Figure(
        of["strings"],
        tuple(of["slot_strings"]),
        tuple(of["starts"]),
        of["steps"],
        tuple(of["slurred"]),
    )
    return Features(figure, **columns)
