"""Tables of tries as bytes, for keeping them on disk, and many of them joined again.

Counts are kept in the smallest whole numbers that hold them, sums as 32-bit floats. A table read
back is the same whether it was kept a year or a moment, since every table goes this way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import prod
from typing import Any

import numpy as np

from .table import PLACES, ROW_COLUMNS, Tries

NUMBERS = ("take", "sitting", "day", "parity", "begun", "delay_known")
SUMS = ("minute", "bpm", "cv_sum", "timing_sum", "attack_sum")
GIVEN = ("sitting", "day")  # whoever joins tables says these anew
KEPT = tuple(name for name in ROW_COLUMNS if name not in GIVEN)
MANY_ROWS = 50_000
"""Joined tables longer than this are held in 32-bit floats: a thousand hours in some 100 MB."""


@dataclass(frozen=True, slots=True)
class Packed:
    """One table. ``layout``: (column, type, shape) in the order of the bytes, in plain values."""

    slot_strings: tuple[int, ...]
    rows: int
    layout: tuple[tuple[str, str, tuple[int, ...]], ...]
    data: bytes


def pack(tries: Tries) -> Packed:
    """The table as bytes; sitting and day are left out."""
    layout, parts = [], []
    for name in (*KEPT, *PLACES):
        column = getattr(tries, name)
        kept = column.astype("<f4" if name in SUMS else _smallest(column))
        layout.append((name, kept.dtype.str, kept.shape))
        parts.append(kept.tobytes())
    return Packed(tries.slot_strings, len(tries.bpm), tuple(layout), b"".join(parts))


def _smallest(column: np.ndarray) -> str:
    most = float(column.max(initial=0))
    return "|u1" if most < 256 else "<u2" if most < 65536 else "<u4"


def checked(layout: Any, data: bytes, slot_strings: Any, rows: Any) -> Packed:
    """A table as it was read from somewhere. Raises ValueError where it cannot be one."""
    told = tuple(
        (str(name), str(kind), tuple(int(side) for side in shape)) for name, kind, shape in layout
    )
    strings = tuple(int(string) for string in slot_strings)
    if tuple(name for name, _, _ in told) != (*KEPT, *PLACES) or not strings:
        raise ValueError("columns are not those of a table")
    size = 0
    for name, kind, shape in told:
        if kind not in ("|u1", "<u2", "<u4", "<f4") or min(shape) < 0:
            raise ValueError(f"{name}: no kind of column")
        if name in KEPT and shape[0] != rows:
            raise ValueError(f"{name}: another number of rows")
        size += prod(shape) * int(kind[2])
    if size != len(data):
        raise ValueError("too short or too long")
    return Packed(strings, int(rows), told, data)


def joined(tables: Sequence[Packed], sittings: Sequence[int], days: Sequence[int]) -> Tries:
    """Tables of the same figure under each other, each with its sitting and day; their takes stay
    different.

    Raises ValueError where there is none, or where the figures have other slots or strings.
    """
    if not tables:
        raise ValueError("no tables to join")
    shapes = {
        (table.slot_strings, tuple((name, shape[1:]) for name, _, shape in table.layout))
        for table in tables
    }
    if len(shapes) > 1:
        raise ValueError("tables of different figures cannot be joined")
    rows = sum(table.rows for table in tables)
    sums = np.float32 if rows > MANY_ROWS else np.float64
    columns: dict[str, np.ndarray] = {}
    for name, _, shape in tables[0].layout:
        if name in KEPT:
            columns[name] = np.empty((rows, *shape[1:]), np.int32 if name in NUMBERS else sums)
        else:
            columns[name] = np.zeros(shape)
    start = takes = 0
    for table in tables:
        end, at = start + table.rows, 0
        for name, kind, shape in table.layout:
            size = prod(shape)
            column: np.ndarray = np.frombuffer(table.data, kind, size, at).reshape(shape)
            at += size * int(kind[2])
            if name == "take":
                column = takes + column.astype(np.int32)
            if name in KEPT:
                columns[name][start:end] = column
            else:
                columns[name] += column
        takes = int(columns["take"][start:end].max(initial=takes - 1)) + 1
        start = end
    lengths = [table.rows for table in tables]
    return Tries(
        slot_strings=tables[0].slot_strings,
        sitting=np.repeat(np.asarray(sittings, np.int32), lengths),
        day=np.repeat(np.asarray(days, np.int32), lengths),
        **columns,
    )
