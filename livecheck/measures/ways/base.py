"""What moves without any other way of playing: courses over the tempo, days, time, directions.

A *course* is a smooth line through all of one column: three bends over the tempo, a level for each
sitting, a slow drift within it, and what turns round with the picking of an odd cell. All of it is
held back a little (a ridge, in units of the column's own scatter), and fitted anew beside whatever
ways there are, so that one way with every smooth course is a rival of the same means.
"""

from __future__ import annotations

import numpy as np

from .features import Features

_BENDS = 4
_SITTING_SD, _DRIFT_SD, _TEMPO_SD, _BEGINS_SD = 1.5, 0.8, 3.0, 3.0
_WAVES = 3
_MOST_DRIFTS = 60


def design(features: Features) -> tuple[np.ndarray, np.ndarray]:
    """Columns (N, P) and the prior variance of each (P,)."""
    n = len(features)
    x = np.log(features.bpm)
    low, high = float(x.min()), float(x.max())
    at = (x - low) / max(high - low, 0.05)
    turns = bool(np.any(features.begins))
    columns = list(courses_at(at, features.begins, turns).T)
    if high <= low:
        columns[1 : _BENDS + 1] = [np.zeros(n)] * _BENDS
    variance = [1e4, *((_TEMPO_SD / k) ** 2 for k in range(1, _BENDS + 1))]
    variance += [_BEGINS_SD**2, 1.0] if turns else []
    sittings = np.unique(features.sitting)
    waves = waves_of(features)
    for number in sittings:
        own = features.sitting == number
        if len(sittings) > 1:
            columns.append(own.astype(float))
            variance.append(_SITTING_SD**2)
        minute = features.minute[own]
        long = max(float(np.ptp(minute)), 1.0)
        for k in range(1, waves + 1):
            wave = np.zeros(n)
            wave[own] = np.cos(np.pi * k * (minute - minute.min()) / long)
            columns.append(wave)
            variance.append((_DRIFT_SD / k) ** 2)
    return np.stack(columns, axis=1), np.array(variance)


def courses_at(at: np.ndarray, begins: np.ndarray, turns: bool) -> np.ndarray:
    """The columns (N, P) that stay the same from sitting to sitting. at: (N,) from 0 at the lowest
    log tempo to 1 at the highest; begins: (N,) as of the features; turns: whether any turns."""
    columns = [np.ones(len(at))]
    columns += [np.cos(np.pi * k * at) for k in range(1, _BENDS + 1)]
    columns += [begins, begins * (at - 0.5)] if turns else []
    return np.stack(columns, axis=1)


def waves_of(features: Features) -> int:
    """How many waves a sitting's drift has."""
    return max(1, min(_WAVES, _MOST_DRIFTS // max(len(np.unique(features.sitting)), 1)))


def steadiest(features: Features) -> tuple[np.ndarray, np.ndarray]:
    """The same without bends and drifts: a line over the tempo, and a level for each sitting."""
    x = np.log(features.bpm)
    columns, variance = [np.ones(len(x)), x - x.mean()], [1e4, 1e2]
    if np.any(features.begins):
        columns.append(features.begins)
        variance.append(_BEGINS_SD**2)
    for number in np.unique(features.sitting):
        columns.append((features.sitting == number).astype(float))
        variance.append(_SITTING_SD**2)
    return np.stack(columns, axis=1), np.array(variance)


class Base:
    """The courses, fitted by ridge."""

    def __init__(self, columns: np.ndarray, variance: np.ndarray) -> None:
        self.columns, self.variance = columns, variance
        inverse = np.linalg.inv(columns.T @ columns + np.diag(1.0 / variance))
        self._gain = inverse @ columns.T

    def coefs(self, y: np.ndarray) -> np.ndarray:
        """(P, D) how much of each column there is in y (N, D)."""
        return np.asarray(self._gain @ y)

    def course(self, y: np.ndarray) -> np.ndarray:
        """The courses through y (N, D)."""
        return np.asarray(self.columns @ self.coefs(y))

    def without(self, y: np.ndarray) -> np.ndarray:
        return np.asarray(y - self.course(y))
