"""Cut off by the passing hand, or ended by itself."""

from __future__ import annotations

from random import Random

from livecheck.measures.noise.cut_off import CUT, NOT_CUT, Left, Window, cut_chances

PLACE = (4, 3)  # slot before, string
SOON = Window(PLACE, 0.0, 0.15)  # a crossing that begins as the string is left
LATER = Window(PLACE, 0.40, 0.55)
TOUCHES = (0.3, 0.4, 0.5, 0.6, 0.6, 0.7, 0.8, 0.5)


def let_go(rng: Random, count: int, late_s: float = 0.03, window: Window = SOON) -> list[Left]:
    """Notes that stop soon after they are left, as fingers leave strings."""
    return [Left((3, 1), rng.gauss(late_s, 0.006), True, (window,)) for _ in range(count)]


def rung_through(count: int, until_s: float = 0.8, window: Window = LATER) -> list[Left]:
    """Notes that sound until the next stroke of their string."""
    return [Left((3, 1), until_s, False, (window,)) for _ in range(count)]


def said(left: list[Left]) -> list[float]:
    return [max(chances, default=0.0) for chances in cut_chances(left, TOUCHES)]


def test_a_note_off_that_comes_late_each_time_is_no_cut() -> None:
    """Each string goes on for 30 ms after it was left, inside the crossing: that is how it is let
    go (C-17)."""
    assert max(said(let_go(Random(1), 40))) <= NOT_CUT


def test_a_string_that_rings_through_and_stops_now_and_then_within_crossings_is_cut_there() -> None:
    """Nothing but the hand stops it: 20 times it sounds on, 10 times it ends half way through the
    crossing."""
    rng = Random(2)
    stopped = [Left((3, 1), rng.uniform(0.45, 0.54), True, (LATER,)) for _ in range(10)]
    chances = said([*rung_through(20), *stopped])
    assert max(chances[:20]) <= NOT_CUT
    assert min(chances[20:]) >= CUT


def test_ends_that_are_as_frequent_outside_of_crossings_are_not_told_to_be_cuts() -> None:
    """Notes that die between 0.05 and 0.9 s die in the crossing too, from 0.40 to 0.55 s."""
    rng = Random(3)
    left = [Left((3, 1), rng.uniform(0.05, 0.9), True, (LATER,)) for _ in range(80)]
    inside = [chance for one, chance in zip(left, said(left)) if 0.40 < one.end_s < 0.55]
    assert len(inside) > 8
    assert max(inside) < CUT


def test_a_string_that_was_silent_before_the_hand_came_cannot_be_cut() -> None:
    """Ended at 0.03 s, passed over from 0.40 s on."""
    assert max(said(let_go(Random(4), 30, window=LATER))) == 0.0


def test_a_note_taken_over_by_its_strings_next_stroke_was_not_cut() -> None:
    """The next stroke of the string falls into the crossing and ends the note there."""
    assert max(said(rung_through(30, until_s=0.5))) == 0.0


def test_each_of_several_crossings_has_its_own_chance() -> None:
    """A string passed over twice while it rings: cut in the second crossing and not in the
    first."""
    rng = Random(5)
    both = (SOON, LATER)
    sounding = [Left((3, 1), 0.8, False, both) for _ in range(20)]
    stopped = [Left((3, 1), rng.uniform(0.46, 0.53), True, both) for _ in range(10)]
    for first, second in cut_chances([*sounding, *stopped], TOUCHES)[20:]:
        assert first <= NOT_CUT and second >= CUT


def test_where_no_string_is_passed_over_nothing_is_asked() -> None:
    """Notes without crossings have no chances, and nothing left is no trouble."""
    assert cut_chances([Left((3, 1), 0.2, True, ())], ()) == [()]
    assert cut_chances([], ()) == []
