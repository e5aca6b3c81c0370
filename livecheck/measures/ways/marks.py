"""Which of the ways that are known a repetition was played in, told as soon as it is over.

Each repetition is weighed against the ways that were found before (``known``). What this sitting
does to every column (other strings, another rig, a day's touch) is not known beforehand: it is
worked out beside the ways from the repetitions so far, by several stories of who played which, each
with its own sitting's level (a sum of Gaussians: D. L. Alspach, H. W. Sorenson, IEEE Transactions
on Automatic Control 17 (1972) 439-448). What comes later changes no mark, so that a replay marks as
live play did; the gap at the seam, known only from the next repetition, says nothing here.

>>> from livecheck.measures.ways.marks import SURE
>>> SURE
0.9
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from ...core.events import Repetition
from .base import courses_at
from .features import Features, figure_of, heard
from .known import Known
from .model import hits_emitted

SURE = 0.9
"""A repetition is marked from this chance on."""
_STORIES = 40
_DRIFT = 0.03  # by which a sitting's level moves from one repetition to the next, in scatters
_BACK = 12  # repetitions that tell the tempo of the last one
_FAR = 4.0  # scatters beyond all ways that a value is held to
_DAY_ODDS = 0.8  # SD of a day's log odds of a touch


@dataclass(frozen=True, slots=True)
class Told:
    """The likeliest way, from 0, and its chance."""

    way: int
    chance: float

    @property
    def sure(self) -> bool:
        return self.chance >= SURE


class Marks:
    """Hears one sitting's repetitions in order and tells the way of each."""

    def __init__(self, known: Known) -> None:
        self.known = known
        self._reps: deque[Repetition] = deque(maxlen=_BACK)
        self._take: int | None = None
        wide = len(known.columns)
        self._doubt = np.diag(known.sitting) + 0.0
        self._level = np.zeros((1, wide))  # by story
        self._log = np.zeros(1)
        self._last = np.zeros(1, int)

    def hear(self, rep: Repetition) -> Told | None:
        """A repetition that is over; None where it says nothing, or is of another figure."""
        if figure_of(rep.cell) != self.known.figure:
            return None
        if self._reps and rep.take != self._reps[-1].take:
            self._reps.clear()
        self._reps.append(rep)
        features = heard(list(self._reps))
        if features is None or features.rep[-1] != rep.rep:
            return None
        return self.weigh(features)

    def weigh(self, features: Features) -> Told | None:
        """The last row of some features; None where nothing was heard."""
        known = self.known
        row = features.where(np.arange(len(features)) == len(features) - 1)
        x = float(np.log(row.bpm[0]))
        low, high, mean, sd = known.tempo
        at = np.clip((x - low) / max(high - low, 0.05), 0.0, 1.0)
        course = courses_at(np.array([at]), row.begins, known.turns)[0]
        z = (x - mean) / sd
        moved = known.coef + float(np.clip(z, -2.5, 2.5)) * known.slope
        there = course @ known.course + moved  # (K, D)
        y = _values(known, row) * np.exp(known.pace * (x - mean)) / known.size
        told = ~np.isnan(y)
        things, some = _things(known, row), np.zeros(known.ways)
        if not told.any() and np.isnan(things).all():
            return None
        for k in range(known.ways if len(things) else 0):
            logit = course @ known.thing_course + known.thing_odds[k]
            # as good as the mean over the days (D. J. C. MacKay, Neural Comp. 4 (1992) 720-736)
            logit = logit / np.sqrt(1.0 + np.pi / 8.0 * _DAY_ODDS**2)
            some[k] = hits_emitted(things[None, :], logit[None, :])[0]
        share = known.share.T @ np.array([1.0, z, z * z - 1.0])
        share = np.exp(share - share.max())
        share /= share.sum()
        prior = np.tile(share, (len(self._log), 1))
        if self._take == int(row.take[0]):
            kept = self._last[:, None] == np.arange(known.ways)
            prior = known.stay * kept + (1.0 - known.stay) * share
        self._take = int(row.take[0])
        log = self._log[:, None] + np.log(np.maximum(prior, 1e-12)) + some
        level = np.repeat(self._level[:, None, :], known.ways, axis=1)  # (M, K, D)
        if told.any():
            self._doubt[np.diag_indices(len(y))] += _DRIFT**2
            inner = self._doubt[np.ix_(told, told)] + known.scatter[np.ix_(told, told)]
            gain = np.linalg.solve(inner, self._doubt[told]).T  # (D, T)
            off = (np.where(told, y, 0.0) - there)[None] - level
            least = np.minimum(np.abs(off).min(axis=(0, 1)), 1e6)
            off -= np.sign(off) * np.maximum(least - _FAR, 0.0)
            off = off[:, :, told]
            log = log - 0.5 * np.einsum("mkt,mkt->mk", off, off @ np.linalg.inv(inner))
            level = level + off @ gain.T
            self._doubt = self._doubt - gain @ self._doubt[told]
            self._doubt = (self._doubt + self._doubt.T) / 2.0
        self._keep(log, level)
        weight = np.exp(self._log)
        chance = np.bincount(self._last, weight, known.ways) / weight.sum()
        return Told(int(chance.argmax()), float(chance.max()))

    def _keep(self, log: np.ndarray, level: np.ndarray) -> None:
        """The likeliest stories go on."""
        flat = log.ravel()
        best = np.argsort(-flat, kind="stable")[:_STORIES]
        best = best[flat[best] > flat[best[0]] - 15.0]
        self._log = flat[best] - flat[best[0]]
        self._level = level.reshape(len(flat), -1)[best]
        self._last = best % log.shape[1]


def _values(known: Known, row: Features) -> np.ndarray:
    """(D,) what was heard off what is usual; NaN where nothing was."""
    off = row.loud[0] - known.level
    level = float(np.nanmedian(off)) if (~np.isnan(off)).any() else 0.0
    parts = {"timing": row.late[0], "loudness": row.loud[0] - level, "ring": row.ring[0]}
    return np.array([parts[what][slot - 1] for what, slot in known.columns]) - known.usual


def _things(known: Known, row: Features) -> np.ndarray:
    parts = {"noise": row.touched[0], "cut_off": row.cut[0], "bend": row.bent[0]}
    return np.array([parts[what][at - 1] for what, at in known.things], float)
