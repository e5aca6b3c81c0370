"""Was a ringing string stopped by the passing hand, or did it end by itself?

A note left behind ends in one of three ways: it is let go about when the next string is played (and
the converter adds its own time), it rings on and dies, or a hand that passes over it stops it. How
notes are let go and how long they ring is learned from the whole sitting, from every note that was
left, also those that no hand passed. An end that falls into a crossing is a cut only as far as such
ends are more frequent there than the string's own ends make likely; where both are about as likely
it cannot be told (sources.md C-17: the end of a note is where tracking gave up).

When in a crossing the hand passes a string is learned from the strings that it brushed and struck.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log
from typing import TYPE_CHECKING, NamedTuple

from ..stats import sigmoid

if TYPE_CHECKING:
    import numpy as np

CUT, NOT_CUT = 0.8, 0.1
"""A string is told to be cut off from this chance on, not to be up to that one; between them it
cannot be said."""

# Where learning begins, and what holds it in few notes. No source; wide ranges around the usual.
_LET_GO_S, _LET_GO_SPREAD_S = 0.010, 0.022  # after the next string is played
_SOON_S, _LEAST_SOON = 0.17, 6  # ends that come so soon may be strings let go
_LET_GO_WEIGHT = 20.0  # notes that this is worth
# notes that the sitting's habit is worth to a string, the string's to a slot
_STRING_WEIGHT, _SLOT_WEIGHT = 6.0, 25.0
_LATEST_LET_GO_S = 0.16
_LEAST_SPREAD_S, _MOST_SPREAD_S = 0.004, 0.050
# median time of a note that rings on, how narrow its spread (log-logistic), and how likely this is
_RINGS = tuple(
    (middle, shape, weight)
    for middle, weight in (
        (0.1, 0.05),
        (0.2, 0.08),
        (0.4, 0.14),
        (0.8, 0.25),
        (1.8, 0.25),
        (5.0, 0.23),
    )
    for shape in (1.8, 3.5)
)
# the same of a sound that nobody planned, from its onset
_SOUND_S, _SOUND_SHAPE, _SOUND_WEIGHT = 0.20, 2.2, 4.0
_LEAST_SOUND_S = 0.06  # shorter ones are brushes, which do not ring
# share of notes that ring on, and the notes that this is worth
_RING_SHARE, _RING_WEIGHT = 0.10, 4.0
_ODD, _ODD_PER_S = 0.03, 0.5  # ends that come from anywhere
_CHANCES = (0.0, 0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.9)  # of a cut, where the string rings
_CHANCES_PRIOR = (0.15, 0.07, 0.10, 0.14, 0.18, 0.16, 0.10, 0.06, 0.04)
_PRIOR_WEIGHT = 4.0  # places that this is worth beside those of the sitting
# when in a crossing the hand passes, and touches that it is worth
_PASS_MEAN, _PASS_SD, _PASS_WEIGHT = 0.55, 0.25, 8.0
_LAGS = (0.0, 0.015, 0.03, 0.045, 0.06, 0.08, 0.1)  # how late a note-off comes after a cut
_LAG_ENDS = (0.0, 0.1)
_LAG_MORE_S, _LAG_SPREAD_S = 0.010, 0.018  # over the usual time at which strings are let go
_LAG_DOUBT_S = 0.05  # where that is not known
_ROUNDS = 6


class Window(NamedTuple):
    """A crossing over a string while a note of that string might ring; times after the note was
    left."""

    place: tuple[int, int]  # (slot before, string): crossings that share their chance of a cut
    begin_s: float
    end_s: float


class Left(NamedTuple):
    """A note and what came of it. Times are seconds after it was left: the next note on another
    string was played."""

    key: tuple[int, int]  # (string, slot), slot 0 for a sound that is no slot's
    end_s: float
    # False: taken over by the next note of its string at ``end_s``, or still sounding then
    ended: bool
    windows: tuple[Window, ...]


def cut_chances(left: Sequence[Left], touches: Sequence[float]) -> list[tuple[float, ...]]:
    """For each note, and each of its windows, the chance that the hand stopped the string there.

    touches: when hands passed strings in this sitting, as shares of the way through the crossing.
    """
    if not any(one.windows for one in left):
        return [()] * len(left)
    return _Ends(left, touches).learn()


class _Own(NamedTuple):
    """The strings' own ends, by note: density, chance of a later end, of having rung on if it ended
    here or later."""

    density: np.ndarray
    later: np.ndarray
    rung: np.ndarray
    still: np.ndarray
    fit: float


class _Ends:
    """How the notes of one sitting end. Learned by turns: ways of ending from chances, chances from
    ways of ending."""

    def __init__(self, left: Sequence[Left], touches: Sequence[float]) -> None:
        import numpy as np

        self.left = left
        self.end = np.array([one.end_s for one in left])
        self.ended = np.array([one.ended for one in left])
        keys = {key: at for at, key in enumerate(sorted({one.key for one in left}))}
        self.key = np.array([keys[one.key] for one in left])
        self.keys = len(keys)
        self.strings = np.array([key[0] for key in keys])
        self.planned = np.array([key[1] > 0 for key in keys])[self.key]
        flat = [
            (at, window)
            for at, one in enumerate(left)
            for window in one.windows
            if window.begin_s < one.end_s and window.begin_s < window.end_s
        ]
        self.owner = np.array([at for at, _ in flat], dtype=int)
        self.begin = np.array([window.begin_s for _, window in flat])
        self.long = np.array([window.end_s - window.begin_s for _, window in flat])
        places = {
            place: at for at, place in enumerate(dict.fromkeys(window.place for _, window in flat))
        }
        self.place = np.array([places[window.place] for _, window in flat], dtype=int)
        self.places = len(places)
        self.passing = _Passing(touches)
        self.let_go = np.full(self.keys, _LET_GO_S)
        self.spread = _LET_GO_SPREAD_S
        self.share = np.full(self.keys, _RING_SHARE)
        self.usual, self.lag_spread = _LET_GO_S, _LAG_SPREAD_S + _LAG_DOUBT_S
        self.of_place = np.zeros((self.places, len(flat)))
        self.of_place[self.place, np.arange(len(flat))] = 1.0
        self.of_owner = np.zeros((len(flat), len(left)))
        self.of_owner[np.arange(len(flat)), self.owner] = 1.0
        lasted = [
            log(one.end_s)
            for one in left
            if one.key[1] == 0 and one.ended and one.end_s > _LEAST_SOUND_S
        ]
        self.sound_s = exp(
            (sum(lasted) + _SOUND_WEIGHT * log(_SOUND_S)) / (len(lasted) + _SOUND_WEIGHT)
        )

    def learn(self) -> list[tuple[float, ...]]:
        import numpy as np

        self._first_guess()
        cut = np.zeros(len(self.owner))
        for _ in range(_ROUNDS):
            cut, rung = self._weighed()
            self._ways(
                np.clip(np.bincount(self.owner, weights=cut, minlength=len(self.end)), 0.0, 1.0),
                rung,
            )
        found: list[dict[float, float]] = [{} for _ in self.left]
        for at, begin, chance in zip(self.owner, self.begin, cut):
            found[at][begin] = float(chance)
        return [
            tuple(chances.get(window.begin_s, 0.0) for window in one.windows)
            for one, chances in zip(self.left, found)
        ]

    def _first_guess(self) -> None:
        """Where strings are let go: the middle of the ends that come soon where no hand passes, if
        there are enough."""
        import numpy as np

        passed = np.array(
            [any(window.begin_s < _SOON_S for window in one.windows) for one in self.left]
        )
        soon = self.end[self.ended & self.planned & ~passed & (np.abs(self.end) < _SOON_S)]
        middle = float(np.median(soon)) if len(soon) >= _LEAST_SOON else _LET_GO_S
        self.let_go = np.full(self.keys, middle)
        self.usual = middle

    # -------------------------------------------------------------------------------------- chances

    def _weighed(self) -> tuple[np.ndarray, np.ndarray]:
        """Chance of a cut in each window, and of each note that it rang on.

        Over all ways in which notes may ring, and all lags by which a note-off may come after a
        cut.
        """
        import numpy as np

        t = (self.end - self.let_go[self.key]) / self.spread
        let_go = _student(t, self.spread)
        owns = [(self._own(ring_s, shape, let_go), log(prior)) for ring_s, shape, prior in _RINGS]
        usual_lag = max(0.0, self.usual) + _LAG_MORE_S
        passing = [
            (
                self._passing(lag),
                -0.5 * ((lag - usual_lag) / self.lag_spread) ** 2
                - (0.7 if lag in _LAG_ENDS else 0.0),
            )
            for lag in _LAGS
        ]
        here = np.array([one for (one, _), _ in passing])
        passed = np.array([one for (_, one), _ in passing])
        odds_of = np.array(
            [np.where(self.ended, own.later / own.density, 0.0)[self.owner] for own, _ in owns]
        )
        fits, cuts = self._cuts(odds_of[:, None, :] * here, passed)
        fits += np.array([own.fit + prior for own, prior in owns])[:, None] + np.array(
            [prior for _, prior in passing]
        )
        weights = np.exp(fits - fits.max())
        weights /= weights.sum()
        cut = np.asarray(np.tensordot(weights, cuts, axes=2))
        is_cut = np.clip(np.bincount(self.owner, weights=cut, minlength=len(self.end)), 0.0, 1.0)
        by_ring = weights.sum(axis=1)
        rung = sum(
            weight * (is_cut * own.still + (1 - is_cut) * own.rung)
            for weight, (own, _) in zip(by_ring, owns)
        )
        return cut, np.clip(rung, 0.0, 1.0)

    def _own(self, ring_s: float, shape: float, let_go: tuple[np.ndarray, np.ndarray]) -> _Own:
        """How likely each end is as the string's own, if notes ring on so long."""
        import numpy as np

        rung, still = _log_logistic(self.end, ring_s, shape)
        if not self.planned.all():
            sound, sounds = _log_logistic(self.end, self.sound_s, _SOUND_SHAPE)
            rung, still = np.where(self.planned, rung, sound), np.where(self.planned, still, sounds)
        share = np.where(self.planned, self.share[self.key], 1.0)
        density = (1 - _ODD) * ((1 - share) * let_go[0] + share * rung) + _ODD * _ODD_PER_S
        later = (1 - _ODD) * ((1 - share) * let_go[1] + share * still) + _ODD * 0.5
        by_then = share * still / later
        fit = float(np.log(np.where(self.ended, density, later)).sum())
        return _Own(
            density, later, np.where(self.ended, share * rung / density, by_then), by_then, fit
        )

    def _passing(self, lag_s: float) -> tuple[np.ndarray, np.ndarray]:
        """For each window, density in seconds of a cut that shows at the note's end, and chance
        that it was before."""
        here, passed = self.passing.at((self.end[self.owner] - self.begin - lag_s) / self.long)
        return here / self.long, passed

    def _cuts(self, odds: np.ndarray, passed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(how well this fits, chance of a cut in each window), over how often each place may be
        cut at all.

        odds: (rings, lags, windows); passed: (lags, windows).
        """
        import numpy as np

        chances = np.array(_CHANCES)[:, None]
        likely = 1.0 + chances * (odds - passed)[:, :, None, :]  # (rings, lags, chances, windows)
        by_place = np.log(likely) @ self.of_place.T
        most = by_place.max(axis=2, keepdims=True)
        evidence = np.exp(by_place - most)
        usual = np.array(_CHANCES_PRIOR)[:, None]
        prior = np.broadcast_to(usual, (*evidence.shape[:3], 1))
        for _ in range(4):
            weights = evidence * prior
            weights /= weights.sum(axis=2, keepdims=True)
            prior = (weights.sum(axis=3, keepdims=True) + _PRIOR_WEIGHT * usual) / (
                self.places + _PRIOR_WEIGHT
            )
        fit = (most[:, :, 0] + np.log((evidence * usual).sum(axis=2))).sum(axis=2)
        cut = np.minimum(
            (weights[..., self.place] * chances / likely).sum(axis=2) * odds, 1.0 - 1e-9
        )
        against = cut / (1.0 - cut)  # a note is stopped in one crossing only
        return fit, against / (1.0 + against @ self.of_owner)[..., self.owner]

    # ------------------------------------------------------------------------------------- own ends

    def _ways(self, is_cut: np.ndarray, rung: np.ndarray) -> None:
        """Learn where notes are let go, and how many ring on, from ends as far as they are the
        strings' own."""
        import numpy as np

        share = np.bincount(
            self.key, weights=np.where(self.planned, rung, 0.0), minlength=self.keys
        )
        count = np.bincount(self.key, weights=self.planned, minlength=self.keys)
        usual = (share.sum() + _RING_SHARE * 10) / (count.sum() + 10)
        self.share = (share + _RING_WEIGHT * usual) / (count + _RING_WEIGHT)
        own = np.where(self.ended & self.planned, (1 - is_cut) * (1 - rung), 0.0)
        t = (self.end - self.let_go[self.key]) / self.spread
        weight = own * 5.0 / (4.0 + t * t)  # Student's t with 4 degrees of freedom
        total = float(weight.sum())
        middle = (float((weight * self.end).sum()) + _LET_GO_WEIGHT * _LET_GO_S) / (
            total + _LET_GO_WEIGHT
        )
        near = np.bincount(self.key, weights=weight, minlength=self.keys)
        sums = np.bincount(self.key, weights=weight * self.end, minlength=self.keys)
        string_near = np.array([near[self.strings == string].sum() for string in self.strings])
        string_sums = np.array([sums[self.strings == string].sum() for string in self.strings])
        by_string = (string_sums + _STRING_WEIGHT * middle) / (string_near + _STRING_WEIGHT)
        self.let_go = np.minimum(
            (sums + _SLOT_WEIGHT * by_string) / (near + _SLOT_WEIGHT), _LATEST_LET_GO_S
        )
        self.usual = middle
        self.lag_spread = _LAG_SPREAD_S + _LAG_DOUBT_S / (1.0 + total / 10.0)
        squares = weight * (self.end - self.let_go[self.key]) ** 2
        spread = (
            (squares.sum() + _LET_GO_WEIGHT * _LET_GO_SPREAD_S**2) / (own.sum() + _LET_GO_WEIGHT)
        ) ** 0.5
        self.spread = min(max(float(spread), _LEAST_SPREAD_S), _MOST_SPREAD_S)


class _Passing:
    """When in a crossing the hand passes, as a share of the way: a density learned from touches, on
    a grid."""

    def __init__(self, touches: Sequence[float]) -> None:
        import numpy as np

        known = np.array([min(max(one, 0.0), 1.0) for one in touches])
        held = _PASS_WEIGHT
        self.mean = float((known.sum() + held * _PASS_MEAN) / (len(known) + held))
        square = float(((known - self.mean) ** 2).sum()) + held * (
            _PASS_SD**2 + (_PASS_MEAN - self.mean) ** 2
        )
        spread = max((square / (len(known) + held)) ** 0.5, 0.10)
        self.grid = np.linspace(-0.5, 1.7, 111)
        density = np.exp(-0.5 * ((self.grid - self.mean) / spread) ** 2)
        density *= sigmoid((self.grid + 0.05) / 0.05) * sigmoid((1.08 - self.grid) / 0.05)
        step = self.grid[1] - self.grid[0]
        self.density = density / density.sum() / step
        self.passed = np.cumsum(self.density) * step

    def at(self, way: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(density, chance that the hand has passed) at shares of the way."""
        import numpy as np

        return (
            np.interp(way, self.grid, self.density, left=0.0, right=0.0),
            np.interp(way, self.grid, self.passed, left=0.0, right=1.0),
        )


def _student(t: np.ndarray, spread: float) -> tuple[np.ndarray, np.ndarray]:
    """Density in seconds, and chance of a later value, of Student's t with 4 degrees of freedom."""
    import numpy as np

    square = 1.0 + t * t / 4.0
    density = 0.375 / spread * square**-2.5
    below = 0.5 + 0.375 * t / np.sqrt(square) * (1.0 - t * t / square / 12.0)
    return density, np.clip(1.0 - below, 0.0, 1.0)


def _log_logistic(values: np.ndarray, middle: float, shape: float) -> tuple[np.ndarray, np.ndarray]:
    """Density and chance of a later value; 0 and 1 up to zero."""
    import numpy as np

    positive = np.maximum(values, 1e-4)
    powered = (positive / middle) ** shape
    density = np.where(values > 0, shape / positive * powered / (1 + powered) ** 2, 0.0)
    return density, np.where(values > 0, 1.0 / (1 + powered), 1.0)
