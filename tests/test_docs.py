"""The manual and the program agree."""

from __future__ import annotations

import argparse
import re
import shlex
from collections.abc import Iterator

import pytest
from conftest import ROOT

from livecheck.cli import parser
from livecheck.errors import LivecheckError
from livecheck.files.config import load_cell, load_rig

README = (ROOT / "README.md").read_text("utf-8")
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    ROOT / "recordings/README.md",
    *(ROOT / ".docs").glob("*.md"),
]


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
    """A row of the table in README for each, and a text for each of its arguments."""
    for name, child in NAMES.items():
        assert re.search(rf"^\| `livecheck {name}[ `]", README, re.MULTILINE), name
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
    rows = re.findall(r"^\| `livecheck ([a-z ]+?)(?: \[?[A-Z].*)?` \|", README, re.MULTILINE)
    assert sorted(rows) == sorted(NAMES)


def lines_to_type() -> list[str]:
    """What the manual tells to type: in code blocks and between backticks."""
    found = re.findall(r"`(livecheck [^`]+)`", README)
    return [line for line in found if "COMMAND" not in line and "[" not in line]


@pytest.mark.parametrize("line", lines_to_type())
def test_what_the_manual_tells_to_type_can_be_parsed(line):
    """Every example is a command with arguments that it takes."""
    try:
        _, unknown = parser().parse_known_args(shlex.split(line)[1:])
    except LivecheckError as error:
        pytest.fail(f"{line}: {error}")
    assert unknown == []


def test_the_files_shown_in_the_manual_are_sound(tmp_path):
    """Its cell and its rig can be loaded as they stand."""
    cell, rig = re.findall(r"```yaml\n(.*?)```", README, re.DOTALL)
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
