"""Text fit to be shown: what comes from elsewhere (port names, file names, marks, titles) in one
line that acts on no terminal and reads in the order it was written; counts and parts of sentences.
"""

from __future__ import annotations

from collections.abc import Iterable
from unicodedata import category

LONGEST_NAME = 80
"""Characters of a name."""


def clean(text: str, limit: int | None = None) -> str:
    r"""The text in one line, at most ``limit`` characters of it. What does not print (control
    characters, line breaks, marks and overrides of direction, halves of characters) is a question
    mark; a wide or unbreakable space is a space.

    >>> clean("a\x1b[2J\nb\u202ec\xa0d")
    'a?[2J?b?c d'
    """
    text = text[:limit]
    return text if text.isprintable() else "".join(map(_shown, text))


def _shown(sign: str) -> str:
    if sign.isprintable():
        return sign
    return " " if category(sign) == "Zs" else "?"


def counted(count: int, noun: str) -> str:
    """A count with its noun.

    >>> counted(1, "take"), counted(0, "take")
    ('1 take', '0 takes')
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def times(count: int) -> str:
    """How often something happened.

    >>> times(1), times(2), times(3)
    ('once', 'twice', '3 times')
    """
    return "once" if count == 1 else "twice" if count == 2 else f"{count} times"


def joined(parts: Iterable[object]) -> str:
    """Parts of a sentence put together.

    >>> joined([4, 6]), joined(["note 3 is softer", "note 4 comes late", "note 5 is softer"])
    ('4 and 6', 'note 3 is softer, note 4 comes late and note 5 is softer')
    """
    words = [str(part) for part in parts]
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


def a_or_an(stroke: str | None) -> str:
    """A stroke with its article.

    >>> a_or_an("up"), a_or_an("down")
    ('an up', 'a down')
    """
    return f"an {stroke}" if stroke == "up" else f"a {stroke}"
