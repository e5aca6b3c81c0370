"""The tests' own memory of what was worked out."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from remembered import remembering


class Question(NamedTuple):
    values: np.ndarray
    flag: bool


def test_only_the_same_question_is_asked_once() -> None:
    """Other values, another shape or type, or another flag is another question."""
    asked: list[Question] = []
    ask = remembering(lambda question: asked.append(question) or len(asked))
    first = Question(np.array([1.0, 2.0]), True)
    assert ask(first) == ask(Question(np.array([1.0, 2.0]), True)) == 1
    for other in (
        Question(np.array([1.0, 2.5]), True),
        Question(np.array([[1.0, 2.0]]), True),
        Question(np.array([1, 2]), True),
        Question(np.array([1.0, 2.0]), False),
    ):
        assert ask(other) == len(asked)
    assert len(asked) == 5 and ask(first) == 1
