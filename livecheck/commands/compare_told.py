"""A comparison at equal tempo in lines, whatever was compared."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TextIO

from ..measures.review.compare import Comparison
from ..report.compare_picture import two_lines
from ..report.review_text import ASCII, PLAIN, wrapped
from .common import only_ascii, rows, width_of


def told_lines(
    found: Comparison | None, names: tuple[str, str], words: str, titles: Sequence[str], out: TextIO
) -> list[str]:
    """What was found in words, what was compared, and the clean repetitions tempo by tempo: as a
    table and as a picture."""
    width = width_of(out)
    lines = [*wrapped(words, width), *titles]
    if found is None:
        return lines
    table = [["bpm", *names]]
    table += [
        [f"{bpm:.0f}", f"{k_a} of {n_a}", f"{k_b} of {n_b}"]
        for bpm, k_a, n_a, k_b, n_b in found.by_tempo
    ]
    picture = two_lines(found, names, width, ASCII if only_ascii(out) else PLAIN)
    return [*lines, "", "Clean repetitions", *rows(table, right=(0, 1, 2)), "", *picture]
