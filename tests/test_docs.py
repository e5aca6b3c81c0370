"""The manual and the program agree."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator

import pytest
from conftest import ROOT

from livecheck.cli import parser
from livecheck.files.config import load_cell, load_rig

README = (ROOT / "README.md").read_text("utf-8")
MANUAL = (ROOT / ".docs/manual.md").read_text("utf-8")
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    ROOT / "recordings/README.md",
    *(ROOT / ".docs").glob("*.md"),
]


MADE = {
    "compare.html",
    "configs/rig.yaml",
    "odd-five.mid",
    "review.html",
    "session.mid",
    "take.mid",
}
"""Files of the player, and those that a command writes."""


def commands(
    program: argparse.ArgumentParser, name: str = ""
) -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """Every command that can be run, with its parser."""
    for action in program._actions:
        if isinstance(action, argparse._SubParsersAction):
            for verb, child in action.choices.items():
                full = f"{name} {verb}".strip()
                yield from commands(child, full)
                if child.get_default("run") is not None:
                    yield full, child


NAMES = dict(commands(parser()))


def test_each_command_is_in_the_manual_and_has_help(run):
    """A row of the manual's table for each, and a text for each of its arguments."""
    for name, child in NAMES.items():
        assert re.search(rf"^\| `livecheck {name}[ `]", MANUAL, re.MULTILINE), name
        assert child.description
        for action in child._actions:
            assert action.help or isinstance(action, argparse._SubParsersAction), (
                f"{name}: {action.dest}"
            )
        status, out, err = run(*name.split(), "--help")
        assert (status, err) == (0, "")
        assert out.startswith(f"usage: livecheck {name}")


def test_the_manual_names_no_command_that_is_not_there():
    """Every row of the table is a command."""
    rows = re.findall(r"^\| `livecheck ([a-z ]+?)(?: \[?[A-Z].*)?` \|", MANUAL, re.MULTILINE)
    assert sorted(rows) == sorted(NAMES)


def test_the_files_shown_in_the_manual_are_sound(tmp_path):
    """Its cell and its rig can be loaded as they stand."""
    cell, rig = re.findall(r"```yaml\n(name: .*?)```", MANUAL, re.DOTALL)
    (tmp_path / "cell.yaml").write_text(cell, "utf-8")
    (tmp_path / "rig.yaml").write_text(rig, "utf-8")
    assert len(load_cell(tmp_path / "cell.yaml").slots) == 6
    assert load_rig(tmp_path / "rig.yaml").port == "Hex"


def test_the_two_commands_of_the_manual_are_one_line_each():
    """Set up and see it, set up and test it."""
    blocks = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    assert [block.count("\n") for block in blocks] == [1, 1]
    assert blocks[0].rstrip().endswith("livecheck demo")
    assert blocks[1].rstrip().endswith("pytest")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page):
    """Files that a page points to are there."""
    for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text("utf-8")):
        assert (page.parent / target).exists(), target


def test_every_shipped_cell_and_rig_is_sound(run):
    """None of them is refused."""
    for path in sorted((ROOT / "configs/cells").glob("*.yaml")):
        assert run("cell", "show", path.stem).status == 0
    for path in sorted((ROOT / "configs/rigs").glob("*.yaml")):
        load_rig(path)
    assert run("cell", "check", *(ROOT / "configs/cells").glob("*.yaml")).status == 0


def test_readme_is_short_and_says_what_matters_first():
    """About 7 kB; what it is for, both commands and the cautions come before the first session."""
    assert len(README.encode()) < 8_000
    heads = re.findall(r"^## (.*)$", README, re.MULTILINE)
    assert heads[:3] == ["Try it without a guitar", "Look after your hands", "Your first session"]
    assert README.index(".docs/console.svg") < README.index("```sh")
    for told in ("JACK", "ALSA", "macOS", "Windows", "Update", "Remove a session", "clinician"):
        assert told in README


def test_links_to_headings_lead_somewhere():
    """A heading's anchor is its words in small letters, joined by dashes."""
    for page in (ROOT / "README.md", ROOT / ".docs/manual.md"):
        for target, anchor in re.findall(r"\]\(([^)#:]*)#([^)]+)\)", page.read_text("utf-8")):
            text = (page.parent / target if target else page).read_text("utf-8")
            heads = {
                re.sub(r"[^\w -]", "", head).strip().lower().replace(" ", "-")
                for head in re.findall(r"^#+ (.*)$", text, re.MULTILINE)
            }
            assert anchor in heads, anchor


def files_named(text: str) -> set[str]:
    """Names of files and of folders of code in backticks; not those with a word in capitals, which
    stands for any."""
    named = set()
    for code in re.findall(r"`([^`\n]+)`", text):
        files = re.findall(r"[\w./-]+\.(?:py|md|toml|ya?ml|json|csv|html|svg|mid)\b", code)
        folders = re.findall(
            r"^(?:livecheck|tests|core|measures|files|report|player)/[\w/]*/$", code
        )
        named |= {name for name in files + folders if not re.search(r"[A-Z]{3}(?!.*\.md)", name)}
    return named


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_files_that_a_page_names_are_there(page):
    """Somewhere in the tree, but for those that livecheck makes."""
    tree = [
        "/" + path.relative_to(ROOT).as_posix() + "/" * path.is_dir()
        for part in ("*", ".docs/**/*", ".ci/*", "configs/**/*", "livecheck/**/*", "tests/**/*")
        for path in ROOT.glob(part)
    ]
    named = files_named(page.read_text("utf-8")) - MADE
    gone = [name for name in sorted(named) if not any(at.endswith("/" + name) for at in tree)]
    assert gone == []


def test_a_file_that_is_gone_would_be_seen():
    """Its name is found in prose and in commands; what stands for any name is not."""
    text = "`valley_odds.py` weighs; `livecheck score --cell CELL.yaml take.mid`; `measures/gone/`"
    assert files_named(text) == {"valley_odds.py", "take.mid", "measures/gone/"}
