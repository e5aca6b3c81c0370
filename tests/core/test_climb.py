"""The climb without a clock: blocks, cues, ports that are lost, what the player asks for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pytest

from livecheck.core.cell import make_cell
from livecheck.core.climb import (
    ELSEWHERE,
    GIVE_UP_NS,
    LATEST_NS,
    MOST_BLOCKS,
    REST_S,
    SILENT_BLOCKS,
    Begin,
    Climb,
    Do,
    Heard,
    Judge,
    Over,
    Plan,
    Sound,
    Tell,
)
from livecheck.core.cues import AGAIN, DOWN, END, NEXT, REST, STRING, UP
from livecheck.core.playing import REST_S as DAY_REST_S

S, MS = 1_000_000_000, 1_000_000
CELL = make_cell("six", [(2, 10), (2, 12), (3, 12), (3, 10), (5, 12), (5, 10)])


@dataclass(frozen=True)
class Ahead:
    bpm: float
    reps: int = 4
    kind: str = "try"


class Player:
    """Drives a climb through time, answering each question with what ``hear`` gives."""

    def __init__(self, tempos: Sequence[float], blocks: int | None = None) -> None:
        self.tempos = list(tempos)
        self.climb = Climb(CELL, self.choose, blocks)
        self.now_ns = 0
        self.done: list[tuple[int, Do]] = []
        self.heard: list[Heard] = []

    def choose(self, blocks: Sequence[Over]) -> Ahead | None:
        return Ahead(self.tempos[len(blocks)]) if len(blocks) < len(self.tempos) else None

    def take(self, what: Sequence[Do]) -> None:
        for one in what:
            self.done.append((self.now_ns, one))
            if isinstance(one, Judge):
                heard = self.heard.pop(0) if self.heard else Heard(4, 4)
                self.take(self.climb.judged(self.now_ns, heard))

    def run(self, seconds: float) -> Player:
        until_ns = self.now_ns + round(seconds * S)
        while self.now_ns < until_ns and self.climb.over is None:
            self.take(self.climb.tick(self.now_ns))
            self.now_ns += 10 * MS
        return self

    def begun(self) -> Player:
        self.take(self.climb.begin(0))
        return self

    def of(self, kind: type) -> list[tuple[int, Do]]:
        return [(at, one) for at, one in self.done if isinstance(one, kind)]

    def plans(self) -> list[Plan]:
        return [one.plan for _, one in self.of(Begin) if isinstance(one, Begin)]

    def words(self) -> list[str]:
        return [one.word for _, one in self.of(Sound) if isinstance(one, Sound)]


def test_a_block_follows_two_bars_after_the_one_before() -> None:
    """Count-in, repetitions, two bars of rest at the old tempo; the schedule goes out before."""
    player = Player([120.0, 150.0, 150.0]).begun().run(60.0)
    first, second, third = player.plans()
    assert first.from_ns == first.schedule.begin_ns + 2 * S  # a bar of 120
    assert first.until_ns - first.from_ns == 3 * S  # four times a beat and a half
    assert second.schedule.begin_ns == first.until_ns + 4 * S
    assert third.schedule.begin_ns == second.until_ns + round(8 * 0.4 * S)
    told = [at for at, _ in player.of(Begin)]
    assert all(at < plan.schedule.begin_ns for at, plan in zip(told, player.plans()))
    assert player.climb.over == "the question is answered"


def test_one_cue_sounds_soon_after_each_block_and_none_within() -> None:
    """It tells where the tempo goes; the last block has one, too."""
    player = Player([100.0, 112.0, 108.0, 108.0]).begun().run(90.0)
    assert player.words() == [UP, DOWN, AGAIN, END]
    for (at, _), plan in zip(player.of(Sound), player.plans(), strict=True):
        assert 0 < at - plan.until_ns <= 150 * MS
    overs = [one for _, one in player.of(Over)]
    assert [one.cue for one in overs if isinstance(one, Over)] == player.words()


def test_the_last_note_is_waited_for_but_not_for_ever() -> None:
    """A player behind the click is given the time; a note that does not come is missed within half
    a second."""
    late = Player([100.0, 100.0], blocks=1).begun()
    late.heard = [Heard(4, 3, last=False, lag_ns=200 * MS)] * 5 + [Heard(4, 4)]
    late.run(60.0)
    (over,) = late.climb.blocks
    assert over.heard.clean == 4
    gone = Player([100.0, 100.0], blocks=1).begun()
    gone.heard = [Heard(4, 3, last=False, lag_ns=500 * MS)] * 50
    gone.run(60.0)
    ((at, _),) = gone.of(Sound)
    assert at - gone.plans()[0].until_ns <= LATEST_NS + 20 * MS < 500 * MS


def test_a_string_that_spoils_more_than_the_notes_do_has_a_sound_of_its_own() -> None:
    """Unless the tempo goes up all the same."""
    noisy = Heard(4, 1, noise=Counter({4: 3}), failed=Counter({2: 1}))
    player = Player([100.0, 100.0, 110.0, 110.0]).begun()
    player.heard = [noisy, noisy, noisy]
    assert player.run(90.0).words()[:3] == [STRING, UP, STRING]


def test_it_ends_after_the_blocks_asked_for_and_not_before() -> None:
    """Also where nobody plays; without a number three silent blocks end it."""
    for heard in (Heard(4, 2), Heard(0, 0)):
        player = Player([100.0] * 40, blocks=5).begun()
        player.heard = [heard] * 40
        player.run(200.0)
        assert len(player.climb.blocks) == 5 and player.words()[-1] == END
    silent = Player([100.0] * 40).begun()
    silent.heard = [Heard(0, 0)] * 40
    silent.run(200.0)
    assert len(silent.climb.blocks) == SILENT_BLOCKS
    endless = Player([100.0] * 90).begun().run(900.0)
    assert len(endless.climb.blocks) == MOST_BLOCKS


def test_a_silent_block_tells_the_rule_nothing() -> None:
    """The same tempo comes again, and the rule is asked with the others alone."""
    player = Player([100.0, 110.0, 120.0], blocks=4).begun()
    player.heard = [Heard(4, 4), Heard(0, 0), Heard(4, 4)]
    player.run(200.0)
    assert [plan.bpm for plan in player.plans()] == [100.0, 110.0, 110.0, 120.0]


@pytest.mark.parametrize("what", ["guitar", "click", "cue"])
def test_a_port_that_is_lost_in_a_block_spoils_it_alone(what: str) -> None:
    """It is told once; when the port is back the block is played again, a count-in first."""
    player = Player([100.0, 110.0], blocks=2).begun().run(4.0)
    lost_ns = player.now_ns
    player.take(player.climb.link(lost_ns, what, False, "it was unplugged"))
    player.take(player.climb.link(lost_ns, what, False, "it was unplugged"))
    player.run(20.0)
    assert len(player.of(Tell)) == 1 and len(player.plans()) == 1
    assert player.climb.blocks[0].lost
    player.take(player.climb.link(player.now_ns, what, True, ""))
    back_ns = player.now_ns
    player.run(60.0)
    assert [plan.bpm for plan in player.plans()] == [100.0, 100.0, 110.0]
    assert player.plans()[1].schedule.begin_ns > back_ns
    assert [one.lost for one in player.climb.blocks] == [True, False, False]


def test_a_port_that_stays_away_ends_the_climb_and_says_why() -> None:
    """After a minute; what was played stays."""
    player = Player([100.0] * 9).begun().run(20.0)
    player.take(player.climb.link(player.now_ns, "guitar", False, "Hex was unplugged"))
    player.run(GIVE_UP_NS / S + 20.0)
    assert player.climb.over is not None and "Hex was unplugged" in player.climb.over
    assert player.climb.blocks


def test_the_player_is_obeyed_before_the_rule() -> None:
    """Faster and slower by a twentieth, the same again, a pause that lasts until it is asked for
    again, the end."""
    player = Player([100.0] * 9).begun().run(4.0)
    player.take(player.climb.ask(player.now_ns, "up"))
    player.run(11.0)
    assert player.plans()[1].bpm == 105.0 and player.words()[:2] == [UP, UP]
    player.take(player.climb.ask(player.now_ns, "pause"))
    player.run(60.0)
    assert len(player.plans()) == 2
    player.take(player.climb.ask(player.now_ns, "pause"))
    player.run(10.0)
    assert len(player.plans()) == 3
    player.take(player.climb.ask(player.now_ns, "stop"))
    assert player.climb.over == "stopped by the player"


@pytest.mark.parametrize(
    ("bpm", "asked", "after"),
    [
        (52.5, AGAIN, 52.5),
        (140.3, AGAIN, 140.3),
        (52.5, UP, 55.0),
        (50.0, UP, 52.5),
        (110.0, DOWN, 105.0),
        (20.0, DOWN, 20.0),
        (399.0, UP, 400.0),
    ],
)
def test_the_same_again_is_the_same_tempo(bpm: float, asked: str, after: float) -> None:
    """Whatever it was; faster and slower go to what a click is given: halves below 60, and no
    further than its bounds."""
    player = Player([bpm, 100.0, 100.0]).begun().run(2.0)
    player.take(player.climb.ask(player.now_ns, asked))
    player.run(60.0)
    assert [plan.bpm for plan in player.plans()[:2]] == [bpm, after]


def test_a_rest_is_called_for_after_five_minutes_of_play() -> None:
    """By its own sound; it goes on by itself after it."""
    player = Player([20.0] * 60).begun().run(1100.0)
    words = player.words()
    assert words.count(REST) == 1
    at = words.index(REST)
    gap_ns = player.plans()[at + 1].schedule.begin_ns - player.plans()[at].until_ns
    assert gap_ns == round(REST_S * S)


def test_another_cell_comes_after_the_block_or_at_once_in_a_rest() -> None:
    """Asked for within a block it is played to its end and told; the action is answered by a
    sound."""
    within = Player([120.0] * 9).begun().run(5.0)
    within.take(within.climb.ask(within.now_ns, "next-cell"))
    assert within.climb.over is None and within.words() == [NEXT]
    within.run(20.0)
    assert (within.climb.over, within.climb.leaves) == (ELSEWHERE, "next-cell")
    assert len(within.climb.blocks) == 1 and within.words() == [NEXT, END]
    resting = Player([120.0] * 9).begun().run(9.0)
    assert resting.climb.plan is None and len(resting.climb.blocks) == 1
    resting.take(resting.climb.ask(resting.now_ns, "previous-variant"))
    assert (resting.climb.over, resting.climb.leaves) == (ELSEWHERE, "previous-variant")


def test_the_rest_of_a_day_is_called_for_and_waited_for() -> None:
    """25 minutes over all sessions: the sound of a rest, five minutes, said why, then on."""
    player = Player([120.0] * 3)
    played = [1510.0, None, None]
    player.climb.judged = partial_judged(player.climb.judged, played)  # type: ignore[method-assign]
    player.begun().run(400.0)
    first, second = player.plans()[:2]
    assert player.words()[0] == REST
    assert second.schedule.begin_ns - first.until_ns == round(DAY_REST_S * S)
    (said,) = (one for _, one in player.of(Tell) if isinstance(one, Tell))
    assert "25 minutes played without a rest, over all sessions" in said.text


def partial_judged(judged: Any, played: list[float | None]) -> Any:
    return lambda now_ns, heard: judged(now_ns, heard, played.pop(0))
