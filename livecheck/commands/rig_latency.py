"""The conversion delay of a rig: measured at the guitar, or from what was recorded. It is
suggested, never just set."""

from __future__ import annotations

from argparse import ArgumentTypeError, Namespace
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TextIO

from ..core.steady import TEMPO_BPM
from ..errors import BadInput
from .common import Commands, add, positive, practice_folder, print_json, rows
from .live import add_input
from .rig_input import records_of
from .rig_measure import (
    add_judging,
    add_writing,
    judged_takes,
    offer,
    part_of,
    recorded_rig,
    rig_to_write,
)

if TYPE_CHECKING:
    from ..core.events import Record, Repetition
    from ..core.rig import Rig
    from ..measures.delay.estimate import DelayEstimate, Interval, Struck

_HOW = {"click": "against a click", "pulse": "from a steady pulse", "practice": "from practice"}


def register_latency(verbs: Commands) -> None:
    latency = add(
        verbs,
        "latency",
        run_latency,
        "measure the conversion delay at the guitar, or from recorded playing",
        "With no session named it asks for two minutes of steady notes, to a click on "
        "--click-port where one is named, "
        "else at your own tempo. Sessions and files: against their clicks where each holds some, "
        "else "
        "taken as ordinary practice (the more cells and strings the better) or as a steady pulse "
        "(--pulse). What is "
        "common to all strings, the player's own lead or lag among it, is told apart and left as "
        "it is.",
        json_too=True,
    )
    latency.add_argument(
        "takes", metavar="FILE|SESSION", nargs="*", help="MIDI files, or sessions by name or folder"
    )
    latency.add_argument("--last", metavar="N", type=_count, help="the last N sessions")
    how = latency.add_mutually_exclusive_group()
    how.add_argument(
        "--click-port", metavar="TEXT", help="MIDI output for the click: part of its name"
    )
    how.add_argument(
        "--pulse", action="store_true", help="a steady pulse was played, whatever the cell"
    )
    how.add_argument(
        "--click", metavar="CHANNEL", type=int, help="notes on this channel (1 to 16) are the click"
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
    add_judging(latency)
    add_writing(latency)


def _count(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 0 < int(text) < 10**6:
        raise ArgumentTypeError(f"{text!r} is no number of sessions")
    return int(text)


def run_latency(options: Namespace, out: TextIO, err: TextIO) -> int:
    if options.takes and options.last is not None:
        raise BadInput("name sessions or choose them by --last, but not both")
    if options.takes or options.last is not None:
        if options.click_port is not None:
            raise BadInput(
                "--click-port is for measuring at the guitar; a session holds its own clicks"
            )
        takes = options.takes or [
            str(path) for path in practice_folder(options).own_paths()[-options.last :]
        ]
        if not takes:
            raise BadInput(f"{practice_folder(options).recordings} holds no sessions yet")
    elif options.json or options.pulse or options.click is not None:
        raise BadInput(
            "name a session or file: --json, --pulse and --click are about what was recorded"
        )
    else:
        from .rig_play import play_steadily

        takes = [str(play_steadily(options, out))]
        options.pulse = options.click_port is None
    return _suggest(options, takes, out)


def _suggest(options: Namespace, takes: Sequence[str], out: TextIO) -> int:
    from ..measures.delay.check import noticeable

    recorded = recorded_rig(options, takes[0])
    base = rig_to_write(options, recorded)
    estimate = _estimate(options, takes, recorded)
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
        offer(options, new, ("delay", "delay_ms"), out)
    return 0


def _estimate(options: Namespace, takes: Sequence[str], rig: Rig) -> DelayEstimate:
    from ..core.events import Click
    from ..measures.delay.estimate import against_click, from_practice

    if options.click is not None:
        if not 1 <= options.click <= 16:
            raise BadInput(f"--click {options.click}: channels are written 1 to 16")
        found = [struck(records_of(options, name), rig, options.click) for name in takes]
        return against_click(*one_after_another(found), open_strings(rig))
    if not options.pulse:
        reps: list[Repetition] = []
        clicked = []
        for name in takes:
            others: list[Record] = []
            reps += judged_takes(options, [name], also=others)[0]
            clicked.append(any(isinstance(record, Click) for record in others))
        if not all(clicked):
            return from_practice(reps)
    notes, clicks_s = one_after_another([struck(records_of(options, name), rig) for name in takes])
    return steady_estimate(notes, None if options.pulse else clicks_s, rig)


def steady_estimate(
    notes: Sequence[Struck], clicks_s: Sequence[float] | None, rig: Rig
) -> DelayEstimate:
    """From steady notes, to a click where there was one."""
    from ..measures.delay.estimate import against_click, from_pulse

    if clicks_s is None:
        return from_pulse(notes, open_strings(rig))
    return against_click(notes, clicks_s, open_strings(rig))


def open_strings(rig: Rig) -> tuple[int, ...]:
    """The rig's tuning, else the usual one."""
    from ..core.tunings import usual_tuning

    return rig.tuning or usual_tuning(min(len(rig.channels), 8))


def one_after_another(
    found: list[tuple[list[Struck], list[float]]],
) -> tuple[list[Struck], list[float]]:
    """Several takes on one time line, a minute apart."""
    notes: list[Struck] = []
    clicks: list[float] = []
    at_s = 0.0
    for own, own_clicks in found:
        notes += [note._replace(t_s=note.t_s + at_s) for note in own]
        clicks += [click_s + at_s for click_s in own_clicks]
        at_s = 60.0 + max([at_s, *(note.t_s for note in notes), *clicks])
    return notes, clicks


def struck(
    records: Iterable[Record], rig: Rig, channel: int | None = None
) -> tuple[list[Struck], list[float]]:
    """The notes above the gate as the rig hears them, and the clicks: those written down, or notes
    on a channel."""
    from ..core.decode import Decoder
    from ..core.events import Click, Midi
    from ..measures.delay.estimate import Struck

    decoder = Decoder(rig, list(enumerate(open_strings(rig), 1)))
    notes: list[Struck] = []
    clicks: list[float] = []

    def release(now_s: float) -> None:
        while decoder.due_s is not None and decoder.due_s <= now_s:
            _, note = decoder.release()
            if note is not None and not note.gated and note.by == "note":
                notes.append(Struck(note.onset_s, note.string, note.pitch))

    for record in records:
        if isinstance(record, Click) and channel is None:
            clicks.append(record.t_s)
        if not isinstance(record, Midi):
            continue
        release(record.t_s)
        if channel is not None and len(record.data) == 3 and record.data[0] == (0x90 | channel - 1):
            if record.data[2]:
                clicks.append(record.t_s)
        else:
            decoder.feed(record.t_s, record.data)
    release(float("inf"))
    return notes, clicks


# ------------------------------------------------------------------------------------------ telling


def _delay_lines(estimate: DelayEstimate, rig: Rig) -> list[str]:
    """The estimate in words, each string beside what the rig takes off it."""
    from ..measures.delay.check import off_by

    lines = [f"Conversion delay {_HOW[estimate.how]}, {estimate.notes} notes."]
    if estimate.why is not None:
        return [*lines, f"Nothing can be said: {estimate.why}."]
    what = "slots" if estimate.how == "practice" else "notes"
    table = [["string", what, "ms against the mean", "95 %", "rig takes"]]
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
    if estimate.common_ms is not None:
        lines.append("Common to all strings, the player's lead or lag and the click's own")
        lines.append(f"way included, and so left out: {_interval(estimate.common_ms, 1)} ms")
    if estimate.scatter_ms is not None:
        lines.append(f"Scatter about that: {estimate.scatter_ms:.1f} ms")
    return lines


def _interval(one: Interval, places: int) -> str:
    return f"{one.value:.{places}f} ({one.low:.{places}f} to {one.high:.{places}f})"


def _delay_dict(estimate: DelayEstimate, rig: Rig | None) -> dict[str, Any]:
    from ..files.config import rig_to_dict

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
