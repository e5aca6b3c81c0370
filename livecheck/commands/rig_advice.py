"""What the suggestions for delay and gate have in common: the rig they are about, the takes judged
for them, how they are offered."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from io import StringIO
from typing import Any, TextIO

from ..core.events import Extra, ExtraTold, Midi, Record, RepDone, Repetition, UseRig
from ..core.rig import Gate, Rig
from ..files.config import rig_to_dict
from .choice import Choice, rig_of
from .judging import judged, take_of
from .rig_file import Writing, agreed, write_rig
from .rig_input import records_of


def recorded_rig(choice: Choice, take: str) -> Rig:
    """The rig named, else the one the take was recorded with, else the folder's own, else the usual
    one."""
    named = rig_of(choice)
    if named is not None:
        return named
    for record in records_of(choice, take):
        if isinstance(record, UseRig):
            return record.rig
    return rig_of(choice, own=True) or Rig()


def rig_to_write(choice: Choice, recorded: Rig) -> Rig:
    """The rig that a suggestion goes into: the one named, else the folder's own if it fits, else
    the one recorded."""
    own = rig_of(choice, own=True)
    return own if own is not None and len(own.channels) == len(recorded.channels) else recorded


def judged_takes(
    choice: Choice, takes: Sequence[str], gate: Gate | None = None, also: list[Record] | None = None
) -> tuple[list[Repetition], list[Extra]]:
    """Repetitions of all takes, and what lies outside of them; with another gate where one is
    given.

    also: takes up every record that is no message.
    """
    reps: list[Repetition] = []
    outside: list[Extra] = []
    for name in takes:
        _, outcomes = judged(_passed(take_of(choice, name).records, gate, also))
        reps += [one.repetition for one in outcomes if isinstance(one, RepDone)]
        outside += [one.extra for one in outcomes if isinstance(one, ExtraTold) and one.rep is None]
    return reps, outside


def _passed(
    records: Iterable[Record], gate: Gate | None, also: list[Record] | None
) -> Iterator[Record]:
    for record in records:
        if gate is not None and isinstance(record, UseRig):
            record = replace(record, rig=replace(record.rig, gate=gate))
        if also is not None and not isinstance(record, Midi):
            also.append(record)
        yield record


def part_of(data: dict[str, Any], keys: tuple[str, ...]) -> dict[str, Any]:
    return {key: data[key] for key in keys if key in data}


def offer(
    writing: Writing, rig: Rig, keys: tuple[str, ...], out: TextIO, quiet: bool = False
) -> None:
    """Show what stands in the rig file with the suggestion; write it only where agreed to.

    quiet: show and ask nothing.
    """
    said = StringIO() if quiet else out
    for key, value in part_of(rig_to_dict(rig), keys).items():
        text = (
            ", ".join(f"{name}: {part}" for name, part in value.items())
            if isinstance(value, dict)
            else value
        )
        told = f"{{{text}}}" if isinstance(value, dict) else str(text)
        print(f"Suggested for the rig file:  {key}: {told}", file=said)
    if (writing.agreed or not quiet) and agreed(writing, said):
        write_rig(writing.path, rig, said)
