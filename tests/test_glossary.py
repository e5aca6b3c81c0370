"""Screens keep to the words of .docs/glossary.md."""

from __future__ import annotations

import argparse
import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from conftest import ROOT
from test_docs import commands

from livecheck.cli import parser
from livecheck.console.palette import FULL, PLAIN
from livecheck.report.tablature import ASCII_SYMBOLS, SYMBOLS

SCREENS = (
    "console",
    "report",
    "commands",
    "cli.py",
    "core/climb.py",
    "core/setup.py",
    "core/steady.py",
    "files/notation",
    "measures/agenda/questions.py",
    "measures/delay/advice.py",
    "measures/learn",
    "measures/review/advice.py",
    "measures/review/first_to_go.py",
    "measures/review/left_out.py",
    "measures/review/sentence.py",
    "measures/review/stroke_words.py",
)
"""Where texts for people are made."""

OTHER_WORDS = {
    r"figures?": "cell (or number)",
    r"sittings?": "session",
    r"(a|the|this|each|every|one|last) recording": "session",
    r"doctor|profile": "check, notes",
    r"is struck": "sounds full, or harder",
    r"louder|quieter|loudest": "harder, softer",
    r"slots?": "note",
    r"noise|noises|noisy|stray": "unwanted sound",
    r"artefacts?|ghosts?": "converter fault",
    r"link|linked|links": "port",
    r"nats?": "words that a player knows",
    r"licks?|riffs?|patterns?": "cell",
}
"""Words that another stands for, as whole words."""

ALLOWED = re.compile(
    r"`slots:|slots\[|-slots\.csv|livecheck (doctor|profile)|<figure|figure\{|figcaption"
)
"""Names in files, elements of pages, and the two old commands that lead to the new ones."""


def texts(path: Path) -> Iterator[tuple[int, str]]:
    """String literals that hold words, docstrings left out."""
    tree = ast.parse(path.read_text("utf-8"))
    silent = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.Constant)
            and isinstance(node.value, str)
            and id(node) not in silent
            and " " in node.value.strip()
        ):
            yield node.lineno, node.value


def wrong(text: str) -> list[str]:
    """What is said in other words than the glossary's."""
    text = ALLOWED.sub("", text)
    found = []
    for pattern, instead in OTHER_WORDS.items():
        if match := re.search(rf"\b({pattern})\b", text, re.IGNORECASE):
            found.append(f"{match[0]!r} for {instead}")
    return found


def sources() -> list[Path]:
    """The modules whose texts people read."""
    package = ROOT / "livecheck"
    found = []
    for name in SCREENS:
        path = package / name
        found += [path] if path.is_file() else sorted(path.rglob("*.py"))
    return found


def test_screens_use_one_word_for_one_thing():
    """No string literal of the console, the reports, the commands and their help says it in another
    word."""
    said = [
        f"{path.relative_to(ROOT)}:{line}: {text[:60]!r}: {what}"
        for path in sources()
        for line, text in texts(path)
        for what in wrong(text)
    ]
    assert said == []


def test_help_uses_one_word_for_one_thing():
    """Descriptions and the help of every option of every command."""
    said = []
    for name, child in commands(parser()):
        helps = [child.description or "", *(action.help or "" for action in child._actions)]
        said += [
            f"{name}: {what}" for text in helps if text != argparse.SUPPRESS for what in wrong(text)
        ]
    assert said == []


def test_the_words_that_are_looked_for_are_found():
    """The check would see them."""
    assert wrong("the figure had 2 slots") == ["'figure' for cell (or number)", "'slots' for note"]
    assert wrong("write `slots:` at least") == [] and wrong("a slotted screw") == []
    assert wrong("noise on string 4") and wrong("LINK LOST") and not wrong("unwanted sounds")


def test_the_signs_are_those_of_the_glossary():
    """One sign for a verdict or a stroke on every screen, alike in the table, all different."""
    table = (ROOT / ".docs/glossary.md").read_text("utf-8")
    for sign, plain, meaning in (
        (FULL.hit, PLAIN.hit, "hit"),
        (FULL.missed, PLAIN.missed, "missed"),
        (FULL.wrong, PLAIN.wrong, "wrong note"),
    ):
        assert f"| `{sign}` | `{plain}` | {meaning} |" in table
    assert f"| `{FULL.down}` `{FULL.up}` | `{PLAIN.down}` `{PLAIN.up}` | down stroke" in table
    assert (FULL.down, FULL.up) == (SYMBOLS["down"], SYMBOLS["up"])
    assert (PLAIN.down, PLAIN.up) == (ASCII_SYMBOLS["down"], ASCII_SYMBOLS["up"])
    for signs in (FULL, PLAIN):
        assert len({signs.hit, signs.missed, signs.wrong, signs.pending, signs.uneven}) == 5
        assert not {signs.hit, signs.missed, signs.wrong} & set("●○◌×xXoO•◆◇□⊓∨")
        assert signs.bar not in (FULL.hit, FULL.missed, FULL.wrong)


@pytest.mark.parametrize("page", ["README.md", ".docs/manual.md"])
def test_the_manual_uses_one_word_for_one_thing(page):
    """Prose of README and manual; names in code are those of files and JSON."""
    text = (ROOT / page).read_text("utf-8")
    prose = re.sub(r"```.*?```|`[^`]*`|\]\([^)]*\)", "", text, flags=re.DOTALL)
    said = [(line.strip(), what) for line in prose.splitlines() for what in wrong(line)]
    # what a converter calls them, and numbers
    kept = ("ghost notes, octave slips", "what every figure means")
    assert [one for one in said if not any(part in one[0] for part in kept)] == []
