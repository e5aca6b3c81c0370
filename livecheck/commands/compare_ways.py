"""Two ways of playing that were found by themselves (``livecheck ways``), set against each other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TextIO

import numpy as np

from ..errors import BadInput
from ..files.review_report import comparison_to_dict
from ..files.waynames import at_name
from ..measures.review.compare import Comparison, Difference, verdict
from ..measures.ways.features import Features
from ..measures.ways.find import Ways
from ..measures.ways.told import at_equal_tempo
from .choice import Choice
from .common import print_json, width_of
from .compare_told import told_lines
from .played import one_way, title_of, ways_of
from .ways import found_of


def tell_two_ways(
    choice: Choice, two: Sequence[str], as_json: bool, out: TextIO, err: TextIO
) -> int:
    """Both by name or letter. Raises BadInput where there is one way only, or none of that name."""
    chosen = one_way(choice, ways_of(choice, err), err)
    found = found_of(choice, chosen)
    if len(found.names) < 2 or found.features is None:
        raise BadInput(f"there is one way only: {found.ways.why}")
    first, second = (at_name(found.names, name) for name in two)
    if first == second:
        raise BadInput(f"{two[0]!r} and {two[1]!r} are the same way")
    names = found.names[first], found.names[second]
    seen = compared(found.ways, found.features, first, second)
    words = (
        f"{names[0]} and {names[1]} share too few tempos to be compared."
        if seen is None
        else verdict(seen, *names)
    )
    if as_json:
        print_json(comparison_to_dict(seen, *names, words), out)
        return 0
    print(*told_lines(seen, names, words, [title_of(chosen)], width_of(out)), sep="\n", file=out)
    return 0


def compared(ways: Ways, features: Features, first: int, second: int) -> Comparison | None:
    """Clean repetitions of one way minus another's; the interval allows for the doubt about which
    repetition was which. None where they share too few tempos."""
    sides = np.where(ways.drawn == first, 1, np.where(ways.drawn == second, 0, 2))
    seen = at_equal_tempo(features.clean, features, sides, 1)
    if seen is None:
        return None
    clean = [{bpm: (a, n) for bpm, a, n in ways.ways[k].clean_by_tempo} for k in (first, second)]
    by_tempo = tuple(
        (bpm, *clean[0][bpm], *clean[1][bpm]) for bpm in sorted(set(clean[0]) & set(clean[1]))
    )
    if not by_tempo:
        return None
    told = [ways.way == k for k in (first, second)]
    reps = int(told[0].sum()), int(told[1].sum())
    overall = Difference(
        by_tempo[0][0], by_tempo[-1][0], 100 * seen.by, 100 * seen.low, 100 * seen.high, reps,
        (int(features.clean[told[0]].sum()), int(features.clean[told[1]].sum())),
    )  # fmt: skip
    return Comparison(overall, None, by_tempo, reps)
