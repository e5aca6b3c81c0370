"""Values as somebody wrote them, each with the place where it stands.

Owns the wording of every mistake in a cell or rig: ``file:line: key path: what is wrong; how to
mend it``, always one line. Knows nothing of YAML, cells or rigs; ``config.py`` makes these values,
``cellfile.py`` and ``rigfile.py`` read them. Entries of a list are counted from 1 in a key path, as
people count.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from ..core.pitch import name_of, pitch_of
from ..core.plain_text import LONGEST_NAME, clean
from ..errors import BadInput

MOST_STRINGS = 12
DEEPEST = 8

_SHOWN = 40


def shown(value: object) -> str:
    """A piece of somebody's input for a message: quoted, without line breaks, and cut where it is
    long.

    >>> shown("do\\nwn"), shown(13.5)
    ("'do\\\\nwn'", '13.5')
    """
    text = repr(value)
    return text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"


def one_line(text: str) -> str:
    """Text with everything that does not print replaced, so that it stays on one line."""
    return clean(text)


def nearest(word: str, choices: Sequence[str]) -> str | None:
    """The choice that was probably meant, None where nothing comes near.

    >>> choices = ["down", "pull"]
    >>> nearest("pull-off", choices), nearest("d", choices), nearest("q", choices)
    ('pull', 'down', None)
    """
    word = word.strip().lower()
    close = get_close_matches(word[:_SHOWN], choices, n=1)
    if close or not word:
        return close[0] if close else None
    return next(
        (choice for choice in choices if choice.startswith(word) or word.startswith(choice)), None
    )


@dataclass(frozen=True, slots=True)
class Written:
    """One value and its place.

    ``value`` is text, a whole number, a float, None, a list of Written or a dict of text to
    Written; anything else is a mistake that the asking method tells. ``text`` is a single value as
    it was written.
    """

    value: object
    text: str
    source: str  # file name, or what else the value came from
    line: int | None  # from 1; None where there are no lines
    path: str  # key path; empty at the top

    def wrong(self, problem: str, mend: str) -> BadInput:
        """The mistake at this place, ready to be raised."""
        place = one_line(self.source) + (f":{self.line}" if self.line is not None else "")
        return BadInput(
            ": ".join(part for part in (place, self.path, f"{problem}; {mend}") if part)
        )

    def whole(self, noun: str, low: int, high: int, mend: str | None = None) -> int:
        """A whole number from low to high, both included."""
        mend = mend or f"write a whole number from {low} to {high}"
        if not isinstance(self.value, int) or isinstance(self.value, bool):
            raise self._no_number(noun, mend)
        if not low <= self.value <= high:
            raise self.wrong(f"{noun} {shown(self.value)} is out of range", mend)
        return self.value

    def number(self, noun: str, low: float, high: float) -> float:
        """A number, whole or not, from low to high, both included."""
        mend = f"write a number from {low:g} to {high:g}"
        if not isinstance(self.value, (int, float)) or isinstance(self.value, bool):
            raise self._no_number(noun, mend)
        if not low <= self.value <= high:  # also where it is no number at all (nan)
            raise self.wrong(f"{noun} {shown(self.value)} is out of range", mend)
        return float(self.value)

    def words(self, noun: str, longest: int = LONGEST_NAME) -> str:
        """Text on one line. What looks like a number or a date is taken as it is written."""
        if isinstance(self.value, (list, dict, bool)) or self.value is None:
            raise self.no(noun, "write it as text")
        text = self.text.strip()
        if not text:
            raise self.wrong(f"the {noun} is empty", "write some text")
        if len(text) > longest:
            raise self.wrong(f"the {noun} has {len(text)} letters", f"keep it to {longest}")
        bad = next((letter for letter in text if not letter.isprintable()), None)
        if bad is not None:
            raise self.wrong(
                f"the {noun} holds a character that does not print (U+{ord(bad):04X})",
                "take it out",
            )
        return text

    def choice(self, noun: str, choices: Sequence[str]) -> str:
        """One of a few words."""
        if isinstance(self.value, str) and self.value in choices:
            return self.value
        meant = nearest(self.value, choices) if isinstance(self.value, str) else None
        raise self.no(
            noun, f"did you mean {meant}?" if meant else f"write one of {', '.join(choices)}"
        )

    def entries(self, noun: str, mend: str) -> list[Written]:
        """The entries of a list."""
        if not isinstance(self.value, list):
            raise self.no(noun, mend)
        return self.value

    def pairs(self, noun: str, mend: str) -> dict[str, Written]:
        """The keys of a mapping, whatever they are called."""
        if not isinstance(self.value, dict):
            raise self.no(noun, mend)
        return self.value

    def fields(self, noun: str, known: Sequence[str], mend: str) -> dict[str, Written]:
        """The keys of a mapping, all of them known and none of them empty."""
        found = self.pairs(noun, mend)
        for key, value in found.items():
            if key not in known:
                meant = nearest(key, known)
                remedy = f"did you mean {meant}?" if meant else f"keys here: {', '.join(known)}"
                raise value.wrong("unknown key", remedy)
            if value.value is None:
                raise value.wrong("nothing is written here", "give a value or take the key out")
        return found

    def no(self, noun: str, mend: str) -> BadInput:
        """The mistake of a value of another kind than what belongs here."""
        if self.value is None:
            return self.wrong(f"nothing is written where a {noun} belongs", mend)
        if isinstance(self.value, (list, dict)):
            kind = "list" if isinstance(self.value, list) else "mapping (key: value)"
            return self.wrong(f"a {kind} stands where a {noun} belongs", mend)
        return self.wrong(f"{shown(self.value)} is no {noun}", mend)

    def _no_number(self, noun: str, mend: str) -> BadInput:
        """The same for a number, with the usual slips named."""
        if isinstance(self.value, str) and re.fullmatch(r"[-+]?0\d+", self.value):
            digits = self.value.lstrip("-+").lstrip("0") or "0"
            return self.wrong(
                f"{noun} {shown(self.value)} begins with a zero", f"write {digits[:_SHOWN]}"
            )
        if isinstance(self.value, str) and re.fullmatch(r"[-+]?\d+(\.\d*)?", self.value):
            return self.wrong(f"{noun} {shown(self.value)} is text", "take the quotes away")
        return self.no(noun, mend)


def place(source: str, line: int | None = None) -> Written:
    """A place in a file without a value, to tell a mistake of the file itself."""
    return Written(None, "", source, line, "")


def child_path(path: str, key: str) -> str:
    """Key path of a mapping's entry."""
    key = key if key and key.isprintable() and len(key) <= _SHOWN else shown(key)
    return f"{path}.{key}" if path else key


def from_plain(data: object, source: str, path: str = "", depth: int = 0) -> Written:
    """Values out of Python dicts and lists (such as JSON gives), without lines. Keys may be text or
    whole numbers."""
    here = Written(
        data, str(data) if isinstance(data, (str, int, float)) else "", source, None, path
    )
    if depth > DEEPEST:
        raise here.wrong("lists and mappings stand too deep in one another", "flatten them")
    if isinstance(data, Mapping):
        inner: dict[str, Written] = {}
        for key, value in data.items():
            if not isinstance(key, (str, int)) or str(key) in inner:
                raise here.wrong(
                    f"key {shown(key)} is no text or stands here twice", "name each key once"
                )
            inner[str(key)] = from_plain(value, source, child_path(path, str(key)), depth + 1)
        return Written(inner, "", source, None, path)
    if isinstance(data, (list, tuple)):
        listed = [
            from_plain(value, source, f"{path}[{at}]", depth + 1)
            for at, value in enumerate(data, 1)
        ]
        return Written(listed, "", source, None, path)
    return here


def tuning_of(tuning: Written) -> tuple[int, ...]:
    """Open strings as MIDI note numbers, string 1 first."""
    mend = "write the open strings with string 1 first, as in [E4, B3, G3, D3, A2, E2]"
    names = tuning.entries("tuning", mend)
    if not 1 <= len(names) <= MOST_STRINGS:
        raise tuning.wrong(f"a tuning of {len(names)} strings", f"give 1 to {MOST_STRINGS} strings")
    return tuple(_open_string(name) for name in names)


def _open_string(written: Written) -> int:
    mend = "write a letter, # or b if needed, and the octave, as in E4, F#1 or Bb2"
    if (
        isinstance(written.value, int)
        and not isinstance(written.value, bool)
        and 0 <= written.value <= 127
    ):
        raise written.wrong(f"{written.value} is no note name", f"write {name_of(written.value)}")
    if not isinstance(written.value, str):
        raise written.no("note name", mend)
    try:
        return pitch_of(written.value)
    except ValueError:
        tidy = written.value.strip().replace("♯", "#").replace("♭", "b")
        tidy = tidy[:1].upper() + tidy[1:].lower()
        tidy = "B" + tidy[1:] if tidy[:1] == "H" else tidy
        if re.fullmatch(r"[A-G][#b]?", tidy):
            mend = f"add the octave, as in {tidy}3 (middle C is C4)"
        elif re.fullmatch(r"[A-G][#b]?-?\d", tidy) and tidy != written.value:
            mend = f"write {tidy}"
        elif re.fullmatch(r"[A-G][#b]?-?\d+", tidy):
            mend = "octaves go from -1 to 9 and notes from C-1 to G9"
        raise written.wrong(f"{shown(written.value)} is no note name", mend) from None
