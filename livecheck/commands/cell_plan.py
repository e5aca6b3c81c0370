"""`livecheck cell plan`: what a plan of strokes asks of the hand, and which others there are."""

from __future__ import annotations

from argparse import Namespace
from itertools import islice
from pathlib import Path
from typing import Any, TextIO

from ..core.cell import Cell
from ..core.picking import round_of
from ..core.plan import reps_to_all, reps_to_beat, string_changes
from ..core.plans import Plan, Plans, Wanted, as_variant
from ..errors import BadInput
from ..files.celledit import add_variant
from ..files.library import SHIPPED
from ..report.plan_text import plan_lines, plans_lines
from .choice import Choice, cell_of, file_of, practice_folder
from .common import near_path, only_ascii, print_json, width_of

SHOWN = 40
"""Plans that are shown without ``--most``."""
MOST_STROKES = 120_000
"""Plans in JSON without ``--most``, counted in strokes: all of twelve notes and fewer."""


def run_plan(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    cell = cell_of(choice, choice.cells[0])
    if options.plan is not None and options.write is None:
        raise BadInput("--plan N goes with --write NAME; alone it does nothing")
    wanted = Wanted(
        leave=options.leave,
        same_start=options.same_start,
        slurs=options.slurs,
        no_inside=options.no_inside,
        no_skip_under=options.no_skip_under,
        from_nowhere=options.from_nowhere,
    )
    plans = Plans(cell, wanted)
    if options.write is not None:
        plan = _chosen(plans, options.plan)
        to = _write(choice, cell, plan, options.write)
        if options.json:
            strokes = list(plan.strokes)
            print_json({"path": str(to), "variant": options.write, "strokes": strokes}, out)
        else:
            print(f"variant {options.write!r} is now in {near_path(to)}:", file=out)
            print(" ".join(plan.strokes), file=out)
        return 0
    if options.json:
        most = MOST_STROKES // len(cell.slots) if options.most is None else options.most
        print_json(_told(cell, list(islice(plans, most)), plans.count), out)
        return 0
    told = list(islice(plans, SHOWN if options.most is None else options.most))
    ascii_only = only_ascii(out)
    print(*plan_lines(cell, width_of(out), ascii_only), "", sep="\n", file=out)
    print(
        *plans_lines(cell, told, plans.count, not wanted.anything, ascii_only), sep="\n", file=out
    )
    return 0


def _told(cell: Cell, plans: list[Plan], count: int) -> dict[str, Any]:
    return {
        "format": "livecheck-plan/1",
        "cell": cell.name,
        "variant": cell.variant,
        "repetitions": len(round_of(cell)),
        "repetitions_to_beat": reps_to_beat(cell),
        "repetitions_to_all": reps_to_all(cell),
        "changes": [
            {
                "rep": change.rep,
                "from_slot": change.from_slot,
                "to_slot": change.to_slot,
                "before": change.before,
                "after": change.after,
                "toward": change.toward,
                "side": change.side,
                "skipped": list(change.skipped),
                "leaves": change.leaves,
            }
            for change in string_changes(cell)
        ],
        "count": count,
        "plans": [
            {
                "strokes": plan.strokes,
                "slurs": plan.slurs,
                "same_start": plan.same_start,
                "leaves": plan.leaves,
                "differs": plan.differs,
            }
            for plan in plans
        ],
    }


def _write(choice: Choice, cell: Cell, plan: Plan, name: str) -> Path:
    """Make a plan a variant of the cell, in its file or, for a shipped one, in a copy in the
    practice folder; returns which file that is."""
    path = file_of(choice, choice.cells[0], "cell")
    own = practice_folder(choice).cells
    to = path
    if _below(path, SHIPPED) and not _below(path, own):
        to = own / path.name
        if to.exists():
            raise BadInput(f"{near_path(to)} is there already; name that file instead")
    begin, strokes = as_variant(cell, plan)
    add_variant(path, name, strokes, begin, to)
    return to


def _chosen(plans: Plans, number: int | None) -> Plan:
    """The plan of a number as they are listed; None: the first that is not today's."""
    if number is not None:
        plan = next(islice(plans, number - 1, None), None) if number else None
        if plan is None:
            raise BadInput(f"there is no plan {number}: {plans.count} are like that")
        return plan
    plan = next((plan for plan in plans if plan.differs), None)
    if plan is None:
        raise BadInput("no other plan is like that, so there is nothing to write; ask for less")
    return plan


def _below(path: Path, folder: Path) -> bool:
    return path.resolve().is_relative_to(folder.resolve())
