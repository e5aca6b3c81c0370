"""Ways of playing fitted to features: what was not heard is left out, takes of one way are tried
both ways round, and takes held out decide."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import multivariate_normal, t
from statsmodels.imputation.mice import MICE

from livecheck.measures.ways.features import COLUMNS, Features, Figure
from livecheck.measures.ways.find import find_ways
from livecheck.measures.ways.learned import one_way, refined
from livecheck.measures.ways.matrix import RING, TIMING, Atom, matrix_of
from livecheck.measures.ways.model import copied, started, total, weighed
from livecheck.measures.ways.odds import held_out
from livecheck.measures.ways.packed import pack, unpack
from livecheck.measures.ways.search import data_of
from livecheck.measures.ways.taken import grown, taken_in
from livecheck.measures.ways.told import put_together
from livecheck.measures.ways.turned import turned, weights

FIGURE = Figure(6, (2, 2, 3, 3, 5, 5), (0, 1, 2, 3, 4, 5), 6, (False,) * 6)


def practice(
    seed: int, late_ms: float, stay: float = 0.85, gaps: float = 0.0
) -> tuple[Features, np.ndarray]:
    """Twelve takes of twenty at four tempos; in the second way note 2 comes later and note 4 rings
    on.

    gaps: share of the rings that were not heard.
    """
    rng = np.random.default_rng(seed)
    n = 240
    take = np.repeat(np.arange(12), 20)
    bpm = np.repeat(np.tile([90.0, 110.0, 130.0, 150.0], 3), 20) * (1 + rng.normal(0, 0.004, n))
    way = np.zeros(n, int)
    for at in range(n):
        fresh = at % 20 == 0 or rng.random() > stay
        way[at] = int(rng.random() < 0.5) if fresh else way[at - 1]
    late = rng.normal(0, 4.0, (n, 6))
    late[:, 1] += late_ms * way
    line = np.polyfit(np.arange(6), late.T, 1)
    late -= line[1][:, None] + line[0][:, None] * np.arange(6)
    ring = np.full((n, 6), np.nan)
    for slot in (1, 3, 5):
        ring[:, slot] = rng.normal(0, 12.0, n)
    ring[:, 3] += 8.0 * late_ms * way
    ring[rng.random((n, 6)) < gaps] = np.nan
    empty = np.full((n, 6), np.nan)
    columns = {
        "rep": np.arange(1, n + 1), "take": take, "sitting": np.zeros(n, int),
        "day": np.zeros(n, int), "minute": np.arange(n) / 10.0, "bpm": bpm, "begins": np.zeros(n),
        "clean": (rng.random(n) < 0.8).astype(float), "right": np.ones(n), "late": late,
        "seam": rng.normal(0, 5.0, n), "loud": rng.normal(4.4, 0.07, (n, 6)),
        "bent": np.zeros((n, 6)), "ring": ring, "touched": np.zeros((n, 6)), "cut": empty,
    }  # fmt: skip
    return Features(FIGURE, **columns), way


def right(found: np.ndarray, way: np.ndarray) -> float:
    share = float(np.mean((found[:, 1] > 0.5) == way))
    return max(share, 1.0 - share)


@pytest.fixture(scope="module")
def planted():
    features, way = practice(1, 9.0, gaps=0.25)
    data = data_of(features, matrix_of(features))
    one = one_way(data)
    known = np.stack([way == 0, way == 1], axis=1) * 0.9 + 0.05
    fit = refined(data, grown(data, started(data, one, known), 3), 10)
    return features, way, data, one, fit


def test_what_was_not_heard_is_left_out(planted):
    """A repetition's likelihood is that of what was heard of it alone (scipy's normal density,
    W-05)."""
    _, _, data, _, fit = planted
    matrix = data.matrix
    covariance = np.linalg.inv(fit.precision)  # free directions with a very wide scatter
    some = np.random.default_rng(2).choice(len(data.y), 12, replace=False)
    for row in some:
        told = matrix.known[row]
        for k in range(2):
            much = fit.coef[k] + data.x[row] * fit.slope[k]
            mean = (fit.course[row] + much @ matrix.shape)[told]
            own = multivariate_normal(mean, covariance[np.ix_(told, told)], allow_singular=True)
            assert own.logpdf(data.y[row, told]) == pytest.approx(fit.emit[row, k], abs=1e-5)


def test_nothing_heard_tells_nothing(planted):
    """Where nothing was heard, neither way is the likelier."""
    features, _, _, _, fit = planted
    deaf = {name: getattr(features, name).copy() for name in COLUMNS}
    for name in ("late", "seam", "loud", "ring"):
        deaf[name][7] = np.nan
    data = data_of(replace(features, **deaf), matrix_of(replace(features, **deaf)))
    other = copied(fit)
    one = one_way(data)
    other.scatter, other.course = one.scatter, one.course
    weighed(data, other)
    assert other.emit[7, 0] == pytest.approx(other.emit[7, 1], abs=1e-9)


def test_every_round_explains_more(planted):
    """Expectation and maximisation climbs (sources.md, W-01), up to what the ridge of the scatter
    costs."""
    _, way, data, one, _ = planted
    rng = np.random.default_rng(3)
    guess = np.clip(0.2 + 0.6 * way + rng.normal(0, 0.1, len(way)), 0.05, 0.95)
    fit = started(data, one, np.stack([1 - guess, guess], axis=1))
    taken_in(data, fit, 3)
    totals = []
    for _ in range(12):
        refined(data, fit, 1)
        totals.append(total(data, fit))
    assert min(np.diff(totals)) > -0.2 and totals[-1] > total(data, one) + 25.0


def test_takes_of_one_way_are_turned_where_that_explains_more(planted):
    """Takes that were put wrong as a whole are put right."""
    _, way, data, _, fit = planted
    wrong = copied(fit)
    for take in (2, 5):
        own = data.takes.of_row == take
        wrong.way[own] = wrong.way[own][:, ::-1]
    wrong.chain = None
    refined(data, wrong, 1)
    found = turned(data, [wrong])
    assert right(found[0].way, way) > 0.95
    assert weights(data, found).sum() == pytest.approx(1.0)


def test_takes_held_out_decide(planted):
    """Two ways that are there foretell takes held out better; two made of luck do not."""
    features, _, data, one, fit = planted
    gain = held_out(data, features.bpm, one, fit)
    assert gain.total > 20.0 and gain.sure > 1.7 and len(gain.ways) == 12
    single, _ = practice(4, 0.0)
    assert len(find_ways(single).ways) == 1


def test_the_planted_things_are_told(planted):
    """Note 2 later and note 4 ringing on, the clearest first, and the ways put right."""
    features, way, *_ = planted
    found = find_ways(features)
    assert len(found.ways) == 2
    kinds = [(one.what, one.slot) for one in found.ways[1].differs]
    assert kinds[0] == (RING, 4) and (TIMING, 2) in kinds
    told = found.way >= 0
    share = float(np.mean(found.way[told] == way[told]))
    assert told.mean() > 0.8 and max(share, 1 - share) > 0.95


def test_atoms_are_named_once():
    """A matrix names each thing that may differ once, and what it does to the row."""
    features, _ = practice(5, 0.0)
    matrix = matrix_of(features)
    assert len(set(matrix.atoms)) == len(matrix.atoms) == len(matrix.shape)
    assert Atom(TIMING, 6) in matrix.atoms and Atom(RING, 4) in matrix.atoms
    assert np.allclose(matrix.free.T @ matrix.off, 0.0)
    assert matrix.off.shape[1] + matrix.free.shape[1] == matrix.y.shape[1]


def test_draws_are_put_together_as_multiple_imputations_are():
    """The variance of three estimates is what statsmodels makes of them (W-04), and the interval is
    Student's with its few degrees of freedom."""
    values, variances = np.array([1.0, 2.0, 4.0]), np.array([1.0, 2.0, 0.5])
    imputed = MICE.__new__(MICE)
    imputed.exog_names, imputed.endog_names, imputed.model_class, imputed.model = (
        ["x"],
        "y",
        None,
        None,
    )
    imputed.results_list = [
        SimpleNamespace(
            scale=1.0,
            _results=SimpleNamespace(
                params=np.array([value, -value]), cov_params=lambda own=own: np.diag([own, own])
            ),
        )
        for value, own in zip(values, variances)
    ]
    theirs = imputed.combine()
    whole = float(theirs.cov_params()[0, 0])
    middle, reach = put_together(values, variances, 1e9)
    between = whole - float(variances.mean())
    assert middle == pytest.approx(theirs.params[0])
    assert reach == pytest.approx(t.ppf(0.975, 2.0 / (between / whole) ** 2) * whole**0.5, rel=0.01)


def test_kept_features_are_the_same_to_the_last_bit():
    """Packed and read again, nothing differs, what was not heard neither."""
    features, _ = practice(6, 5.0, gaps=0.4)
    again = unpack(*pack(features))
    assert again.figure == features.figure
    for name in COLUMNS:
        mine, theirs = getattr(features, name), getattr(again, name)
        assert np.array_equal(mine, theirs, equal_nan=True)
        assert name not in ("rep", "take", "sitting", "day") or theirs.dtype.kind == "i"
    with pytest.raises((KeyError, TypeError, ValueError)):
        unpack({"of": {}, "columns": []}, b"")
