"""Which of several names was probably meant by one that is not among them."""

from __future__ import annotations

from collections.abc import Iterable

SHORTEST = 3  # letters of a beginning that is proposed whole
LETTERS_EACH = 4  # one slip in so many letters is forgiven, one in any word


def near_names(word: str, known: Iterable[str], most: int = 3) -> list[str]:
    """The known names that differ from a word by a slip or two, the nearest first and no others.

    A slip is a letter that is wrong, missing, too many, or two that changed places; a word that is
    the beginning of a name, or the reverse, is near, too.

    >>> near_names("lisen", ["listen", "list", "stop"])
    ['listen']
    >>> near_names("six", ["six-strings", "odd-five"])
    ['six-strings']
    >>> near_names("export", ["ports", "stop"])
    []
    """
    wanted = word.lower()[:100]
    found = []
    for name in known:
        there = name.lower()
        if len(wanted) >= SHORTEST and (there.startswith(wanted) or wanted.startswith(there)):
            found.append((0, name))
            continue
        allowed = max(1, min(len(wanted), len(there)) // LETTERS_EACH)
        if abs(len(wanted) - len(there)) <= allowed and (n := slips(wanted, there)) <= allowed:
            found.append((n, name))
    fewest = min((count for count, _ in found), default=0)
    return [name for count, name in found if count == fewest][:most]


def slips(a: str, b: str) -> int:
    """Letters to change, take out, put in or swap with the next, to make one word of another.

    Source: the restricted edit distance of Damerau 1964, CACM 7(3), from memory.

    >>> slips("dwon", "down"), slips("chck", "check"), slips("mark", "mark")
    (1, 1, 0)
    """
    before: list[int] = []
    row = list(range(len(b) + 1))
    for i, one in enumerate(a, 1):
        before, last, row = row, before, [i]
        for j, two in enumerate(b, 1):
            best = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (one != two))
            if i > 1 and j > 1 and one == b[j - 2] and a[i - 2] == two:
                best = min(best, last[j - 2] + 1)
            row.append(best)
    return row[-1]
