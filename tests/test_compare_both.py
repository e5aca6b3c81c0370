"""`livecheck compare` of two sessions: what was played in one of them only, and one named twice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from played_ladder import CELL, RIG, climb, falling
from takes_on_disk import HEAD, append

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Record, UseCells, UseRig
from livecheck.files.journal import Journal

OTHER = make_cell("low run", [(6, 3), (6, 5), (5, 2), (5, 3), (5, 5), (4, 2)])
HAMMERED = replace(CELL, variants={"hammered": {6: "hammer"}})
DAYS = ("2026-11-20", "2026-11-21")


def record(day: str, cells: Sequence[Cell]) -> None:
    """A session in which cells were practised one after the other, each a little."""
    records: list[Record] = [UseRig(0.0, RIG)]
    at_s = 0.0
    for number, cell in enumerate(cells):
        records.append(UseCells(at_s, (cell,)))
        played = climb(Random(f"{day} {number}"), [100], 4, falling(400, 4.0), cell=cell).records
        records += [one._replace(t_s=one.t_s + at_s) for one in played]
        at_s += played[-1].t_s + 10.0
    head = replace(HEAD, wall=f"{day}T18:00:00+01:00")
    journal = Journal.create(Path("recordings") / f"{day}T18-00-00", head)
    append(journal, records)
    journal.close()


@pytest.mark.parametrize(
    ("first", "second", "words", "said"),
    [
        ([CELL], [OTHER], [], "no cell was played in both: in 2026-11-21T18-00-00 low run (4); in"),
        ([CELL], [OTHER], ["--cell", CELL.name], "no cell was played in both: in 2026-11-20T"),
        ([CELL], [OTHER, CELL], ["--cell", "low run"],
         "'low run' was played in 2026-11-21T18-00-00 only; in both was played: --cell 'six acr"),
        ([HAMMERED.with_variant("hammered")], [HAMMERED], [],
         "was not played in the same way in both; --variants sets two of its variants against"),
        ([HAMMERED], [HAMMERED, HAMMERED.with_variant("hammered")], ["--variant", "hammered"],
         "was played in 'hammered' in 2026-11-21T18-00-00 only; in both was played: --variant 'as"),
    ],
    ids=["no cell", "the cell named in one", "another cell", "no variant", "another variant"],
)  # fmt: skip
def test_what_was_played_in_both_is_named(run, first, second, words, said):
    """The last line says what to choose instead, or that there is nothing."""
    record(DAYS[0], first)
    record(DAYS[1], second)
    done = run("compare", *DAYS, *words)
    assert (done.status, done.out) == (2, "")
    assert said in done.err.splitlines()[-1]


def test_one_session_named_twice_is_said_to_be_one(run):
    """However each of the two names is written."""
    record(DAYS[0], [CELL])
    for name in (DAYS[0], "last", f"recordings/{DAYS[0]}T18-00-00"):
        done = run("compare", DAYS[0], name)
        assert (done.status, done.out) == (2, "") and done.err.count("\n") == 1
        assert "that is one session, named twice; name two" in done.err
