"""How well a pulse can tell the delay at all: least squares that knows the player and the
converter's form.

The covariances of timekeeper, tempo, motor delays and jitter, the SDs of all habits, and that the
delay is so many periods are taken as known; what the notes then leave open of each string's delay
is the least that any unbiased way of estimating can leave open (Gauss-Markov; for normal errors the
Cramér-Rao bound).
"""

from __future__ import annotations

from random import Random

import numpy as np
from delay_players import JITTER_MS, JITTER_PERIODS, TEMPO_WALK, Player, route

from livecheck.core.pitch import STANDARD_TUNING, period_s

_HABIT_MS = 5.0  # SD of a direction's and of the open strings' habit
_MOVE_MS = 20.0
_BACK = 0.98  # share of the tempo's wandering that is left a step later


def least_error(who: Player) -> tuple[float, dict[int, float]]:
    """(SD of the periods, SD of each string's delay against the mean in ms) for a player without
    click."""
    places = route(who.route, int(who.seconds * who.notes_per_s), Random(1))
    strings = np.array([string for string, _ in places])
    frets = np.array([fret for _, fret in places])
    period_ms = np.array(
        [1000.0 * period_s(STANDARD_TUNING[string - 1] + fret) for string, fret in places]
    )
    white = np.linalg.solve(
        np.linalg.cholesky(_covariance(who, period_ms)), _columns(strings, frets, period_ms)
    )
    firm = _firmness(who, strings, frets)
    periods_sd = float(np.linalg.inv(white.T @ white + np.diag(firm))[0, 0] ** 0.5)
    mean = {string: float(period_ms[strings == string].mean()) for string in range(1, 7)}
    middle = sum(mean.values()) / 6
    return periods_sd, {string: periods_sd * abs(own - middle) for string, own in mean.items()}


def _covariance(who: Player, period_ms: np.ndarray) -> np.ndarray:
    count, step_ms = len(period_ms), 1000.0 / who.notes_per_s
    at = np.arange(count)
    wander = (
        np.cumsum(np.tril(_BACK ** np.subtract.outer(at, at).clip(0)), axis=0)
        * TEMPO_WALK
        * step_ms
    )
    keeper = (who.keeper * who.motor_ms) ** 2 * np.minimum.outer(at, at)
    own = who.motor_ms**2 + JITTER_MS**2 + (JITTER_PERIODS * period_ms) ** 2
    return np.asarray(wander @ wander.T + keeper + np.diag(own))


def _before(strings: np.ndarray) -> np.ndarray:
    return np.concatenate([strings[:1], strings[:-1]])


def _columns(strings: np.ndarray, frets: np.ndarray, period_ms: np.ndarray) -> np.ndarray:
    before, count = _before(strings), len(strings)
    pairs = sorted(set(zip(before.tolist(), strings.tolist())))
    moved = np.concatenate([[False], np.abs(np.diff(frets)) >= 3])
    return np.column_stack(
        [
            period_ms,
            *(strings == string for string in range(1, 7)),
            *(np.sign(strings - before) == way for way in (-1, 0, 1)),
            frets == 0,
            moved & (np.mean(moved) < 0.2),
            *((before == a) & (strings == b) for a, b in pairs),
            np.ones(count),
            np.arange(count) / count,
        ]
    ).astype(float)


def _firmness(who: Player, strings: np.ndarray, frets: np.ndarray) -> np.ndarray:
    pairs = len(set(zip(_before(strings).tolist(), strings.tolist())))
    has_both = 0.0 < float(np.mean(frets == 0)) < 1.0
    spreads = [
        1e4,
        *[max(who.string_ms, 0.01)] * 6,
        *[_HABIT_MS] * 3,
        _HABIT_MS if has_both else 0.01,
        _MOVE_MS,
    ]
    spreads += [*[max(who.crossing_ms, 0.01)] * pairs, 1e5, 1e5]
    return 1.0 / np.array(spreads) ** 2
