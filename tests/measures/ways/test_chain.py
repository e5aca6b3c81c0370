"""The hidden chain against a worked example, enumeration, and a general library."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from livecheck.measures.ways.chain import Takes, hidden, paths


def brute(emit, share, stay):
    """Likelihood and chances by going through every path."""
    n, ways = emit.shape
    total, seen = 0.0, np.zeros((n, ways))
    for path in product(range(ways), repeat=n):
        chance = share[0][path[0]] * np.exp(emit[0][path[0]])
        for at in range(1, n):
            move = (1 - stay) * share[at][path[at]] + stay * (path[at] == path[at - 1])
            chance *= move * np.exp(emit[at][path[at]])
        total += chance
        for at, way in enumerate(path):
            seen[at, way] += chance
    return np.log(total), seen / total


def drawn(seed, n=6, ways=3):
    rng = np.random.default_rng(seed)
    share = rng.dirichlet(np.ones(ways), n)
    return rng.normal(0, 1.5, (n, ways)), share, float(rng.uniform(0, 0.95))


def test_the_forward_pass_gives_the_worked_example():
    """Ice creams 3 1 3: 0.0404 hot and 0.069 cold after two days, 0.02856 in all.

    Source: D. Jurafsky, J. H. Martin, Speech and Language Processing (3rd ed. draft), appendix A,
    figures A.2 and A.5; its moves are ours with stay 0.1 and shares 5/9 (hot) and 4/9 (cold).
    """
    likely = {1: (0.2, 0.5), 2: (0.4, 0.4), 3: (0.4, 0.1)}
    emit = np.log([likely[day] for day in (3, 1, 3)])
    share = np.array([[0.8, 0.2], [5 / 9, 4 / 9], [5 / 9, 4 / 9]])
    takes = Takes(np.zeros(3, int))
    found = hidden(takes, emit, share, 0.1)
    assert np.exp(found.fit[0]) == pytest.approx(0.028562, abs=5e-7)
    assert found.forward[1, 0] == pytest.approx(np.array([0.0404, 0.069]) / 0.1094, rel=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_chances_are_those_of_all_paths(seed):
    """Likelihood and chances agree with the sum over every path, also where shares move."""
    emit, share, stay = drawn(seed)
    fit, seen = brute(emit, share, stay)
    found = hidden(Takes(np.zeros(len(emit), int)), emit, share, stay)
    assert found.fit[0] == pytest.approx(fit, rel=1e-9)
    assert found.way == pytest.approx(seen, abs=1e-9)


def test_takes_know_nothing_of_each_other():
    """Two takes laid side by side, of unlike length and mixed order, are as each by itself."""
    a, b = drawn(1, 5), drawn(2, 3)
    take = np.array([7, 3, 7, 7, 3, 3, 7, 7])
    emit, share = np.zeros((8, 3)), np.zeros((8, 3))
    for number, (e, s, _) in ((7, a), (3, b)):
        emit[take == number], share[take == number] = e, s
    both = hidden(Takes(take), emit, share, 0.6)
    for place, (number, (e, s, _)) in enumerate(((3, b), (7, a))):
        alone = hidden(Takes(np.zeros(len(e), int)), e, s, 0.6)
        assert both.fit[place] == pytest.approx(alone.fit[0], rel=1e-12)
        assert both.way[take == number] == pytest.approx(alone.way, abs=1e-12)
        assert both.drawn[take == number] == pytest.approx(alone.drawn, abs=1e-12)


def test_a_two_level_chain_agrees_with_a_general_library():
    """Likelihood and smoothed chances are statsmodels' for a Markov switching mean."""
    markov = pytest.importorskip("statsmodels.tsa.regime_switching.markov_regression")
    rng = np.random.default_rng(5)
    stay, share = 0.7, np.array([0.6, 0.4])
    state = [0]
    for _ in range(199):
        state.append(state[-1] if rng.random() < stay else int(rng.random() < share[1]))
    y = np.array([0.0, 1.8])[state] + rng.normal(0, 1.0, 200)
    model = markov.MarkovRegression(y, k_regimes=2)
    keep = [stay + (1 - stay) * share[0], (1 - stay) * share[0]]
    result = model.smooth([*keep, 0.0, 1.8, 1.0])
    emit = -0.5 * (y[:, None] - np.array([0.0, 1.8])) ** 2 - 0.5 * np.log(2 * np.pi)
    found = hidden(Takes(np.zeros(200, int)), emit, np.tile(share, (200, 1)), stay)
    assert found.fit[0] == pytest.approx(result.llf, abs=1e-6)
    assert found.way == pytest.approx(result.smoothed_marginal_probabilities, abs=1e-6)


def test_drawn_paths_are_as_frequent_as_their_chances():
    """Over many draws each repetition comes in each way as often as its chance says, and
    neighbours keep together as often as over all paths."""
    emit, share, stay = drawn(4, 5, 2)
    takes = Takes(np.zeros(5, int))
    found = hidden(takes, emit, share, stay)
    some = paths(takes, found, share, stay, 20_000, np.random.default_rng(1))
    assert (some == 1).mean(axis=0) == pytest.approx(found.way[:, 1], abs=0.015)
    together = 0.0
    total, _ = brute(emit, share, stay)
    for path in product(range(2), repeat=5):
        chance = share[0][path[0]] * np.exp(emit[0][path[0]])
        for at in range(1, 5):
            move = (1 - stay) * share[at][path[at]] + stay * (path[at] == path[at - 1])
            chance *= move * np.exp(emit[at][path[at]])
        together += chance / np.exp(total) * (path[2] == path[3])
    assert (some[:, 2] == some[:, 3]).mean() == pytest.approx(together, abs=0.015)
