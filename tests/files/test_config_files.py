"""What is refused before a cell or rig is even looked at: files, encodings, YAML's own faults and
powers."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from livecheck.errors import BadInput
from livecheck.files.config import load_cell, load_rig

CELL = "name: x\nslots:\n  - [1, 0]\n  - [1, 2]\n"


def told(path: Path | str) -> str:
    """What is said about a file: always one printable line with exit status 2."""
    with pytest.raises(BadInput) as caught:
        load_cell(path)
    assert caught.value.exit_status == 2 and str(caught.value).isprintable()
    return str(caught.value)


def told_of(tmp_path: Path, data: bytes | str) -> str:
    path = tmp_path / "cell.yaml"
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return told(path).replace(f"{tmp_path}/", "")


# -------------------------------------------------------------------------------------------- files


def test_a_missing_file_names_its_neighbours(tmp_path, monkeypatch):
    """The nearest names in its folder and in configs/cells; without any, all that is there; or that
    there are none."""
    monkeypatch.chdir(tmp_path)
    assert (
        told("odd.yaml") == "odd.yaml: no such file; there are no YAML files in . or configs/cells"
    )
    cells = tmp_path / "configs" / "cells"
    cells.mkdir(parents=True)
    for name in ("odd-five", "twin-a", "twin-b"):
        (cells / f"{name}.yaml").write_text(CELL)
    assert (
        told("odd-fife.yaml")
        == "odd-fife.yaml: no such file; did you mean configs/cells/odd-five.yaml?"
    )
    assert told("configs/cells/Twin-a.yml").endswith(
        "did you mean configs/cells/twin-a.yaml or configs/cells/twin-b.yaml?"
    )
    assert told("odd-five").endswith("did you mean configs/cells/odd-five.yaml?")
    assert told("qqq.yaml").endswith(
        "there are: configs/cells/odd-five.yaml, configs/cells/twin-a.yaml, "
        "configs/cells/twin-b.yaml"
    )
    assert told("twin-a/x.yaml").startswith("twin-a/x.yaml: no such file")
    with pytest.raises(
        BadInput, match=r"^hex\.yaml: no such file; there are no YAML files in \. or configs/rigs$"
    ):
        load_rig("hex.yaml")


def test_folders_and_devices_are_no_files(tmp_path):
    """A folder, a pipe and an endless device are refused without reading (and without waiting for a
    writer)."""
    assert told(tmp_path).endswith(": is a folder; name one YAML file in it")
    os.mkfifo(tmp_path / "pipe")
    assert told(tmp_path / "pipe").endswith("pipe: is no ordinary file; name a YAML file")
    assert told("/dev/zero") == "/dev/zero: is no ordinary file; name a YAML file"


def test_names_that_no_system_takes(tmp_path):
    """A name with a NUL, one that is too long, a link to itself, a name with a line break: one line
    each."""
    assert "cannot be read" in told("a\0b.yaml")
    assert "cannot be read" in told("x" * 5000 + ".yaml")
    (tmp_path / "loop.yaml").symlink_to(tmp_path / "loop.yaml")
    assert "cannot be read" in told(tmp_path / "loop.yaml")
    assert "a?b.yaml: no such file" in told(tmp_path / "a\nb.yaml")


@pytest.mark.skipif(os.geteuid() == 0, reason="the administrator may read every file")
def test_a_file_that_may_not_be_read(tmp_path):
    """Missing permission is told as such."""
    path = tmp_path / "cell.yaml"
    path.write_text(CELL)
    path.chmod(0)
    assert told(path).endswith("may not be read; check its permissions (ls -l)")


def test_a_huge_file_is_refused_before_it_is_read(tmp_path, monkeypatch):
    """50 MB: the size is enough to say no."""
    path = tmp_path / "cell.yaml"
    with path.open("wb") as file:
        file.truncate(50 * 1024 * 1024)
    monkeypatch.setattr(Path, "open", lambda *_: pytest.fail("was opened"))
    assert told(path).endswith("cell.yaml: 51200 KB is too large; keep it under 256 KB")


# ---------------------------------------------------------------------------------------- encodings


def test_text_that_is_not_utf_8(tmp_path):
    """The line of the first bad byte is told; UTF-16 is known by its mark; NUL bytes are no
    text."""
    assert told_of(tmp_path, b"# one\nname: \xfcbung\n").startswith(
        "cell.yaml:2: byte 0xfc is no UTF-8 text; save the file as UTF-8"
    )
    assert told_of(tmp_path, CELL.encode("utf-16")).startswith(
        "cell.yaml: this is UTF-16 text; save it as UTF-8"
    )
    assert told_of(tmp_path, "# one\n\nname: a\0b\n").startswith(
        "cell.yaml:3: a character that text cannot hold (U+0000); take it out"
    )
    assert "U+0000" in told_of(tmp_path, CELL.encode("utf-16-le"))


def test_a_byte_order_mark_and_foreign_line_ends_do_no_harm(tmp_path):
    """What some editors add is passed over, and lines are still counted."""
    path = tmp_path / "cell.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + CELL.replace("\n", "\r\n").encode())
    assert len(load_cell(path).slots) == 2
    assert told_of(tmp_path, CELL.replace("[1, 2]", "[1, z]").replace("\n", "\r\n")).startswith(
        "cell.yaml:4: slots[2]"
    )


# --------------------------------------------------------------------------------------------- YAML


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name: x\nslots:\n\t- [1, 0]\n", "cell.yaml:3: a tab stands here; YAML takes spaces only"),
        ("name: x\nslots:\n  -\t- a\n\t - b", "a tab stands here"),
        (
            "name: x\nslots:\n  - [1, 0\n  - [1, 2]\n",
            "cell.yaml:4: a bracket is not closed or a comma is missing",
        ),
        ("name: 'x\nslots:\n", "a quoted text is at fault (found unexpected end of stream)"),
        (
            'name: "\\q"\n',
            "cell.yaml:1: a quoted text is at fault (found unknown escape character 'q')",
        ),
        (
            "name: a: b\n",
            "cell.yaml:1: a colon stands where none can; check the indentation, or put",
        ),
        ("name: x\nslots\n  - a\n", "a key has no colon; write `key: value`"),
        (
            "name: @x\n",
            "cell.yaml:1: no text can begin like this (found character '@' that cannot start any "
            "token)",
        ),
        (
            CELL + "---\nname: y\n",
            "cell.yaml:5: a second document begins here (---); keep to one in a file",
        ),
        ("name: x\n slots: []\n", "cell.yaml:2: a colon stands where none can"),
        ("name: x\nslots: []\n - 1\n", "cell.yaml:3: cannot be read as YAML (expected <block end>"),
        ('name: "\\UFFFFFFFF"\n', "cell.yaml: cannot be read as YAML ("),
        (
            "name: &a x\n",
            "cell.yaml:1: & and * stand for anchors and aliases, which are not used here",
        ),
        ("name: *a\n", "cell.yaml:1: & and * stand for anchors and aliases"),
        (
            "name: !!python/object/apply:os.getcwd []\n",
            "cell.yaml:1: ! stands for a tag, which is not used here",
        ),
        ("name: !!str x\n", "cell.yaml:1: ! stands for a tag"),
        ("? [a]\n: b\n", "cell.yaml:1: a key is missing or no text; write `key: value`"),
        ("<<: {name: x}\n", "cell.yaml:1: <<: unknown key"),
        ("slots: " + "[" * 50_000, "cell.yaml:1: lists and mappings stand too deep in one another"),
        (
            "slots: [" + "[1, 0], " * 6_000 + "]",
            "cell.yaml:1: more than 10000 values; keep the file smaller",
        ),
    ],
)
def test_faults_of_yaml_are_told_with_their_line(tmp_path, text, said):
    """Syntax that cannot be read, and powers of YAML that a cell has no use for."""
    assert said in told_of(tmp_path, text)


def test_aliases_cannot_blow_up(tmp_path):
    """The well-known bomb of nested aliases is refused at its first anchor."""
    bomb = "a: &a [x, x, x]\nb: &b [*a, *a, *a]\nc: &c [*b, *b, *b]\nslots: [*c, *c, *c]\n"
    assert told_of(tmp_path, bomb).startswith("cell.yaml:1: & and * stand for anchors and aliases")
