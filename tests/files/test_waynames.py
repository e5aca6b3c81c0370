"""Names of ways in later sessions."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "measures" / "ways"))

from test_fit import practice

from livecheck.errors import BadInput
from livecheck.files.waynames import give_name, learned, names_of
from livecheck.measures.ways.features import Features
from livecheck.measures.ways.find import find_ways


@pytest.fixture(scope="module")
def named(tmp_path_factory) -> Path:
    """A file in which the second way of one practice has a name."""
    path = tmp_path_factory.mktemp("names") / "ways" / "skip.json"
    give_name(find_ways(practice(1, 12.0)[0]), path, "B", "low wrist")
    return path


def another_day(features: Features, seed: int) -> Features:
    """Another rig and new strings: velocities pressed together and higher, every note later or
    earlier in its own way, strings ringing on for longer, faster tempos."""
    rng = np.random.default_rng(seed)
    return replace(
        features,
        bpm=features.bpm * 1.07,
        loud=4.6 + 0.7 * (features.loud - 4.4) + rng.normal(0, 0.05, 6),
        late=features.late + rng.normal(0, 1.5, 6),
        ring=features.ring + rng.normal(20.0, 8.0, 6),
    )


def test_a_name_is_known_on_other_days(named):
    """With another rig and new strings it is the same way: the same notes differ as they did."""
    names = names_of(find_ways(another_day(practice(5, 11.0)[0], 5)), named)
    assert "low wrist" in names and len(names) == 2


def test_a_way_that_changed_has_no_old_name(named):
    """Other notes come late and ring on: that is another way."""
    features, _ = practice(6, 12.0)
    order = [0, 5, 2, 1, 4, 3]  # what was the second note's is the last one's
    changed = replace(features, late=features.late[:, order], ring=features.ring[:, order])
    assert names_of(find_ways(changed), named) == ["A", "B"]


def test_what_was_learned_is_kept_beside_the_names(named):
    """The names in the order of the ways; nothing where no name was given, one line where the file
    is damaged."""
    kept = learned(named)
    assert kept is not None and sorted(kept.names) == ["A", "low wrist"] and kept.known.ways == 2
    assert learned(named.parent / "another.json") is None
    damaged = named.parent / "damaged.json"
    damaged.write_text(named.read_text("utf-8").replace('"stay"', '"stray"'), "utf-8")
    with pytest.raises(BadInput, match=r"damaged\.json: learned: holds no names of ways; mend it"):
        learned(damaged)
    for text, place in (("{\n{bad", ":2: "), ("{}", ": names: "), ('{"names": [1]}', ": names: ")):
        damaged.write_text(text, "utf-8")
        with pytest.raises(BadInput, match=rf"damaged\.json{place}holds no names of ways"):
            learned(damaged)
