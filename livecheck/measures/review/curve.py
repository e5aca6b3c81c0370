"""Falling curves through shares, by maximum likelihood.

``fit_curve`` is a logistic curve with a floor (the chance that is left however fast) and a lapse
(what goes wrong however slow), as psychometric functions have them. It climbs by Fisher scoring
with safeguards. ``separation`` tells where the data are perfectly separated and no finite slope
exists. Checked against S-01 to S-04 in sources.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..stats import Numbers, sigmoid

LAPSES = (0.0, 0.02, 0.05, 0.1, 0.15, 0.22, 0.3, 0.4)
FLOORS = (0.0, 0.05, 0.12, 0.2, 0.3)
"""Where the climb starts; the ends are also the bounds. More lapse than 0.4 would leave no break to
speak of."""

_TINY = 1e-9


def separation(x: Numbers, hits: Numbers, of: Numbers) -> tuple[float, float] | None:
    """The gap between the last x of one kind and the first of the other, where no x holds or
    overlaps both kinds.

    None where the kinds overlap or only one was seen.

    >>> separation([1, 2, 3, 4], [1, 1, 0, 0], [1, 1, 1, 1])
    (2.0, 3.0)
    """
    at, k, n = np.asarray(x, float), np.asarray(hits, float), np.asarray(of, float)
    good, bad = at[k > 0], at[n - k > 0]
    if not len(good) or not len(bad):
        return None
    if good.max() < bad.min():
        return float(good.max()), float(bad.min())
    if bad.max() < good.min():
        return float(bad.max()), float(good.min())
    return None


@dataclass(frozen=True, slots=True)
class Curve:
    """chance(x) = floor + (1 - floor - lapse) / (1 + exp((x - middle) / width)): falls as x
    rises."""

    middle: float
    width: float
    floor: float = 0.0
    lapse: float = 0.0

    def chance(self, x: float | np.ndarray) -> np.ndarray:
        """The fitted chance, as a plain probability."""
        z = (np.asarray(x, float) - self.middle) / self.width
        return self.floor + (1.0 - self.floor - self.lapse) * sigmoid(-z)

    def x_at(self, level: float) -> float | None:
        """Where the chance falls through a level; None where the curve never has that chance."""
        inner = (level - self.floor) / (1.0 - self.floor - self.lapse)
        if not 0.0 < inner < 1.0:
            return None
        return self.middle - self.width * math.log(inner / (1.0 - inner))


def fit_curve(
    x: Numbers,
    hits: Numbers,
    of: Numbers,
    floor: float | None = None,
    lapse: float | None = None,
    most_lapse: float = LAPSES[-1],
    most_floor: float = FLOORS[-1],
) -> tuple[Curve, float]:
    """The falling curve that makes the shares likeliest, and its log-likelihood.

    A floor or lapse that is given stays fixed. The width is kept above a fiftieth of the smallest
    step in x: a steeper curve says nothing that the data could tell. Raises ValueError without at
    least two different x.
    """
    at, k, n = (np.asarray(column, float) for column in (x, hits, of))
    places = np.unique(at[n > 0])
    if len(places) < 2:
        raise ValueError("a curve needs tries at two or more places")
    span = float(np.ptp(places))
    narrowest, widest = float(np.min(np.diff(places))) / 50.0, 10.0 * span
    lows = np.array([places[0] - 3 * span, math.log(narrowest), floor or 0.0, lapse or 0.0])
    highs = np.array([
        places[-1] + 3 * span,
        math.log(max(widest, narrowest * 2)),
        most_floor if floor is None else floor,
        most_lapse if lapse is None else lapse,
    ])  # fmt: skip
    starts = _starts(at, k, n, places, span, lows, highs)
    found = [_climb(at, k, n, start, lows, highs) for start in starts]
    theta, value = max(found, key=lambda pair: pair[1])
    return Curve(
        float(theta[0]), float(math.exp(theta[1])), float(theta[2]), float(theta[3])
    ), value


def _starts(
    x: np.ndarray,
    k: np.ndarray,
    n: np.ndarray,
    places: np.ndarray,
    span: float,
    lows: np.ndarray,
    highs: np.ndarray,
) -> list[np.ndarray]:
    """The likeliest places of a coarse grid, one for each of a few floors and lapses."""
    middles = np.linspace(places[0] - 0.3 * span, places[-1] + 0.3 * span, 25)
    widths = span / np.array([100.0, 40.0, 20.0, 10.0, 5.0, 2.0])
    z = (x[None, None, :] - middles[:, None, None]) / widths[None, :, None]
    inner = sigmoid(-z)
    starts = []
    for floor, lapse in ((0.01, 0.01), (0.01, 0.08), (0.01, 0.25), (0.5, 0.01), (0.85, 0.01)):
        floor, lapse = (
            float(np.clip(floor, lows[2], highs[2])),
            float(np.clip(lapse, lows[3], highs[3])),
        )
        if floor + lapse > 0.95:
            continue
        p = np.clip(floor + (1.0 - floor - lapse) * inner, _TINY, 1.0 - _TINY)
        likelihood = np.log(p) @ k + np.log1p(-p) @ (n - k)
        i, j = np.unravel_index(int(np.argmax(likelihood)), likelihood.shape)
        starts.append(np.clip([middles[i], math.log(widths[j]), floor, lapse], lows, highs))
    return starts


def _climb(
    x: np.ndarray,
    k: np.ndarray,
    n: np.ndarray,
    theta: np.ndarray,
    lows: np.ndarray,
    highs: np.ndarray,
) -> tuple[np.ndarray, float]:
    """Fisher scoring with growing damping; a parameter at its bound rests there while the score
    pushes outwards."""

    def model(theta: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        middle, width, floor, lapse = theta[0], math.exp(theta[1]), theta[2], theta[3]
        z = (x - middle) / width
        f = sigmoid(-z)
        slope = (1.0 - floor - lapse) * f * (1.0 - f)
        p = np.clip(floor + (1.0 - floor - lapse) * f, _TINY, 1.0 - _TINY)
        return p, np.stack([slope / width, slope * z, 1.0 - f, -f], axis=1)

    p, jacobian = model(theta)
    value, damping = _log_likelihood(k, n, p), 1e-3
    for _ in range(200):
        weight = n / (p * (1.0 - p))
        score = jacobian.T @ ((k - n * p) / (p * (1.0 - p)))
        free = ~(((theta <= lows) & (score <= 0)) | ((theta >= highs) & (score >= 0)))
        if not free.any():
            break
        information = (jacobian * weight[:, None]).T @ jacobian
        reduced = information[np.ix_(free, free)]
        reduced = reduced + np.diag(damping * np.diag(reduced) + 1e-10)
        step = np.zeros(4)
        step[free] = np.linalg.solve(reduced, score[free])
        trial = np.clip(theta + step, lows, highs)
        trial_p, trial_jacobian = model(trial)
        room = trial[2] + trial[3] < 0.99  # floor and lapse must leave a curve between them
        trial_value = _log_likelihood(k, n, trial_p) if room else -math.inf
        if trial_value > value:
            gain, value = trial_value - value, trial_value
            theta, p, jacobian, damping = trial, trial_p, trial_jacobian, max(damping / 5.0, 1e-9)
            if gain < 1e-11:
                break
        else:
            damping *= 8.0
            if damping > 1e9:
                break
    return theta, value


def _log_likelihood(k: np.ndarray, n: np.ndarray, p: np.ndarray) -> float:
    p = np.clip(p, 1e-15, 1.0 - 1e-15)
    return float(k @ np.log(p) + (n - k) @ np.log1p(-p))
