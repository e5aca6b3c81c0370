"""One way of playing set against another at equal tempo, as any two groups of repetitions are."""

from __future__ import annotations

import numpy as np

from ..review.compare import Comparison, Difference
from .features import Features
from .find import Ways
from .told import at_equal_tempo


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
