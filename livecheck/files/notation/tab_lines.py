"""Text tablature taken apart: which lines are a staff, its strings, bars and stroke letters, and
what the other lines say of tuning, capo, tempo and title.

Owns the layout of the text; ``tab_in.py`` makes notes of it. Anything else than a staff is passed
over.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import takewhile

from ...core.pitch import pitch_of
from ...core.tunings import TUNINGS, usual_tuning
from ..written import MOST_STRINGS
from .figure import Unreadable

LONGEST_LINE = 2000
MOST_LINES = 5000

_STAFF = re.compile(r"^(?P<label>[^|:\-=]{0,12}?)\s*(?P<body>\|?[|:*o]*[-=][^|]*.*|\|.*[-=].*)$")
_DRAWN = str.maketrans({**dict.fromkeys("│┃║❘", "|"), **dict.fromkeys("–—−─‐", "-")})
_LABEL = re.compile(r"([A-Ha-h])([#b♯♭]?)(-?\d?)\s*\d{0,2}|\d{1,2}|")
_BODY = re.compile(r"[-=|:*o0-9hHpPsStTbrxX/\\~^v()<>\[\]. ]*")
_STROKES = {
    **dict.fromkeys("Dd⊓∏Πnn", "down"),
    **dict.fromkeys("UuVv∨^", "up"),
    "h": "hammer",
    "H": "hammer",
    "p": "pull",
    "P": "pull",
    "s": "slide",
    "S": "slide",
    "t": "tap",
    "T": "tap",
}
_STROKE_LABEL = re.compile(r"^\s*(strokes?|pick(ing)?|2nd time)\s*:?(?=\s|$)", re.IGNORECASE)
_CAPO = re.compile(r"\bcapo\b\D{0,12}(\d{1,2})", re.IGNORECASE)
_TEMPO = re.compile(
    r"\b(?:tempo|bpm|from)\b\s*[:=]?\s*(\d{2,3}(?:\.\d+)?)|(\d{2,3}(?:\.\d+)?)\s*bpm", re.I
)
_TITLE = re.compile(r"^\s*(?:title|name)\s*:\s*(\S.*)$", re.IGNORECASE)
_TUNING = re.compile(r"\btun(?:ing|ed)\b\s*(?:to\b)?\s*[:=]?\s*(?P<tuning>\S.*)$", re.IGNORECASE)
_OPEN = re.compile(r"([A-Ha-h])([#b♯♭]?)(-?\d)?")


@dataclass(frozen=True, slots=True)
class Staff:
    """One system: its lines from string 1 down, without their labels."""

    first_line: int  # of the file, from 1
    labels: tuple[str, ...]
    bodies: tuple[str, ...]  # all of one length
    columns: tuple[int, ...]  # where each body begins in its line
    strokes: dict[int, str]  # by column of the bodies
    letters: int = 0  # in the line of strokes, whether under a note or not
    remarks: tuple[str, ...] = ()  # lines beside it that say nothing that can be read


@dataclass(frozen=True, slots=True)
class Said:
    """What the lines around say; None where they say nothing."""

    tuning: str | None = None
    capo: int | None = None
    tempo_bpm: float | None = None
    title: str | None = None


def staves(text: str) -> tuple[list[Staff], Said]:
    """The staves of a text, and what else it says. Raises Unreadable with the line."""
    lines = text.translate(_DRAWN).expandtabs(8).splitlines()
    if len(lines) > MOST_LINES:
        raise Unreadable(f"holds more than {MOST_LINES} lines")
    for number, line in enumerate(lines, 1):
        if len(line) > LONGEST_LINE:
            raise Unreadable(f"line {number}: has more than {LONGEST_LINE} letters")
    found: list[Staff] = []
    others: list[str] = []
    at = 0
    while at < len(lines):
        split = _split(lines[at])
        if split is None:
            others.append(lines[at])
            at += 1
            continue
        first = at
        parts = []
        while split is not None:
            parts.append(split)
            at += 1
            split = _split(lines[at]) if at < len(lines) else None
        staff = _staff(first + 1, parts)
        if staff is None:
            others += lines[first:at]
            continue
        remarks = [
            _odd_string(lines[near], near + 1) for near in (first - 1, at) if 0 <= near < len(lines)
        ]
        if at < len(lines) and (strokes := _strokes(lines[at], staff)):
            letters = len(_STROKE_LABEL.sub("", lines[at]).replace(" ", ""))
            staff = replace(staff, strokes=strokes, letters=letters)
        elif at < len(lines):
            remarks.append(_odd_strokes(lines[at], at + 1))
        found.append(replace(staff, remarks=tuple(filter(None, remarks))))
    return found, _said(others)


def _split(line: str) -> tuple[str, int, str] | None:
    """Label, column of the body, body; None where the line is no string's."""
    found = _STAFF.match(line)
    if found is None:
        return None
    label, body = found["label"].strip(), found["body"].rstrip()
    if not _LABEL.fullmatch(label):
        return None
    body = _without_words(body)
    return (label, found.start("body"), body) if _is_string(body) else None


def _without_words(body: str) -> str:
    """A string's line without what is written behind its last bar line."""
    tail = body[body.rfind("|") + 1 :].strip()
    if "|" in body and not re.search("[-=]", tail) and not tail.isdigit():
        return body[: body.rindex("|") + 1]
    return body


def _is_string(body: str) -> bool:
    dashes = body.count("-") + body.count("=")
    return dashes >= 2 and ("|" in body or (dashes >= 4 and bool(re.search(r"\d|-{6}", body))))


def _odd_string(line: str, number: int) -> str | None:
    """What to say of a line beside a staff that is a string's but for its label."""
    found = _STAFF.match(line)
    if found is None or _LABEL.fullmatch(label := found["label"].strip()):
        return None
    body = _without_words(found["body"].rstrip())
    if not (_is_string(body) and _BODY.fullmatch(body) and re.search(r"\d", body)):
        return None
    return (
        f"line {number} is passed over: {label!r} names no string; write a note name, as in e or D3"
    )


def _odd_strokes(line: str, number: int) -> str | None:
    """What to say of a line below a staff that looks like strokes and cannot be taken for them."""
    label = _STROKE_LABEL.match(line)
    letters = line[label.end() if label else 0 :].split()
    if any(len(letter) > 1 for letter in letters):
        return None
    odd = [letter for letter in letters if letter not in _STROKES]
    if not (letters and label) and 2 * len(odd) >= len(letters) - (not odd):
        return None
    why = f"{odd[0]!r} is no stroke" if odd else "its letters stand under no notes"
    return f"line {number} is passed over: {why}; write D, U, h, p, s or t under each note"


def _staff(first_line: int, parts: Sequence[tuple[str, int, str]]) -> Staff | None:
    """A staff of the lines; None where there is no note on several of them nor on one."""
    bodies = [body for _, _, body in parts]
    if not any(re.search(r"\d", body) for body in bodies) and len(parts) < 4:
        return None
    if len(parts) > MOST_STRINGS:
        raise Unreadable(
            f"line {first_line}: {len(parts)} lines stand together; a staff has at most "
            f"{MOST_STRINGS}"
        )
    for number, body in enumerate(bodies, first_line):
        taken = _BODY.match(body)
        assert taken is not None
        if taken.end() < len(body):
            raise Unreadable(
                f"line {number}: {body[taken.end()]!r} is no sign of tablature; take it out"
            )
    width = max(map(len, bodies))
    filled = tuple(body.ljust(width, "-") for body in bodies)
    labels = tuple(label for label, _, _ in parts)
    return Staff(first_line, labels, filled, tuple(at for _, at, _ in parts), {})


def _strokes(line: str, staff: Staff) -> dict[int, str]:
    """Strokes by column, where a line has nothing but their letters, most of them at a note."""
    label = _STROKE_LABEL.match(line)
    if label is not None:
        line = " " * label.end() + line[label.end() :]
    marks = {at: letter for at, letter in enumerate(line) if letter != " "}
    if not marks or any(letter not in _STROKES for letter in marks.values()):
        return {}
    notes = {  # the first column of a note by each of its columns
        at: found.start()
        for body in staff.bodies
        for found in re.finditer(r"\d+", body)
        for at in range(found.start(), found.end())
    }
    ways = [
        {notes[at - off]: _STROKES[letter] for at, letter in marks.items() if at - off in notes}
        for column in dict.fromkeys(staff.columns)
        for off in (column, column + 1, column - 1)  # all of them may stand a column aside
    ]
    best = max(ways, key=len)
    return best if 3 * len(best) >= 2 * len(marks) else {}


def bars_of(staff: Staff) -> Iterator[tuple[int, int]]:
    """First column and end of every bar, without bar lines and repeat dots.

    Raises Unreadable where bar lines do not stand under one another.
    """
    width = len(staff.bodies[0])
    lines = {at for at in range(width) if any(body[at] == "|" for body in staff.bodies)}
    for at in lines:
        for number, body in enumerate(staff.bodies, staff.first_line):
            if body[at] not in "|:*o":
                raise Unreadable(
                    f"line {number}: no bar line in column "
                    f"{staff.columns[number - staff.first_line] + at + 1}, where other strings "
                    "have one; put bar lines under one another"
                )
    first = 0
    for at in [*sorted(lines), width]:
        start, end = first, at
        while start < end and any(body[start] in ":*o" for body in staff.bodies):
            start += 1
        while start < end and any(body[end - 1] in ":*o" for body in staff.bodies):
            end -= 1
        if end > start and any(body[start:end].strip() for body in staff.bodies):
            yield start, end
        first = at + 1


# ------------------------------------------------------------------------------ what lines say


def _said(lines: Sequence[str]) -> Said:
    tuning = capo = tempo = title = None
    for line in lines:
        if title is None and (found := _TITLE.match(line)):
            title = found[1]
            continue
        if capo is None and (found := _CAPO.search(line)):
            capo = int(found[1])
        if tuning is None and (found := _TUNING.search(line)):
            tuning = found["tuning"]
        if tempo is None and (found := _TEMPO.search(line)):
            tempo = float(found[1] or found[2])
    return Said(tuning, capo, tempo, title)


def tuning_said(text: str, strings: int) -> tuple[int, ...] | None:
    """The tuning that a line names, string 1 first; None where it names none for so many strings.

    Letters go from the lowest string to the highest, or the other way where that is nearer to
    standard tuning, or by their octaves.

    >>> tuning_said("D A D G B E", 6)
    (64, 59, 55, 50, 45, 38)
    """
    plain = " ".join(text.lower().replace(",", " ").split())
    for name, tuning in {**TUNINGS, "standard": TUNINGS["standard tuning"]}.items():
        if plain.startswith(name.lower()) and strings <= len(tuning):
            return tuning[:strings]
    names = next(
        (
            found
            for part in re.split("[();]", text)
            if len(found := _names(part, strings)) == strings
        ),
        None,
    )
    if names is None:
        return None
    usual = usual_tuning(strings)
    if strings > len(usual):
        return None
    ways = [_nearest(order, usual) for order in (names, names[::-1])]
    if any(way is None for way in ways):
        return None
    if all(re.search(r"\d", name) for name in names):
        down, up = ways
        return down if down[0] >= down[-1] else up  # type: ignore[index]
    return min(ways[::-1], key=lambda way: sum(abs(a - b) for a, b in zip(way or (), usual)))


def _names(text: str, strings: int) -> list[str]:
    """The note names that a text begins with, with or without spaces between them."""
    words = re.split(r"[\s,/-]+", text.strip())
    if len(words) == 1:
        words = re.findall(r"[A-Ha-h][#b♯♭]?(?:-?\d)?", text)
        if len(words) != strings:  # a small b may be a string of its own
            words = re.findall(r"[A-Ha-h][#♯♭]?(?:-?\d)?", text)
    return list(takewhile(_OPEN.fullmatch, words))


def _nearest(names: Sequence[str], usual: Sequence[int]) -> tuple[int, ...] | None:
    found = [open_pitch(name, near) for name, near in zip(names, usual)]
    return None if None in found else tuple(one for one in found if one is not None)


def open_pitch(label: str, near: int) -> int | None:
    """The pitch that a string's label names: the one nearest to the usual where it has no octave;
    None where it names none.

    >>> open_pitch("e", 64), open_pitch("D", 40), open_pitch("F#1", 30), open_pitch("2", 59)
    (64, 38, 30, None)
    """
    found = re.match(r"([A-Ha-h])([#b♯♭]?)(-?\d)?", label)
    if found is None:
        return None
    letter = "B" if found[1] in "Hh" else found[1].upper()
    sign = {"♯": "#", "♭": "b"}.get(found[2], found[2])
    if found[3]:
        try:
            return pitch_of(f"{letter}{sign}{found[3]}")
        except ValueError:
            return None
    own = pitch_of(f"{letter}{sign}4") % 12
    return min((own + 12 * octave for octave in range(10)), key=lambda one: (abs(one - near), one))


def tuning_of_labels(staff: Staff) -> tuple[int, ...]:
    """The open strings that the labels name; usual ones where they do not. Raises Unreadable."""
    usual = usual_tuning(len(staff.labels))
    if len(usual) < len(staff.labels):
        usual = (*usual, *(usual[-1] - 5 * more for more in range(1, 5)))[: len(staff.labels)]
    found = []
    for number, (label, near) in enumerate(zip(staff.labels, usual), staff.first_line):
        pitch = open_pitch(label, near)
        if pitch is None and label and not label.isdigit():
            raise Unreadable(
                f"line {number}: {label!r} is no string; write a note name, as in e or D3"
            )
        found.append(near if pitch is None else pitch)
    if tuple(found) == usual:
        return usual_tuning(max(6, len(found)))  # a part of a staff: the other strings are there
    return tuple(found)
