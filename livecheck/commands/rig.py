"""The rig: find it out at the guitar, look at what it sends, measure its delay and its gate."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from ..errors import BadInput, NoDevice
from .common import Commands, add, print_json, program_name, rig_of, rows
from .rig_hint import print_hint
from .rig_input import Moment, add_source, agreed, moments, own_rig_path, write_rig
from .rig_latency import register_latency
from .rig_measure import register_threshold

if TYPE_CHECKING:
    from ..console.rigscreen import Activity
    from ..core.rig import Rig

MOST_STRINGS = 8
DRAW_S = 0.1


def register(commands: Commands) -> None:
    group = commands.add_parser(
        "rig",
        help="set up the converter: channels, tuning, delay, gate",
        description="Work with rigs: what stands between the fingers and the computer.",
    )
    group.set_defaults(
        run=lambda options, out, err: print(group.format_help(), end="", file=out) or 0,
        parser=group,
    )
    verbs = group.add_subparsers(title="commands", metavar="COMMAND", parser_class=type(group))

    setup = add(
        verbs,
        "setup",
        run_setup,
        "find out channels, tuning, capo and bend range by playing each open string",
        "Asks for each open string from the lowest to the highest and then for one slur; no "
        "keyboard needed between. "
        "The rig is shown first. Delay, gate and name are kept from the rig that there is.",
    )
    add_source(setup)
    setup.add_argument(
        "--strings", metavar="N", type=int, help="number of strings (as the rig has, else 6)"
    )
    setup.add_argument(
        "--out", metavar="FILE", help="write it to this file instead, without asking"
    )
    setup.add_argument(
        "--write", action="store_true", help="write it into configs/rig.yaml without asking"
    )

    check = add(verbs, "check", run_check, "show what each string sends and how loud, as you play")
    add_source(check)
    check.add_argument("--plain", action="store_true", help="no screen, one line a note")

    show = add(verbs, "show", run_show, "print a rig", json_too=True)
    show.add_argument(
        "rig", metavar="RIG", nargs="?", help="a rig file or name; configs/rig.yaml without it"
    )

    register_latency(verbs)
    register_threshold(verbs)


def run_setup(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..core.rig import Delay, Rig
    from ..core.setup import Setup
    from ..files.config import dump_rig

    base = rig_of(options, own=True)
    strings = options.strings or (len(base.channels) if base is not None else 6)
    if not 1 <= strings <= MOST_STRINGS:
        raise BadInput(f"--strings {strings}: 1 to {MOST_STRINGS} can be set up")
    setup = Setup(base if base is not None else Rig("my converter"), strings)
    port = _talk(setup, moments(options, base or Rig()), out)
    if setup.dead:
        raise NoDevice("nothing came in; look with `livecheck ports` and `livecheck rig check`")
    found = setup.result()
    if not found.heard:
        raise BadInput("no string was heard by itself, so there is no rig to write; try again")
    rig = found.rig
    if options.port or (port and rig.port is None):
        rig = replace(rig, port=options.port or port)
    print("", *[f"  {note}" for note in found.notes], "", dump_rig(rig), sep="\n", end="", file=out)
    for trouble in found.troubles:
        print(f"Mind: {trouble}.", file=out)
    path = Path(options.out).expanduser() if options.out else own_rig_path(options)
    if agreed(path, options, out):
        write_rig(path, rig, out)
        if rig.delay == Delay():
            print(
                f"Its delay is not known yet: `{program_name()} rig latency` measures it.", file=out
            )
    return 0


def _talk(setup: object, incoming: Iterator[Moment], out: TextIO) -> str | None:
    """Ask and answer until everything is known; returns the port's name where one was opened."""
    from ..core.setup import ASK, HEARD, Setup

    assert isinstance(setup, Setup)
    signs = {ASK: "> ", HEARD: "  "}
    port: str | None = None
    begun = False
    now_s = 0.0
    for moment in incoming:
        now_s = moment.t_s
        port = moment.port or port
        if moment.lost is not None:
            print(f"! {moment.lost}. It goes on when it is back.", file=out, flush=True)
        said = [] if begun else setup.begin(now_s)
        begun = True
        said += setup.tick(now_s) if moment.data is None else setup.feed(now_s, moment.data)
        for one in said:
            print(signs.get(one.kind, "! ") + one.text, file=out, flush=True)
        if setup.done:
            return port
    for one in [*([] if begun else setup.begin(now_s)), *setup.finish(now_s)]:
        print(signs.get(one.kind, "! ") + one.text, file=out, flush=True)
    return port


def run_check(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..console.rigscreen import Activity
    from ..core.rig import Rig

    activity = Activity(rig_of(options, own=True) or Rig())
    incoming = moments(options, activity.rig)
    try:
        if options.source is None and out.isatty() and not options.plain:
            _watch(activity, incoming, out)
        else:
            for moment in incoming:
                lines = (
                    activity.feed(moment.t_s, moment.data)
                    if moment.data is not None
                    else _link(moment)
                )
                if options.source is None:
                    for line in lines:
                        print(line, file=out, flush=True)
    except KeyboardInterrupt:
        pass  # the player has seen enough: what was heard is told
    print(
        *rows(activity.summary(), right=tuple(range(6))), *activity.troubles(), sep="\n", file=out
    )
    if options.source is None:
        print_hint(options, out)
    return 0


def _link(moment: Moment) -> list[str]:
    """What became of the port, where anything did."""
    if moment.lost is not None:
        return [f"{moment.lost}; it goes on when it is back"]
    return [f"listening to {moment.port}"] if moment.port is not None else []


def _watch(activity: Activity, incoming: Iterator[Moment], out: TextIO) -> None:
    import os

    from ..console.lines import fitted, piece
    from ..console.palette import signs_for
    from ..console.screen import Screen

    signs = signs_for(getattr(out, "encoding", None), os.environ.get("TERM"))
    drawn_s = -1.0
    with Screen(out, os.environ) as screen:

        def draw(link: str, now_s: float) -> None:
            width, height = screen.size()
            texts = [f"{link}; Ctrl-C ends", "", *activity.lines(now_s, width, signs)]
            texts = [*texts, *[""] * height][:height]
            screen.show([fitted([piece(text)], width) for text in texts], (width, height))

        link = "waiting for the port"
        draw(link, 0.0)
        for moment in incoming:
            link = next(iter(_link(moment)), link)
            if moment.data is not None:
                activity.feed(moment.t_s, moment.data)
            if moment.t_s - drawn_s >= DRAW_S:
                drawn_s = moment.t_s
                draw(link, moment.t_s)


def run_show(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..files.config import dump_rig, rig_to_dict

    rig = rig_of(options, own=True)
    if rig is None:
        raise BadInput(
            "there is no configs/rig.yaml yet: `livecheck rig setup` makes one, or name a rig"
        )
    if options.json:
        print_json(rig_to_dict(rig), out)
        return 0
    print(dump_rig(rig), end="", file=out)
    print("", *rows(_delays(rig), right=(0, 1, 3, 4)), sep="\n", file=out)
    return 0


def _delays(rig: Rig) -> list[list[str]]:
    """The strings with the delay that is taken off them, open and at the twelfth fret."""
    from ..core.pitch import name_of
    from ..core.tunings import usual_tuning

    table = [["string", "channel", "open", "delay ms", "at fret 12"]]
    tuning = rig.tuning or usual_tuning(len(rig.channels))
    for string, (channel, pitch) in enumerate(zip(rig.channels, tuning), 1):
        delays = [f"{1000.0 * rig.delay.seconds(string, pitch + fret):.1f}" for fret in (0, 12)]
        table.append([str(string), str(channel), name_of(pitch), *delays])
    return table
