"""Which of the two plans was played over the seams."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from ladders import table

from livecheck.measures.review.left_out import LeftOut, left_out
from livecheck.measures.review.seam import Seam, seam
from livecheck.measures.review.stroke_words import seam_words

TEMPOS = [90.0, 100.0, 110.0, 120.0, 130.0, 140.0]


def told(went_on: Sequence[float], took_up: Sequence[float], turns: bool = True) -> Seam | None:
    """The seams at six tempos; ``turns``: by the plan the picking turns round."""
    count = len(TEMPOS)
    parity = np.ones(count, int) if turns else np.zeros(count, int)
    n = np.array(went_on, float) + np.array(took_up, float) + 1.0
    return seam(
        table(
            range(count), TEMPOS, n, n, parity=parity,
            went_on=np.array(went_on, float), took_up=np.array(took_up, float),
        )
    )  # fmt: skip


@pytest.mark.parametrize(
    ("went_on", "took_up", "played"),
    [
        ([10] * 6, [0] * 6, "alternate"),
        ([0] * 6, [10] * 6, "repeat"),
        ([5] * 6, [5] * 6, "mixed"),
        ([10] * 6, [1] * 6, "alternate"),
    ],
)
def test_the_plan_that_was_played(went_on: list[int], took_up: list[int], played: str) -> None:
    """At all tempos, with its chance."""
    found = told(went_on, took_up)
    assert found is not None and (found.played, found.from_bpm) == (played, None)
    assert found.chance >= 0.9


def test_too_few_seams_or_a_share_between_two_kinds_say_nothing() -> None:
    """Seven seams; and four in five, which is neither nearly all nor mixed."""
    assert told([1] * 6 + [], [0] * 6) is None
    assert told([8] * 6, [2] * 6) is None


def test_a_plan_that_changes_with_the_tempo_is_told_with_the_tempo() -> None:
    """Alternating up to 110, taking up the first stroke from 120 on."""
    found = told([10, 10, 10, 0, 0, 0], [0, 0, 0, 10, 10, 10])
    assert found is not None
    assert (found.played, found.before) == ("repeat", "alternate")
    assert found.from_bpm == pytest.approx(115.0, abs=0.2)
    assert seam_words(found) == (
        "From 115 bpm on each repetition begins with the stroke that began the one before; below, "
        "the picking goes on alternating over the seam and turns round."
    )


def test_what_is_as_planned_needs_no_words() -> None:
    """Said only where it is another plan than the cell's, or changes."""
    assert seam_words(told([10] * 6, [0] * 6)) == seam_words(None) == ""
    assert seam_words(told([10] * 6, [0] * 6, turns=False)).startswith(
        "Played otherwise than planned: the picking goes on"
    )


def left(
    share: Sequence[float],
    begun: Sequence[int],
    turns: bool = True,
    on: float = 0.0,
    slots: Sequence[int] = (5,),
) -> LeftOut | None:
    """Note 5, or others, not picked in this share of twenty at each of six tempos; how repetitions
    begin: 1 down, 2 up, 0 turn about."""
    rows = [
        (rung, bpm, 10.0, part, kind)
        for rung, bpm in enumerate(TEMPOS)
        for part, kind in zip((share[rung],) * 2, (begun[rung] or 1, begun[rung] or 2))
    ]
    take, bpm, n, part, kind = (np.array(column) for column in zip(*rows))
    stroked = np.repeat(n[:, None], 6, axis=1)
    unpicked = np.zeros_like(stroked)
    for slot in slots:
        unpicked[:, slot - 1] = n * part
    tries = table(
        take, bpm, n, n, parity=np.full(len(n), int(turns)), begun=kind, stroked=stroked,
        unpicked=unpicked, to_pick=stroked, went_on=np.full(len(n), on),
    )  # fmt: skip
    return left_out(tries, seam(tries))


def test_a_note_that_is_not_picked_is_why_each_repetition_begins_alike() -> None:
    """At every tempo, and from one tempo on, with the stroke that they begin with."""
    found = left([1.0] * 6, [1] * 6)
    assert found is not None and found.slots == (5,)
    assert seam_words(None, found) == (
        "Note 5 is not picked, so each repetition begins with a down stroke."
    )
    found = left([0.0, 0.0, 0.0, 1.0, 1.0, 1.0], [0, 0, 0, 2, 2, 2])
    assert seam_words(None, found) == (
        "From 115 bpm on note 5 is not picked, so each repetition begins with an up stroke."
    )


def test_a_note_left_out_of_an_even_number_turns_the_picking_round() -> None:
    """Where the seams say so, too."""
    found = left([1.0] * 6, [0] * 6, turns=False, on=9.0)
    assert seam_words(None, found) == (
        "Note 5 is not picked, so the picking turns round at each repetition."
    )
    assert left([1.0] * 6, [0] * 6, turns=False) is None


def test_where_repetitions_turn_round_all_the_same_nothing_is_said() -> None:
    """Beginnings that deny it, a note that is picked now and then, and none at all."""
    assert left([1.0] * 6, [0] * 6) is None
    assert left([0.5] * 6, [1] * 6) is None
    assert left([0.0] * 6, [1] * 6) is None


def test_a_hand_that_picks_next_to_nothing_is_not_believed() -> None:
    """Loudness has misled where most notes are said not to be picked."""
    assert left([1.0] * 6, [1] * 6, slots=(1, 2, 4, 5, 6)) is None
    assert left([1.0] * 6, [1] * 6, slots=(2, 4, 6)) is not None
