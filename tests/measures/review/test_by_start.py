"""Begun with a down stroke and with an up stroke: breaks, their difference, and faults of one
direction."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from ladders import table
from stroke_practice import falling, practice

from livecheck.core.cell import make_cell
from livecheck.measures.review.answers import make_review
from livecheck.measures.review.by_start import by_start, paired
from livecheck.measures.review.gather import gather
from livecheck.measures.review.sentence import sentence
from livecheck.measures.review.stroke_words import fault_words, start_words
from livecheck.measures.review.table import Tries
from livecheck.measures.stats import sigmoid
from livecheck.player.habits import Habits

DOWN, UP = 180.0, 140.0
ODD = make_cell("odd", [(2, 13), (2, 10), (3, 12), (5, 10), (5, 9)], quiet=[1, 4, 6])


def ladder(breaks: tuple[float, float], seed: int = 1, luck: float = 0.5) -> Tries:
    """Takes at twelve tempos, every second repetition begun with an up stroke; each take has its
    luck."""
    rng = np.random.default_rng(seed)
    rows = []
    for take, bpm in enumerate(np.repeat(np.linspace(90, 210, 12), 2)):
        moved = rng.normal(0.0, luck)
        for begun, middle in enumerate(breaks, 1):
            chance = sigmoid(np.array((middle - bpm) / 8.0 + moved))
            rows.append((take, bpm, 15, rng.binomial(15, chance), begun))
    take, bpm, n, clean, begun = zip(*rows)
    return table(take, bpm, n, clean, begun=np.array(begun))


def test_each_beginning_has_its_own_break() -> None:
    """Planted 40 bpm apart, both are told within 4 %, and the sentence says so."""
    found = by_start(ladder((DOWN, UP)))
    assert found is not None and found.reps == (360, 360)
    assert found.down.broken.bpm == pytest.approx(DOWN, rel=0.04)
    assert found.up.broken.bpm == pytest.approx(UP, rel=0.04)
    assert found.difference.surely and found.difference.share > 0
    words = start_words(found)
    assert words.startswith("Begun with a down stroke it breaks at 1")
    assert "begun with an up stroke it breaks at 1" in words


def test_the_interval_holds_the_difference_and_rarely_denies_that_there_is_none() -> None:
    """Takes have their luck, which is in both beginnings."""
    held = surely = 0
    for seed in range(60):
        tries = ladder((160.0, 160.0), seed)
        found = paired(tries.where(tries.begun == 1), tries.where(tries.begun == 2))
        assert found is not None
        held += found.low <= 0.0 <= found.high
        surely += found.surely
    assert held >= 54 and surely <= 6


def test_where_one_beginning_is_rare_nothing_is_said() -> None:
    """Seven repetitions begun with an up stroke are too few; so is none."""
    tries = ladder((DOWN, UP))
    few = tries.where((tries.begun == 1) | (np.arange(len(tries.n)) == 1))
    few.n[1] = 7
    assert by_start(few) is None
    assert by_start(tries.where(tries.begun == 1)) is None


def test_a_string_that_sounds_at_up_strokes_alone_is_told_with_its_note() -> None:
    """Planted through the built-in player: string 4, between notes 3 and 4, when note 3 is an up
    stroke. The review's sentence says it."""
    rng = Random("brushed at an up stroke")
    habits = Habits(up_softer=0.25, gallop_pct=1.0, wait=0.1)
    chance = {"down": falling(300.0, 9.0), "up": falling(300.0, 9.0)}
    played = practice(
        rng, ODD, [90.0, 97.0, 105.0, 113.0, 121.0], 20, chance, habits, noise_at=(4, 3, "up")
    )
    tries = gather(played.reps)
    found = by_start(tries)
    assert found is not None and len(found.strokes) == 1
    fault = found.strokes[0]
    assert (fault.what, fault.slot, fault.string, fault.stroke) == ("noise", 3, 4, "up")
    assert fault.share > 0.15 and fault.other < 0.03
    assert fault_words(found, lambda string: "is brushed")[0].startswith(
        "String 4 is brushed only when note 3 is an up stroke ("
    )
    assert "only when note 3 is an up stroke" in sentence(make_review(tries, "odd"))


def test_a_string_that_sounds_at_both_strokes_is_not_told_by_stroke() -> None:
    """Equally often in repetitions of both beginnings."""
    tries = ladder((DOWN, DOWN))
    tries.noise[:, 3] = np.round(0.3 * tries.n)
    tries.noise_up[3, 2] = tries.noise_down[3, 2] = 50
    tries.downs[:] = np.where(tries.begun == 1, tries.n, 0.0)[:, None]
    tries.ups[:] = np.where(tries.begun == 2, tries.n, 0.0)[:, None]
    found = by_start(tries)
    assert found is not None and not found.strokes
