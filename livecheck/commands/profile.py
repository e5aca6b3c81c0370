"""The slot profile of a take: early and late, attack, the strings passed over, strings left ringing."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, TextIO

from ..errors import BadInput
from .common import Commands, add, add_cells, only_ascii, positive, print_json, width_of

if TYPE_CHECKING:
    from ..core.events import Repetition


def register(commands: Commands) -> None:
    profile = add(
        commands,
        "profile",
        run_profile,
        "show note by note how a take was played: early or late, picked or hammered, strings touched and left ringing",
        "The band in the middle of the ruler is too little to be noticed. Attack is the velocity over what the string "
        "and the repetition usually give.",
        json_too=True,
    )
    profile.add_argument("take", metavar="FILE|SESSION", help="a Standard MIDI File, or a session's name or folder")
    add_cells(profile, "what was to be played: a cell file or name")
    profile.add_argument("--variant", metavar="NAME", help="which of the cell's ways to play it")
    profile.add_argument("--rig", metavar="RIG", help="a rig file or name")
    profile.add_argument("--last", metavar="N", type=positive, help="only the last so many repetitions")


def run_profile(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..core.events import RepDone
    from .judging import judged, take_of

    take = take_of(options, options.take, err)
    _, outcomes = judged(take.records)
    reps = [one.repetition for one in outcomes if isinstance(one, RepDone)]
    if not reps:
        raise BadInput(f"{options.take}: no repetition of a cell was found in it")
    cell = reps[-1].cell
    reps = [rep for rep in reps if (rep.cell.slots, rep.cell.steps) == (cell.slots, cell.steps)]
    if options.last is not None:
        reps = reps[-max(1, int(options.last)) :]
    if options.json:
        print_json(profiled(reps), out)
    else:
        print(*_lines(reps, width_of(out), only_ascii(out)), sep="\n", file=out)
    if trouble := take.trouble():
        print(f"livecheck: {trouble}", file=err)
    return 0


def profiled(reps: Sequence[Repetition]) -> dict[str, Any]:
    """The profile of repetitions of one cell, ready for JSON."""
    from ..measures.attack import read_attacks
    from ..measures.profile import attack_profile, slot_profile
    from ..measures.ringover import ring_overs
    from ..measures.strings import read_passages, read_quiet, shares

    attacks = read_attacks(reps)
    passages = [*read_passages(reps), *read_quiet(reps)]
    return {
        "format": "livecheck-profile/1",
        "cell": {"name": reps[-1].cell.name, "variant": reps[-1].cell.variant, "slots": len(reps[-1].cell.slots)},
        "reps": len(reps),
        "timing": [asdict(one) for one in slot_profile(reps)],
        "attack": [{**asdict(one), "against_plan": one.against_plan} for one in attack_profile(attacks)],
        "attack_why": attacks.why,
        "strokes": [one._asdict() for one in attacks.struck],
        "strings": [asdict(one) for one in shares(passages)],
        "passages": [
            {"rep": one.rep, "before": one.before, "after": one.after, "string": one.string, "kind": one.kind}
            for one in passages
        ],
        "ring_over": [one._asdict() for one in ring_overs(reps)],
    }


def _lines(reps: Sequence[Repetition], width: int, ascii_only: bool) -> list[str]:
    from ..console.lines import plain_text
    from ..console.palette import FULL, PLAIN
    from ..console.ruler import ruler_lines
    from ..console.soundlines import attack_lines, ring_lines, string_lines
    from ..console.words import cell_title, counted
    from ..measures.attack import read_attacks
    from ..measures.profile import attack_profile, slot_profile
    from ..measures.ringover import ring_overs
    from ..measures.strings import read_passages, read_quiet, shares

    cell, signs = reps[-1].cell, PLAIN if ascii_only else FULL
    attacks = read_attacks(reps)
    passages = [*read_passages(reps), *read_quiet(reps)]
    parts = [
        ruler_lines(slot_profile(reps), width, signs),
        attack_lines(attack_profile(attacks), width, signs),
        string_lines(shares(passages), width),
        ring_lines(ring_overs(reps), cell, width),
    ]
    lines = [f"{cell_title(cell)}: {counted(len(reps), 'repetition', 'repetitions')}"]
    for part in parts:
        if part:
            lines += ["", *plain_text(part).split("\n")]
    if attacks.why is not None:
        lines += ["", f"Picked or hammered cannot be told: {attacks.why}."]
    return lines
