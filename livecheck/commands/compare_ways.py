"""Two ways of playing that were found by themselves (``livecheck ways``), set against each
other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TextIO

from ..errors import BadInput
from ..files.review_report import comparison_to_dict
from ..files.waynames import at_name
from ..measures.review.compare import verdict
from ..measures.ways.against import compared
from .choice import Choice
from .common import print_json
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
    print(*told_lines(seen, names, words, [title_of(chosen)], out), sep="\n", file=out)
    return 0
