"""The odds of a valley, against sums written out in full."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import logsumexp
from scipy.stats import norm

from livecheck.measures.review import valley_odds as odds
from livecheck.measures.review.draws import sigmoid

COUNTS = ([9, 4, 9], [10, 10, 10])


def likelihood(hits, of):
    rung = np.arange(len(of))
    return odds.likelihoods(np.array([hits], float), np.array(of, float), rung, len(of))


def test_a_takes_likelihood_is_averaged_over_its_luck():
    """The table equals scipy's integral of the binomial likelihood over a normal luck, at every
    spread and level."""
    table = likelihood(*COUNTS)
    for spread, level in itertools.product((0, 2, 4), (6, 13, 20)):
        sd, middle = odds.SPREADS[spread], odds.LEVELS[level]

        def weighed(z, sd=sd, middle=middle):
            return norm.pdf(z) * sigmoid(middle + sd * z) ** 4 * sigmoid(-middle - sd * z) ** 6

        exact = np.log(quad(weighed, -8, 8)[0])
        assert table[spread, 0, 1, 0, level] == pytest.approx(exact, abs=0.01)


def test_the_chain_adds_up_every_path_and_span():
    """Three rungs, every path and span written out: the same log odds as the chain's."""
    table = likelihood(*COUNTS)[:, 0]
    levels, depths = len(odds.LEVELS), len(odds.DEPTHS)
    without, having = [], []
    spans = {(0, 0): odds.SINGLE, (1, 1): odds.SINGLE, (0, 1): 1.0}
    possible = np.array([sigmoid(odds.LEVELS) - depth > 0.004 for depth in odds.DEPTHS])
    rung = np.arange(3)
    for steps, spread in itertools.product(odds._STEPS, range(len(odds.SPREADS))):
        for path in itertools.product(range(levels), repeat=3):
            if not path[0] >= path[1] >= path[2]:
                continue
            plain = table[spread, rung, 0, path]
            moves = [steps[path[0], path[1]], steps[path[1], path[2]]]
            if min(moves) > 0:
                without.append(plain.sum() + np.log(moves).sum() - np.log(levels))
            for (first, last), weight in spans.items():
                inside = (rung >= first) & (rung <= last)
                within = [
                    move if inside[i] == inside[i + 1] else path[i] == path[i + 1]
                    for i, move in enumerate(moves)
                ]
                if min(within) == 0:
                    continue
                for depth in range(depths):
                    if all(possible[depth, level] for level, here in zip(path, inside) if here):
                        lower = np.where(inside, table[spread, rung, 1 + depth, path], plain)
                        prior = (
                            np.log(within).sum()
                            - np.log(levels * depths)
                            + np.log(weight / sum(spans.values()))
                        )
                        having.append(lower.sum() + prior)
    exact = logsumexp(having) - logsumexp(without)
    assert odds.log_odds(likelihood(*COUNTS))[0] == pytest.approx(exact, abs=1e-6)


def test_where_the_valley_lies():
    """Six good rungs with two poor ones among them: these lie inside, and the path beside it stays
    high."""
    reading = odds.read(likelihood([10, 10, 9, 4, 4, 10, 9, 10], [10] * 8))
    assert reading.log_odds > 2 and np.flatnonzero(reading.inside > 0.5).tolist() == [3, 4]
    assert sigmoid(reading.beside)[:7].min() > 0.9 > sigmoid(reading.plain)[3:5].max()


def test_many_tries_count_as_sixty():
    """What is more than sixty of a take at a tempo tells of its luck alone."""
    hits, of = odds.capped(np.array([50.0, 3.0]), np.array([200.0, 4.0]))
    assert hits.tolist() == [15.0, 3.0] and of.tolist() == [60.0, 4.0]
