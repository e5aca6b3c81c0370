"""What each string sends and how loud, as it is played."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Iterator
from typing import TextIO

from ..console.lines import fitted, piece
from ..console.palette import signs_for
from ..console.rigscreen import Activity
from ..console.screen import Screen
from ..core.rig import Rig
from .choice import Choice, rig_of
from .common import rows
from .rig_hint import print_hint
from .rig_input import Listening, Moment, moments

DRAW_S = 0.1


def run_check(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice, listening = Choice.of(options), Listening.of(options)
    activity = Activity(rig_of(choice, own=True) or Rig())
    incoming = moments(choice, listening, activity.rig)
    try:
        if listening.file is None and out.isatty() and not options.plain:
            _watch(activity, incoming, out)
        else:
            for moment in incoming:
                lines = (
                    activity.feed(moment.t_s, moment.data)
                    if moment.data is not None
                    else _link(moment)
                )
                if listening.file is None:
                    for line in lines:
                        print(line, file=out, flush=True)
    except KeyboardInterrupt:
        pass  # the player has seen enough: what was heard is told
    print(
        *rows(activity.summary(), right=tuple(range(6))), *activity.troubles(), sep="\n", file=out
    )
    if listening.file is None:
        print_hint(choice, out)
    return 0


def _link(moment: Moment) -> list[str]:
    """What became of the port, where anything did."""
    if moment.lost is not None:
        return [f"{moment.lost}; it goes on when it is back"]
    return [f"listening to {moment.port}"] if moment.port is not None else []


def _watch(activity: Activity, incoming: Iterator[Moment], out: TextIO) -> None:
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
