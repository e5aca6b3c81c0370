"""How `livecheck cell learn` is called."""

from __future__ import annotations

from argparse import SUPPRESS, ArgumentTypeError

from ...core.cell import PICKED
from .cell_plan import number
from .common import Commands, add, add_driver, positive


def declare_learn(verbs: Commands) -> None:
    learn = add(
        verbs,
        "learn",
        "cell_learn:run_learn",
        "make a cell of what is played: loop it slowly, three times or more",
        "It says how sure it is. Strokes are not guessed: they alternate from --begin on. Notes "
        "come from a port, or with --from from a file or session. Keys meanwhile: > and < begin "
        "the cell a note later or earlier, n and v with a down or an up stroke, q is enough; or "
        "the lowest string open, three times (later) or four times (earlier), after a second of "
        "silence.",
        json_too=True,
    )
    learn.add_argument(
        "--from",
        dest="source",
        metavar="FILE|SESSION",
        help="a Standard MIDI File or a session in place of a port",
    )
    learn.add_argument(
        "--take", metavar="N", type=from_one, help="with --from: only this take of it"
    )
    learn.add_argument(
        "--port", metavar="TEXT", help="part of the port's name, or a /regular expression/"
    )
    add_driver(learn)
    learn.add_argument(
        "--seconds", metavar="N", type=positive, help="stop listening by itself after so long"
    )
    learn.add_argument(
        "--rig",
        metavar="RIG",
        help="a rig file or name: channels, delay and tuning; without it channel 1 is string 1",
    )
    learn.add_argument(
        "--tuning",
        metavar="NOTES",
        help="open strings from string 1 on, as in E4,B3,G3,D3,A2,D2, or a name such as 'drop D'; "
        "standard tuning where left out",
    )
    learn.add_argument("--capo", metavar="FRET", type=number, default=0, help="fret of the capo")
    learn.add_argument(
        "--grid",
        metavar="N",
        type=from_one,
        default=4,
        help="grid steps a beat (4), since the unit cannot be heard",
    )
    learn.add_argument(
        "--start",
        metavar="N",
        type=from_one,
        default=1,
        help="the note, as heard, that the cell begins with",
    )
    learn.add_argument(
        "--begin", choices=PICKED, help="stroke of the first note; the others alternate (down)"
    )
    learn.add_argument(
        "--write", metavar="NAME", help="write it as a cell of this name, sure or not"
    )
    learn.add_argument("--name", dest="old_name", help=SUPPRESS)
    learn.add_argument(
        "--out", metavar="FILE", help="write it to this file in place of configs/cells/NAME.yaml"
    )
    learn.add_argument(
        "--force", action="store_true", help="write over a file that is there already"
    )


def from_one(text: str) -> int:
    """A whole number from 1 on."""
    value = number(text)
    if value == 0:
        raise ArgumentTypeError("0 is too small; count from 1")
    return value
