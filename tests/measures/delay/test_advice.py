"""What ordinary practice says of a rig's delay."""

from __future__ import annotations

from functools import cache

import pytest
from test_estimate import CELLS, practised

from livecheck.core.rig import Delay, Rig
from livecheck.measures.delay.advice import DelayAdvice, advise_delay

RIGHT, NONE = Rig(delay=Delay(4.0, 1.6)), Rig()


@cache
def advice_on(rig: Rig) -> DelayAdvice:
    """What twenty repetitions of each cell say of a rig."""
    return advise_delay(
        [rep for seed, cell in enumerate(CELLS) for rep in practised(cell, 1.6, seed, 1.0, 20)], rig
    )


def test_a_rig_that_takes_nothing_off_is_told_what_practice_says() -> None:
    """The low string is late for sure, and the suggested delay is near the true one."""
    advice = advice_on(NONE)
    assert advice.why is None and advice.worth_saying
    assert advice.worst is not None and advice.worst.string in (1, 6)
    assert advice.suggested is not None and advice.suggested.periods == pytest.approx(1.6, abs=0.35)


def test_a_rig_that_is_right_is_left_alone() -> None:
    """No string is off for sure; each string's interval holds zero."""
    advice = advice_on(RIGHT)
    assert advice.why is None and not advice.worth_saying and advice.worst is None
    assert all(one.ms.low <= 0.0 <= one.ms.high for one in advice.off)


def test_the_difference_is_the_estimate_minus_what_the_rig_takes_off() -> None:
    """Off by string adds up to nothing over the strings, and to the rig's error at the pitches
    heard."""
    right, none = advice_on(RIGHT).off, advice_on(NONE).off
    assert sum(one.ms.value for one in none) == pytest.approx(0.0, abs=0.01)
    assert {one.string: one.ms.value for one in none}[6] - {
        one.string: one.ms.value for one in right
    }[6] > 5.0


def test_little_practice_is_said_to_be_little() -> None:
    """One cell on two strings, a few repetitions, or none: why."""
    few = practised(CELLS[0], 1.6, 1, 1.0, reps=4)
    assert "too few" in str(advise_delay(few, NONE).why)
    limping = advise_delay(
        [*practised(CELLS[0], 1.6, 1, 12.0, 20), *practised(CELLS[1], 1.6, 2, 12.0, 20)], NONE
    )
    assert "more cells" in str(limping.why)
    assert not advise_delay([], NONE).worth_saying
