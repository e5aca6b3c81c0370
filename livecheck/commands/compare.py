"""Compare: two ways of playing at equal tempo, two variants, cells, rigs, spans of time, or
sessions."""

from __future__ import annotations

import os
import re
from argparse import ArgumentTypeError, Namespace
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from ..errors import BadInput
from .common import Commands, add, print_json, rows, width_of
from .judging import is_midi
from .played import (
    AS_WRITTEN,
    Way,
    a_date,
    add_sessions,
    counted,
    most_played,
    of_cell,
    of_variant,
    one_figure,
    one_thread,
    one_way,
    table_of,
    title_of,
    ways_of,
)  # fmt: skip

if TYPE_CHECKING:
    from ..measures.review.compare import Comparison

_SHORT_END = re.compile(r"\d\d(-\d\d)?")

Sides = tuple[str, list[Way], str, list[Way]]


def register(commands: Commands) -> None:
    compare = add(
        commands,
        "compare",
        run_compare,
        "say which of two ways of playing is cleaner at equal tempo, and by how much",
        "Give two sessions or MIDI files, or one of the options with two values; the other "
        "options choose the sessions "
        "and the cell as for `review`.",
        json_too=True,
    )
    two = compare.add_mutually_exclusive_group()
    two.add_argument(
        "--variants", nargs=2, metavar=("A", "B"),
        help=(
            "two variants of a cell; 'as written' is the cell's own; with two MIDI files: how "
            "each was played"
        ),
    )  # fmt: skip
    two.add_argument("--cells", nargs=2, metavar=("A", "B"), help="two cells")
    two.add_argument(
        "--rigs", nargs=2, metavar=("A", "B"), help="two rigs, by the names they were recorded with"
    )
    two.add_argument(
        "--spans", nargs=2, metavar=("A", "B"), type=span,
        help="two spans of time: 2026-10 2026-11, or 2026-10-01/2026-10-14 2026-11",
    )  # fmt: skip
    add_sessions(compare)


def span(text: str) -> tuple[str, str]:
    """A day, month or year, or an interval of two, both ends included: 2026-10-01/2026-10-14.

    What the end leaves out is taken from the start: 2026-10-01/14. Source: ISO 8601-1:2019, 5.5
    (time intervals, their representation by start and end).

    >>> span("2026-10-01/14"), span("2026")
    (('2026-10-01', '2026-10-14'), ('2026', '2026'))
    """
    if ".." in text:
        raise ArgumentTypeError(f"{text!r}: write it {text.replace('..', '/')}")
    first, slash, last = text.partition("/")
    if _SHORT_END.fullmatch(last) and len(last) < len(first):
        last = first[: -len(last)] + last
    ends = a_date(first), a_date(last if slash else first)
    if ends[1][: len(ends[0])] < ends[0][: len(ends[1])]:
        raise ArgumentTypeError(f"{text!r} ends before it begins")
    return ends


def run_compare(options: Namespace, out: TextIO, err: TextIO) -> int:
    one_thread()
    from ..files.review_report import comparison_to_dict
    from ..measures.review.compare import compare, verdict

    named = (options.variants, options.cells, options.rigs, options.spans)
    if len(options.sessions) != 2 and all(one is None for one in named):
        raise BadInput(
            "compare what with what? Name two sessions, or use --variants, --cells, --rigs or "
            "--spans"
        )
    if options.cells is not None and options.cell is not None:
        raise BadInput("--cells names both cells; leave --cell out")
    if options.variants is not None and options.variant is not None:
        raise BadInput("--variants names both variants; leave --variant out")
    first, ways_a, second, ways_b = _variants_of_files(options, err) or _sides(
        options, ways_of(options, err), err
    )
    found = compare(table_of(ways_a), table_of(ways_b))
    words = (
        verdict(found, first, second)
        if found is not None
        else _too_little(first, ways_a, second, ways_b)
    )
    if options.json:
        print_json(comparison_to_dict(found, first, second, words), out)
        return 0
    from ..report.review_text import wrapped

    print(*wrapped(words, width_of(out)), sep="\n", file=out)
    print(f"{title_of(ways_a)}\n{title_of(ways_b)}", file=out)
    if found is not None:
        print("", *_table(found, first, second), sep="\n", file=out)
    return 0


def _variants_of_files(options: Namespace, err: TextIO) -> Sides | None:
    """Both sides where each of two MIDI files was played in a variant of its own; None where no
    file is named."""
    files = [name for name in options.sessions if is_midi(Path(name).expanduser())]
    if options.variants is None or not files:
        return None
    first, second = options.variants
    if not len(files) == len(options.sessions) == 2:
        raise BadInput(
            "MIDI files do not say in which variant they were played; name two of them, "
            f"the first played {_in(first)}, the second {_in(second)}"
        )
    sides = [
        ways_of(Namespace(**{**vars(options), "sessions": [name], "variant": variant}), err)
        for name, variant in zip(files, options.variants)
    ]
    return first, sides[0], second, sides[1]


def _in(variant: str) -> str:
    return variant if variant == AS_WRITTEN else f"in {variant!r}"


def _sides(options: Namespace, ways: Sequence[Way], err: TextIO) -> Sides:
    """Both sides with their names. Raises BadInput where one of them holds nothing."""
    if options.cells is not None:
        sides = [
            most_played(of_cell(options, ways, name), lambda way: way.played.figure)
            for name in options.cells
        ]
        kept = [
            of_variant(side, options.variant)
            if options.variant
            else most_played(side, lambda way: way.variant)
            for side in sides
        ]
        return options.cells[0], kept[0], options.cells[1], kept[1]
    if options.variants is not None:
        of_one = one_figure(options, ways, err)
        first, second = options.variants
        return first, of_variant(of_one, first), second, of_variant(of_one, second)
    of_one = one_way(options, ways, err)
    if options.rigs is not None:
        first, second = options.rigs
        return first, _of_rig(of_one, first), second, _of_rig(of_one, second)
    if options.spans is not None:
        (first, ways_a), (second, ways_b) = (
            (_named(one), _of_span(of_one, one)) for one in options.spans
        )
        return first, ways_a, second, ways_b
    sources = list(dict.fromkeys(way.source for way in of_one))
    if len(sources) != 2:
        raise BadInput(
            f"{of_one[0].played.cell!r} was played in {' and '.join(sources)} only; --cell names "
            "another"
        )
    split = [[way for way in of_one if way.source == source] for source in sources]
    # columns headed by whole paths would sprawl
    names = [os.path.basename(source) for source in sources]
    first, second = names if names[0] != names[1] else sources
    return first, split[0], second, split[1]


def _of_rig(ways: Sequence[Way], name: str) -> list[Way]:
    found = [way for way in ways if way.played.rig == name]
    if not found:
        there = ", ".join(counted(ways, lambda way: way.played.rig))
        raise BadInput(f"rig {name!r} was not used there; there is: {there}")
    return found


def _of_span(ways: Sequence[Way], ends: tuple[str, str]) -> list[Way]:
    def inside(way: Way) -> bool:
        day = date.fromordinal(way.day).isoformat() if way.day else ""
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


def _table(found: Comparison, first: str, second: str) -> list[str]:
    table = [["bpm", first, second]]
    table += [
        [f"{bpm:.0f}", f"{k_a} of {n_a}", f"{k_b} of {n_b}"]
        for bpm, k_a, n_a, k_b, n_b in found.by_tempo
    ]
    return ["Clean repetitions", *rows(table, right=(0, 1, 2))]
