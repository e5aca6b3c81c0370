"""Strokes as they were played, in words and on the page."""

from __future__ import annotations

import numpy as np
from ladders import table

from livecheck.measures.review.answers import make_review
from livecheck.measures.stats import sigmoid
from livecheck.measures.strokes.direction import Directions, Habit, Played, Seam
from livecheck.report.page import page
from livecheck.report.stroke_text import direction_to_dict, stroke_sentences


def directions(begun: dict[int, str], goes_on: bool | None, **more: object) -> Directions:
    """Ten notes told, repetitions begun so, and seams that all go one way."""
    strokes = tuple(Played(1, slot, "up" if slot % 2 else "down", 0.99) for slot in range(1, 11))
    seams = tuple(Seam(rep, goes_on) for rep in list(begun)[1:])
    base = {"not_picked": (), "softer": None, "later": None, "why": None} | more
    return Directions(strokes, begun, seams, owed={}, gain=9.0, **base)  # type: ignore[arg-type]


def test_what_up_strokes_are_like_is_said_where_it_is_sure() -> None:
    """With its interval; a habit that may be none is left out."""
    habits = {"softer": Habit(0.21, 0.18, 0.24), "later": Habit(0.4, -0.3, 1.1)}
    told = stroke_sentences(directions({}, None, **habits))
    assert told[0] == "Told as played: 5 down strokes, 5 up strokes."
    assert told[1] == "Up strokes come 21 % softer (18 to 24) than down strokes."


def test_how_repetitions_begin_is_said() -> None:
    """Turning round, two strokes in a row over the seam, and a note that is not picked."""
    turning = {rep: "down" if rep % 2 else "up" for rep in range(1, 11)}
    same = dict.fromkeys(range(1, 11), "down")
    assert stroke_sentences(directions(turning, True))[-1] == (
        "The picking turns round: 5 repetitions begin down, 5 begin up."
    )
    assert stroke_sentences(directions(same, False))[-1] == (
        "Repetitions begin with a down stroke (10 of 10): two strokes of the same direction in a "
        "row over the seam."
    )
    told = stroke_sentences(directions(same, None, not_picked=(5,)))
    assert told[-2:] == [
        "Not picked, though planned to be: note 5.",
        "Repetitions begin with a down stroke (10 of 10).",
    ]


def test_where_nothing_can_be_told_the_reason_is_said() -> None:
    """In words and as values."""
    nothing = directions({}, None, why="both directions sound alike")
    assert stroke_sentences(nothing) == ["Down or up cannot be told: both directions sound alike."]
    assert direction_to_dict(nothing)["why"] == "both directions sound alike"


def test_the_page_draws_both_beginnings_where_both_are_told() -> None:
    """Two curves with their caption; without directions there is no such picture."""
    rows = [
        (take, bpm, 20, float(np.round(20 * sigmoid(np.array((middle - bpm) / 7.0)))), begun)
        for take, bpm in enumerate(np.linspace(90, 200, 10))
        for begun, middle in ((1, 170.0), (2, 130.0))
    ]
    take, bpm, n, clean, begun = map(np.array, zip(*rows))
    told = page(make_review(table(take, bpm, n, clean, begun=begun), "odd"), "odd")
    assert "Begun down, begun up" in told and "begun up breaks 1" in told
    plain = page(make_review(table(take, bpm, n, clean), "odd"), "odd")
    assert "Begun down, begun up" not in plain
