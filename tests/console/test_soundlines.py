"""How a cell sounds, in lines that fit."""

from __future__ import annotations

import pytest

from livecheck.console.lines import columns, plain_text
from livecheck.console.palette import FULL, PLAIN
from livecheck.console.soundlines import attack_lines, ring_lines, string_lines, told_words
from livecheck.core.cell import make_cell
from livecheck.measures.noise.passed_over import BRUSHED, CUT_OFF, SILENT, STRUCK, StringShare
from livecheck.measures.noise.ring_over import RingOver
from livecheck.measures.profile import SlotAttack

ATTACKS = (
    SlotAttack(
        slot=1, planned="picked", count=20, mean=1.0, low=0.9, high=1.1, picked=20, hammered=0
    ),
    SlotAttack(
        slot=2, planned="picked", count=20, mean=0.6, low=0.5, high=0.7, picked=2, hammered=18
    ),
    SlotAttack(
        slot=3, planned="hammered", count=3, mean=None, low=None, high=None, picked=0, hammered=0
    ),
)


@pytest.mark.parametrize("width", [40, 60, 80, 120])
@pytest.mark.parametrize("signs", [FULL, PLAIN])
def test_every_line_fills_its_width_exactly(width: int, signs: object) -> None:
    """At 80 columns and less, with and without block signs."""
    lines = attack_lines(ATTACKS, width, signs)  # type: ignore[arg-type]
    assert {columns(line) for line in lines} == {width}


@pytest.mark.parametrize("width", [60, 80, 120])
def test_nothing_is_cut(width: int) -> None:
    """Counts of three digits, and a string with all there is to say of it, stand whole at every
    usual width."""
    mixed = [
        SlotAttack(
            slot=5, planned="picked", count=125, mean=1.0, low=0.9, high=1.1, picked=122, hammered=3
        ),
        *ATTACKS,
    ]
    lines = plain_text(attack_lines(mixed, width, FULL)).split("\n")
    assert lines[1].endswith("1.00  122 picked, 3 hammered")
    assert "too few (3)  " in lines[4]
    share = StringShare(
        string=4,
        of=2240,
        counts={SILENT: 140, BRUSHED: 100, STRUCK: 1000, CUT_OFF: 100},
        touched_low=0.87,
        touched_high=0.91,
        watched=True,
        cannot_tell=900,
    )
    lines = plain_text(string_lines([share], width)).split("\n")
    assert lines[-2].endswith("90 % (87 to 91)  quiet") and lines[-1].endswith(
        "heard about as well"
    )


def test_a_bar_is_as_long_as_the_attack() -> None:
    """0.6 of the usual is 0.6 of the way to the upright."""
    first, second, third = plain_text(attack_lines(ATTACKS, 80, PLAIN)).split("\n")[1:]
    assert second.count("#") == round(0.6 * first.count("#"))
    assert "2 picked, 18 hammered" in second
    assert "too few (3)" in third and "cannot tell" in third
    assert told_words(ATTACKS[0]) == "20 picked"


def test_a_string_is_told_with_counts_and_a_share_only_where_there_are_enough() -> None:
    """measures.md: a share from fewer than 10 is shown with its counts."""
    few = StringShare(
        string=4,
        of=5,
        counts={SILENT: 4, BRUSHED: 1, STRUCK: 0, CUT_OFF: 0},
        touched_low=0.04,
        touched_high=0.6,
        watched=False,
    )
    many = StringShare(
        string=3,
        of=40,
        counts={SILENT: 30, BRUSHED: 4, STRUCK: 5, CUT_OFF: 1},
        touched_low=0.14,
        touched_high=0.4,
        watched=True,
    )
    lines = plain_text(string_lines([few, many], 80)).split("\n")
    assert lines[1].endswith("1 of 5")
    assert lines[2].endswith("25 % (14 to 40)  quiet")
    assert "unsure" not in lines[0]
    assert string_lines([], 80) == []


def test_what_cannot_be_told_stands_apart_and_in_no_share() -> None:
    """Passages that fit two kinds are counted by themselves; the share is of those told."""
    share = StringShare(
        string=4,
        of=24,
        counts={SILENT: 15, BRUSHED: 2, STRUCK: 1, CUT_OFF: 2},
        touched_low=0.11,
        touched_high=0.47,
        watched=True,
        cannot_tell=4,
    )
    head, line, foot = plain_text(string_lines([share], 80)).split("\n")
    assert foot.startswith(" unsure:")
    assert head.split()[-2:] == ["unsure", "touched"]
    assert line.split()[:7] == ["4", "24", "15", "2", "1", "2", "4"]
    assert line.endswith("25 % (11 to 47)  quiet") and len(line) <= 80


def test_ringing_over_is_told_by_crossing() -> None:
    """Median and longest of each way between two slots."""
    cell = make_cell("two", [(2, 13), (3, 12)])
    rings = [RingOver(rep, 1, 2, 2, ms) for rep, ms in enumerate((0.0, 10.0, 50.0))]
    assert plain_text(ring_lines(rings, cell, 80)).split("\n")[1].split() == [
        "1",
        "to",
        "2",
        "2",
        "10",
        "50",
    ]
    assert ring_lines([], cell, 80) == []
