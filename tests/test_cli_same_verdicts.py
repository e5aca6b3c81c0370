"""Live play, a saved session, a replay and a scored file are one judgment."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from takes_on_disk import HEAD, append, records_of, take_on_whole_ms, write_session

from livecheck.commands.score import scored
from livecheck.console.feed import Feed
from livecheck.console.model import Model
from livecheck.console.source import Paced
from livecheck.core.events import Outcome, Record
from livecheck.core.rig import Gate
from livecheck.files.config import dump_cell, dump_rig
from livecheck.files.journal import Journal
from livecheck.files.journal_reader import Follower, read
from livecheck.files.midifile import write_midi
from livecheck.session import Session

SEEDS = (0, 3, 4, 7)


class Watched(Session):
    """A session that keeps every outcome it told, once."""

    def __init__(self) -> None:
        super().__init__()
        self.told: list[Outcome] = []
        self._inside = False

    def feed(self, record: Record) -> list[Outcome]:
        # a change of cell finishes what was before, and feed gives that back, too
        self._inside = True
        self.told += (found := super().feed(record))
        self._inside = False
        return found

    def tick(self, now_s: float) -> list[Outcome]:
        self.told += (found := super().tick(now_s))
        return found

    def finish(self) -> list[Outcome]:
        found = super().finish()
        if not self._inside:
            self.told += found
        return found

    def as_json(self) -> str:
        assert self.cell is not None
        return json.dumps(scored(self.cell, self.told, self.counts))


def live(folder: Path, records: list[Record], rng: Random) -> str:
    """Follow a journal while it is written in pieces, with ticks at random times between."""
    journal = Journal.create(folder, HEAD)
    follower, session = Follower(folder), Watched()
    feed = Feed(session, Model())
    at = 0
    while at < len(records):
        piece = records[at : at + rng.randint(1, 9)]
        append(journal, piece)
        at += len(piece)
        feed.take(follower.poll())
        if at < len(records):
            for _ in range(rng.randint(0, 3)):
                feed.tick(rng.uniform(piece[-1].t_s, records[at].t_s))
    journal.close()
    feed.take(follower.poll())
    follower.close()
    feed.finish()
    return session.as_json()


def replayed(folder: Path, speed: float | None) -> str:
    """A saved session as the console tells it again."""
    now_s = [0.0]
    source, session = Paced(read(folder), speed, clock=lambda: now_s[0]), Watched()
    feed = Feed(session, Model())
    while not source.ended:
        feed.take(source.poll())
        feed.tick(source.certain_s())
        now_s[0] += 0.02
    feed.finish()
    return session.as_json()


@pytest.mark.parametrize("seed", SEEDS)
def test_live_replayed_and_scored_are_equal_to_the_byte(run, tmp_path, seed):
    """However the records of a take arrive, and through whichever command, the score is the same
    text."""
    take = take_on_whole_ms(seed)
    records = records_of(take)
    cell, rig, midi = tmp_path / "cell.yaml", tmp_path / "rig.yaml", tmp_path / "take.mid"
    cell.write_text(dump_cell(take.cell), "utf-8")
    rig.write_text(dump_rig(take.rig), "utf-8")
    write_midi(midi, take.records)

    from_live = live(tmp_path / "followed", records, Random(seed))
    saved = write_session(tmp_path / "saved", records)
    from_session = run("score", saved, "--json")
    from_file = run("score", midi, "--cell", cell, "--rig", rig, "--json")

    assert from_session.status == from_file.status == 0
    assert from_live + "\n" == from_session.out == from_file.out
    assert replayed(saved, None) == replayed(saved, 7.0) == from_live
    assert json.loads(from_live)["totals"]["reps"] > 0


def test_a_session_is_judged_anew_with_another_rig_and_cell(run, tmp_path):
    """--rig and --cell go before what was in force when it was recorded."""
    take = take_on_whole_ms(3)
    saved = write_session(tmp_path / "saved", records_of(take))
    as_recorded = json.loads(run("score", saved, "--json").out)
    deaf, other = tmp_path / "deaf.yaml", "one-string-four"
    deaf.write_text(dump_rig(replace(take.rig, gate=Gate(120, 25.0))), "utf-8")
    with_rig = json.loads(run("score", saved, "--rig", deaf, "--json").out)
    with_cell = json.loads(run("score", saved, "--cell", other, "--json").out)
    assert as_recorded["totals"]["hit"] > 0
    assert with_rig["totals"]["hit"] < as_recorded["totals"]["hit"]
    assert with_cell["cell"] == {"name": "one string, four fingers", "slots": 4}


def test_several_cells_of_one_session_are_told_apart(run, tmp_path):
    """Where the cell changed on the way, every repetition says which one it is of."""
    first, second = take_on_whole_ms(3), take_on_whole_ms(5)
    gap_s = first.records[-1].t_s + 5.0
    later = [type(record)(record.t_s + gap_s, *record[1:]) for record in second.records]
    one, two = records_of(first), records_of(second)
    moved = [type(two[0])(gap_s, second.rig), type(two[1])(gap_s, (second.cell,))]
    saved = write_session(tmp_path / "saved", [*one[:-1], *moved, *later])
    found = json.loads(run("score", saved, "--json").out)
    assert [cell["slots"] for cell in found["cells"]] == [
        len(first.cell.slots),
        len(second.cell.slots),
    ]
    assert {rep["cell"] for rep in found["reps"]} == {1, 2}
    for rep in found["reps"]:
        assert (
            max(slot["slot"] for slot in rep["slots"]) <= found["cells"][rep["cell"] - 1]["slots"]
        )
