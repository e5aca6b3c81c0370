"""The conversion delay of a rig: measured at the guitar, or from what was recorded. It is
suggested, never just set."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, TextIO

from ..core.events import Click, Record, Repetition
from ..core.rig import Rig
from ..errors import BadInput
from ..files.config import rig_to_dict
from ..measures.delay.check import noticeable, off_by
from ..measures.delay.estimate import (
    DelayEstimate,
    Interval,
    StringDelay,
    against_click,
    from_practice,
)
from .choice import Choice, practice_folder
from .common import print_json, rows
from .played import only_demos
from .record import Input
from .rig_advice import judged_takes, offer, part_of, recorded_rig, rig_to_write
from .rig_file import Writing
from .rig_input import records_of
from .rig_play import Asked, play_steadily
from .rig_steady import one_after_another, open_strings, steady_estimate, struck

_HOW = {"click": "against a click", "pulse": "from a steady pulse", "practice": "from practice"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """What was played, as far as it was said: a steady pulse, or notes of a channel that are the
    click; else practice, or to the clicks that were recorded."""

    pulse: bool = False
    click_channel: int | None = None  # from 1


def run_latency(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    played = Played(pulse=options.pulse, click_channel=options.click)
    if choice.sessions and choice.last is not None:
        raise BadInput("name sessions or choose them by --last, but not both")
    if choice.sessions or choice.last is not None:
        if options.click_port is not None:
            raise BadInput(
                "--click-port is for measuring at the guitar; a session holds its own clicks"
            )
        takes = choice.sessions or tuple(
            str(path) for path in practice_folder(choice).own_paths()[-(choice.last or 0) :]
        )
        if not takes:
            if practice_folder(choice).session_paths():
                raise BadInput(only_demos(choice))
            raise BadInput(f"{practice_folder(choice).recordings} holds no sessions yet")
    elif options.json or options.pulse or options.click is not None:
        raise BadInput(
            "name a session or file: --json, --pulse and --click are about what was recorded"
        )
    else:
        asked = Asked(
            click_port=options.click_port, tempo_bpm=options.tempo, seconds=options.seconds
        )
        takes = (str(play_steadily(choice, Input.of(options), asked, out)),)
        played = replace(played, pulse=options.click_port is None)
    recorded = recorded_rig(choice, takes[0])
    base = rig_to_write(choice, recorded)
    estimate = _estimate(choice, takes, recorded, played)
    suggested = estimate.suggestion(base, options.per_string)
    new = replace(base, delay=suggested) if suggested is not None else None
    if options.json:
        print_json(_delay_dict(estimate, new), out)
    else:
        print(*_delay_lines(estimate, base), sep="\n", file=out)
        if estimate.why is None and suggested is None:
            what = (
                "not every string was heard"
                if options.per_string
                else "the notes lie too near in pitch"
            )
            print(f"Nothing is suggested: {what}.", file=out)
        elif new is not None and noticeable(estimate, base) is None:
            print(
                "No string is off by more than 2 ms for sure: the rig may stay as it is.", file=out
            )
    if new is not None:
        offer(Writing.of(options, choice), new, ("delay", "delay_ms"), out, quiet=options.json)
    return 0


def _estimate(choice: Choice, takes: Sequence[str], rig: Rig, played: Played) -> DelayEstimate:
    channel = played.click_channel
    if channel is not None:
        found = [struck(records_of(choice, name), rig, channel) for name in takes]
        return against_click(*one_after_another(found), open_strings(rig))
    if not played.pulse:
        reps: list[Repetition] = []
        clicked = []
        for name in takes:
            others: list[Record] = []
            reps += judged_takes(choice, [name], also=others)[0]
            clicked.append(any(isinstance(record, Click) for record in others))
        if not all(clicked):
            return from_practice(reps)
    notes, clicks_s = one_after_another([struck(records_of(choice, name), rig) for name in takes])
    return steady_estimate(notes, None if played.pulse else clicks_s, rig)


# ------------------------------------------------------------------------------------------ telling


def _delay_lines(estimate: DelayEstimate, rig: Rig) -> list[str]:
    """The estimate in words, each string beside what the rig takes off it."""
    lines = [f"Conversion delay {_HOW[estimate.how]}, {estimate.notes} notes."]
    if estimate.why is not None:
        return [*lines, f"Nothing can be said: {estimate.why}."]
    table = [["string", "notes", "ms against the mean", "95 %", "rig takes"]]
    off = {one.string: one.ms.value for one in off_by(estimate, rig)}
    for one in estimate.strings:
        told = one.relative_ms
        figures = ["-", "-", "-"]
        if told is not None:
            own_ms = told.value - off[one.string]
            figures = [
                f"{told.value:+.1f}",
                f"{told.low:+.1f} to {told.high:+.1f}",
                f"{own_ms:+.1f}",
            ]
        table.append([str(one.string), str(one.notes), *figures])
    lines += rows(table, right=(0, 1, 2, 3, 4))
    if estimate.periods is not None:
        lines.append(f"Periods of the sounding pitch: {_interval(estimate.periods, 2)}")
    lines += [f"String {one.string} {_doubt(one)}" for one in estimate.in_doubt]
    if estimate.in_doubt:
        lines.append("by your habit or of its own: the notes do not say which, and periods leave")
        lines.append("it out.")
    if estimate.common_ms is not None:
        lines.append("Common to all strings, the player's lead or lag and the click's own")
        lines.append(f"way included, and so left out: {_interval(estimate.common_ms, 1)} ms")
    if estimate.scatter_ms is not None:
        lines.append(f"Scatter about that: {estimate.scatter_ms:.1f} ms")
    return lines


def _doubt(string: StringDelay) -> str:
    """How much sooner or later a string comes than its pitches tell."""
    ms = string.beyond_ms
    assert ms is not None
    low, high = sorted((abs(ms.low), abs(ms.high)))
    return (
        f"comes {abs(ms.value):.1f} ms ({low:.1f} to {high:.1f}) "
        f"{'later' if ms.value > 0 else 'earlier'} than its pitches tell,"
    )


def _interval(one: Interval, places: int) -> str:
    return f"{one.value:.{places}f} ({one.low:.{places}f} to {one.high:.{places}f})"


def _delay_dict(estimate: DelayEstimate, rig: Rig | None) -> dict[str, Any]:
    def interval(one: Interval | None) -> dict[str, float] | None:
        return one._asdict() if one is not None else None

    return {
        "how": estimate.how,
        "notes": estimate.notes,
        "why": estimate.why,
        "strings": [
            {
                "string": one.string,
                "notes": one.notes,
                "pitch": one.pitch,
                "relative_ms": interval(one.relative_ms),
            }
            for one in estimate.strings
        ],
        "periods": interval(estimate.periods),
        "common_ms": interval(estimate.common_ms),
        "scatter_ms": estimate.scatter_ms,
        "suggested": part_of(rig_to_dict(rig), ("delay", "delay_ms")) if rig is not None else None,
    }
