"""Small journals for tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from livecheck.core.cell import make_cell
from livecheck.core.events import Mark, Midi, Record, Stop, UseCells, UseRig
from livecheck.core.rig import Rig
from livecheck.files.journal import Head, Journal
from livecheck.files.records import to_dict

ZERO_NS = 5_000_000_000
HEAD = Head("2026-11-25T18:03:11.250000+01:00", ZERO_NS, "boot", "0.1.0")
CELL = make_cell("two", [(2, 10), (3, 12, None, 2), 1])


def records(notes: int) -> list[Record]:
    """A short sitting: rig, cell, so many note-ons 50 ms apart, a mark, the end."""
    times = [round(0.1 + 0.05 * index, 3) for index in range(notes + 1)]
    played = [
        Midi(t_s, bytes([0x90 + index % 6, 40 + index % 40, 80]))
        for index, t_s in enumerate(times[:-1])
    ]
    return [
        UseRig(0.0, Rig()),
        UseCells(0.0, (CELL,)),
        *played,
        Mark(times[-1], "go"),
        Stop(times[-1] + 1, "asked to"),
    ]


def clock_ns(t_s: float) -> int:
    return ZERO_NS + round(t_s * 1e9)


def append(journal: Journal, t_ns: int, record: Record) -> bool:
    """Write one record; its own ``t_s`` is left aside for the clock reading."""
    fields = to_dict(record)
    return journal.append(fields.pop("type"), t_ns, fields)


def write(folder: Path, given: list[Record], head: Head = HEAD, **options: Any) -> Journal:
    """Write a whole journal; returns it closed."""
    journal = Journal.create(folder, head, **options)
    for record in given:
        assert append(journal, clock_ns(record.t_s), record)
    journal.close()
    return journal
