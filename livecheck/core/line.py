"""The straight line of a repetition's onsets: where its own tempo puts every grid step.

All times are corrected onsets (conversion delay taken off).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

LEAST_POINTS = 3


class Line(NamedTuple):
    """Corrected onset against grid position: onset = start_s + step_s × position."""

    start_s: float
    step_s: float


def tempo_line(points: Sequence[tuple[int, float]]) -> Line | None:
    """Least-squares line through (grid position, onset in seconds) pairs.

    None for fewer than two positions. Source: ordinary least squares; measures.md, tempo.

    >>> line = tempo_line([(0, 1.0), (1, 1.15), (2, 1.3)])
    >>> round(line.start_s, 6), round(line.step_s, 6)
    (1.0, 0.15)
    """
    count = len(points)
    if count < 2:
        return None
    first_s = points[0][1]
    mean_x = sum(point[0] for point in points) / count
    mean_y = sum(point[1] - first_s for point in points) / count
    over = under = 0.0
    for position, onset_s in points:
        away = position - mean_x
        over += away * (onset_s - first_s - mean_y)
        under += away * away
    if under == 0.0:
        return None
    step_s = over / under
    return Line(first_s + mean_y - step_s * mean_x, step_s)


def line_through(
    points: Sequence[tuple[int, float]], neighbour_step_s: float | None
) -> Line | None:
    """A repetition's own line, else one with its neighbour's slope through its points.

    neighbour_step_s: seconds a grid step of the repetition before, used where this one has fewer
    than three points.
    """
    if len(points) >= LEAST_POINTS:
        line = tempo_line(points)
        return line if line is not None and line.step_s > 0.0 else None
    if neighbour_step_s is None or not points:
        return None
    start_s = sum(onset_s - position * neighbour_step_s for position, onset_s in points) / len(
        points
    )
    return Line(start_s, neighbour_step_s)
