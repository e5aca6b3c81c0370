"""From which tempo the second way is the more frequent."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from livecheck.measures.ways.find import _takes_over


def told(shares: dict[float, float], reps: int = 20) -> float | None:
    """Of so many repetitions at each tempo, the second way's share of them."""
    bpm = np.repeat(list(shares), reps).astype(float)
    second = np.concatenate([np.arange(reps) < round(reps * share) for share in shares.values()])
    chances = np.stack([~second, second], axis=1).astype(float)
    return _takes_over(SimpleNamespace(bpm=bpm), chances)


def test_it_takes_over_where_its_share_passes_a_half():
    """From a tenth to nine tenths."""
    at = told({90: 0.1, 100: 0.2, 110: 0.35, 120: 0.65, 130: 0.8, 140: 0.9})
    assert at == pytest.approx(115.0, abs=3.0)


@pytest.mark.parametrize(
    "shares",
    [
        {90: 0.2, 100: 0.4, 112: 0.6, 124: 0.3, 132: 0.8, 140: 0.4, 148: 0.45},  # comes and goes
        {90: 0.45, 110: 0.45, 130: 0.45},  # as often at each
        {90: 0.9, 110: 0.5, 130: 0.1},  # falls
        {90: 0.1, 110: 0.2, 130: 0.4},  # does not come to it
    ],
)
def test_no_tempo_is_told_that_the_shares_deny(shares: dict[float, float]):
    """Where it is not the more frequent from there on, there is none."""
    assert told(shares) is None
