"""A part alone against the same notes inside its cell."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "benchmarks"))

from bench_parts import tries

from livecheck.measures.climb.parts import JOINING, LOCAL, PartTold, tell_part
from livecheck.report.parts_text import part_line


def told(seed: int, alone_break: float, inside_break: float = 140.0) -> PartTold:
    """Notes 4 and 5 of six, the second of them failing; 30 repetitions each on one ladder."""
    rng = np.random.default_rng(seed)
    tempos = list(np.linspace(112.0, 160.0, 6))
    found = tell_part(
        tries(rng, tempos, 5, 2, 1, alone_break, 0.03, 0.3),
        tries(rng, tempos, 5, 6, 4, inside_break, 0.03, 0.3),
        [4, 5],
    )
    assert found is not None
    return found


def test_joining_and_local_faults_are_told_apart() -> None:
    """Of sixteen players each, at most two are untold and none is told wrong."""
    joining = [told(seed, 180.0).why for seed in range(16)]
    local = [told(seed, 140.0).why for seed in range(16)]
    assert joining.count(JOINING) >= 14 and LOCAL not in joining
    assert local.count(LOCAL) >= 14 and JOINING not in local


def test_where_nothing_fails_nothing_is_told() -> None:
    """The tempos tried reach neither break."""
    assert {told(seed, 220.0, 210.0).why for seed in range(8)} == {None}


def test_the_sentence_names_notes_tempos_and_what_it_is() -> None:
    """And says when it is not sure."""
    assert part_line(told(1, 180.0)).startswith("Notes 4-5 alone hold beyond 160 bpm, inside to 1")
    assert part_line(told(1, 180.0)).endswith("it is the joining.")
    assert part_line(told(1, 140.0)).endswith("it is the notes themselves.")
    assert "not sure yet" in part_line(told(1, 220.0, 210.0))


def test_too_few_repetitions_tell_nothing() -> None:
    """Fewer than twelve of either."""
    rng = np.random.default_rng(1)
    few = tries(rng, [100.0, 120.0], 5, 2, 1, 140.0, 0.03, 0.3)
    many = tries(rng, [100.0, 120.0, 140.0], 8, 6, 4, 140.0, 0.03, 0.3)
    assert tell_part(few, many, [4, 5]) is None
