"""The gate of a rig from what was recorded, and what the suggestions for delay and gate have in
common.

A suggestion is shown first. The rig is written only where the player says so.
"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from .common import Commands, add, add_cells, only_ascii, print_json, rig_of, width_of
from .rig_input import agreed, own_rig_path, records_of, write_rig

if TYPE_CHECKING:
    from ..core.events import Extra, Record, Repetition
    from ..core.rig import Rig

CELL_HELP = "what was to be played: a cell file or name (a MIDI file says none)"


def register_threshold(verbs: Commands) -> None:
    threshold = add(
        verbs,
        "threshold",
        run_threshold,
        "suggest the noise gate from recorded playing, with a picture of notes and ghosts",
        json_too=True,
    )
    threshold.add_argument(
        "takes", metavar="FILE|SESSION", nargs="+", help="MIDI files, or sessions by name or folder"
    )
    threshold.add_argument(
        "--rig", metavar="RIG", help="a rig file or name; without it the one recorded with"
    )
    add_judging(threshold)
    add_writing(threshold)


def add_judging(parser: ArgumentParser) -> None:
    """Options that say what was to be played."""
    add_cells(parser, CELL_HELP)
    parser.add_argument("--variant", metavar="NAME", help="which of the cell's ways to play it")


def add_writing(parser: ArgumentParser) -> None:
    """Options that say where a suggestion goes."""
    parser.add_argument(
        "--write", action="store_true", help="write it into configs/rig.yaml without asking"
    )
    parser.add_argument(
        "--out", metavar="FILE", help="write it to this file instead, without asking"
    )


# --------------------------------------------------------------------------------------------- gate


def run_threshold(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..core.rig import Gate
    from ..files.config import rig_to_dict
    from ..measures.noise.gates import advise_gate

    rig = recorded_rig(options, options.takes[0])
    advice = advise_gate(*judged_takes(options, options.takes, Gate(1, 0.0)))
    base = rig_to_write(options, rig)
    new = replace(base, gate=advice.gate) if advice.gate is not None else None
    if options.json:
        told = {
            "notes": len(advice.notes),
            "ghosts": len(advice.ghosts),
            "others": len(advice.others),
            "why": advice.why,
            "suggested": part_of(rig_to_dict(new), ("gate",)) if new is not None else None,
            "notes_stopped": advice.notes_stopped,
            "ghosts_passed": advice.ghosts_passed,
            "others_stopped": advice.others_stopped,
        }
        print_json(told, out)
    else:
        _print_gate(advice, rig, out)
    if new is not None:
        offer(options, new, ("gate",), out)
    return 0


def _print_gate(advice: Any, rig: Rig, out: TextIO) -> None:
    from ..console.palette import FULL, PLAIN
    from ..console.rigscreen import gate_picture

    if not advice.notes and not advice.ghosts:
        print("Nothing was played in it, so no gate can be suggested.", file=out)
        return
    signs = PLAIN if only_ascii(out) else FULL
    print(
        *gate_picture(advice.notes, advice.ghosts, advice.gate or rig.gate, width_of(out), signs),
        sep="\n",
        file=out,
    )
    print("", file=out)
    if advice.why is not None:
        print(f"No gate is suggested: {advice.why}.", file=out)
        return
    stopped, passed = advice.notes_stopped or 0.0, advice.ghosts_passed or 0.0
    line = f"Stops {100 * stopped:.1f} % of {len(advice.notes)} notes; {100 * passed:.0f} % of "
    print(f"{line}{len(advice.ghosts)} ghosts pass.", file=out)
    if advice.others:
        lost = 100 * (advice.others_stopped or 0.0)
        print(f"Of {len(advice.others)} longer unwanted sounds {lost:.0f} % are lost.", file=out)


# ------------------------------------------------------------------------------------------- shared


def recorded_rig(options: Namespace, take: str) -> Rig:
    """The rig named, else the one the take was recorded with, else the folder's own, else the usual
    one."""
    from ..core.events import UseRig
    from ..core.rig import Rig

    named = rig_of(options)
    if named is not None:
        return named
    for record in records_of(options, take):
        if isinstance(record, UseRig):
            return record.rig
    return rig_of(options, own=True) or Rig()


def rig_to_write(options: Namespace, recorded: Rig) -> Rig:
    """The rig that a suggestion goes into: the one named, else the folder's own if it fits, else
    the one recorded."""
    own = rig_of(options, own=True)
    return own if own is not None and len(own.channels) == len(recorded.channels) else recorded


def judged_takes(
    options: Namespace, takes: Sequence[str], gate: Any = None, also: list[Record] | None = None
) -> tuple[list[Repetition], list[Extra]]:
    """Repetitions of all takes, and what lies outside of them; with another gate where one is
    given.

    also: takes up every record that is no message.
    """
    from ..core.events import ExtraTold, RepDone
    from .judging import judged, take_of

    reps: list[Repetition] = []
    outside: list[Extra] = []
    for name in takes:
        _, outcomes = judged(_passed(take_of(options, name).records, gate, also))
        reps += [one.repetition for one in outcomes if isinstance(one, RepDone)]
        outside += [one.extra for one in outcomes if isinstance(one, ExtraTold) and one.rep is None]
    return reps, outside


def _passed(records: Iterable[Record], gate: Any, also: list[Record] | None) -> Iterator[Record]:
    from ..core.events import Midi, UseRig

    for record in records:
        if gate is not None and isinstance(record, UseRig):
            record = replace(record, rig=replace(record.rig, gate=gate))
        if also is not None and not isinstance(record, Midi):
            also.append(record)
        yield record


def part_of(data: dict[str, Any], keys: tuple[str, ...]) -> dict[str, Any]:
    return {key: data[key] for key in keys if key in data}


def offer(options: Namespace, rig: Rig, keys: tuple[str, ...], out: TextIO) -> None:
    """Show what stands in the rig file with the suggestion; write it only where asked or agreed
    to."""
    from io import StringIO

    from ..files.config import rig_to_dict

    said = StringIO() if options.json else out
    for key, value in part_of(rig_to_dict(rig), keys).items():
        text = (
            ", ".join(f"{name}: {part}" for name, part in value.items())
            if isinstance(value, dict)
            else value
        )
        told = f"{{{text}}}" if isinstance(value, dict) else str(text)
        print(f"Suggested for the rig file:  {key}: {told}", file=said)
    if options.out is not None or options.write or not options.json:
        path = Path(options.out).expanduser() if options.out else own_rig_path(options)
        if agreed(path, options, said):
            write_rig(path, rig, said)
