"""The gate of a rig from what was recorded. A suggestion is shown first; the rig is written only
where the player says so."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace
from typing import TextIO

from ..console.palette import FULL, PLAIN
from ..console.rigscreen import gate_picture
from ..core.rig import Gate, Rig
from ..files.config import rig_to_dict
from ..measures.noise.gates import GateAdvice, advise_gate
from .choice import Choice
from .common import only_ascii, print_json, width_of
from .rig_advice import judged_takes, offer, part_of, recorded_rig, rig_to_write
from .rig_file import Writing


def run_threshold(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    rig = recorded_rig(choice, choice.sessions[0])
    advice = advise_gate(*judged_takes(choice, choice.sessions, Gate(1, 0.0)))
    base = rig_to_write(choice, rig)
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
        offer(Writing.of(options, choice), new, ("gate",), out, quiet=options.json)
    return 0


def _print_gate(advice: GateAdvice, rig: Rig, out: TextIO) -> None:
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
    print(f"{line}{len(advice.ghosts)} converter faults pass.", file=out)
    if advice.others:
        lost = 100 * (advice.others_stopped or 0.0)
        print(f"Of {len(advice.others)} longer unwanted sounds {lost:.0f} % are lost.", file=out)
