"""Where on the neck notes may be played of which only the pitches are known.

A reading gives every note a string and a fret so that the hand can play it as the figure loops.
Readings are weighed by plain costs (a shift of the hand, a stretch, strings crossed), common
practice, no source: they order what is offered, and the player chooses.
"""

from __future__ import annotations

from collections.abc import Sequence

Place = tuple[int, int]
"""String, and fret counted from the capo."""

HIGHEST_FRET = 24
REACH = 3  # frets above the first finger's that the other three cover
FARTHEST_SHIFT = 9

_ALIKE = 2
_STRETCH = 1.0  # one fret beyond the reach, on either side
_SHIFT, _SHIFT_FRET = 1.2, 0.3
_STRING = 0.3  # each string crossed
_NUT, _OPEN = 0.15, 0.8  # an open string, at the nut and away from it
_HIGH = 0.02  # each fret up the neck

_State = tuple[int, int, int]  # string, fret, fret of the first finger


def readings(
    pitches: Sequence[int],
    tuning: Sequence[int],
    capo: int = 0,
    most: int = 8,
    known: Sequence[Place | None] | None = None,
) -> list[tuple[Place, ...]]:
    """Ways to play the pitches one after the other and round again, the easiest first.

    pitches: sounding MIDI note numbers. tuning: open strings, string 1 first. known: places that
    are settled. Of the ways that begin with the same hand the easiest is given, and the easiest
    without a shift. Empty where a pitch is on no string.

    >>> readings([64, 65], (64, 59))[0]
    ((1, 0), (1, 1))
    """
    states = [_states(pitch, tuning, capo) for pitch in pitches]
    for at, place in enumerate(known or ()):
        if place is not None:
            states[at] = [state for state in states[at] if state[:2] == place]
    if not states or not all(states):
        return []
    found: dict[tuple[Place, ...], float] = {}
    hands = sorted({state[2] for state in states[0]})
    still = [[[state for state in here if state[2] == hand] for here in states] for hand in hands]
    for some in [*(one for one in still if all(one)), states]:
        for first in some[0]:
            cost, places = _around(first, some)
            if places not in found or cost < found[places]:
                found[places] = cost
    ordered = sorted(found, key=lambda places: (found[places], places))
    begun: dict[Place, int] = {}
    unlike: list[tuple[Place, ...]] = []
    alike: list[tuple[Place, ...]] = []  # many that begin at one place differ in little
    for places in ordered:
        begun[places[0]] = begun.get(places[0], 0) + 1
        (unlike if begun[places[0]] <= _ALIKE else alike).append(places)
    return sorted((unlike + alike)[:most], key=lambda places: (found[places], places))


def _states(pitch: int, tuning: Sequence[int], capo: int) -> list[_State]:
    found = []
    for string, open_pitch in enumerate(tuning, 1):
        fret = pitch - open_pitch - capo
        if 0 <= fret <= HIGHEST_FRET:
            low, high = max(1, fret - REACH - 1), fret + 1
            hands = range(low, high + 1) if fret else range(1, 13)
            found += [(string, fret, hand) for hand in hands]
    return found


def _held(state: _State) -> float:
    """What a note costs by itself."""
    _, fret, hand = state
    if fret == 0:
        return _NUT if hand <= 4 else _OPEN
    stretched = fret < hand or fret > hand + REACH
    return _STRETCH * stretched + _HIGH * fret


def _move(before: _State, after: _State) -> float:
    shift = abs(after[2] - before[2])
    return (_SHIFT + _SHIFT_FRET * shift if shift else 0.0) + _STRING * abs(after[0] - before[0])


def _around(first: _State, states: Sequence[list[_State]]) -> tuple[float, tuple[Place, ...]]:
    """The easiest way that begins in a state and comes back to it."""
    costs: dict[_State, float] = {first: _held(first)}
    steps: list[dict[_State, _State]] = []
    for here in states[1:]:
        ahead: dict[_State, float] = {}
        step: dict[_State, _State] = {}
        for state in here:
            near = [
                (cost + _move(before, state), before)
                for before, cost in costs.items()
                if abs(before[2] - state[2]) <= FARTHEST_SHIFT
            ] or [(cost + _move(before, state), before) for before, cost in costs.items()]
            best, step[state] = min(near)
            ahead[state] = best + _held(state)
        costs = ahead
        steps.append(step)
    total, state = min((cost + _move(state, first), state) for state, cost in costs.items())
    way = [state]
    for step in reversed(steps):
        state = step[state]
        way.append(state)
    return total, tuple((string, fret) for string, fret, _ in reversed(way))
