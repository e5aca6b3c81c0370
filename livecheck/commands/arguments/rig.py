"""The rig: find it out at the guitar, look at what it sends, measure its delay and its gate."""

from __future__ import annotations

from argparse import ArgumentParser

from ...core.steady import TEMPO_BPM
from .click import whole
from .common import Commands, add, add_cells, add_group, add_input, count, positive

MOST_STRINGS = 8
CELL_HELP = "what was to be played: a cell file or name (a MIDI file says none)"


def register(commands: Commands) -> None:
    verbs = add_group(
        commands,
        "rig",
        "set up the converter: channels, tuning, delay, gate",
        "Work with rigs: what stands between the fingers and the computer.",
    )
    setup = add(
        verbs,
        "setup",
        "rig:run_setup",
        "find out channels, tuning, capo and bend range by playing each open string",
        "Asks for each open string from the lowest to the highest and then for one slur; no "
        "keyboard needed between. "
        "The rig is shown first. Delay, gate and name are kept from the rig that there is.",
    )
    _add_source(setup)
    setup.add_argument(
        "--strings",
        metavar="N",
        type=whole(MOST_STRINGS),
        help="number of strings (as the rig has, else 6)",
    )
    _add_writing(setup)

    about = "show what each string sends and how hard it was played"
    check = add(verbs, "check", "rig_check:run_check", about)
    _add_source(check)
    check.add_argument("--plain", action="store_true", help="no screen, one line a note")

    show = add(verbs, "show", "rig:run_show", "print a rig", json_too=True)
    show.add_argument(
        "rig", metavar="RIG", nargs="?", help="a rig file or name; configs/rig.yaml without it"
    )
    _latency(verbs)
    _threshold(verbs)


def _latency(verbs: Commands) -> None:
    latency = add(
        verbs,
        "latency",
        "rig_latency:run_latency",
        "measure the conversion delay at the guitar, or from recorded playing",
        "With no session named it asks for two minutes of steady notes, to a click on "
        "--click-port where one is named, else at your own tempo. Sessions and files: against "
        "their clicks where each holds some, else taken as ordinary practice (the more cells and "
        "strings the better) or as a steady pulse (--pulse). What is common to all strings, the "
        "player's own lead or lag among it, is told apart and left as it is.",
        json_too=True,
    )
    latency.add_argument(
        "sessions",
        metavar="FILE|SESSION",
        nargs="*",
        help="MIDI files, or sessions by name or folder",
    )
    latency.add_argument("--last", metavar="N", type=count, help="the last N sessions")
    how = latency.add_mutually_exclusive_group()
    how.add_argument(
        "--click-port", metavar="TEXT", help="MIDI output for the click: part of its name"
    )
    how.add_argument(
        "--pulse", action="store_true", help="a steady pulse was played, whatever the cell"
    )
    how.add_argument(
        "--click",
        metavar="CHANNEL",
        type=whole(16),
        help="notes on this channel (1 to 16) are the click",
    )
    latency.add_argument(
        "--tempo",
        metavar="BPM",
        type=positive,
        default=TEMPO_BPM,
        help=f"of the click ({TEMPO_BPM:g})",
    )
    latency.add_argument(
        "--seconds", metavar="N", type=positive, help="play no longer than this at the guitar (120)"
    )
    latency.add_argument(
        "--per-string", action="store_true", help="suggest a constant for each string, not periods"
    )
    add_input(latency)
    _add_judging(latency)
    _add_writing(latency)


def _threshold(verbs: Commands) -> None:
    threshold = add(
        verbs,
        "threshold",
        "rig_threshold:run_threshold",
        "suggest the gate, under which a note is a converter fault, from recorded playing",
        json_too=True,
    )
    threshold.add_argument(
        "sessions",
        metavar="FILE|SESSION",
        nargs="+",
        help="MIDI files, or sessions by name or folder",
    )
    threshold.add_argument(
        "--rig", metavar="RIG", help="a rig file or name; without it the one recorded with"
    )
    _add_judging(threshold)
    _add_writing(threshold)


def _add_source(parser: ArgumentParser) -> None:
    """Options of commands that hear notes live or from a file."""
    add_input(parser)
    parser.add_argument(
        "--from", dest="source", metavar="FILE", help="a MIDI file or session in place of a port"
    )
    parser.add_argument(
        "--seconds", metavar="N", type=positive, help="stop by itself after so long"
    )


def _add_judging(parser: ArgumentParser) -> None:
    """Options that say what was to be played."""
    add_cells(parser, CELL_HELP)
    parser.add_argument("--variant", metavar="NAME", help="which of the cell's ways to play it")


def _add_writing(parser: ArgumentParser) -> None:
    """Options that say where a rig goes."""
    parser.add_argument(
        "--write", action="store_true", help="write it into configs/rig.yaml without asking"
    )
    parser.add_argument(
        "--out", metavar="FILE", help="write it to this file instead, without asking"
    )
