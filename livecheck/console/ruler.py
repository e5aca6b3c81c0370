"""The panel beside a wide table: a ruler of early and late for each slot, and the strings that made
unwanted sounds."""

from __future__ import annotations

from collections.abc import Sequence

from ..core.plain_text import counted
from ..measures.profile import SlotMean
from .lines import Line, fitted, padded, piece
from .model import Model
from .palette import FAINT, GOOD, NOISY, NORMAL, SLIP, STRONG, Signs

LABEL, FIGURE = 5, 12
SPANS_MS = (20, 40, 80, 160)


def ruler_lines(means: Sequence[SlotMean], width: int, signs: Signs) -> list[Line]:
    """One line a slot: its mean against the tempo line with the interval; the shaded middle cannot
    be noticed."""
    if not means:
        return []
    scale = (width - LABEL - FIGURE - 2) // 2 * 2 + 1
    half = scale // 2
    span_ms = _span(means)
    lines = [fitted([piece(" note ", FAINT), piece(_ends(scale, span_ms), FAINT)], width)]
    for mean in means:
        line: Line = [padded(f"{mean.slot} ", LABEL, NORMAL, right=True), piece(" ")]
        if mean.mean_ms is None or mean.low_ms is None or mean.high_ms is None:
            line.append(padded(signs.upright.center(scale), scale, FAINT))
            line.append(piece(f" too few ({mean.count})", FAINT))
        else:
            line += _track(mean, half, span_ms, signs)
            style = SLIP if mean.lean else FAINT
            line.append(piece(f" {mean.mean_ms:+5.1f} {mean.lean or ''}", style))
        lines.append(fitted(line, width))
    return lines


def _span(means: Sequence[SlotMean]) -> int:
    reach = max(
        (abs(edge) for mean in means for edge in (mean.low_ms, mean.high_ms) if edge is not None),
        default=0,
    )
    return next((span for span in SPANS_MS if reach <= span), SPANS_MS[-1])


def _ends(scale: int, span_ms: int) -> str:
    left, right = f"{span_ms} ms early", "late"
    return left + right.rjust(scale - len(left))


def _track(mean: SlotMean, half: int, span_ms: float, signs: Signs) -> Line:
    """The scale of one slot, in runs of one style."""

    def column(value_ms: float) -> int:
        return half + max(-half, min(half, round(value_ms / span_ms * half)))

    band = range(column(-mean.noticeable_ms), column(mean.noticeable_ms) + 1)
    assert mean.mean_ms is not None and mean.low_ms is not None and mean.high_ms is not None
    at, reach = column(mean.mean_ms), range(column(mean.low_ms), column(mean.high_ms) + 1)
    line: Line = []
    for place in range(2 * half + 1):
        if place == at:
            line.append(piece(signs.mean, SLIP if mean.lean else GOOD))
        elif place in reach:
            line.append(piece(signs.span, SLIP if mean.lean else GOOD))
        elif place == half:
            line.append(piece(signs.upright, FAINT))
        else:
            line.append(piece(signs.band if place in band else " ", FAINT))
    return line


def noise_lines(model: Model, width: int, signs: Signs) -> list[Line]:
    """Each string that made unwanted sounds, with a bar over the last repetitions."""
    count = len(model.recent)
    noisy = model.noise_by_string()
    if not count:
        return []
    head = f" unwanted sounds in the last {counted(count, 'repetition')}"
    if len(head) > width:
        head = f" unwanted sounds, last {count}"
    lines = [fitted([piece(head, FAINT)], width)]
    if not noisy:
        lines.append(fitted([piece("   none", FAINT)], width))
    for string, reps in sorted(noisy.items()):
        bar = signs.bar * max(1, round(reps / count * (width - 18)))
        lines.append(
            fitted(
                [piece(f" string {string} ", NORMAL), piece(bar, NOISY), piece(f" {reps}", STRONG)],
                width,
            )
        )
    return lines
