"""Compare: two ways of playing at equal tempo, two variants, cells, rigs, spans of time, or
sessions."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from shlex import quote
from typing import TextIO

from ..core.cell import AS_WRITTEN
from ..errors import BadInput
from ..files.paths import path_of
from ..files.review_report import comparison_to_dict
from ..files.textfile import put_text
from ..files.values import date_of
from ..measures.review.compare import compare, verdict
from ..measures.review.limits import tempo_limits
from ..report.compare_picture import two_page
from ..report.outlet import clean_lines
from .choice import Choice, practice_folder
from .common import print_json
from .compare_family import tell_family
from .compare_told import told_lines
from .compare_ways import tell_two_ways
from .judging import is_midi
from .played import (
    Way,
    counted,
    most_played,
    of_cell,
    of_variant,
    one_figure,
    one_way,
    table_of,
    title_of,
    ways_of,
)
from .review import checked_page

Sides = tuple[str, list[Way], str, list[Way]]
Ends = tuple[str, str]  # first and last day, month or year, both included


@dataclass(frozen=True, slots=True, kw_only=True)
class Two:
    """What is compared with what; at most one of them, two sessions where none is."""

    variants: Sequence[str] | None = None
    cells: Sequence[str] | None = None
    rigs: Sequence[str] | None = None
    spans: Sequence[Ends] | None = None

    @property
    def none(self) -> bool:
        return (self.variants, self.cells, self.rigs, self.spans) == (None,) * 4


def run_compare(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    two = Two(
        variants=options.variants, cells=options.two_cells, rigs=options.rigs, spans=options.spans
    )
    page_file = checked_page(options.html, "compare.html") if options.html is not None else None
    if options.family is not None:
        return tell_family(choice, options.family, options.json, page_file, out, err)
    if options.two_ways is not None:
        if page_file is not None:
            raise BadInput("--html does not go with --ways; `livecheck ways` shows both")
        return tell_two_ways(choice, options.two_ways, options.json, out, err)
    if len(choice.sessions) != 2 and two.none:
        raise BadInput(
            "compare what with what? Name two sessions, or use --variants, --cells, --family, "
            "--ways, --rigs or --spans"
        )
    if two.none and len({_place(choice, name) for name in choice.sessions}) == 1:
        raise BadInput(
            f"{' and '.join(dict.fromkeys(choice.sessions))}: that is one session, named twice; "
            "name two"
        )
    if two.cells is not None and choice.cell is not None:
        raise BadInput("--cells names both cells; leave --cell out")
    if two.variants is not None and choice.variant is not None:
        raise BadInput("--variants names both variants; leave --variant out")
    first, ways_a, second, ways_b = _variants_of_files(choice, two, err) or _sides(
        choice, two, ways_of(choice, err), err
    )
    found = compare(table_of(ways_a), table_of(ways_b))
    words = (
        verdict(found, first, second)
        if found is not None
        else _too_little(first, ways_a, second, ways_b)
    )
    titles = [title_of(ways_a), title_of(ways_b)]
    if page_file is not None:
        limits = tempo_limits(table_of(ways_a)), tempo_limits(table_of(ways_b))
        put_text(page_file, clean_lines(two_page(found, (first, second), limits, words, titles)))
    if options.json:
        print_json(comparison_to_dict(found, first, second, words), out)
        return 0
    print(*told_lines(found, (first, second), words, titles, out), sep="\n", file=out)
    if page_file is not None:
        print(f"The page: {page_file}", file=out)
    return 0


def _variants_of_files(choice: Choice, two: Two, err: TextIO) -> Sides | None:
    """Both sides where each of two MIDI files was played in a variant of its own; None where no
    file is named."""
    files = [name for name in choice.sessions if is_midi(path_of(name))]
    if two.variants is None or not files:
        return None
    first, second = two.variants
    if not len(files) == len(choice.sessions) == 2:
        raise BadInput(
            "MIDI files do not say in which variant they were played; name two of them, "
            f"the first played {_in(first)}, the second {_in(second)}"
        )
    sides = [
        ways_of(replace(choice, sessions=(name,), variant=variant), err)
        for name, variant in zip(files, two.variants)
    ]
    return first, sides[0], second, sides[1]


def _in(variant: str) -> str:
    return variant if variant == AS_WRITTEN else f"in {variant!r}"


def _sides(choice: Choice, two: Two, ways: Sequence[Way], err: TextIO) -> Sides:
    """Both sides with their names. Raises BadInput where one of them holds nothing."""
    if two.cells is not None:
        sides = [
            most_played(of_cell(choice, ways, name), lambda way: way.played.figure)
            for name in two.cells
        ]
        kept = [
            of_variant(side, choice.variant)
            if choice.variant
            else most_played(side, lambda way: way.variant)
            for side in sides
        ]
        return two.cells[0], kept[0], two.cells[1], kept[1]
    if two.variants is not None:
        of_one = one_figure(choice, ways, err)
        first, second = two.variants
        return first, of_variant(of_one, first), second, of_variant(of_one, second)
    of_one = one_way(choice, ways, err)
    if two.rigs is not None:
        first, second = two.rigs
        return first, _of_rig(of_one, first), second, _of_rig(of_one, second)
    if two.spans is not None:
        (first, ways_a), (second, ways_b) = (
            (_named(one), _of_span(of_one, one)) for one in two.spans
        )
        return first, ways_a, second, ways_b
    sources = list(dict.fromkeys(way.source for way in of_one))
    if len(sources) != 2:
        raise BadInput(_not_in_both(ways, of_one))
    split = [[way for way in of_one if way.source == source] for source in sources]
    # columns headed by whole paths would sprawl
    names = [os.path.basename(source) for source in sources]
    first, second = names if names[0] != names[1] else sources
    return first, split[0], second, split[1]


def _place(choice: Choice, name: str) -> Path:
    """The file or the session's folder that is meant. Raises BadInput."""
    path = path_of(name)
    if is_midi(path) or os.path.isfile(path):
        return Path(os.path.realpath(path))
    return practice_folder(choice).session(name).resolve()


def _not_in_both(ways: Sequence[Way], of_one: Sequence[Way]) -> str:
    """Why what was chosen is in one of two sessions only, and what was played in both."""
    name, variant = of_one[0].played.cell, of_one[0].variant
    first = of_one[0].source
    other = next((way.source for way in ways if way.source != first), None)
    if other is None:
        return f"{name!r} was played in {first}, and nothing that makes a repetition in the other"
    cells = _in_both(ways, _cell)
    if not cells:
        told = [
            f"in {source} {', '.join(counted([w for w in ways if w.source == source], _cell))}"
            for source in (first, other)
        ]
        return f"no cell was played in both: {'; '.join(told)}"
    if name not in cells:
        named = " or ".join(f"--cell {quote(cell)}" for cell in cells)
        return f"{name!r} was played in {first} only; in both was played: {named}"
    own = [way for way in ways if way.played.cell == name]
    variants = [one for one in _in_both(own, lambda way: way.variant) if one != variant]
    if variants:
        named = " or ".join(f"--variant {quote(one)}" for one in variants)
        return f"{name!r} was played {_in(variant)} in {first} only; in both was played: {named}"
    return (
        f"{name!r} was not played in the same way in both; --variants sets two of its variants "
        "against each other"
    )


def _in_both(ways: Sequence[Way], key: Callable[[Way], str]) -> list[str]:
    """What was played in more than one source."""
    found: dict[str, set[str]] = {}
    for way in ways:
        found.setdefault(key(way), set()).add(way.source)
    return [name for name, sources in found.items() if len(sources) > 1]


def _cell(way: Way) -> str:
    return way.played.cell


def _of_rig(ways: Sequence[Way], name: str) -> list[Way]:
    found = [way for way in ways if way.played.rig == name]
    if not found:
        there = ", ".join(counted(ways, lambda way: way.played.rig))
        raise BadInput(f"rig {name!r} was not used there; there is: {there}")
    return found


def _of_span(ways: Sequence[Way], ends: tuple[str, str]) -> list[Way]:
    def inside(way: Way) -> bool:
        day = date_of(way.day) if way.day else ""
        return bool(day) and day[: len(ends[0])] >= ends[0] and day[: len(ends[1])] <= ends[1]

    found = [way for way in ways if inside(way)]
    if not found:
        raise BadInput(f"{ways[0].played.cell!r} was not played in {_named(ends)}")
    return found


def _named(ends: tuple[str, str]) -> str:
    return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"


def _too_little(first: str, ways_a: Sequence[Way], second: str, ways_b: Sequence[Way]) -> str:
    reps = [sum(way.played.reps for way in side) for side in (ways_a, ways_b)]
    tempos = [_tempos(side) for side in (ways_a, ways_b)]
    return (
        f"Too little to compare {first} ({reps[0]} repetitions, {tempos[0]} bpm) with {second} "
        f"({reps[1]}, "
        f"{tempos[1]} bpm): each needs eight at tempos that both tried."
    )


def _tempos(ways: Sequence[Way]) -> str:
    bpm = table_of(ways).bpm
    low, high = f"{bpm.min():.0f}", f"{bpm.max():.0f}"
    return low if low == high else f"{low} to {high}"
