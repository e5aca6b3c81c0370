"""Climb: blocks of one cell to a click whose tempo follows a rule."""

from __future__ import annotations

from .click import add_part, tempo, whole
from .common import Commands, add, add_input, add_rest
from .pedal import add_hands

RULES = ("search", "steps", "bursts", "free")
REPS = 6
MOST_REPS, MOST_BLOCKS, MOST_SEED = 64, 500, 10**9


def register(commands: Commands) -> None:
    climb = add(
        commands,
        "climb",
        "climb:run_climb",
        "play blocks of a cell to a click that goes up and down with how they went",
        "A bar of count-in, a block of repetitions, two bars of rest with one sound in them "
        "(faster, slower, again, a string sounded, rest, end), the next block. Nothing has to be "
        "typed. Keys: q ends, p pauses, u and d ask for faster and slower, a for the same again, m "
        "sets a mark, c and C go to the next cell and back, w and W to the next variant and back, "
        "f changes the view.",
        json_too=True,
    )
    climb.add_argument(
        "cells", metavar="CELL", help="a cell file, or the name of a cell (`livecheck cell list`)"
    )
    climb.add_argument("--variant", metavar="NAME", help="one of the cell's other ways to play it")
    climb.add_argument(
        "--rule",
        choices=RULES,
        default=RULES[0],
        help="what sets the tempo: search finds the break with few repetitions, steps goes up "
        "after two blocks that held and down after one that did not, bursts plays short spells "
        "above and comes back, free sets nothing; search where none is named",
    )
    climb.add_argument(
        "--start",
        metavar="BPM",
        type=tempo,
        help="tempo of the first block; without it below what earlier sessions know to be secure, "
        "else the cell's own",
    )
    climb.add_argument(
        "--tempos",
        metavar="BPM,BPM",
        type=_tempos,
        default=(),
        help="after a warm-up a block at each of these tempos, in this order, instead of a rule",
    )
    climb.add_argument(
        "--blocks",
        metavar="N",
        type=whole(MOST_BLOCKS),
        help="end after so many; without it when the question is answered",
    )
    climb.add_argument(
        "--reps",
        metavar="N",
        type=whole(MOST_REPS),
        default=REPS,
        help=f"repetitions a block ({REPS})",
    )
    climb.add_argument(
        "--click-port", metavar="TEXT", help="MIDI output for the click: part of its name"
    )
    climb.add_argument(
        "--cue-port", metavar="TEXT", help="MIDI output for the cues; without it the click's"
    )
    climb.add_argument(
        "--seed",
        metavar="N",
        type=whole(MOST_SEED, 0),
        default=0,
        help="which of equally good tempos are taken (0)",
    )
    add_hands(climb, "it does unless --no-gestures is said")
    add_rest(climb)
    climb.add_argument("--plain", action="store_true", help="no screen, lines only")
    add_part(climb, "--from-note")
    add_input(climb)


def _tempos(text: str) -> tuple[float, ...]:
    """``140,152``: tempos that a click can have."""
    return tuple(tempo(part) for part in text.split(","))
