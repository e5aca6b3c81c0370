"""Evenness on small tables whose answer is plain."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from ladders import table

from livecheck.measures.review.even import even, noticeable_cv_pct


def played(late_ms, seed=1, cv=5.0):
    """Eight takes at each of four tempos; note 4 comes late by so much, by tempo."""
    rng = np.random.default_rng(seed)
    bpm = np.repeat([90.0, 110.0, 130.0, 150.0], 8)
    n = np.full(32, 10.0)
    mean = rng.normal(0.0, 1.5, (32, 6))
    mean[:, 3] += np.array([late_ms(at) for at in bpm])
    return table(
        range(32), bpm, n, n, timing_sum=10 * mean, timing_n=np.full((32, 6), 10.0), cv_n=n,
        cv_sum=n * np.array([cv if np.isscalar(cv) else cv(at) for at in bpm]),
    )  # fmt: skip


def test_a_note_that_is_late_at_every_tempo_is_told_with_its_place():
    """18 ms late: told with its interval, from no tempo on."""
    (off,) = even(played(lambda bpm: 18.0), 4).slots
    assert off.slot == 4 and off.from_bpm is None
    assert off.ms == pytest.approx(18.0, abs=1.0) and off.low < 18.0 < off.high


def test_an_even_player_with_a_rig_a_millisecond_wrong_is_called_even():
    """One note a millisecond off, in 40 tables: nothing is claimed."""
    assert not any(even(played(lambda bpm: 1.0, seed), 4).slots for seed in range(40))


def test_an_unmeasured_delay_says_nothing_across_strings():
    """Then it says why; on a single string the delay is everywhere the same."""
    tries = replace(played(lambda bpm: 18.0), delay_known=np.zeros(32, int))
    found = even(tries, 4)
    assert found.slots == () and found.up_to_bpm is None and "never measured" in found.why
    assert even(replace(tries, slot_strings=(2,) * 6), 4).slots[0].slot == 4


def test_even_up_to_the_first_tempo_that_is_heard_as_uneven():
    """Two tempos below what can be heard, then one above: the second of them."""

    def cv(bpm):
        return noticeable_cv_pct(bpm, 4) + (1 if bpm == 130 else -1)

    found = even(played(lambda bpm: 0.0, cv=cv), 4)
    assert found.up_to_bpm == 110.0
    assert even(played(lambda bpm: 0.0, cv=99.0), 4).up_to_bpm is None
