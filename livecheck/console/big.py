"""Large lettering out of blocks, to be read from two metres.

The letters are our own, five pixels high; only those that the screen needs. A pixel becomes half a
character cell (two rows of pixels in one line) or a block of full cells.
"""

from __future__ import annotations

_GLYPHS = {
    " ": "00 00 00 00 00",
    ".": "0 0 0 0 1",
    "-": "00 00 11 00 00",
    "0": "111 101 101 101 111",
    "1": "01 11 01 01 01",
    "2": "111 001 111 100 111",
    "3": "111 001 011 001 111",
    "4": "101 101 111 001 001",
    "5": "111 100 111 001 111",
    "6": "111 100 111 101 111",
    "7": "111 001 001 010 010",
    "8": "111 101 111 101 111",
    "9": "111 101 111 001 111",
    "A": "010 101 111 101 101",
    "B": "110 101 110 101 110",
    "C": "111 100 100 100 111",
    "D": "110 101 101 101 110",
    "E": "111 100 110 100 111",
    "F": "111 100 110 100 100",
    "G": "1111 1000 1011 1001 1111",
    "I": "1 1 1 1 1",
    "K": "101 101 110 101 101",
    "L": "100 100 100 100 111",
    "M": "10001 11011 10101 10001 10001",
    "N": "1001 1101 1011 1001 1001",
    "O": "111 101 101 101 111",
    "P": "111 101 111 100 100",
    "R": "110 101 110 101 101",
    "S": "111 100 111 001 111",
    "T": "111 010 010 010 010",
    "U": "101 101 101 101 111",
    "W": "10001 10001 10101 11011 10001",
    "Y": "101 101 010 010 010",
}
HEIGHT = 5
HALVES = {(True, True): "█", (True, False): "▀", (False, True): "▄", (False, False): " "}
"""Two pixels, one above the other, in one character."""


def pixels(text: str) -> list[str]:
    """Five rows of ``1`` and ``0``; letters that do not exist are left blank.

    >>> pixels("1.")
    ['010', '110', '010', '010', '011']
    """
    glyphs = [_GLYPHS.get(char, _GLYPHS[" "]).split() for char in text]
    rows = []
    for row in range(HEIGHT):
        parts = []
        for number, glyph in enumerate(glyphs):
            parts.append(glyph[row])
            if number + 1 < len(glyphs) and not (text[number + 1] == "." or text[number] == "."):
                parts.append("0")
        rows.append("".join(parts))
    return rows


def half_blocks(text: str) -> list[str]:
    """Three lines of text, a column a pixel.

    >>> half_blocks("7")
    ['▀▀█', ' ▄▀', ' ▀ ']
    """
    rows = [*pixels(text), ""]
    rows[HEIGHT] = "0" * len(rows[0])
    return [
        "".join(HALVES[a == "1", b == "1"] for a, b in zip(rows[row], rows[row + 1], strict=True))
        for row in (0, 2, 4)
    ]


def blocks(text: str, scale: int, ink: str = "█") -> list[str]:
    """Lines of text in which a pixel is ``scale`` lines high and twice as many columns wide."""
    lines = []
    for row in pixels(text):
        line = "".join((ink if pixel == "1" else " ") * (2 * scale) for pixel in row)
        lines += [line] * scale
    return lines


def largest(text: str, width: int, height: int, ink: str, halves: bool) -> list[str]:
    """The largest lettering that fits; the text itself where none does."""
    across = len(pixels(text)[0]) if text else 0
    scale = min(width // (2 * across), height // HEIGHT) if across else 0
    if scale >= 1:
        return blocks(text, scale, ink)
    if halves and across <= width and height >= 3:
        return half_blocks(text)
    return [text[:width]] if height >= 1 else []
