"""The hand's way through a sitting: which way the pick went at each note, weighed over all ways.

Picked notes turn the pick round, mostly; slurred ones leave it where it was. Within a repetition
the state is the direction of the last stroke. Over the seam the picking either goes on from the
last stroke or takes up the stroke that the repetition before began from; a new beginning is free of
both. Forward and backward sums over all repetitions at once, slot by slot.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np

SLIP = 0.002
"""Chance of a first stroke that neither kind of seam explains."""


class Heard(NamedTuple):
    """What speaks for each way; R repetitions of S slots. Likelihoods may be scaled by note."""

    stroke: np.ndarray  # (R, S, 2) likelihood of a note as a stroke one way or the other
    slur: np.ndarray  # (R, S) as a note without a stroke
    slurred: np.ndarray  # (R, S) chance beforehand of no stroke
    turning: np.ndarray  # (R, S) chance beforehand that a stroke turns the pick round
    alternate: np.ndarray  # (R,) chance beforehand that picking goes on over the seam before it
    afresh: np.ndarray  # (R,) the repetition begins anew
    begin: np.ndarray  # (R,) chance that a new beginning comes from way 0


class Ways(NamedTuple):
    """What is likely of each note and seam, with everything heard."""

    stroke: np.ndarray  # (R, S, 2)
    slur: np.ndarray  # (R, S)
    turned: np.ndarray  # (R, S) chance of a stroke that turned the pick round
    begin: np.ndarray  # (R, 2) way before the first stroke
    goes_on: np.ndarray  # (R,) chance that the seam before went on alternating, and only that
    takes_up: np.ndarray  # (R,) chance that it took up the beginning, and only that
    fit: float  # log likelihood, but for the scale of the likelihoods


def ways(heard: Heard) -> Ways:
    """Weigh every way through the sitting. Every repetition that is not ``afresh`` follows the one
    before it in the arrays."""
    import numpy as np

    reps, slots = heard.slur.shape
    steps, over = _steps(heard), _over_seams(heard)
    within = np.empty((slots + 1, reps, 2, 2))  # by way at the beginning and way now
    within[0] = np.eye(2)
    scale = np.zeros(reps)
    for slot in range(slots):
        now = within[slot] @ steps[:, slot]
        most = now.sum(axis=(1, 2))
        within[slot + 1] = now / most[:, None, None]
        scale += np.log(most)
    # from one repetition's beginning to the next one's
    links = np.einsum("rvd,rvdw->rvw", within[slots][:-1], over[1:]).tolist()
    ends = within[slots][-1].sum(axis=1)
    first = float(heard.begin[0])
    forth, reached = _along(links, (first, 1.0 - first))
    behind = _along([((a, c), (b, d)) for (a, b), (c, d) in reversed(links)], tuple(ends))[0][::-1]
    fit = float(scale.sum()) + reached + float(np.log(forth[-1] @ ends))
    return _told(heard, steps, over, within, forth, behind)._replace(fit=fit)


def _along(
    links: Sequence[tuple[tuple[float, float], tuple[float, float]]], start: tuple[float, ...]
) -> tuple[np.ndarray, float]:
    """A row of two chances carried through 2 by 2 links: (links + 1, 2), each row scaled to sum to
    one but the first, and the log of what was scaled away."""
    import numpy as np

    one, other = start
    rows, sums = [(one, other)], []
    for (a, b), (c, d) in links:
        one, other = one * a + other * c, one * b + other * d
        total = one + other
        one, other = one / total, other / total
        rows.append((one, other))
        sums.append(total)
    return np.array(rows), float(np.log(sums).sum()) if sums else 0.0


def _steps(heard: Heard) -> np.ndarray:
    """(R, S, 2, 2): from the way before a slot to the way after it."""
    import numpy as np

    stroke = (1.0 - heard.slurred)[:, :, None] * heard.stroke
    turn, stay = heard.turning[:, :, None] * stroke, (1.0 - heard.turning)[:, :, None] * stroke
    slur = heard.slurred * heard.slur
    steps = np.empty((*slur.shape, 2, 2))
    steps[:, :, 0, 0], steps[:, :, 1, 1] = stay[:, :, 0] + slur, stay[:, :, 1] + slur
    steps[:, :, 0, 1], steps[:, :, 1, 0] = turn[:, :, 1], turn[:, :, 0]
    return steps


def _over_seams(heard: Heard) -> np.ndarray:
    """(R, 2, 2, 2): by the way before the repetition that went before and its last way, the chance
    of each way before this one."""
    import numpy as np

    eye = np.eye(2)
    on = heard.alternate[:, None, None, None]
    seam = on * eye[None, None, :, :] + (1.0 - on) * eye[None, :, None, :]
    seam = SLIP / 2 + (1.0 - SLIP) * seam
    fresh = np.stack([heard.begin, 1.0 - heard.begin], axis=1)[:, None, None, :]
    return np.where(heard.afresh[:, None, None, None], fresh, seam)


def _told(
    heard: Heard,
    steps: np.ndarray,
    over: np.ndarray,
    within: np.ndarray,
    forth: np.ndarray,
    behind: np.ndarray,
) -> Ways:
    """The chances of every note and seam. forth, behind: (R, 2), what was heard before and from a
    repetition's beginning on, by the way there."""
    import numpy as np

    reps, slots = heard.slur.shape
    later = np.ones((reps, 2, 2))  # by way at the beginning and way now
    if reps > 1:
        later[:-1] = np.einsum("rvdw,rw->rvd", over[1:], behind[1:])
    stroke, slur = np.empty((reps, slots, 2)), np.empty((reps, slots))
    turned = np.empty((reps, slots))
    for slot in range(slots - 1, -1, -1):
        before = forth[:, :, None] * within[slot]
        take = (1.0 - heard.slurred[:, slot])[:, None] * heard.stroke[:, slot]
        # (R, 2) by the way after: from the same way, and from the other
        same = np.einsum("rvd,rvd->rd", before, later) * take
        other = np.einsum("rvd,rvd->rd", before[:, :, ::-1], later) * take
        stay = (1.0 - heard.turning[:, slot])[:, None] * same
        turn = heard.turning[:, slot][:, None] * other
        none = np.einsum("rvd,rvd->r", before, later) * heard.slurred[:, slot] * heard.slur[:, slot]
        total = stay.sum(axis=1) + turn.sum(axis=1) + none
        stroke[:, slot] = (stay + turn) / total[:, None]
        slur[:, slot], turned[:, slot] = none / total, turn.sum(axis=1) / total
        later = np.einsum("rde,rve->rvd", steps[:, slot], later)
        later /= later.sum(axis=(1, 2))[:, None, None]
    begin = forth * np.einsum("rvv->rv", later)
    begin /= begin.sum(axis=1)[:, None]
    goes_on, takes_up = np.zeros(reps), np.zeros(reps)
    if reps > 1:
        # way at the beginning before, last way before, way at this beginning
        pair = (forth[:-1, :, None] * within[slots][:-1])[:, :, :, None] * over[1:]
        pair = pair * behind[1:, None, None, :]
        pair /= pair.sum(axis=(1, 2, 3))[:, None, None, None]
        seam = ~heard.afresh[1:]
        goes_on[1:] = np.where(seam, pair[:, 0, 1, 1] + pair[:, 1, 0, 0], 0.0)
        takes_up[1:] = np.where(seam, pair[:, 0, 1, 0] + pair[:, 1, 0, 1], 0.0)
    return Ways(stroke, slur, turned, begin, goes_on, takes_up, 0.0)
