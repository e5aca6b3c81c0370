"""Transformed up-down rules: harder after so many right in a row, easier after one wrong.

Such a rule settles where so many in a row are as likely as not: at p with p^k = 1/2 (H. Levitt,
J. Acoust. Soc. Am. 49 (1971) 467-477; sources.md S-16 to S-18). Here a *trial* may be a whole
block, right when enough of its repetitions are clean. For tempo, harder is faster (S-19).
"""

from __future__ import annotations

from collections.abc import Sequence


def moves(right: Sequence[bool], in_a_row: int = 1) -> list[int]:
    """After each trial: 1 harder, -1 easier, 0 as it was.

    >>> moves([True, True, False, True], 2)
    [0, 1, -1, 0]
    """
    told, count = [], 0
    for one in right:
        count = count + 1 if one else 0
        told.append(-1 if not one else 1 if count == in_a_row else 0)
        if count == in_a_row:
            count = 0
    return told


def reversals(right: Sequence[bool], in_a_row: int = 1) -> list[int]:
    """The trials, from 1, at which the direction turned: a move against the last one."""
    turned, last = [], 0
    for number, move in enumerate(moves(right, in_a_row), 1):
        if move and last and move != last:
            turned.append(number)
        last = move or last
    return turned


def next_level(right: Sequence[bool], in_a_row: int) -> int:
    """The move after the last trial; until the first wrong one, each right one goes harder."""
    if all(right):
        return 1
    began = list(right).index(False)
    return moves(right[began:], in_a_row)[-1]
