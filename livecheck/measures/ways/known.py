"""Ways that were found, as numbers to be kept: enough to weigh a new repetition against them.

What days and sittings did is left out of them but for how much they do it: a new sitting's own
level is found while it is played (``marks``).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from .base import courses_at, waves_of
from .features import Features, Figure
from .matrix import SEAM, Matrix, usual
from .model import Data, Fit

_SITTING_SD, _SITTINGS = 0.8, 2.0
"""A column's level in a new sitting, in its own scatter, and how many sittings that counts as."""
_FIGURES = 6  # that are kept


@dataclass(frozen=True, slots=True)
class Known:
    """K ways in D columns (``late`` S, ``loud`` S, ``ring`` as in ``columns``) and B things that
    happen or not, of a figure with S slots. ``tempo``: its log's lowest, highest, mean, SD."""

    figure: Figure
    tempo: np.ndarray  # (4,)
    turns: bool  # the picking turns round, and the courses with it
    level: np.ndarray  # (S,) usual log velocity
    columns: tuple[tuple[str, int], ...]  # what, and slot from 1
    usual: np.ndarray  # (D,)
    size: np.ndarray  # (D,)
    pace: np.ndarray  # (D,) how 1 / size goes with log tempo
    course: np.ndarray  # (P, D), to which each way adds its own
    coef: np.ndarray  # (K, D)
    slope: np.ndarray  # (K, D) by SD of log tempo
    scatter: np.ndarray  # (D, D) covariance
    sitting: np.ndarray  # (D,) variance of a sitting's level
    things: tuple[tuple[str, int], ...]  # what, and slot or string from 1
    thing_course: np.ndarray  # (P, B) log odds
    thing_odds: np.ndarray  # (K, B)
    share: np.ndarray  # (3, K) log odds, by powers of the tempo
    stay: float

    @property
    def ways(self) -> int:
        return len(self.coef)

    def checked(self) -> Known:
        """Raises ValueError where the parts do not fit together."""
        slots, d, b, k = self.figure.slots, len(self.columns), len(self.things), self.ways
        p = courses_at(np.zeros(1), np.zeros(1), self.turns).shape[1]
        wanted = {
            "tempo": (4,), "level": (slots,), "usual": (d,), "size": (d,), "pace": (d,),
            "course": (p, d), "coef": (k, d), "slope": (k, d), "scatter": (d, d),
            "sitting": (d,), "thing_course": (p, b), "thing_odds": (k, b), "share": (3, k),
        }  # fmt: skip
        if any(getattr(self, name).shape != shape for name, shape in wanted.items()) or k < 2:
            raise ValueError("parts of different sizes")
        if not 0.0 <= self.stay < 1.0 or np.linalg.eigvalsh(self.scatter).min(initial=1.0) <= 0:
            raise ValueError("no scatter")
        most = {"noise": self.figure.strings, "cut_off": self.figure.strings}
        for what, at in (*self.columns, *self.things):
            if not 1 <= at <= most.get(what, slots):
                raise ValueError(f"no {what} {at}")
        return self


def known_of(features: Features, matrix: Matrix, data: Data, fit: Fit, order: np.ndarray) -> Known:
    """What a fit learned, the ways in the order told (order: the fit's number of each)."""
    kept = [at for at, atom in enumerate(matrix.atoms) if atom.what != SEAM]
    x = np.log(features.bpm)
    turns = bool(np.any(features.begins))
    tempo = np.array([x.min(), x.max(), x.mean(), max(float(x.std()), 0.05)])
    moved = (fit.way @ fit.coef + (fit.way * data.x[:, None]) @ fit.slope) @ matrix.shape
    coefs = data.base.coefs(fit.filled - moved)
    first = courses_at(np.ones(1), np.zeros(1), turns).shape[1]
    many = len(np.unique(features.sitting)) > 1
    sittings = coefs[_sitting_rows(features, first)] if many else np.zeros((0, coefs.shape[1]))
    variance = (sittings**2).sum(axis=0) + _SITTINGS * _SITTING_SD**2
    off = features.loud - usual(features.loud)
    some = (~np.isnan(off)).any(axis=1)
    level = np.zeros(len(features))
    level[some] = np.nanmedian(off[some], axis=1)
    middles = {
        "timing": usual(features.late),
        "loudness": usual(features.loud - level[:, None]),
        "ring": usual(features.ring),
    }
    columns = tuple((matrix.atoms[at].what, int(matrix.atoms[at].slot or 0)) for at in kept)
    wanted = [b for b in range(len(matrix.things)) if fit.odds[:, b].any()]
    inner = np.linalg.inv(fit.precision)
    coef, slope = fit.coef @ matrix.shape, fit.slope @ matrix.shape
    share = np.concatenate([np.zeros((3, 1)), fit.share_coef[:3]], axis=1)[:, order]
    return Known(
        features.figure, tempo, turns, usual(features.loud), columns,
        np.array([middles[what][slot - 1] for what, slot in columns]),
        np.array([1.0 / matrix.shape[at, at] for at in kept]),
        matrix.pace[kept],
        coefs[:first][:, kept],
        coef[order][:, kept],
        slope[order][:, kept],
        inner[np.ix_(kept, kept)],
        (variance / (len(sittings) + _SITTINGS))[kept],
        tuple((t.what, int(t.slot or t.string or 0)) for t in (matrix.things[b] for b in wanted)),
        fit.hit_coef[:first][:, wanted],
        fit.odds[order][:, wanted],
        share,
        float(fit.stay),
    )  # fmt: skip


def _sitting_rows(features: Features, first: int) -> list[int]:
    """Where each sitting's level stands among the courses: its drifts follow it."""
    each = 1 + waves_of(features)
    return [first + k * each for k in range(len(np.unique(features.sitting)))]


# -------------------------------------------------------------------------------------- as JSON


def to_dict(known: Known) -> dict[str, Any]:
    """For JSON."""
    told: dict[str, Any] = {}
    for field in fields(Known):
        value = getattr(known, field.name)
        if field.name == "figure":
            value = {
                "strings": value.strings,
                "slot_strings": list(value.slot_strings),
                "starts": list(value.starts),
                "steps": value.steps,
                "slurred": list(value.slurred),
            }
        elif isinstance(value, np.ndarray):
            value = {"shape": list(value.shape), "of": [_short(v) for v in value.ravel()]}
        elif isinstance(value, tuple):
            value = [list(one) for one in value]
        told[field.name] = value
    return told


def from_dict(told: dict[str, Any]) -> Known:
    """Raises KeyError, TypeError or ValueError where it is not of ``to_dict``."""
    figure, made = told["figure"], {}
    for field in fields(Known):
        value = told[field.name]
        if field.name == "figure":
            value = Figure(
                int(figure["strings"]), tuple(figure["slot_strings"]), tuple(figure["starts"]),
                int(figure["steps"]), tuple(figure["slurred"]),
            )  # fmt: skip
        elif field.name in ("columns", "things"):
            value = tuple((str(what), int(at)) for what, at in value)
        elif isinstance(value, dict):
            value = np.array(value["of"], float).reshape(value["shape"])
            if not np.isfinite(value).all():
                raise ValueError("not finite")
        made[field.name] = value
    return Known(**made).checked()


def _short(value: float) -> float:
    return float(f"{value:.{_FIGURES}g}")
