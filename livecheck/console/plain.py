"""Plain lines: one a repetition, for pipes, logs, dumb terminals and screen readers; and the
summary at the end.

Only ASCII signs of our own; names and ports as they are. Every line begins with what it is, so that
grep finds it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from ..core.events import MISSED, WRONG, Repetition
from ..core.plain_text import counted, joined
from ..measures.columns import RATE, RIGHT, TEMPO, UNEVEN
from ..measures.sound import RepSound
from .model import Entry, LogItem, Model
from .palette import PLAIN
from .tally import Tally
from .waymarks import WayMarks
from .words import (
    against_plan,
    cell_title,
    clock_text,
    numbers,
    slots_with,
    sounded,
    touch,
)

FEW = 10
"""Repetitions below which a share is told by its counts alone (measures.md)."""

ONE_TEMPO = 1.1
"""Repetitions whose fastest is no more than so many times their slowest are of one tempo (no
source)."""


def plain_line(
    item: LogItem, sounds: Mapping[int, RepSound] | None = None, ways: WayMarks | None = None
) -> str:
    """One line for one entry of the log. ``sounds`` by number of the repetition."""
    if isinstance(item, Entry):
        return entry_text(item)
    way = ways.of(item.rep) if ways is not None else None
    return rep_text(item, (sounds or {}).get(item.rep)) + (f"  way {way[1]}" if way else "")


def entry_text(entry: Entry) -> str:
    """``mark 0:01:05 thumb lower``"""
    text = entry.text.removeprefix(f"{entry.kind} ")
    if entry.kind == "take":
        text = text.split()[0]
    return f"{entry.kind} {clock_text(entry.t_s)} {text}"


def rep_text(rep: Repetition, sound: RepSound | None = None) -> str:
    """Everything about a repetition on one line, fields two spaces apart, ``-`` where a figure
    cannot be said."""
    marks = "".join(PLAIN.verdict(result.verdict) for result in rep.slots)
    faults = []
    if not rep.complete:
        faults.append("broken off")
    for verdict in (MISSED, WRONG):
        if slots := slots_with(rep, verdict):
            faults.append(f"{verdict} {numbers(slots)}")
    if rep.pause_s > 0:
        faults.append(f"pause {rep.pause_s:.1f} s")
    touched = sound.touched if sound is not None else {}
    for string, count in sorted((sounded(rep) | Counter(dict.fromkeys(touched, 1))).items()):
        faults.append(
            touch(string, touched.get(string, "sounded")) + (f" x{count}" if count > 1 else "")
        )
    if sound is not None:
        faults += against_plan(sound)
    if rep.clean:
        faults.insert(0, "clean")
    heard = {True: " audible", False: "", None: ""}[rep.evenness.audible]
    return "  ".join(
        [
            f"rep {rep.rep}",
            clock_text(rep.start_s),
            marks,
            f"{TEMPO.text(rep) or '-'} bpm",
            f"{RATE.text(rep) or '-'} notes/s",
            f"uneven {UNEVEN.text(rep) or '-'} %{heard}",
            f"right {RIGHT.text(rep) or '-'} %",
            ", ".join(faults) or "not clean",
        ]
    )


def summary_lines(model: Model, cut_off: bool = False) -> list[str]:
    """What the session came to, in a few sentences; small numbers are said to be small.

    cut_off: the viewer stopped a session that goes on, so that what is not there may still have
    come.
    """
    if not model.reps:
        heard = (
            "nothing was heard"
            if model.heard_s is None
            else "notes came, but no repetition of the cell was found"
            if model.sounded
            else "messages came, but no note"
        )
        if cut_off:
            heard = f"stopped at {clock_text(model.now_s)}, before one was found"
        lines = [f"No repetition: {heard}."]
        if model.foreign:
            messages = counted(model.foreign, "message")
            lines.append(f"{messages} came on channels that are no string: check the rig.")
    else:
        takes = counted(model.take, "take")
        lines = [
            f"{counted(model.reps, 'repetition')} in {takes}, {clock_text(model.played_s)} played."
        ]
        for tally in model.tallies.values():
            lines += _cell_lines(tally, several=len(model.tallies) > 1)
    if model.today_s is not None:
        lines.append(f"Played today: {clock_text(model.today_s)}.")
    if model.dropped:
        lines.append(f"{counted(model.dropped, 'message')} could not be saved.")
    return lines


def _cell_lines(tally: Tally, several: bool) -> list[str]:
    name = f"{cell_title(tally.cell)}: " if several else ""
    clean = f"{name}clean {share(tally.clean, tally.reps)}"
    if tally.broken:
        clean += f", broken off {tally.broken}"
    if tally.slowest_bpm is not None and tally.fastest_bpm is not None:
        slowest, fastest = f"{tally.slowest_bpm:.0f}", f"{tally.fastest_bpm:.0f}"
        clean += (
            f", tempo {slowest} bpm"
            if slowest == fastest
            else f", tempo {slowest} to {fastest} bpm"
        )
    lines = [clean + "." if name else clean.capitalize() + "."]
    for what, counts in (("missed", tally.missed), ("wrong", tally.wrong)):
        if counts:
            slots, times = most(counts)
            head = f"Most often {what}" if times > 1 else what.capitalize()
            if len(slots) == 1:
                place = tally.cell.slots[slots[0] - 1]
                where = (
                    f"note {slots[0]} (string {place.string}, fret {place.fret}), "
                    f"{share(times, tally.reps)}"
                )
            else:
                where = f"notes {joined(slots)}, {each(times, tally.reps)}"
            lines.append(f"{head}: {where}.")
    if tally.noisy:
        strings, times = most(tally.noisy)
        mostly = " most" if len(strings) < len(tally.noisy) else ""
        if len(strings) == 1:
            where = f"string {strings[0]}{mostly}, {share(times, tally.reps)}"
        else:
            where = f"strings {joined(strings)}{mostly}, {each(times, tally.reps)}"
        lines.append(f"Unwanted sounds: {where}.")
    return [*lines, f"Next: {advice(tally)}."]


def most(counts: Mapping[int, int]) -> tuple[list[int], int]:
    """All slots or strings that share the highest count, and that count.

    >>> most({5: 2, 3: 1, 1: 2})
    ([1, 5], 2)
    """
    times = max(counts.values())
    return sorted(number for number, count in counts.items() if count == times), times


def share(count: int, of: int) -> str:
    """A count out of so many, with the percentage only where there are enough.

    >>> share(3, 4), share(30, 41)
    ('3 of 4', '30 of 41 (73 %)')
    """
    return f"{count} of {of}" + (f" ({100 * count / of:.0f} %)" if of >= FEW else "")


def each(times: int, of: int) -> str:
    """How often each of several came, out of so many.

    >>> each(1, 131), each(3, 12), each(1, 1)
    ('each once in 131', 'each 3 times in 12 (25 %)', 'each once')
    """
    if times == 1:
        return f"each once in {of}" if of > 1 else "each once"
    return f"each {times} times in {of}" + (f" ({100 * times / of:.0f} %)" if of >= FEW else "")


def advice(tally: Tally) -> str:
    """What to play next to know more: a plain rule from the counts, common practice without a
    source."""
    if tally.reps < FEW:
        return f"too few repetitions to go by; {FEW} or more at one tempo tell something"
    failing = tally.missed + tally.wrong
    slot, fails = max(failing.items(), key=lambda item: (item[1], -item[0]), default=(0, 0))
    string, noisy = max(tally.noisy.items(), key=lambda item: (item[1], -item[0]), default=(0, 0))
    many = max(2, tally.reps // 10)
    slowest, fastest = tally.slowest_bpm or 0.0, tally.fastest_bpm or 0.0
    if max(fails, noisy) >= many:
        holds = f"note {slot} holds" if fails >= noisy else f"string {string} keeps silent"
        if fastest > ONE_TEMPO * slowest:
            return f"a review, which says up to which of these tempos {holds}"
        return f"{FEW} repetitions at a slower tempo, to see whether {holds} there"
    if tally.clean >= 0.9 * tally.reps:
        return (
            f"{FEW} repetitions at a faster tempo than {fastest:.0f} bpm, to see whether it "
            "holds there"
        )
    return "the same again, to know it more surely"
