"""Repetitions become a table: what is counted, and at which tempo."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from ladders import table as made

from livecheck.core.cell import make_cell
from livecheck.core.events import Evenness, Extra, Note, Repetition, SlotResult
from livecheck.measures.review.gather import gather
from livecheck.measures.review.rungs import rungs
from livecheck.measures.review.table import fewer_rows, together

CELL = make_cell("skip", [(2, 13), (2, 10), (3, 12), (5, 12)])
PLAIN = Evenness(4.0, 5.0, 9.0, False)


def rep(
    number,
    verdicts="hit hit hit hit",
    bpm=100.0,
    take=1,
    complete=True,
    extras=(),
    cell=CELL,
    velocities=None,
):
    """One repetition in words."""
    start = 2.0 * number
    slots = []
    for i, verdict in enumerate(verdicts.split()):
        velocity = 80 if velocities is None else velocities[i]
        note = (
            Note(start + 0.15 * i, cell.slots[i].string, 60, 60, velocity)
            if verdict != "missed"
            else None
        )
        slots.append(
            SlotResult(i + 1, verdict, note, start + 0.15 * i, 1.5 if verdict == "hit" else None)
        )
    clean = complete and set(verdicts.split()) == {"hit"} and not extras
    found = tuple(Extra(Note(start + at, string, 50, 50, 30), kind) for at, string, kind in extras)
    hits = verdicts.split().count("hit")
    return Repetition(
        rep=number,
        take=take,
        cell=cell,
        start_s=start,
        end_s=start + 1,
        complete=complete,
        pause_s=0.0,
        tempo_bpm=bpm,
        notes_per_s=None,
        slots=tuple(slots),
        extras=found,
        accuracy=hits / 4,
        clean=clean,
        evenness=PLAIN,
    )


def test_faults_are_counted_where_they_happened():
    """A missed and a wrong slot, noise while slot 3 was due, a stray sound, and one broken off
    before slot 3."""
    table = gather([
        rep(1), rep(2, "hit missed hit hit"),
        rep(3, "hit hit wrong hit", extras=[(0.31, 4, "noise")]), rep(4, "hit hit", complete=False),
        rep(5, extras=[(0.0, 1, "stray")]), rep(6, extras=[(0.2, 2, "artefact")]),
    ])  # fmt: skip
    assert (table.reps, table.takes, table.clean.sum(), table.complete.sum()) == (6, 1, 1, 5)
    assert table.heard.sum(axis=0).tolist() == [6, 6, 5, 5]
    assert table.missed.sum(axis=0).tolist() == [0, 1, 0, 0] and table.wrong.sum(
        axis=0
    ).tolist() == [0, 0, 1, 0]
    assert table.broken.sum(axis=0).tolist() == [0, 0, 1, 0]
    assert table.noise.sum(axis=0).tolist() == [0, 0, 0, 1, 0, 0] and table.stray.sum() == 1
    assert table.noise_at[3].tolist() == [0, 0, 1, 0]


def test_a_repetition_without_a_tempo_stands_at_its_neighbours():
    """The nearest one's of the same take; a take without any tempo cannot be placed."""
    table = gather(
        [rep(1, bpm=100.0), rep(2, bpm=None), rep(3, bpm=140.0), rep(4, bpm=None, take=2)]
    )
    assert table.reps == 3
    assert sorted(zip(table.bpm.round(6).tolist(), table.n.tolist())) == [
        (100.0, 2.0),
        (140.0, 1.0),
    ]
    assert gather([rep(1, bpm=None)]) is None and gather([]) is None


def test_attack_is_told_against_the_string_and_the_repetition():
    """A string that is always louder does not count as struck harder; a slot that stands out
    does."""
    loud = [rep(number, velocities=[60, 60, 120, 90]) for number in range(1, 6)]
    table = gather([*loud, rep(6, velocities=[60, 30, 120, 90])])
    levels = table.attack_sum.sum(axis=0) / table.attack_n.sum(axis=0)
    assert levels[[0, 2, 3]].tolist() == pytest.approx([1, 1, 1])
    assert levels[1] == pytest.approx((5 + 0.5) / 6)


def test_odd_and_even_are_kept_apart_where_strokes_swap():
    """Three picked strokes and none written: every second repetition starts on the other stroke
    (L-01), counted anew where play begins again."""
    odd = make_cell("odd", [(2, 13), (2, 10), (3, 12)])
    table = gather(
        [
            replace(rep(number, "hit hit hit", cell=odd), since_start=since_start)
            for number, since_start in ((1, 1), (2, 2), (3, 1), (4, 2), (5, 3))
        ]
    )
    assert sorted(zip(table.parity.tolist(), table.n.tolist())) == [(1, 3.0), (2, 2.0)]
    assert set(gather([rep(1)]).parity.tolist()) == {0}


def test_tables_are_put_together_with_their_takes_apart():
    """Take 1 of one sitting is not take 1 of another; other slots cannot be put together."""
    both = together([gather([rep(1)]), gather([rep(1), rep(2, take=2)])])
    assert (both.takes, both.reps) == (3, 3)
    other = make_cell("other", [(1, 1), (1, 2), (1, 3), (1, 4)])
    with pytest.raises(ValueError, match="different cells"):
        together([both, gather([rep(1, cell=other)])])


def test_tempos_are_sorted_into_the_rungs_that_were_played():
    """Scatter of half a per cent about a tempo is one rung; eight per cent more is another."""
    table = gather(
        [rep(i, bpm=bpm) for i, bpm in enumerate([99.6, 100.0, 100.4, 107.8, 108.3, 116.5])]
    )
    steps = rungs(table.bpm, table.n)
    assert steps.bpm.tolist() == pytest.approx([100.0, 108.0, 116.5], abs=0.3)
    assert steps.sums(table.n).tolist() == [3, 2, 1]
    near = rungs(np.array([100.0, 103.5, 107.0]), np.array([4.0, 1.0, 4.0]), least=2)
    assert near.sums(np.array([4.0, 1.0, 4.0])).tolist() == [4, 5]
    assert len(rungs(table.bpm, table.n, most=2, least=9).bpm) == 3  # none stands 3 % away


def test_very_many_rows_become_few_with_the_same_counts():
    """A thousand repetitions of forty sittings in thirty rows at most: nothing is lost, tempos stay
    apart."""
    sittings = [
        gather([rep(i, bpm=bpm) for i, bpm in enumerate([90.0, 100.0, 110.0, 120.0, 130.0] * 5)])
        for _ in range(40)
    ]
    many = together(sittings)
    few = fewer_rows(many, most=30)
    assert (few.reps, few.clean.sum(), few.heard.sum()) == (
        1000,
        many.clean.sum(),
        many.heard.sum(),
    )
    assert len(few.bpm) <= 30 and few.takes == 6
    assert sorted(set(few.bpm.round(6))) == [90, 100, 110, 120, 130]
    assert fewer_rows(many, most=5000) is many


def test_takes_stay_takes_where_their_rows_at_a_rung_can_be_put_together():
    """Some evenings of practice hold many rows, but few takes: none of these may be taken for
    one."""
    rng = np.random.default_rng(3)
    bpm = np.repeat(np.tile(np.linspace(90, 160, 8), 30), 6) * rng.uniform(0.99, 1.01, 1440)
    take = np.repeat(np.arange(240), 6)
    one = made(take, bpm, np.full(1440, 2.0), rng.integers(0, 3, 1440).astype(float))
    few = fewer_rows(one)
    assert few.takes == one.takes == 240
    assert len(few.bpm) <= 1200
    assert (few.reps, few.clean.sum()) == (one.reps, one.clean.sum())
