"""Two levels of velocity in one sitting, picked and hammered: how likely each note is of either.

The model of a log velocity: the string's level, the slot's own accent, the repetition's loudness,
lower by the *drop* where no pick struck, and scatter with a few outliers. Each slot has its own
chance of being played as planned; most slots are nearly always, some never, some now so, now so,
and how many of each is learned too. Nothing is taken for certain that is only estimated: levels,
accents, chances, drop and scatter are weighed over all their likely values (on grids, from the slot
up to the sitting), so a chance said of a note holds all the doubt there is. Only the repetitions'
loudness and how much softer up strokes come are estimated as single values.
"""

from __future__ import annotations

from math import inf, log
from typing import TYPE_CHECKING, NamedTuple

from .scatter import beyond, flat, over, tailed
from .velocity_grid import BEGIN, DROPS, SCATTERS, SHAPES, Key, Place, Way, beside, ways_at

if TYPE_CHECKING:
    import numpy as np

# What is usual, before anything is heard. No source; wide ranges.
_UP_SPREAD = 0.1  # SD of how much softer up strokes are
_STRING_SPREAD = 0.2  # SD of the strings' levels
_LOUDNESS_SPREAD = 0.07  # SD of the repetitions' loudness
# chance that a slot is played as planned
_AS_PLANNED = (0.005, 0.05, 0.12, 0.3, 0.5, 0.7, 0.88, 0.95, 0.995)
_AS_PLANNED_USUAL = (0.03, 0.02, 0.025, 0.04, 0.055, 0.055, 0.125, 0.21, 0.44)
_ABOVE_TOP = 0.35  # a usual stroke is no louder than this over the loudest that can be sent
_SLOTS_WEIGHT = 25.0  # slots that this is worth beside those of the sitting
_BIN = 0.05
_MOST_BINS = 110
_REACH = 4.0  # nats below the best up to which a way has neighbours worth a look
_ROUNDS = 3
_LEAST_WEIGHT = 1e-3


class Notes(NamedTuple):
    """One sitting's notes, each array (notes,): groups are numbered from 0 without gaps."""

    x: np.ndarray  # log velocity
    string: np.ndarray
    rep: np.ndarray
    slot: np.ndarray  # of one slot under one plan
    picked: np.ndarray  # planned so
    up: np.ndarray  # planned as an up stroke
    # of the interval of log velocities that is sent as this one; inf: this loud or louder
    width: np.ndarray


class Levels(NamedTuple):
    """What the velocities say of each note, and of themselves."""

    chances: np.ndarray  # of each note, that it was picked
    drop: float  # between the levels
    scatter: float
    gain: float  # nats by which two levels explain the velocities better than one


class _Slots(NamedTuple):
    """How well each chance and level explains each slot's notes: (slots, chances, levels), and what
    was taken off."""

    like: np.ndarray
    taken_off: float


class _Told(NamedTuple):
    """What one way makes of the sitting. The first two are tables by slot and bin."""

    picked: np.ndarray  # chance of picked
    rest: np.ndarray  # what velocity lies above what was expected of the note
    planned: np.ndarray  # how many slots are of each chance of being as planned
    accents: np.ndarray  # of each slot, its level over its string's


def two_levels(notes: Notes) -> Levels:
    """Fit both levels and weigh every note."""
    import numpy as np

    usual = np.array(_AS_PLANNED_USUAL)
    loudness = np.zeros(int(notes.rep.max()) + 1)
    up = 0.0
    search = _Search(BEGIN)
    for turn in range(_ROUNDS):
        sitting = _Sitting(notes, loudness, up)
        ways, fits = search.explore(sitting, usual)
        weights = np.exp(fits - fits.max())
        weights /= weights.sum()
        heavy = np.flatnonzero(weights > _LEAST_WEIGHT)
        total = float(weights[heavy].sum())
        told = [
            (sitting.told(ways[at], search.kept[ways[at].key]), weights[at] / total) for at in heavy
        ]
        picked = np.asarray(sum(weight * one.picked for one, weight in told))
        drop = float(sum(weights[at] * ways[at].drop for at in heavy) / total)
        scatter = float(sum(weights[at] * ways[at].scatter for at in heavy) / total)
        planned = sum(weight * one.planned for one, weight in told)
        usual = (planned + _SLOTS_WEIGHT * np.array(_AS_PLANNED_USUAL)) / (
            sitting.slots + _SLOTS_WEIGHT
        )
        if turn + 1 < _ROUNDS:
            rest = np.asarray(sum(weight * one.rest for one, weight in told))
            accents = np.asarray(sum(weight * one.accents for one, weight in told))
            up = _up(sitting, picked, accents + up * sitting.up, scatter)
            over = rest[notes.slot, sitting.column] + loudness[notes.rep]
            loudness = np.bincount(notes.rep, weights=over) / (
                np.bincount(notes.rep) + (scatter / _LOUDNESS_SPREAD) ** 2
            )
    one = _Search(
        [(0, at, 0, shape) for at in range(len(SCATTERS)) for shape in range(len(SHAPES))],
        single=True,
    ).explore(sitting, usual)[1]
    return Levels(picked[notes.slot, sitting.column], drop, scatter, _sum(fits) - _sum(one))


def _sum(logs: np.ndarray) -> float:
    import numpy as np

    most = float(logs.max())
    return most + float(np.log(np.exp(logs - most).sum()))


class _Search:
    """The likely ways, found from a few by going on to the neighbours of each that is likely
    itself."""

    def __init__(self, begin: list[Place], single: bool = False) -> None:
        self.begin = begin
        self.single = single  # one level: no drop
        self.kept: dict[Key, _Slots] = {}

    def explore(self, sitting: _Sitting, usual: np.ndarray) -> tuple[list[Way], np.ndarray]:
        """Ways, and how well each explains the sitting: log likelihood and chance beforehand."""
        import numpy as np

        self.kept = {}
        found: dict[Place, float] = {}
        ways: list[Way] = []
        fits: list[float] = []
        best, ahead = -inf, list(self.begin)
        while ahead:
            place = ahead.pop()
            if place in found:
                continue
            mine = ways_at(place, self.single)
            slots = self.kept[mine[0].key] = sitting.explained(mine[0], usual)
            own = [way.log_prior + sitting.passed_on(way, slots).fit for way in mine]
            ways, fits, found[place] = ways + mine, fits + own, max(own)
            best = max(best, found[place])
            if not ahead:
                likely = [place for place, fit in found.items() if fit >= best - _REACH]
                ahead = (
                    []
                    if self.single
                    else [one for place in likely for one in beside(place) if one not in found]
                )
        if not self.single:
            self.begin = [place for place, fit in found.items() if fit >= best - 1.0]
        return ways, np.array(fits)


def _up(sitting: _Sitting, picked: np.ndarray, accents: np.ndarray, scatter: float) -> float:
    """How much softer up strokes are than down strokes, from the slots that are picked."""
    import numpy as np

    counts = np.concatenate(list(sitting.counts), axis=1)
    share = (picked * counts).sum(axis=1) / counts.sum(axis=1)
    means, weights = [], []
    for is_up in (True, False):
        weight = np.where((sitting.up == is_up) & sitting.picked, share, 0.0)
        weights.append(float(weight.sum()))
        means.append(float((weight * accents).sum()) / max(weights[-1], 1e-9))
    if min(weights) < 0.5:
        return 0.0
    doubt = (1.0 / weights[0] + 1.0 / weights[1]) * (0.6 * scatter) ** 2
    return (means[0] - means[1]) / (1.0 + doubt / _UP_SPREAD**2)


class _Messages(NamedTuple):
    fit: float
    to_string: np.ndarray
    string_like: np.ndarray
    to_top: np.ndarray
    top: np.ndarray


class _Sitting:
    """The sitting's notes counted by slot and bin, and messages from slots to strings to the
    sitting and back."""

    def __init__(self, notes: Notes, loudness: np.ndarray, up: float) -> None:
        import numpy as np

        y = notes.x - loudness[notes.rep] - up * notes.up
        self.low = float(y.min())
        self.bin = np.minimum(np.round((y - self.low) / _BIN).astype(int), _MOST_BINS - 1)
        self.bins = int(self.bin.max()) + 1
        self.slots = int(notes.slot.max()) + 1
        widths = np.where(
            np.isinf(notes.width), -1, np.round(notes.width / _BIN).astype(float)
        ).astype(int)
        # in bins; -1: so much or more
        self.widths = sorted(set(np.where(widths == 0, 1, widths).tolist()))
        sort = np.searchsorted(self.widths, np.where(widths == 0, 1, widths))
        self.counts = np.zeros((len(self.widths), self.slots, self.bins))
        np.add.at(self.counts, (sort, notes.slot, self.bin), 1.0)
        self.column = sort * self.bins + self.bin  # of each note in the tables that are told
        first = np.zeros(self.slots, dtype=int)
        first[notes.slot] = np.arange(len(y))
        self.string_of = notes.string[first]
        self.strings = int(self.string_of.max()) + 1
        self.picked, self.up = notes.picked[first], notes.up[first]
        # Levels of the picked kind reach from the lowest note to above the highest, which may be
        # hammered.
        self.levels = self.bins + round(max(DROPS) / _BIN)
        loudest = round((log(127.0) + _ABOVE_TOP - self.low) / _BIN)
        self.levels = max(min(self.levels, loudest), self.bins)
        self._kernels: dict[float, np.ndarray] = {}
        self._between = self._kernel(_STRING_SPREAD)

    def explained(self, way: Way, usual: np.ndarray) -> _Slots:
        """Each slot's notes by each chance of being as planned and each level of the picked
        kind."""
        import numpy as np

        by_slot = np.zeros((self.slots, len(_AS_PLANNED), self.levels))
        for counts, width in zip(self.counts, self.widths):
            likely = self._likely(way, width)
            for planned in (True, False):
                own = np.flatnonzero(self.picked == planned)
                if len(own):
                    by_slot[own] += self._summed(np.log(likely[planned]), counts[own])
        most = by_slot.max(axis=(1, 2))
        like = np.exp(np.maximum(by_slot - most[:, None, None], -60.0)) * usual[None, :, None]
        return _Slots(like, float(most.sum()))

    def _summed(self, logs: np.ndarray, counts: np.ndarray) -> np.ndarray:
        """(slots, chances, levels): the logs of all distances from a level, summed over the notes
        of each bin."""
        import numpy as np

        windows = np.lib.stride_tricks.sliding_window_view(logs, self.bins, axis=1)[:, ::-1]
        return (windows.reshape(-1, self.bins) @ counts.T).T.reshape(
            len(counts), len(logs), self.levels
        )

    def passed_on(self, way: Way, slots: _Slots) -> _Messages:
        import numpy as np

        to_string = np.maximum(slots.like.sum(axis=1) @ self._accents(way), 1e-300)
        logs = np.zeros((self.strings, self.levels))
        np.add.at(logs, self.string_of, np.log(to_string))
        most = logs.max(axis=1)
        string_like = np.exp(np.maximum(logs - most[:, None], -200.0))
        to_top = np.maximum(string_like @ self._between, 1e-300)
        top_logs = np.log(to_top).sum(axis=0)
        top_most = float(top_logs.max())
        top = np.exp(top_logs - top_most)
        fit = float(np.log(top.mean())) + top_most + float(most.sum()) + slots.taken_off
        return _Messages(fit, to_string, string_like, to_top, top / top.sum())

    def told(self, way: Way, slots: _Slots) -> _Told:
        """Every note's chance, by slot and bin, with all levels weighed."""
        import numpy as np

        sent = self.passed_on(way, slots)
        strings = sent.string_like * ((sent.top / sent.to_top) @ self._between.T)
        strings /= strings.sum(axis=1, keepdims=True)
        weights = (
            slots.like
            * ((strings[self.string_of] / sent.to_string) @ self._accents(way).T)[:, None, :]
        )
        weights /= weights.sum(axis=(1, 2), keepdims=True)
        picked = np.concatenate(
            [self._picked(self._likely(way, width), weights) for width in self.widths], axis=1
        )
        place = _BIN * np.arange(self.levels)
        level = weights.sum(axis=1) @ place
        heard = np.tile(_BIN * np.arange(self.bins), len(self.widths))
        rest = heard - level[:, None] + way.drop * (1 - picked)
        if self.widths[0] < 0:  # a note that may have been louder tells only that it was not softer
            rest[:, : self.bins] = np.maximum(rest[:, : self.bins], 0.0)
        return _Told(
            picked, rest, weights.sum(axis=(0, 2)), level - (strings @ place)[self.string_of]
        )

    def _picked(self, likely: dict[object, np.ndarray], weights: np.ndarray) -> np.ndarray:
        """By slot and bin the chance of picked, over all chances and levels of the slot."""
        import numpy as np

        picked = np.empty((self.slots, self.bins))
        for planned in (True, False):
            own = np.flatnonzero(self.picked == planned)
            if len(own):
                share = likely["picked", planned] / likely[planned]
                windows = np.lib.stride_tricks.sliding_window_view(share, self.bins, axis=1)[
                    :, ::-1
                ]
                picked[own] = weights[own].reshape(len(own), -1) @ windows.reshape(-1, self.bins)
        return picked

    def _likely(self, way: Way, width: int) -> dict[object, np.ndarray]:
        """By whether a slot is planned to be picked, the likelihood of each distance of a note from
        its slot's level.

        width: bins that are sent as this one; -1: of being so far above it or farther.
        """
        import numpy as np

        distance = _BIN * (np.arange(self.levels + self.bins - 1) - (self.levels - 1))
        density = beyond if width < 0 else flat if way.flat else tailed
        as_picked = density(distance, way.scatter)
        as_hammered = density(distance + way.drop, way.scatter * way.ratio)
        if width > 1:
            as_picked, as_hammered = over(as_picked, width), over(as_hammered, width)
        shares = np.array(_AS_PLANNED)[:, None]
        return {
            True: shares * as_picked + (1 - shares) * as_hammered,
            False: shares * as_hammered + (1 - shares) * as_picked,
            ("picked", True): shares * as_picked,
            ("picked", False): (1 - shares) * as_picked,
        }

    def _accents(self, way: Way) -> np.ndarray:
        return self._kernel(max(way.accent * way.scatter, 0.7 * _BIN))

    def _kernel(self, spread: float) -> np.ndarray:
        """Chance of each level (row) about a middle (column), a normal distribution."""
        import numpy as np

        if spread not in self._kernels:
            apart = _BIN * (np.arange(self.levels)[:, None] - np.arange(self.levels)[None, :])
            kernel = np.exp(-0.5 * (apart / spread) ** 2)
            self._kernels[spread] = kernel / kernel[self.levels // 2].sum()
        return self._kernels[spread]
