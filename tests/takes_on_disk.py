"""Takes of the built-in player as MIDI files and as sessions."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from livecheck.core.events import Midi, Record, Stop, UseCells, UseRig
from livecheck.files.journal import Journal
from livecheck.files.lines import Head
from livecheck.files.records import to_dict
from livecheck.player.takes import Take, make_take

PERF_NS = 5_000_000_000_000
HEAD = Head("2026-11-25T18:03:11+01:00", PERF_NS, "boot", "test")


def take_on_whole_ms(seed: int, mix: str = "everything") -> Take:
    """A take whose messages come at whole milliseconds, which a MIDI file holds exactly."""
    take = make_take(seed, mix)
    take.records[:] = [
        Midi(round(record.t_s * 1000) / 1000, record.data) for record in take.records
    ]
    return take


def records_of(take: Take) -> list[Record]:
    """What a session that records the take holds."""
    end_s = take.records[-1].t_s
    return [
        UseRig(0.0, take.rig),
        UseCells(0.0, (take.cell,)),
        *take.records,
        Stop(end_s, "the take is over"),
    ]


def append(journal: Journal, records: Iterable[Record]) -> None:
    for record in records:
        fields = to_dict(record)
        kind = fields.pop("type")
        assert journal.append(kind, PERF_NS + round(record.t_s * 1e9), fields)


def write_session(folder: Path, records: Iterable[Record]) -> Path:
    """A session folder with these records in its journal."""
    journal = Journal.create(folder, HEAD)
    append(journal, records)
    journal.close()
    return folder
