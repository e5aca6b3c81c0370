"""What ordinary practice says of the rig's delay, offered in a sentence where it is clear. Nothing
is ever applied."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, islice
from pathlib import Path
from typing import TextIO

from ..core.events import Record, RepDone, Repetition, UseRig
from ..core.rig import Rig
from ..errors import LivecheckError
from ..files.journal_reader import read
from ..measures.delay.advice import advise_delay
from .choice import Choice, practice_folder, rig_of
from .common import program_name
from .judging import judged

MOST_SLOTS = 2_500  # judged for it: some fifth of a second
MOST_SESSIONS = 40
# of one session: several sessions hold more cells and strings than the same time of one
MOST_RECORDS = 3_000


def print_hint(choice: Choice, out: TextIO) -> None:
    """Say where the last sessions support another delay than the rig's; else nothing. Raises
    nothing of its own."""
    try:
        lines = hint(choice)
    except LivecheckError:
        return  # what is wrong with a session or a rig is told by the commands that are about it
    if lines:
        print("", *lines, sep="\n", file=out)


def hint(choice: Choice) -> list[str]:
    """The sentence, in lines of at most 80 columns, or none."""
    own = rig_of(choice, own=True)
    rig, reps, sessions = _recent(practice_folder(choice).own_paths(), own)
    if rig is None or not reps:
        return []
    advice = advise_delay(reps, rig)
    off = advice.worst
    if off is None or not advice.worth_saying:
        return []
    way = "later" if off.ms.value > 0.0 else "earlier"
    low, high = sorted((abs(off.ms.low), abs(off.ms.high)))
    return [
        f"Practice suggests another conversion delay: string {off.string} comes "
        f"{abs(off.ms.value):.1f} ms",
        f"({low:.1f} to {high:.1f}) {way}, against the others, than the rig takes off.",
        f"`{program_name()} rig latency --last {sessions}` shows it, and writes it if you agree.",
    ]


def _recent(paths: list[Path], own: Rig | None) -> tuple[Rig | None, list[Repetition], int]:
    """The rig in use, repetitions of the last sessions that were played through it, and how many
    sessions these are."""
    rig, sessions, slots = own, 0, 0
    reps: list[Repetition] = []
    for path in reversed(paths[-MOST_SESSIONS:]):
        try:
            records: Iterator[Record] = islice(iter(read(path)), MOST_RECORDS)
            first = next(records, None)
        except LivecheckError:
            break
        recorded = first.rig if isinstance(first, UseRig) else Rig()
        if first is None or not _alike(recorded, rig):
            break
        rig = rig if rig is not None else recorded
        _, outcomes = judged(chain([first], records))
        own_reps = [one.repetition for one in outcomes if isinstance(one, RepDone)]
        reps += own_reps
        sessions += 1
        slots += sum(len(rep.slots) for rep in own_reps)
        if slots >= MOST_SLOTS:
            break
    return rig, reps, sessions


def _alike(recorded: Rig, rig: Rig | None) -> bool:
    """Whether a session may have been played through this rig, whatever its delay was then."""
    if rig is None:
        return True
    return recorded.channels == rig.channels and recorded.name in (rig.name, Rig().name)
