"""The guidance while steady notes are played: what is said, when the fret changes, and when it is
over."""

from __future__ import annotations

import pytest

from livecheck.core.rig import Rig
from livecheck.core.setup import ASK, TROUBLE
from livecheck.core.steady import (
    FRET_S,
    FRETS,
    GOAL_MS,
    LONGEST_S,
    SHORTEST_S,
    Steady,
    cell_at,
    pattern,
)

ALL = range(1, 7)


class Play:
    """Six notes a second over all strings but some, while the guide is told each half second."""

    def __init__(self, click_bpm: float | None = 90.0, strings: int = 6) -> None:
        self.guide = Steady(strings, click_bpm)
        self.now_s = 0.0
        self.counts = dict.fromkeys(range(1, strings + 1), 0)
        self.said = [(0.0, one) for one in self.guide.begin(0.0)]

    def go(
        self, seconds: float, *, silent: tuple[int, ...] = (), half_ms: float | None = None
    ) -> Play:
        for _ in range(int(seconds * 2)):
            self.now_s += 0.5
            for string in self.counts:
                self.counts[string] += string not in silent
            heard = [string for string, count in self.counts.items() if count]
            halves = {string: half_ms for string in heard} if half_ms is not None else {}
            self.said += [
                (self.now_s, one) for one in self.guide.tick(self.now_s, self.counts, halves)
            ]
        return self

    def texts(self, kind: str) -> list[str]:
        return [one.text for _, one in self.said if one.kind == kind]


def test_it_says_first_what_to_play_and_each_line_fits_eighty_columns() -> None:
    """Strings, fret, how many notes a click, the count-in, and how long."""
    for click, strings in ((90.0, 6), (None, 6), (90.0, 8), (120.0, 4)):
        lines = [one.text for _, one in Play(click, strings).said]
        assert max(map(len, lines)) <= 78
        told = " ".join(lines)
        assert (
            " ".join(map(str, pattern(strings))) in told
            and f"fret {FRETS[0]}" in told
            and "2 minutes" in told
        )
        assert ("four high clicks" in told) is (click is not None)


def test_the_pattern_reaches_each_string_from_both_sides() -> None:
    """Else a habit of crossing in one direction looks like a delay."""
    order = pattern(6)
    ways = {string: set() for string in order}
    for before, string in zip((*order[-1:], *order[:-1]), order):
        ways[string].add((before > string) - (before < string))
    assert all(way >= {1, -1} for string, way in ways.items() if string not in (1, 6))
    assert (ways[1], ways[6]) == ({1, 0}, {-1, 0})


def test_the_fret_changes_after_its_time_of_play() -> None:
    """Twice in two minutes; pauses do not count."""
    play = Play().go(FRET_S - 2).go(30, silent=tuple(ALL)).go(10)
    assert (
        play.guide.fret == FRETS[1]
        and play.texts(ASK)[-1] == f"Now at fret {FRETS[1]}: go on there."
    )
    play.go(LONGEST_S)
    assert len(play.texts(ASK)) == len(FRETS)


def test_two_minutes_of_play_are_enough_whatever_is_known() -> None:
    """Counted as play, so that a pause of half a minute costs nothing."""
    play = Play().go(60).go(30, silent=tuple(ALL)).go(30)
    assert play.guide.over is None
    assert play.go(40).guide.over == "2 minutes of play are over."
    assert play.guide.played_s == pytest.approx(LONGEST_S, abs=3.0)


def test_it_ends_sooner_where_every_string_is_known_well() -> None:
    """Not before half a minute, and not while one string is missing."""
    assert Play().go(SHORTEST_S - 2, half_ms=0.5).guide.over is None
    assert (
        Play().go(SHORTEST_S + 5, half_ms=GOAL_MS).guide.over
        == "Enough: each string is known to 1 ms."
    )
    assert Play().go(SHORTEST_S + 5, half_ms=GOAL_MS + 0.1).guide.over is None
    assert Play().go(SHORTEST_S + 5, half_ms=0.5, silent=(3,)).guide.over is None


def test_a_string_that_is_not_heard_is_named_once() -> None:
    """After a quarter of a minute of play."""
    assert Play().go(60, silent=(2, 5)).texts(TROUBLE) == [
        "Nothing yet from string 5, 2: all strings have to be heard."
    ]


def test_no_signal_at_all_ends_it_with_a_word() -> None:
    """A reminder first; a minute later it is given up."""
    play = Play().go(50, silent=tuple(ALL))
    assert play.texts(TROUBLE) == ["Nothing comes in: is the converter on, and is this its port?"]
    assert (
        play.go(15, silent=tuple(ALL)).guide.dead and play.guide.over == "Nothing came in at all."
    )


def test_a_player_who_stops_for_good_is_done() -> None:
    """Reminded once, then what was played is what there is."""
    play = Play().go(20).go(60, silent=tuple(ALL))
    assert play.texts(TROUBLE) == ["Nothing more comes in. Go on: what was played counts."]
    assert play.guide.over == "No more was played." and not play.guide.dead


def test_the_line_that_tells_how_it_goes_fits_eighty_columns() -> None:
    """Time played, notes of each string from the lowest, how well the worst string is known."""
    play = Play().go(35, half_ms=1.64)
    assert (
        play.guide.status() == "  0:35   notes 70 70 70 70 70 70 (string 6 to 1)   ±1.6 ms of 1.0"
    )
    assert len(Play(strings=8).go(119, half_ms=9.4).guide.status()) < 80


def test_what_is_played_is_a_cell_of_the_rig() -> None:
    """So that a session says what it holds; a rig of seven strings has fourteen slots."""
    cell = cell_at(Rig(channels=(1, 2, 3, 4, 5, 6, 7)), 5)
    assert [slot.string for slot in cell.slots] == list(pattern(7)) and cell.slots[
        0
    ].pitch == 35 + 5
    assert cell_at(Rig(tuning=(62, 57, 55, 50, 45, 38)), 2).slots[0].pitch == 40
