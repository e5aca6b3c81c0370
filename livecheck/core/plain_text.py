"""Text that comes from elsewhere (port names, file names, marks, titles), made fit to be shown: one
line that acts on no terminal and reads in the order it was written."""

from __future__ import annotations

from unicodedata import category


def clean(text: str, limit: int | None = None) -> str:
    """The text in one line, at most ``limit`` characters of it. What does not print (control
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
