"""A player's clock: how the errors of neighbouring strokes hang together, and rows made independent
of each other.

Two-level model (Wing & Kristofferson 1973; sources.md E-12, E-13): a timekeeper whose errors add up
from step to step, a tempo that wanders, and for each stroke an error of its own. To a click the
player is drawn back: a share of the lead or lag is left one step later. Followed by a Kalman
filter, whose surprises are independent.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np

_ANY_PLACE = 1e8  # variance of a beginning, in stroke variances: it may lie anywhere
_ANY_TEMPO = 1e4
_KEEPERS = (0.01, 0.03, 0.1, 0.2, 0.36, 0.6, 1.0, 2.0, 5.0)
_WANDERS = (0.0, 1e-5, 1e-4, 1e-3, 1e-2, 1e-1)
_LEFT = (0.3, 0.6, 0.8, 0.9, 0.97)


class Clock(NamedTuple):
    """Variances in those of a stroke's own error; in ``likeliest`` a value for each candidate."""

    keeper: float | np.ndarray  # timekeeper, each step
    wander: float | np.ndarray  # change of tempo in squared ms a step, each step
    left: float | np.ndarray  # of a lead or lag one step later; 1 where there is no click


PULSE = Clock(0.36, 1e-4, 1.0)
CLICK = Clock(0.36, 0.0, 0.8)
"""To begin with."""


def whiten(rows: np.ndarray, steps: Sequence[int], clock: Clock) -> np.ndarray:
    """Rows (n, k) made independent, each of the variance of a stroke's own error.

    steps: of the clock since the row before; 0 where the pulse begins anew, which may be at any
    time.
    """
    import numpy as np

    white = np.empty_like(rows, dtype=float)
    place = tempo = np.zeros(rows.shape[1])
    for at, (step, left, spread, place_gain, tempo_gain) in enumerate(_gains(steps, clock)):
        if step == 0:
            place = tempo = np.zeros(rows.shape[1])
        else:
            place = left * place + step * tempo
        surprise = rows[at] - place
        white[at] = surprise / spread**0.5
        place = place + place_gain * surprise
        tempo = tempo + tempo_gain * surprise
    return white


def likeliest(away_ms: Sequence[float], steps: Sequence[int], to_click: bool) -> Clock:
    """The clock of highest likelihood, among a grid of them, for strokes that lie so far off an
    even grid."""
    import numpy as np

    wanders, pulls = ((0.0,), _LEFT) if to_click else (_WANDERS, (1.0,))
    grid = [
        Clock(keeper, wander, left) for keeper in _KEEPERS for wander in wanders for left in pulls
    ]
    every = Clock(*(np.array(part, float) for part in zip(*grid)))
    place = tempo = logs = squares = np.zeros(len(grid))
    for away, (step, left, spread, place_gain, tempo_gain) in zip(away_ms, _gains(steps, every)):
        if step == 0:
            place = tempo = np.zeros(len(grid))
        else:
            place = left * place + step * tempo
        surprise = away - place
        logs = logs + np.log(spread)
        squares = squares + surprise * surprise / spread
        place = place + place_gain * surprise
        tempo = tempo + tempo_gain * surprise
    return grid[int(np.argmin(logs + len(away_ms) * np.log(np.maximum(squares, 1e-12))))]


_Gain = tuple[
    int, "float | np.ndarray", "float | np.ndarray", "float | np.ndarray", "float | np.ndarray"
]


def _gains(steps: Sequence[int], clock: Clock) -> Iterator[_Gain]:
    """For each row: steps, share left, variance of the surprise, and what place and tempo take up
    of it."""
    keeper, wander, left = clock
    free = _is_free(left)
    rest = _ANY_PLACE + 0.0 * keeper if free else keeper / (1.0 - left * left)
    place, both, tempo = rest, 0.0 * rest, (_ANY_TEMPO if free else 0.0) + 0.0 * rest
    for step in steps:
        kept = left**step
        if step == 0:
            place, both, tempo = rest, 0.0 * rest, (_ANY_TEMPO if free else 0.0) + 0.0 * rest
        else:
            grown = step * keeper if free else rest * (1.0 - kept * kept)
            place = kept * kept * place + 2.0 * step * both + step * step * tempo + grown
            both = both + step * tempo
            tempo = tempo + step * wander
        spread = place + 1.0
        place_gain, tempo_gain = place / spread, both / spread
        yield step, kept, spread, place_gain, tempo_gain
        place, both, tempo = (
            place - place_gain * place,
            both - place_gain * both,
            tempo - tempo_gain * both,
        )


def _is_free(left: float | np.ndarray) -> bool:
    """No click draws the player back."""
    return bool((left == 1.0) if isinstance(left, float) else (left == 1.0).all())
