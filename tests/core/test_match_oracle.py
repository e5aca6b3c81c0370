"""The matcher beside a whole-take dynamic program, and beside the truth, on small takes of the
stage's set A."""

from __future__ import annotations

from collections import Counter

from oracle import compare
from stage import CLASSES, Score, judge, listen, takes

from livecheck.session import Session

STAGE = takes("A", 3 * len(CLASSES))


def test_matcher_and_oracle_agree_and_where_they_differ_the_truth_decides():
    """The oracle sees the whole take and the matcher only what came so far, yet they agree on 99
    notes in 100; of the notes on which they differ the oracle alone is right about no more than 3
    in 1000."""
    n = sum(compare(STAGE).values(), Counter())
    assert n["notes"] > 2000
    assert n["agree"] / n["notes"] > 0.985, dict(n)
    assert n["oracle right"] / n["notes"] > 0.99, dict(n)
    assert n["only oracle"] / n["notes"] < 0.003, dict(n)


def test_the_stage_is_judged_as_the_figures_to_reach_ask():
    """Over all classes: notes told right, bend-alone slots, kinds of extras, nothing told twice or
    not at all."""
    score = Score()
    for take in STAGE:
        judge(take, listen(Session(take.cell, take.rig).feed_all(take.records)), score)
    n = score.n
    assert n["contract"] == 0 and n["crashes"] == 0
    assert n["notes right"] / n["notes"] >= 0.998, dict(n)
    assert n["bends right"] / n["bends"] >= 0.99, dict(n)
    assert n["kinds right"] / n["extras"] >= 0.98, dict(n)


def test_the_judge_sees_planted_mistakes():
    """A take judged against another seed's truth, and verdicts turned over, do not pass."""
    take = STAGE[1]
    told = listen(Session(take.cell, take.rig).feed_all(take.records))
    fair, turned = Score(), Score()
    judge(take, told, fair)
    for key, label in list(told.labels.items())[::3]:
        told.labels[key] = label.replace("hit", "wrong")
    judge(take, told, turned)
    assert fair.n["notes right"] > turned.n["notes right"] + len(take.sent) // 5


def test_takes_are_the_same_for_the_same_seed_and_others_for_another():
    """Both sets are made anew from their seeds."""
    first, again, other = takes("A", 3), takes("A", 3), takes("B", 3)
    assert [take.records for take in first] == [take.records for take in again]
    assert [take.records for take in first] != [take.records for take in other]
