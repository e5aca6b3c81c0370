"""How the clean share falls as the tempo rises, averaged over forms.

A form is a smooth fall (a logistic curve in log tempo with a lapse), which may drop once by a part
of itself (a step: a string comes to be touched, a note is no longer played), and may be worse over
one span of tempos (a dip). Nothing chooses between forms: each is weighed by how likely it makes
the counts, and tempos are read off many forms drawn by that weight. Steps and dips are summed over
as the states of a chain over tempos (forward filtering, backward sampling: C. K. Carter and
R. Kohn, Biometrika 81 (1994) 541-553). Each take has a luck of its own, in log odds, whose size is
averaged over as well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..stats import FLATTENING, logit, sigmoid

SPREADS = np.array([0.15, 0.35, 0.55, 0.85])
SPREAD_PRIOR = np.array([0.25, 0.35, 0.28, 0.12])
"""How much takes may differ by luck (standard deviation in log odds), and how likely beforehand
(common practice, no source)."""

LAPSES = np.array([0.003, 0.02, 0.045, 0.08, 0.13, 0.2, 0.3])
LAPSE_PRIOR = np.array([0.28, 0.25, 0.19, 0.13, 0.08, 0.05, 0.02])
WIDTHS = np.geomspace(0.006, 0.13, 8)
FINEST = 0.012
"""Distance of the middles that are tried, in log tempo; what lies between is drawn."""

BELOW, ABOVE = 0.15, 0.2
"""How far the middle may lie beside the tempos tried (log tempo)."""

AMOUNTS = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.88, 0.94, 0.975])
STEPS = np.arange(1, 11)
DIPS = np.array([3, 5, 6, 7, 8, 9])
"""Parts of the share that may be lost; those of a step and of a dip, as places in that list."""

STEP_PRIOR = 0.3
DIP_WIDE = 0.12
"""A step's chance beforehand, and the mean width of a dip in log tempo (a further rung is the less
likely the further it lies)."""

MOST_TRIES = 60
"""More tries of a take at one tempo count as this many: by then luck decides, not the number."""

_FINE = np.arange(-10.0, 10.01, 0.15)
LEVELS = np.arange(-7.0, 7.001, 0.1)
_TINY = 1e-280
_MOST_FORMS = 2500
_COMBINED = np.abs(
    1.0 - (1.0 - AMOUNTS[None, [0, *STEPS], None]) * (1.0 - AMOUNTS[None, None, DIPS])
    - AMOUNTS[:, None, None]
).argmin(axis=0)  # (1 + steps, dips): place in AMOUNTS of a step and a dip together  # fmt: skip


def _smoothing() -> np.ndarray:
    """(spreads, fine, levels): how the log odds of takes lie about each level."""
    bells = np.exp(-0.5 * ((_FINE[:, None] - LEVELS) / SPREADS[:, None, None]) ** 2)
    return bells / bells.sum(axis=1, keepdims=True)


_SMOOTH = _smoothing()


@dataclass(frozen=True, slots=True)
class Counts:
    """Hits and tries of each take at each of G tempos (log tempo ``x``, rising)."""

    x: np.ndarray  # (G,)
    rung: np.ndarray  # (rows,)
    hits: np.ndarray
    of: np.ndarray


def counts(
    x: np.ndarray, take: np.ndarray, of_row: np.ndarray, k: np.ndarray, n: np.ndarray
) -> Counts:
    """Counts by take and tempo. x: log tempo by rung; of_row: rung of each row."""
    told = n > 0
    pairs, at = np.unique(np.stack([take[told], of_row[told]]), axis=1, return_inverse=True)
    at = at.ravel()
    return Counts(x, pairs[1], np.bincount(at, k[told]), np.bincount(at, n[told]))


@dataclass(frozen=True, slots=True)
class Drawn:
    """Forms drawn by weight; every array (draws,). Tempos are log tempos."""

    middle: np.ndarray
    width: np.ndarray
    lapse: np.ndarray
    spread: np.ndarray
    step_at: np.ndarray  # infinite where there is none
    step: np.ndarray  # the part lost there
    dip_from: np.ndarray  # rungs; -1 where there is none
    dip_to: np.ndarray

    def chance(self, x: np.ndarray) -> np.ndarray:
        """(draws, tempos): chance over all takes, without the dip. x: the same log tempos for all
        draws, or (draws, tempos)."""
        x = np.atleast_2d(x)
        z = (self.middle[:, None] - x) / self.width[:, None]
        p = (1.0 - self.lapse[:, None]) * sigmoid(z)
        p = p * np.where(x >= self.step_at[:, None], 1.0 - self.step[:, None], 1.0)
        flat = np.sqrt(1.0 + FLATTENING * self.spread[:, None] ** 2)
        return sigmoid(logit(np.clip(p, 1e-9, 1.0 - 1e-9)) / flat)

    def some(self, which: np.ndarray) -> Drawn:
        return Drawn(*(getattr(self, name)[which] for name in self.__slots__))


@dataclass(frozen=True, slots=True)
class Weighed:
    """All forms weighed by the counts. ``dip_odds``: log odds of a dip against none, both as likely
    beforehand."""

    plain: Drawn
    dipped: Drawn | None
    dip_odds: float
    evidence: float  # log, of the forms without a dip


def weigh(data: Counts, rng: np.random.Generator, draws: int = 400, dips: bool = True) -> Weighed:
    """Weigh all forms by the counts and draw some."""
    table = _by_level(data)
    forms = _Forms(data.x)
    values = forms.values(table)
    kept = _worth(values, forms.prior)
    chain = _Chain(forms, values, kept, data.x, dips and len(data.x) >= 4)
    return chain.weighed(rng, draws)


def pair_levels(hits: np.ndarray, of: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Log-likelihood (spreads, pairs, levels) of each pair of hits and tries, the luck of its take
    averaged over; and each row's pair."""
    tries = np.round(np.minimum(of, MOST_TRIES))
    hits = np.minimum(np.round(hits * tries / np.maximum(of, 1e-9)), tries)
    code = tries.astype(int) * (MOST_TRIES + 1) + hits.astype(int)
    pairs, at = np.unique(code, return_inverse=True)
    n, k = np.divmod(pairs, MOST_TRIES + 1)
    fine = -k[:, None] * np.logaddexp(0.0, -_FINE) - (n - k)[:, None] * np.logaddexp(0.0, _FINE)
    top = fine.max(axis=1)
    return np.log(np.exp(fine - top[:, None]) @ _SMOOTH + 1e-200) + top[None, :, None], at


def _by_level(data: Counts) -> np.ndarray:
    """Log-likelihood (spreads, rungs, levels); each row has a luck of its own."""
    by_pair, at = pair_levels(data.hits, data.of)
    out = np.zeros((len(SPREADS), len(data.x), len(LEVELS)))
    times = np.zeros((len(data.x), by_pair.shape[1]))
    np.add.at(times, (data.rung, at), 1.0)
    for spread in range(len(SPREADS)):
        out[spread] = times @ by_pair[spread]
    return out


class _Forms:
    """The smooth falls: every middle, width and lapse with every spread of luck."""

    def __init__(self, x: np.ndarray) -> None:
        middles = np.arange(x[0] - BELOW, x[-1] + ABOVE, FINEST)
        mesh = np.meshgrid(middles, WIDTHS, LAPSES, indexing="ij")
        self.middle, self.width, self.lapse = (axis.ravel() for axis in mesh)
        z = (self.middle[:, None] - x[None, :]) / self.width[:, None]
        p = (1.0 - self.lapse[:, None]) * sigmoid(z)
        lost = np.clip(p[:, :, None] * (1.0 - AMOUNTS), 1e-4, 1.0 - 1e-4)
        self.place = np.clip(np.round((logit(lost) + 7.0) / 0.1), 0, len(LEVELS) - 1).astype(int)
        lapse = np.repeat(LAPSE_PRIOR[None, :], len(middles) * len(WIDTHS), axis=0).ravel()
        self.prior = np.log(SPREAD_PRIOR)[:, None] + np.log(lapse)[None, :]

    def values(self, table: np.ndarray) -> np.ndarray:
        """Log-likelihood by spread, form, rung and amount lost."""
        forms, rungs, amounts = self.place.shape
        out = np.empty((len(SPREADS), forms, rungs, amounts), np.float32)
        for rung in range(rungs):
            out[:, :, rung] = table[:, rung][:, self.place[:, rung]]
        return out


def _worth(values: np.ndarray, prior: np.ndarray) -> np.ndarray:
    """The forms that some step or dip might make likely, as places in (spreads * forms)."""
    base = values[..., 0].sum(axis=2) + prior
    gain = values[..., STEPS] - values[..., :1]
    stepped = np.maximum(np.cumsum(gain[:, :, ::-1], axis=2).max(axis=(2, 3)), 0.0)
    gain = values[..., DIPS] - values[..., :1]
    run = best = np.zeros((*base.shape, len(DIPS)), np.float32)
    for rung in range(values.shape[2] - 1):
        run = np.maximum(run + gain[:, :, rung], 0.0)
        best = np.maximum(best, run)
    step, both = (base + stepped).ravel(), (base + stepped + best.max(axis=2)).ravel()
    near = np.maximum(step - step.max(), both - both.max())
    order = np.argsort(-near, kind="stable")[:_MOST_FORMS]
    return np.sort(order[near[order] > -9.0])  # in their own order: draws hang on no last digit


class _Chain:
    """Sums over steps and dips for the forms kept. States: before, in and after a dip, by the step
    taken so far (none first) and the dip's depth."""

    def __init__(
        self, forms: _Forms, values: np.ndarray, kept: np.ndarray, x: np.ndarray, dips: bool
    ) -> None:
        spread, form = np.divmod(kept, values.shape[1])
        value = values[spread, form].astype(float)  # (kept, rungs, amounts)
        top = value.max(axis=2, keepdims=True)
        self.seen = np.exp(value - top)
        self.start = forms.prior[spread, form] + top[:, :, 0].sum(axis=1)
        self.forms, self.spread, self.form, self.x, self.dips = forms, spread, form, x, dips
        rungs, steps = len(x), len(STEPS)
        self.begin = STEP_PRIOR / (1.0 - STEP_PRIOR) / (max(rungs - 1, 1) * steps)
        self.go_on = np.exp(-np.diff(x, prepend=x[0]) / DIP_WIDE)
        self.kept: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
        self._forward()

    def _forward(self) -> None:
        count, rungs, _ = self.seen.shape
        states = 1 + len(STEPS)
        before = np.zeros((count, states))
        inside = np.zeros((count, states, len(DIPS)))
        after = np.zeros((count, states))
        before[:, 0] = self.seen[:, 0, 0]
        if self.dips:
            inside[:, 0, :] = self.seen[:, 0, :][:, _COMBINED[0]]
        self.kept = [(before, inside, after)]
        for rung in range(1, rungs):
            seen = self.seen[:, rung]
            alone = np.concatenate([seen[:, :1], seen[:, STEPS]], axis=1)
            if self.dips:
                came = self._stepped(before[:, :, None] + inside * self.go_on[rung])
                after = self._stepped(after + inside.sum(axis=2)) * alone
                inside = came * seen[:, _COMBINED]
            before = self._stepped(before) * alone
            scale = np.maximum(before.max(axis=1), after.max(axis=1))
            if self.dips:
                scale = np.maximum(scale, inside.max(axis=(1, 2)))
            scale = np.maximum(scale, _TINY)
            self.start = self.start + np.log(scale)
            before, after = before / scale[:, None], after / scale[:, None]
            inside = inside / scale[:, None, None]
            self.kept.append((before, inside, after))

    def _stepped(self, state: np.ndarray) -> np.ndarray:
        moved = state.copy()
        moved[:, 1:] += self.begin * state[:, :1]
        return moved

    def _spans(self) -> float:
        """Weight of all dips, were nothing known."""
        inside = after = 0.0
        for rung in range(len(self.x)):
            after += inside
            inside = 1.0 + (inside * self.go_on[rung] if rung else 0.0)
        return after * len(DIPS)

    def weighed(self, rng: np.random.Generator, draws: int) -> Weighed:
        before, _, after = self.kept[-1]
        plain = self.start + np.log(before.sum(axis=1) + _TINY)
        evidence = float(np.logaddexp.reduce(plain))
        drawn = self._draw(plain, rng, draws, False)
        if not self.dips:
            return Weighed(drawn, None, -np.inf, evidence)
        dipped = self.start + np.log(after.sum(axis=1) + _TINY) - np.log(self._spans())
        odds = float(np.logaddexp.reduce(dipped)) - evidence
        having = self._draw(dipped, rng, draws, True) if odds > -5.0 else None
        return Weighed(drawn, having, odds, evidence)

    def _draw(self, weight: np.ndarray, rng: np.random.Generator, draws: int, dip: bool) -> Drawn:
        """Forms by weight, then their steps and dips backwards along the chain."""
        share = np.exp(weight - weight.max())
        at = rng.choice(len(share), draws, p=share / share.sum())
        rungs, every = len(self.x), np.arange(draws)
        step = taken = _pick(self.kept[-1][2 if dip else 0][at], rng)
        phase = np.full(draws, 2 if dip else 0)  # 0 before, 1 inside, 2 after the dip
        depth = np.zeros(draws, int)
        step_rung, dip_from, dip_to = (np.full(draws, -1) for _ in range(3))
        for rung in range(rungs - 1, 0, -1):
            before, inside, after = (part[at] for part in self.kept[rung - 1])
            begun = np.where(step > 0, self.begin, 0.0)
            on = phase < 2
            weights = np.stack(
                [
                    ~on * after[every, step],
                    ~on * begun * after[:, 0],
                    on * before[every, step],
                    on * begun * before[:, 0],
                ],
                axis=1,
            )
            if dip:
                own = (np.arange(len(DIPS)) == depth[:, None]) * self.go_on[rung]
                open_ = np.where(phase[:, None] == 2, 1.0, (phase[:, None] == 1) * own)
                same, fresh = inside[every, step] * open_, inside[:, 0] * open_ * begun[:, None]
                weights = np.concatenate([weights, same, fresh], axis=1)
            came = _pick(weights, rng)
            new = (step > 0) & ((came == 1) | (came == 3) | (came >= 4 + len(DIPS)))
            was = np.where(came <= 1, 2, np.where(came <= 3, 0, 1))
            depth = np.where(came >= 4, (came - 4) % len(DIPS), depth)
            dip_to = np.where((phase == 2) & (was == 1), rung - 1, dip_to)
            dip_from = np.where((phase == 1) & (was == 0), rung, dip_from)
            step_rung = np.where(new, rung, step_rung)
            step, phase = np.where(new, 0, step), was
        if dip:
            dip_from = np.where(dip_from < 0, 0, dip_from)
        here = np.maximum(step_rung, 1)
        between = self.x[here - 1] + rng.random(draws) * (self.x[here] - self.x[here - 1])
        form = self.form[at]
        return Drawn(
            middle=self.forms.middle[form] + (rng.random(draws) - 0.5) * FINEST,
            width=self.forms.width[form],
            lapse=self.forms.lapse[form],
            spread=SPREADS[self.spread[at]],
            step_at=np.where(step_rung > 0, between, np.inf),
            step=np.where(step_rung > 0, AMOUNTS[np.r_[0, STEPS]][taken], 0.0),
            dip_from=dip_from,
            dip_to=dip_to,
        )


def _pick(weights: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A column of each row, by weight."""
    run = np.cumsum(weights, axis=1)
    return np.minimum(
        (run < rng.random((len(run), 1)) * run[:, -1:]).sum(axis=1), weights.shape[1] - 1
    )
