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
    fit: np.ndarray  # (R,) what each adds to the log likelihood, but for the scale of likelihoods


def ways(heard: Heard) -> Ways:
    """Weigh every way through the sitting. Every repetition that is not ``afresh`` follows the one
    before it in the arrays."""
    import numpy as np

    reps, slots = heard.slur.shape
    steps, over = _steps(heard), _over_seams(heard)
    within = np.empty((slots + 1, 2, 2, reps))  # by way at the beginning and way now
    within[0] = np.eye(2)[:, :, None]
    most = np.empty((slots, reps))
    for slot in range(slots):
        last, step = within[slot], steps[slot]
        now = last[:, :1] * step[0] + last[:, 1:] * step[1]
        most[slot] = now.sum(axis=(0, 1))
        within[slot + 1] = now / most[slot]
    # from one repetition's beginning to the next one's
    links = np.einsum("vdr,rvdw->rvw", within[slots][:, :, :-1], over[1:]).tolist()
    ends = within[slots][:, :, -1].sum(axis=1)
    first = float(heard.begin[0])
    forth, reached = _along(links, (first, 1.0 - first))
    behind = _along([((a, c), (b, d)) for (a, b), (c, d) in reversed(links)], tuple(ends))[0][::-1]
    fit = np.log(most).sum(axis=0) + np.log([*reached, float(forth[-1] @ ends)])
    return _told(heard, steps, over, within, forth, behind)._replace(fit=fit)


def _along(
    links: Sequence[tuple[tuple[float, float], tuple[float, float]]], start: tuple[float, ...]
) -> tuple[np.ndarray, list[float]]:
    """A row of two chances carried through 2 by 2 links: (links + 1, 2), each row scaled to sum to
    one but the first, and by how much at each link."""
    import numpy as np

    one, other = start
    rows, sums = [(one, other)], []
    for (a, b), (c, d) in links:
        one, other = one * a + other * c, one * b + other * d
        total = one + other
        one, other = one / total, other / total
        rows.append((one, other))
        sums.append(total)
    return np.array(rows), sums


def _steps(heard: Heard) -> np.ndarray:
    """(S, 2, 2, R): from the way before a slot to the way after it."""
    import numpy as np

    stroke = (1.0 - heard.slurred) * np.moveaxis(heard.stroke, 2, 0)
    turn, stay = heard.turning * stroke, (1.0 - heard.turning) * stroke
    slur = heard.slurred * heard.slur
    steps = np.empty((slur.shape[1], 2, 2, len(slur)))
    steps[:, 0, 0], steps[:, 1, 1] = (stay[0] + slur).T, (stay[1] + slur).T
    steps[:, 0, 1], steps[:, 1, 0] = turn[1].T, turn[0].T
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
    later = np.ones((slots + 1, 2, 2, reps))  # by way at the beginning and way now
    if reps > 1:
        later[slots, :, :, :-1] = np.einsum("rvdw,rw->vdr", over[1:], behind[1:])
    for slot in range(slots - 1, -1, -1):
        after, step = later[slot + 1], steps[slot]
        now = after[:, :1] * step[:, 0] + after[:, 1:] * step[:, 1]
        later[slot] = now / now.sum(axis=(0, 1))
    # (S, ways at the beginning, ways before or after, R); then summed over beginnings
    before, after = forth.T[:, None] * within[:-1], later[1:]
    same, other = (before * after).sum(axis=1), (before[:, :, ::-1] * after).sum(axis=1)
    slurred, turning = heard.slurred.T, heard.turning.T
    take = (1.0 - slurred)[:, None] * np.moveaxis(heard.stroke, 0, 2)
    stay, turn = (1.0 - turning)[:, None] * same * take, turning[:, None] * other * take
    none = same.sum(axis=1) * slurred * heard.slur.T
    total = stay.sum(axis=1) + turn.sum(axis=1) + none
    stroke = np.moveaxis((stay + turn) / total[:, None], 2, 0)
    slur, turned = (none / total).T, (turn.sum(axis=1) / total).T
    begin = forth * np.einsum("vvr->rv", later[0])
    begin /= begin.sum(axis=1)[:, None]
    goes_on, takes_up = np.zeros(reps), np.zeros(reps)
    if reps > 1:
        # way at the beginning before, last way before, way at this beginning
        last = np.moveaxis(within[slots], 2, 0)
        pair = (forth[:-1, :, None] * last[:-1])[:, :, :, None] * over[1:]
        pair = pair * behind[1:, None, None, :]
        pair /= pair.sum(axis=(1, 2, 3))[:, None, None, None]
        seam = ~heard.afresh[1:]
        goes_on[1:] = np.where(seam, pair[:, 0, 1, 1] + pair[:, 1, 0, 0], 0.0)
        takes_up[1:] = np.where(seam, pair[:, 0, 1, 0] + pair[:, 1, 0, 1], 0.0)
    return Ways(stroke, slur, turned, begin, goes_on, takes_up, np.zeros(reps))
