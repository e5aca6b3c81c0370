"""Short wordings that the screen and the plain lines share."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from ..core.cell import Cell
from ..core.events import ARTEFACT, MISSED, NOISE, STRAY, WRONG, Repetition
from ..core.plain_text import clean
from ..measures.noise.passed_over import STRUCK
from ..measures.sound import RepSound

STOP_AT_PAIN = "Stop at pain"
STOP_IF = f"{STOP_AT_PAIN}, tingling or numbness"
CAUTION = (
    f"{STOP_IF}; if it stays, see a clinician. One movement looped for "
    "long loads the hand: rest a few minutes in each half hour and raise the tempo by degrees."
)
"""Told where practice starts. Sources: sources.md section 8, H-01 to H-04."""


TOUCHES = {STRUCK: "sounded full"}
"""Kinds of unwanted sound by their words on screens, where these are others than in the data."""

LONGEST_TEXT = 200


def clean_text(text: str) -> str:
    """Text from outside made harmless for a terminal, and not endless."""
    return clean(text, LONGEST_TEXT)


def cell_title(cell: Cell) -> str:
    """Name and variant.

    >>> from livecheck.core.cell import make_cell
    >>> two = make_cell("two", [(2, 10), (3, 12)], variants={"soft": {2: "hammer"}})
    >>> cell_title(two.with_variant("soft"))
    'two, soft'
    """
    return clean_text(cell.name if cell.variant is None else f"{cell.name}, {cell.variant}")


def named(names: Iterable[str]) -> str:
    """Names in a row; one that holds a comma stands in quotation marks.

    >>> named(["two", "six, slow"])
    'two, "six, slow"'
    """
    clean = [clean_text(name) for name in names]
    return ", ".join(f'"{name}"' if "," in name else name for name in clean)


def clock_text(seconds: float) -> str:
    """Hours, minutes and seconds.

    >>> clock_text(59.9), clock_text(3725)
    ('0:00:59', '1:02:05')
    """
    whole = max(0, int(seconds))
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


class Said(NamedTuple):
    """One thing to be told, and a shorter wording where there is little room."""

    long: str
    short: str


def listed(items: Sequence[Said], width: int, more: str) -> str:
    """All items as far as a width holds them, in short where in full they do not fit; ``more``
    where some are left out.

    >>> items = [Said("note 5 missed", "missed 5"), Said("pause 1.0 s", "pause")]
    >>> [listed(items, width, "~") for width in (26, 15, 13, 8)]
    ['note 5 missed, pause 1.0 s', 'missed 5, pause', 'missed 5 ~', 'missed 5']
    """
    for texts in ([one.long for one in items], [one.short for one in items]):
        if len(", ".join(texts)) <= width:
            return ", ".join(texts)
    for count in range(len(items) - 1, 0, -1):
        for texts in ([one.long for one in items], [one.short for one in items]):
            if len(text := f"{', '.join(texts[:count])} {more}") <= width:
                return text
    return items[0].short[:width] if items else ""


def fitting(wordings: Sequence[str], room: int) -> str:
    """The first wording that a room holds; empty where none does."""
    return next((text for text in wordings if len(text) <= room), "")


def numbers(slots: Sequence[int]) -> str:
    """Slot or string numbers in a row.

    >>> numbers([3, 5])
    '3, 5'
    """
    return ", ".join(map(str, slots))


def sounded(rep: Repetition) -> Counter[int]:
    """How often each string made a sound that was not asked for, converter faults left out."""
    return Counter(extra.note.string for extra in rep.extras if extra.kind in (NOISE, STRAY))


def artefacts(rep: Repetition) -> int:
    """Sounds that the converter made by itself."""
    return sum(extra.kind == ARTEFACT for extra in rep.extras)


def slots_with(rep: Repetition, verdict: str) -> list[int]:
    """Slot numbers that have this verdict."""
    return [result.slot for result in rep.slots if result.verdict == verdict]


MOST_NAMED = 3  # notes of a repetition that are named; more are counted


def of_notes(slots: Sequence[int], what: str) -> Said:
    """Which notes something became of, or of how many.

    >>> of_notes([5], "missed")
    Said(long='note 5 missed', short='missed 5')
    >>> of_notes([3, 5], "wrong").long, of_notes([1, 2, 3, 4], "missed").long
    ('notes 3, 5 wrong', '4 notes missed')
    """
    if len(slots) > MOST_NAMED:
        return Said(f"{len(slots)} notes {what}", f"{len(slots)} {what}")
    noun = "note" if len(slots) == 1 else "notes"
    short = f"{what} {','.join(map(str, slots))}"
    return Said(
        f"{noun} {numbers(slots)} {what}", short if len(slots) < 3 else f"{len(slots)} {what}"
    )


def happened(
    rep: Repetition, times: str = "x", strings: bool = True, sound: RepSound | None = None
) -> list[Said]:
    """What happened to a repetition, the gravest first; ``clean`` where nothing did.

    ``strings`` names the strings that sounded besides; without it only the kind of sound is told.
    ``sound`` adds what the hand did to the strings that it passed over, and strokes that were not
    as planned.
    """
    found: list[Said] = []
    if not rep.complete:
        found.append(Said("broken off", "broken off"))
    for verdict in (MISSED, WRONG):
        if slots := slots_with(rep, verdict):
            found.append(of_notes(slots, verdict))
    if rep.pause_s > 0:
        found.append(Said(f"pause {rep.pause_s:.1f} s", "pause"))
    touched = sound.touched if sound is not None else {}
    if strings:
        found += _of_strings({s: n for s, n in sounded(rep).items() if s not in touched}, times)
    else:
        kinds = {extra.kind for extra in rep.extras if extra.note.string not in touched}
        if kinds & {NOISE, STRAY}:
            found.append(Said("unwanted sound", "unwanted"))
    if sound is not None:
        found += [Said(touch(string, kind), f"string {string}") for string, kind in touched.items()]
        found += [
            Said(f"note {one.slot} {one.told}", f"{one.told} {one.slot}")
            for one in sound.against_plan
        ]
    if rep.clean:
        found.insert(0, Said("clean", "clean"))
    return found or [Said("not clean", "not clean")]


def _of_strings(counts: Mapping[int, int], times: str) -> list[Said]:
    """Which strings sounded besides, and how often each."""
    if not counts:
        return []
    noun = "string" if len(counts) == 1 else "strings"
    told = (
        f"{string} {times}{n}" if n > 1 else str(string) for string, n in sorted(counts.items())
    )
    short = ",".join(map(str, sorted(counts)))
    return [Said(f"{noun} {', '.join(told)} sounded", f"{noun} {short}")]


def touch(string: int, kind: str) -> str:
    """What the hand did to a string that it passed over.

    >>> touch(4, "struck"), touch(4, "cut off")
    ('string 4 sounded full', 'string 4 cut off')
    """
    return f"string {string} {TOUCHES.get(kind, kind)}"


def against_plan(sound: RepSound) -> list[str]:
    """Strokes that were not as planned: ``note 5 hammered``."""
    return [f"note {one.slot} {one.told}" for one in sound.against_plan]


def in_large(rep: Repetition) -> list[str]:
    """The gravest thing that happened, for large letters: in full, then in less where there is less
    room."""
    if rep.clean:
        return ["CLEAN"]
    if not rep.complete:
        return ["BROKEN OFF", "BROKEN"]
    for verdict in (MISSED, WRONG):
        if slots := slots_with(rep, verdict):
            what = verdict.upper()
            if len(slots) == 1:
                return [f"NOTE {slots[0]} {what}", f"NOTE {slots[0]}"]
            return [f"{len(slots)} NOTES {what}", f"{len(slots)} {what}"]
    if strings := sounded(rep):
        return [f"STRING {max(strings, key=lambda string: (strings[string], string))}"]
    return ["PAUSE"] if rep.pause_s > 0 else ["NOT CLEAN"]


def take_begun(rep: Repetition) -> str:
    """A take's line: its number, when its first repetition began, and the player's word."""
    said = {"down": ", begun down, as said", "up": ", begun up, as said"}.get(rep.begins or "", "")
    return f"take {rep.take} at {clock_text(rep.start_s)}{said}"
