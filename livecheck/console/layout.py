"""Which columns a screen of a given width has room for.

Columns are added in the order of their use to the player until the width is used up: the slots
themselves, what happened in words, tempo, noise by string, evenness, and so on. A cell too long for
one line is wrapped.
"""

from __future__ import annotations

from dataclasses import dataclass

LABEL = 8  # margin, row label or repetition number, gap
WORDS_LEAST, WORDS_FULL = 12, 20
BPM, EVEN, RATE, SHARE = 7, 7, 6, 5
SIDE_LEAST, SIDE_MOST = 38, 60
STRING = 2  # columns a string


@dataclass(frozen=True, slots=True)
class Layout:
    """Widths in columns; 0 for a column that is left out."""

    width: int
    slots: int
    strings: int
    slot_width: int
    per_line: int  # slots on a line
    words: int
    bpm: int = 0
    noise: int = 0
    even: int = 0
    rate: int = 0
    share: int = 0
    side: int = 0  # panel beside the table

    @property
    def lines(self) -> int:
        """Lines that a repetition takes."""
        return max(1, -(-self.slots // self.per_line))

    @property
    def table(self) -> int:
        """Width of the table without the side panel."""
        return self.width - self.side


def plan(width: int, slots: int, strings: int) -> Layout:
    """Fit the columns into a width for a cell of so many slots on so many strings."""
    room = width - LABEL - WORDS_LEAST - BPM
    slot_width = 2 if slots * 2 <= room else 1
    per_line = max(1, min(slots, room // slot_width))
    left = room - per_line * slot_width
    chosen = {"slot_width": slot_width, "words": WORDS_LEAST, "bpm": BPM}

    def take(name: str, cost: int, value: int) -> None:
        nonlocal left
        if 0 <= cost <= left:
            left -= cost
            chosen[name] = value

    take("noise", strings * STRING + 2, strings * STRING + 2)
    take("even", EVEN, EVEN)
    if slot_width == 2:
        take("slot_width", slots, 3)
    take("rate", RATE, RATE)
    take("words", WORDS_FULL - WORDS_LEAST, WORDS_FULL)
    take("share", SHARE, SHARE)
    if left >= SIDE_LEAST:
        take("side", min(left, SIDE_MOST), min(left, SIDE_MOST))
    if chosen["slot_width"] == 3:
        take("slot_width", slots, 4)
    if "side" not in chosen:
        chosen["words"] += min(left, 12)
    return Layout(width=width, slots=slots, strings=strings, per_line=per_line, **chosen)
