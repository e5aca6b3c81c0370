"""Gestures on the guitar: understood when meant, never while noodling, in simulated hours."""

from __future__ import annotations

from random import Random

from livecheck.core.gestures import USUAL, Gesture, Gestures
from livecheck.core.pitch import STANDARD_TUNING
from livecheck.core.rig import Rig

Message = tuple[float, bytes]


def on(t_s: float, string: int, fret: int, velocity: int = 90) -> Message:
    return t_s, bytes((0x90 | string - 1, STANDARD_TUNING[string - 1] + fret, velocity))


def off(t_s: float, string: int, fret: int) -> Message:
    return t_s, bytes((0x80 | string - 1, STANDARD_TUNING[string - 1] + fret, 64))


def told(messages: list[Message], known: tuple[Gesture, ...] = USUAL) -> list[str]:
    gestures, found = Gestures(None, Rig(), known), []
    for t_s, data in sorted(messages, key=lambda one: one[0]):
        found += gestures.message(t_s, data)
    return found + gestures.tick(1e9)


def gesture(rng: Random, picks: int, at_s: float, string: int = 6, fret: int = 0) -> list[Message]:
    """As a player does it: uneven by some, the last note ringing for about a second, now and then a
    string brushed or a note that the converter gives twice."""
    messages, t_s = [], at_s
    spacing = rng.uniform(0.28, 0.6)
    for pick in range(picks):
        velocity = rng.randint(70, 110)
        messages.append(on(t_s, string, fret, velocity))
        if rng.random() < 0.05:
            messages += [off(t_s + 0.03, string, fret), on(t_s + 0.035, string, fret, 60)]
        if rng.random() < 0.08:
            other = 5 if string == 6 else 2
            messages += [on(t_s + 0.01, other, 0, velocity // 3), off(t_s + 0.06, other, 0)]
        last = pick == picks - 1
        length = max(rng.gauss(1.15, 0.12), 0.85) if last else spacing * 0.9
        messages.append(off(t_s + length, string, fret))
        t_s += spacing * max(rng.gauss(1.0, 0.06), 0.7)
    return messages


def noodling(rng: Random, hours: float) -> list[Message]:
    """Phrases with pauses between: scales, riffs on the low string, single notes, open strings."""
    messages, t_s = [], 0.0
    while t_s < hours * 3600.0:
        t_s += rng.expovariate(1.0 / 2.0)
        riff = rng.random() < 0.15
        count = 1 if rng.random() < 0.06 else 1 + int(rng.expovariate(1.0 / 14.0))
        step_s = rng.uniform(0.09, 0.5)
        string = 6 if riff else rng.randint(1, 6)
        for _ in range(count):
            string = string if rng.random() < (0.9 if riff else 0.6) else rng.randint(1, 6)
            fret = 0 if rng.random() < (0.35 if riff else 0.08) else rng.randint(0, 15)
            messages += [on(t_s, string, fret, rng.randint(50, 110))]
            messages += [off(t_s + rng.uniform(0.5, 1.5) * step_s, string, fret)]
            t_s += step_s * rng.choice([1.0, 1.0, 1.0, 2.0]) * rng.uniform(0.9, 1.1)
    return messages


def test_each_gesture_is_understood() -> None:
    """Of four hundred of each, fewer than two in a hundred are missed, and none is taken for
    another."""
    rng = Random(1)
    for picks, string, fret, meant in (
        (2, 6, 0, "again"),
        (3, 6, 0, "up"),
        (4, 6, 0, "down"),
        (2, 1, 19, "mark"),
    ):
        found = [told(gesture(rng, picks, 5.0, string, fret)) for _ in range(400)]
        assert found.count([meant]) >= 393
        assert all(one in ([], [meant]) for one in found)


def test_a_number_goes_before_the_lowest_in_either_order() -> None:
    """Two gestures for one place and number of picks: the one that gives the string counts."""
    lowest, numbered = Gesture(None, 0, 2, "again"), Gesture(6, 0, 2, "stop")
    twice = gesture(Random(3), 2, 5.0)
    assert told(twice, (lowest, numbered)) == told(twice, (numbered, lowest)) == ["stop"]


def test_noodling_asks_for_nothing() -> None:
    """Forty hours of it: fewer than one gesture in ten."""
    assert len(told(noodling(Random(7), 40.0))) < 4


def test_silence_before_and_nothing_between_make_it_one() -> None:
    """Right after play, with another note in between, unevenly, or cut short it is none."""
    rng = Random(3)
    two = gesture(rng, 2, 5.0)
    assert told(two) == ["again"]
    assert told([on(4.5, 3, 5), off(4.6, 3, 5), *two]) == []
    assert told([*two, on(5.1, 3, 5), off(5.2, 3, 5)]) == []
    uneven = [on(5.0, 6, 0), on(5.2, 6, 0), on(5.9, 6, 0), off(7.0, 6, 0)]
    assert told(uneven) == []
    short = [on(5.0, 6, 0), off(5.3, 6, 0), on(5.4, 6, 0), off(5.6, 6, 0)]
    assert told(short) == []
    assert told([on(5.0, 6, 0), off(6.5, 6, 0)]) == []


def test_it_is_told_four_fifths_of_a_second_after_the_last_pick() -> None:
    """Not before, and not once more."""
    gestures = Gestures(None, Rig())
    for t_s, data in (on(5.0, 6, 0), on(5.4, 6, 0)):
        assert gestures.message(t_s, data) == []
    assert gestures.tick(6.19) == [] and gestures.tick(6.21) == ["again"]
    assert gestures.tick(7.0) == []
