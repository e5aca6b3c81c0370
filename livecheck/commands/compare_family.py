"""`livecheck compare --family`: what a change of strings, fret or beginning does, cell by cell of a
family."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot
from pathlib import Path
from typing import Any, TextIO

from ..core.vary import family_of
from ..errors import BadInput
from ..files.config import load_cell
from ..files.review_report import limit_to_dict
from ..files.textfile import put_text
from ..measures.review.compare import compare, verdict
from ..measures.review.limits import Limits, tempo_limits
from ..report.compare_picture import Placed, family_lines, family_page, tempo_text
from ..report.outlet import clean_lines
from ..report.review_text import ASCII, PLAIN
from .choice import Choice, cell_of, known_files, plain, practice_folder
from .common import only_ascii, print_json, rows, width_of
from .played import Way, most_played, of_variant, table_of, ways_of


@dataclass(frozen=True, slots=True)
class Member:
    """One cell of a family as it was practised."""

    name: str
    ways: list[Way]
    limits: Limits

    @property
    def reps(self) -> int:
        return sum(way.played.reps for way in self.ways)

    @property
    def grid(self) -> int:
        return self.ways[0].played.grid


def tell_family(
    choice: Choice, family: str, as_json: bool, page_file: Path | None, out: TextIO, err: TextIO
) -> int:
    """Tell every member's tempos, and what each does against the one that the others were made of;
    write them as a page, where one is asked for.

    Raises BadInput where fewer than two were practised.
    """
    ways = ways_of(choice, err)
    name, names = names_in(choice, family, ways)
    members = _practised(choice, names, ways)
    if len(members) < 2:
        there = f"only {members[0].name!r} was" if members else "none was"
        raise BadInput(
            f"of the family {name!r} {there} practised in what was chosen; its cells are: "
            f"{', '.join(names)}"
        )
    first = next((one for one in members if plain(one.name) == plain(name)), members[0])
    others = [one for one in members if one is not first]
    told = [(one, *against(first, one)) for one in others]
    placed = [Placed(one.name, one.reps, one.limits) for one in (first, *others)]
    lines = [told_words(first, one, difference) or words for one, difference, words in told]
    if page_file is not None:
        put_text(page_file, clean_lines(family_page(name, placed, lines)))
    if as_json:
        print_json(
            {
                "format": "livecheck-family/1",
                "family": name,
                "members": [
                    {**_member(first), "break_difference": None, "verdict": None},
                    *(
                        {**_member(one), "break_difference": difference, "verdict": words}
                        for one, difference, words in told
                    ),
                ],
            },
            out,
        )
        return 0
    print(*lines, sep="\n", file=out)
    table = [["", "repetitions", "secure up to", "breaks at"]]
    for one in [first, *others]:
        limits = (tempo_text(one.limits.secure), tempo_text(one.limits.broken))
        table.append([one.name, str(one.reps), *limits])
    print("", *rows(table, right=(1,)), sep="\n", file=out)
    signs = ASCII if only_ascii(out) else PLAIN
    if picture := family_lines(placed, width_of(out), signs):
        print("", *picture, sep="\n", file=out)
    if page_file is not None:
        print(f"The page: {page_file}", file=out)
    return 0


def names_in(choice: Choice, family: str, ways: Sequence[Way]) -> tuple[str, list[str]]:
    """A family's name and the names of its cells, by the family, one of its cells, or its file:
    those that there are, and those that were practised while they were of it."""
    played = {way.played.cell: way.played.family or way.played.cell for way in ways}
    cells = []
    for path in known_files(practice_folder(choice), "cell").values():
        try:
            cells.append(load_cell(path))
        except BadInput:
            continue
    try:
        name = family_of(cell_of(replace(choice, variant=None), family))
    except BadInput:
        named = {plain(cell): of for cell, of in played.items()}
        named |= {plain(of): of for of in played.values()}
        named |= {plain(family_of(cell)): family_of(cell) for cell in cells}
        if plain(family) not in named:
            raise
        name = named[plain(family)]
    names = [cell.name for cell in cells if family_of(cell) == name]
    names += [cell for cell, of in played.items() if of == name]
    return name, list(dict.fromkeys([name, *names]))


def _practised(choice: Choice, names: Sequence[str], ways: Sequence[Way]) -> list[Member]:
    members = []
    for name in names:
        found = [way for way in ways if plain(way.played.cell) == plain(name)]
        if not found:
            continue
        found = most_played(found, lambda way: way.played.figure)
        if choice.variant is not None:
            found = of_variant(found, choice.variant)
        else:
            found = most_played(found, lambda way: way.variant)
        members.append(Member(name, found, tempo_limits(table_of(found))))
    return members


def against(first: Member, other: Member) -> tuple[dict[str, float] | None, str]:
    """How much later (minus: earlier) a member breaks, in bpm, and the verdict at equal tempo."""
    one, two = first.limits.broken, other.limits.broken
    difference = None
    if one.bpm is not None and two.bpm is not None and first.grid == other.grid:
        value = two.bpm - one.bpm
        low = value - hypot(two.bpm - (two.low_bpm or 0.0), (one.high_bpm or 0.0) - one.bpm)
        high = value + hypot((two.high_bpm or 0.0) - two.bpm, one.bpm - (one.low_bpm or 0.0))
        if None not in (one.low_bpm, one.high_bpm, two.low_bpm, two.high_bpm):
            difference = {"value": round(value, 1), "low": round(low, 1), "high": round(high, 1)}
    found = (
        compare(table_of(first.ways), table_of(other.ways)) if first.grid == other.grid else None
    )
    if found is None:
        return (
            difference,
            f"{other.name}: too little at equal tempo to compare it with {first.name}",
        )
    return difference, verdict(found, first.name, other.name)


def told_words(first: Member, other: Member, difference: dict[str, float] | None) -> str | None:
    """Where it surely breaks at another tempo."""
    if difference is None or difference["low"] <= 0.0 <= difference["high"]:
        return None
    value = difference["value"]
    how = "later" if value > 0 else "earlier"
    ends = sorted((abs(difference["low"]), abs(difference["high"])))
    return (
        f"{other.name} breaks {abs(value):.0f} bpm {how} than {first.name} "
        f"({ends[0]:.0f} to {ends[1]:.0f})."
    )


def _member(one: Member) -> dict[str, Any]:
    return {
        "cell": one.name,
        "variant": one.ways[0].played.variant,
        "reps": one.reps,
        "secure": limit_to_dict(one.limits.secure),
        "break": limit_to_dict(one.limits.broken),
    }
