"""From which tempo the second way is the more frequent."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from livecheck.measures.ways.find import _parted, _takes_over


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


def test_ways_that_a_tempo_parts_are_a_change():
    """All of one below and of the other above; not where they meet at equal tempos."""
    bpm = np.repeat([90.0, 100.0, 110.0, 120.0], 30) + np.tile(np.arange(30) * 0.01, 4)
    above = (bpm > 105.0).astype(float)
    assert _parted(bpm, np.stack([1.0 - above, above], axis=1)) == 110.0
    mixed = np.where(np.arange(120) % 5 == 0, 1.0 - above, above)
    assert _parted(bpm, np.stack([1.0 - mixed, mixed], axis=1)) is None
