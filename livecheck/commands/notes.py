"""Note by note, how a take was played: early and late, attack, the strings passed over, strings
left ringing."""

from __future__ import annotations

import os
from argparse import Namespace
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace
from typing import Any, TextIO

from ..console.lines import plain_text
from ..console.palette import FULL, PLAIN
from ..console.ruler import ruler_lines
from ..console.soundlines import attack_lines, ring_lines, string_lines
from ..console.words import cell_title
from ..core.cell import AS_WRITTEN, Cell
from ..core.events import RepDone, Repetition
from ..core.plain_text import counted
from ..errors import BadInput
from ..files.paths import path_of
from ..measures.noise.passed_over import read_passages, read_quiet, shares
from ..measures.noise.ring_over import ring_overs
from ..measures.profile import attack_profile, slot_profile
from ..measures.strokes.attack import read_attacks
from ..measures.strokes.direction import read_directions
from ..report.stroke_text import direction_to_dict, stroke_sentences
from .choice import Choice, cell_of, plain
from .common import only_ascii, print_json, width_of
from .judging import Take, is_midi, judged, take_of


def run_notes(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    take, reps = _played(choice, err)
    if not reps:
        raise BadInput(f"{choice.sessions[0]}: no repetition of a cell was found in it")
    reps = _most(reps, lambda rep: rep.cell.name, "cells", "--cell", err)
    reps = _most(reps, lambda rep: rep.cell.variant or AS_WRITTEN, "variants", "--variant", err)
    figures = Counter(_figure(rep.cell) for rep in reps).most_common()
    if len(figures) > 1:
        which = f"{reps[0].cell.name!r} was written in {len(figures)} ways over time"
        print(f"livecheck: {which}; this is about the one most played", file=err)
        reps = [rep for rep in reps if _figure(rep.cell) == figures[0][0]]
    if options.last_reps is not None:
        reps = reps[-max(1, int(options.last_reps)) :]
    if options.json:
        print_json(profiled(reps), out)
    else:
        print(*_lines(reps, width_of(out), only_ascii(out)), sep="\n", file=out)
    if trouble := take.trouble():
        print(f"livecheck: {trouble}", file=err)
    return 0


def _played(choice: Choice, err: TextIO) -> tuple[Take, list[Repetition]]:
    """The take and its repetitions. What a session recorded is chosen from; what it did not record
    judges it anew."""
    name, variant = choice.sessions[0], choice.variant
    if (choice.cells or variant) and not is_midi(path_of(name)):
        take = take_of(replace(choice, cells=(), variant=None), name, err)
        every = _repetitions(take)
        reps = _of_cell(choice, every) if choice.cells else every
        if variant and reps:
            there = sorted({rep.cell.variant or AS_WRITTEN for rep in reps})
            reps = [rep for rep in reps if (rep.cell.variant or AS_WRITTEN) == variant]
            if not reps and not choice.cells:
                raise BadInput(
                    f"variant {variant!r} was not played there; there is: {', '.join(there)}"
                )
        if reps:
            return take, reps
    take = take_of(choice, name, err)
    return take, _repetitions(take)


def _repetitions(take: Take) -> list[Repetition]:
    return [one.repetition for one in judged(take.records)[1] if isinstance(one, RepDone)]


def _of_cell(choice: Choice, reps: Sequence[Repetition]) -> list[Repetition]:
    """Those of the one cell that is named; none where its file holds another figure than was
    recorded."""
    if len(choice.cells) != 1 or os.path.isdir(path_of(choice.cells[0])):
        return []
    name = choice.cells[0]
    found = [rep for rep in reps if plain(rep.cell.name) == plain(name)]
    try:
        cell = cell_of(replace(choice, variant=None), name)
    except BadInput:
        if os.path.exists(path_of(name)):
            raise
        return found
    return [
        rep
        for rep in reps
        if plain(rep.cell.name) == plain(cell.name) and _figure(rep.cell) == _figure(cell)
    ]


def _figure(cell: Cell) -> str:
    """Alike where the same notes are played."""
    return repr([(slot.string, slot.fret, slot.start) for slot in cell.slots] + [cell.steps])


def _most(
    reps: Sequence[Repetition],
    key: Callable[[Repetition], str],
    what: str,
    option: str,
    err: TextIO,
) -> list[Repetition]:
    """Those of the cell or the way most played; what else there is, is told."""
    counts = Counter(map(key, reps)).most_common()
    if len(counts) > 1:
        there = ", ".join(f"{name} ({count})" for name, count in counts)
        print(f"livecheck: {what}: {there}; {option} chooses another than the first", file=err)
    return [rep for rep in reps if key(rep) == counts[0][0]]


def profiled(reps: Sequence[Repetition]) -> dict[str, Any]:
    """The profile of repetitions of one cell, ready for JSON."""
    played = read_directions(reps)
    directions = {(one.rep, one.slot): one for one in played.strokes}
    attacks = read_attacks(reps, [played])
    passages = [*read_passages(reps), *read_quiet(reps)]
    return {
        "format": "livecheck-profile/1",
        "cell": {
            "name": reps[-1].cell.name,
            "variant": reps[-1].cell.variant,
            "slots": len(reps[-1].cell.slots),
        },
        "reps": len(reps),
        "timing": [asdict(one) for one in slot_profile(reps, [played])],
        "direction": direction_to_dict(played),
        "attack": [
            {**asdict(one), "against_plan": one.against_plan} for one in attack_profile(attacks)
        ],
        "attack_why": attacks.why,
        "strokes": [
            {**one._asdict(), "played": directions[one.rep, one.slot].played}
            for one in attacks.struck
        ],
        "strings": [asdict(one) for one in shares(passages)],
        "passages": [
            {
                "rep": one.rep,
                "before": one.before,
                "after": one.after,
                "string": one.string,
                "kind": one.kind,
            }
            for one in passages
        ],
        "ring_over": [one._asdict() for one in ring_overs(reps)],
    }


def _lines(reps: Sequence[Repetition], width: int, ascii_only: bool) -> list[str]:
    # the review's text stands on numpy, which nothing else here needs
    from ..report.review_text import wrapped

    cell, signs = reps[-1].cell, PLAIN if ascii_only else FULL
    played = read_directions(reps)
    attacks = read_attacks(reps, [played])
    passages = [*read_passages(reps), *read_quiet(reps)]
    parts = [
        ruler_lines(slot_profile(reps, [played]), width, signs),
        attack_lines(attack_profile(attacks), width, signs),
        string_lines(shares(passages), width),
        ring_lines(ring_overs(reps), cell, width),
    ]
    lines = wrapped(f"{cell_title(cell)}: {counted(len(reps), 'repetition')}", width)
    for part in parts:
        if part:
            lines += ["", *plain_text(part).split("\n")]
    lines += ["", *wrapped(" ".join(stroke_sentences(played)), width)]
    if attacks.why is not None:
        lines += ["", *wrapped(f"Picked or hammered cannot be told: {attacks.why}.", width)]
    return lines
