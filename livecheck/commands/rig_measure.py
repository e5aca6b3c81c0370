"""Delay and gate of a rig from what was recorded. Both are suggestions: the rig is never changed by itself."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from ..errors import BadInput
from .common import Commands, add, only_ascii, print_json, rig_of, rows, width_of
from .rig_input import records_of, write_rig

if TYPE_CHECKING:
    from ..core.events import Extra, Record, Repetition
    from ..core.rig import Rig
    from ..measures.delay import DelayEstimate, Interval, Struck

_CELL_HELP = "what was to be played: a cell file or name (a MIDI file says none)"


def register_measures(verbs: Commands) -> None:
    delay = add(
        verbs,
        "delay",
        run_delay,
        "suggest the conversion delay from recorded playing",
        "From sessions of ordinary practice, the more cells and strings the better; or from two minutes of a steady "
        "pulse of six to eight notes a second over all strings, up and down, each string twice where it turns "
        "(--pulse); or against a click that was recorded on a channel of its own (--click). What is common to all "
        "strings cannot be heard and is left as it is.",
        json_too=True,
    )
    _add_takes(delay)
    how = delay.add_mutually_exclusive_group()
    how.add_argument("--pulse", action="store_true", help="a steady pulse was played, whatever the cell")
    how.add_argument("--click", metavar="CHANNEL", type=int, help="notes on this channel (1 to 16) are the click")
    delay.add_argument("--per-string", action="store_true", help="suggest a constant for each string, not periods")

    gates = add(
        verbs,
        "gates",
        run_gates,
        "suggest the noise gate from recorded playing, with a picture of notes and ghosts",
        json_too=True,
    )
    _add_takes(gates)


def _add_takes(parser: ArgumentParser) -> None:
    parser.add_argument("takes", metavar="FILE|SESSION", nargs="+", help="MIDI files, or sessions by name or folder")
    parser.add_argument("--cell", metavar="CELL", help=_CELL_HELP)
    parser.add_argument("--variant", metavar="NAME", help="which of the cell's ways to play it")
    parser.add_argument("--rig", metavar="RIG", help="a rig file or name; without it the one recorded with")
    parser.add_argument("--save", metavar="FILE", help="write the rig with the suggestion to this file")


# ------------------------------------------------------------------------------------------------------------- delay


def run_delay(options: Namespace, out: TextIO, err: TextIO) -> int:
    rig = _rig(options)
    estimate = _estimate(options, rig)
    suggested = estimate.suggestion(rig, options.per_string)
    if options.json:
        print_json(_delay_dict(estimate, replace(rig, delay=suggested) if suggested else None), out)
    else:
        print(*_delay_lines(estimate), sep="\n", file=out)
        if estimate.why is None and suggested is None:
            what = "not every string was heard" if options.per_string else "the notes lie too near in pitch"
            print(f"Nothing is suggested: {what}.", file=out)
    if suggested is not None:
        _offer(options, replace(rig, delay=suggested), ("delay", "delay_ms"), out)
    return 0


def _estimate(options: Namespace, rig: Rig) -> DelayEstimate:
    from ..measures.delay import against_click, from_practice, from_pulse

    if options.click is not None:
        if not 1 <= options.click <= 16:
            raise BadInput(f"--click {options.click}: channels are written 1 to 16")
        found = [_struck(records_of(options, name), rig, options.click) for name in options.takes]
        return against_click(*_one_after_another(found))
    if options.pulse:
        return from_pulse(
            _one_after_another([_struck(records_of(options, name), rig, None) for name in options.takes])[0]
        )
    reps, _ = _judged(options, None)
    return from_practice(reps)


def _one_after_another(
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


def _struck(records: Iterable[Record], rig: Rig, click: int | None) -> tuple[list[Struck], list[float]]:
    """The notes above the gate as the rig hears them, and the clicks on a channel of their own."""
    from ..core.decode import Decoder
    from ..core.events import Midi
    from ..core.tunings import usual_tuning
    from ..measures.delay import Struck

    tuning = rig.tuning or usual_tuning(min(len(rig.channels), 8))
    decoder = Decoder(rig, list(enumerate(tuning, 1)))
    notes: list[Struck] = []
    clicks: list[float] = []

    def release(now_s: float) -> None:
        while decoder.due_s is not None and decoder.due_s <= now_s:
            _, note = decoder.release()
            if note is not None and not note.gated and note.by == "note":
                notes.append(Struck(note.onset_s, note.string, note.pitch))

    for record in records:
        if not isinstance(record, Midi):
            continue
        release(record.t_s)
        if click is not None and len(record.data) == 3 and record.data[0] == (0x90 | click - 1):
            if record.data[2]:
                clicks.append(record.t_s)
        else:
            decoder.feed(record.t_s, record.data)
    release(float("inf"))
    return notes, clicks


def _delay_lines(estimate: DelayEstimate) -> list[str]:
    how = {"click": "against a click", "pulse": "from a steady pulse", "practice": "from practice"}[estimate.how]
    lines = [f"Conversion delay {how}, {estimate.notes} notes."]
    if estimate.why is not None:
        return [*lines, f"Nothing can be said: {estimate.why}."]
    what = "slots" if estimate.how == "practice" else "notes"
    table = [["string", what, "ms against the mean", "95 %"]]
    for one in estimate.strings:
        told = one.relative_ms
        figures = ["-", "-"] if told is None else [f"{told.value:+.1f}", f"{told.low:+.1f} to {told.high:+.1f}"]
        table.append([str(one.string), str(one.notes), *figures])
    lines += rows(table, right=(0, 1, 2, 3))
    if estimate.periods is not None:
        lines.append(f"Periods of the sounding pitch: {_interval(estimate.periods, 2)}")
    if estimate.common_ms is not None:
        lines.append(f"Common to all strings, player and converter together: {_interval(estimate.common_ms, 1)} ms")
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
            {"string": one.string, "notes": one.notes, "pitch": one.pitch, "relative_ms": interval(one.relative_ms)}
            for one in estimate.strings
        ],
        "periods": interval(estimate.periods),
        "common_ms": interval(estimate.common_ms),
        "scatter_ms": estimate.scatter_ms,
        "suggested": _part(rig_to_dict(rig), ("delay", "delay_ms")) if rig is not None else None,
    }


# -------------------------------------------------------------------------------------------------------------- gate


def run_gates(options: Namespace, out: TextIO, err: TextIO) -> int:
    from ..core.rig import Gate
    from ..files.config import rig_to_dict
    from ..measures.gates import advise_gate

    rig = _rig(options)
    advice = advise_gate(*_judged(options, Gate(1, 0.0)))
    new = replace(rig, gate=advice.gate) if advice.gate is not None else None
    if options.json:
        told = {
            "notes": len(advice.notes),
            "ghosts": len(advice.ghosts),
            "others": len(advice.others),
            "why": advice.why,
            "suggested": _part(rig_to_dict(new), ("gate",)) if new is not None else None,
            "notes_stopped": advice.notes_stopped,
            "ghosts_passed": advice.ghosts_passed,
            "others_stopped": advice.others_stopped,
        }
        print_json(told, out)
    else:
        _print_gate(advice, rig, out)
    if new is not None:
        _offer(options, new, ("gate",), out)
    return 0


def _print_gate(advice: Any, rig: Rig, out: TextIO) -> None:
    from ..console.palette import FULL, PLAIN
    from ..console.rigscreen import gate_picture

    signs = PLAIN if only_ascii(out) else FULL
    print(*gate_picture(advice.notes, advice.ghosts, advice.gate or rig.gate, width_of(out), signs), sep="\n", file=out)
    print("", file=out)
    if advice.why is not None:
        print(f"No gate is suggested: {advice.why}.", file=out)
        return
    stopped, passed = advice.notes_stopped or 0.0, advice.ghosts_passed or 0.0
    line = f"Stops {100 * stopped:.1f} % of {len(advice.notes)} notes; {100 * passed:.0f} % of "
    line += f"{len(advice.ghosts)} ghosts pass."
    if advice.others:
        line += (
            f" Of {len(advice.others)} longer unwanted sounds {100 * (advice.others_stopped or 0.0):.0f} % are lost."
        )
    print(line, file=out)


# ------------------------------------------------------------------------------------------------------------- shared


def _rig(options: Namespace) -> Rig:
    """The rig named, else the one the first session was recorded with, else the folder's own, else the usual one."""
    from ..core.events import UseRig
    from ..core.rig import Rig

    named = rig_of(options)
    if named is not None:
        return named
    for record in records_of(options, options.takes[0]):
        if isinstance(record, UseRig):
            return record.rig
    return rig_of(options, own=True) or Rig()


def _judged(options: Namespace, gate: Any) -> tuple[list[Repetition], list[Extra]]:
    """Repetitions of all takes, and what lies outside of them; with another gate where one is given."""
    from ..core.events import ExtraTold, RepDone, UseRig
    from .judging import judged, take_of

    reps: list[Repetition] = []
    outside: list[Extra] = []
    for name in options.takes:
        records = take_of(options, name).records
        if gate is not None:
            records = (
                replace(record, rig=replace(record.rig, gate=gate)) if isinstance(record, UseRig) else record
                for record in records
            )
        _, outcomes = judged(records)
        reps += [one.repetition for one in outcomes if isinstance(one, RepDone)]
        outside += [one.extra for one in outcomes if isinstance(one, ExtraTold) and one.rep is None]
    return reps, outside


def _part(data: dict[str, Any], keys: tuple[str, ...]) -> dict[str, Any]:
    return {key: data[key] for key in keys if key in data}


def _offer(options: Namespace, rig: Rig, keys: tuple[str, ...], out: TextIO) -> None:
    """Show what stands in the rig file with the suggestion; write it only where asked."""
    from ..files.config import rig_to_dict

    if not options.json:
        for key, value in _part(rig_to_dict(rig), keys).items():
            text = ", ".join(f"{name}: {part}" for name, part in value.items()) if isinstance(value, dict) else value
            print(
                f"Suggested for the rig file:  {key}: " + (f"{{{text}}}" if isinstance(value, dict) else str(text)),
                file=out,
            )
    if options.save is not None:
        from io import StringIO

        write_rig(Path(options.save).expanduser(), rig, StringIO() if options.json else out)
    elif not options.json:
        print(
            "The rig is not changed. --save FILE writes one with it; `score … --rig FILE` then judges anew.", file=out
        )
