"""How `livecheck cell plan` is called."""

from __future__ import annotations

from argparse import ArgumentTypeError

from ...core.cell import AS_WRITTEN, PICKED
from .common import Commands, add


def declare_plan(verbs: Commands) -> None:
    plan = add(
        verbs,
        "plan",
        "cell_plan:run_plan",
        "what the strokes ask of the hand, and all other ways to pick and slur the cell",
        "It lists and compares, and calls no plan better than another: try them, and `livecheck "
        "compare --variants` tells which was cleaner.",
        json_too=True,
    )
    plan.add_argument("cells", metavar="CELL", help="a cell file, or the name of a cell")
    plan.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")
    plan.add_argument(
        "--leave",
        choices=PICKED,
        help="only plans in which the hand leaves each string after this stroke",
    )
    plan.add_argument(
        "--same-start",
        action="store_true",
        help="only plans in which each repetition begins with the same stroke",
    )
    plan.add_argument(
        "--slurs", metavar="N", type=number, help="only plans with exactly N notes not picked"
    )
    plan.add_argument(
        "--no-inside", action="store_true", help="only plans without a change inside the strings"
    )
    plan.add_argument(
        "--no-skip-under",
        choices=PICKED,
        help="only plans that skip no string after this stroke",
    )
    plan.add_argument(
        "--from-nowhere",
        action="store_true",
        help="also hammer notes on a string that does not sound before",
    )
    plan.add_argument("--most", metavar="N", type=from_one, help="tell at most N plans")
    plan.add_argument(
        "--write",
        metavar="NAME",
        type=variant,
        help="make the first plan that is not today's a variant of this name in the cell file",
    )
    plan.add_argument(
        "--plan", metavar="N", type=number, help="with --write: the plan of this number instead"
    )


def number(text: str) -> int:
    """An argument that must be a whole number, 0 or more."""
    if not (text.isascii() and text.isdigit() and len(text) < 7):
        raise ArgumentTypeError(f"{text[:40]!r} is no whole number")
    return int(text)


def from_one(text: str) -> int:
    """An argument that must be a whole number, 1 or more."""
    if not (value := number(text)):
        raise ArgumentTypeError("0 is none; write 1 or more")
    return value


def variant(text: str) -> str:
    """The name of a variant that is made."""
    name = text.strip()
    if not name:
        raise ArgumentTypeError("the name is empty; write one for the variant, such as 'even'")
    if name == AS_WRITTEN:
        raise ArgumentTypeError(
            f"{name!r} names the cell's own strokes; give the variant another name"
        )
    return name
