"""Short wordings that the screen and the plain lines share."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from ..core.cell import Cell
from ..core.events import ARTEFACT, MISSED, NOISE, STRAY, WRONG, Repetition
from ..core.plain_text import clean
from ..measures.noise.passed_over import STRUCK
from ..measures.sound import RepSound

CAUTION = (
    "One movement looped for long loads the hand: rest a few minutes in each half hour and raise "
    "the tempo by degrees. "
    "Stop at pain, tingling or numbness; if it stays, see a clinician."
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
    >>> cell_title(make_cell("two", [(2, 10), (3, 12)], variants={"soft": {2: "hammer"}}).with_variant("soft"))
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


def counted(count: int, one: str, many: str) -> str:
    """A count with its noun.

    >>> counted(1, "take", "takes"), counted(0, "take", "takes")
    ('1 take', '0 takes')
    """
    return f"{count} {one if count == 1 else many}"


def listed(items: Sequence[str], width: int, more: str) -> str:
    """As many whole items as fit a width, the first at least; ``more`` where some are left out.

    >>> [listed(["2 missed", "pause"], width, "~") for width in (16, 12, 8)]
    ['2 missed, pause', '2 missed ~', '2 missed']
    """
    for count in range(len(items), 0, -1):
        text = ", ".join(items[:count])
        if count == len(items) and len(text) <= width:
            return text
        if count < len(items) and len(text) + 2 <= width:
            return f"{text} {more}"
    return items[0][:width] if items else ""


def numbers(slots: Sequence[int]) -> str:
    """Slot or string numbers in a row.

    >>> numbers([3, 5])
    '3, 5'
    """
    return ", ".join(map(str, slots))


def in_a_row(slots: Sequence[int]) -> str:
    """Slot or string numbers as part of a sentence.

    >>> in_a_row([4, 6]), in_a_row([1, 3, 5])
    ('4 and 6', '1, 3 and 5')
    """
    return " and ".join(filter(None, (numbers(slots[:-1]), numbers(slots[-1:]))))


def sounded(rep: Repetition) -> Counter[int]:
    """How often each string made a sound that was not asked for, converter faults left out."""
    return Counter(extra.note.string for extra in rep.extras if extra.kind in (NOISE, STRAY))


def artefacts(rep: Repetition) -> int:
    """Sounds that the converter made by itself."""
    return sum(extra.kind == ARTEFACT for extra in rep.extras)


def slots_with(rep: Repetition, verdict: str) -> list[int]:
    """Slot numbers that have this verdict."""
    return [result.slot for result in rep.slots if result.verdict == verdict]


def happened(
    rep: Repetition, times: str = "x", strings: bool = True, sound: RepSound | None = None
) -> list[str]:
    """What happened to a repetition, the gravest first; ``["clean"]`` where nothing did.

    ``strings`` names the strings that sounded besides; without it only the kind of sound is told.
    ``sound`` adds what the hand did to the strings that it passed over, and strokes that were not
    as planned.
    """
    found: list[str] = []
    if not rep.complete:
        found.append("broken off")
    if missed := len(slots_with(rep, MISSED)):
        found.append(f"{missed} missed")
    if wrong := len(slots_with(rep, WRONG)):
        found.append(f"{wrong} wrong")
    if rep.pause_s > 0:
        found.append(f"pause {rep.pause_s:.1f} s")
    touched = sound.touched if sound is not None else {}
    if strings:
        found += [
            f"string {string}" + (f" {times}{n}" if n > 1 else "")
            for string, n in sorted(sounded(rep).items())
            if string not in touched
        ]
    else:
        kinds = {extra.kind for extra in rep.extras if extra.note.string not in touched}
        found += ["unwanted sound"] * bool(kinds & {NOISE, STRAY})
    if sound is not None:
        found += [touch(string, kind) for string, kind in touched.items()] + against_plan(sound)
    if rep.clean:
        found.insert(0, "clean")
    return found


def touch(string: int, kind: str) -> str:
    """What the hand did to a string that it passed over.

    >>> touch(4, "struck"), touch(4, "cut off")
    ('string 4 sounded full', 'string 4 cut off')
    """
    return f"string {string} {TOUCHES.get(kind, kind)}"


def against_plan(sound: RepSound) -> list[str]:
    """Strokes that were not as planned: ``note 5 hammered``."""
    return [f"note {one.slot} {one.told}" for one in sound.against_plan]


def in_one_word(rep: Repetition) -> str:
    """The gravest thing that happened, short enough for big letters."""
    if rep.clean:
        return "CLEAN"
    if not rep.complete:
        return "BROKEN OFF"
    if missed := len(slots_with(rep, MISSED)):
        return f"{missed} MISSED"
    if wrong := len(slots_with(rep, WRONG)):
        return f"{wrong} WRONG"
    if strings := sounded(rep):
        return f"STRING {max(strings, key=lambda string: (strings[string], string))}"
    return "PAUSE" if rep.pause_s > 0 else "NOT CLEAN"
