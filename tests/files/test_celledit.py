"""A variant put into a cell file: the text stays as it was."""

from __future__ import annotations

from pathlib import Path

import pytest

from livecheck.errors import BadInput
from livecheck.files.celledit import add_variant
from livecheck.files.config import load_cell

CELLS = sorted((Path(__file__).parents[2] / "configs" / "cells").glob("*.yaml"))

FORMS = {
    "no variants": "# mine\nname: x\nslots: [[1, 5], [1, 8]]  # two\n",
    "no line end": "name: x\nslots: [[1, 5], [1, 8]]",
    "comments behind": "name: x\nslots:\n- [1, 5]\n- [1, 8]\n\n# the end\n",
    "a block": "slots: [[1, 5], [1, 8]]\nvariants:\n    a: {1: up}   # up\n\n    # more\nname: x\n",
    "a block of blocks": "slots: [[1, 5], [1, 8]]\nvariants:\n  a:\n    1: up\n    2: down # d\n",
    "braces": "variants: {a: {1: up} } # here\nslots: [[1, 5], [1, 8]]\n",
    "empty braces": "variants: {}\nslots: [[1, 5], [1, 8]]\n",
    "all in braces": "{name: x, slots: [[1, 5], [1, 8]]}\n",
    "over lines": "slots: [[1, 5], [1, 8]]\nvariants: {\n  a: {1: up},\n  b: {2: pull}\n}\n",
    "other line ends": "name: x\r\nslots: [[1, 5], [1, 8]]\r\nvariants:\r\n  a: {1: up}\r\n",
}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("name", ["hand", "up first", "yes", "a: b, {c}", 'q"#', "été"])
def test_a_variant_is_added_and_nothing_else_changes(tmp_path, form, name):
    """Every way to write variants; every old line is still there, in its order."""
    path = tmp_path / "x.yaml"
    path.write_bytes(FORMS[form].encode())
    before = load_cell(path)
    add_variant(path, name, {2: "hammer"}, "up")
    after = load_cell(path)
    assert after.variants == {**before.variants, name: {2: "hammer"}}
    assert after.begins == {name: "up"} and after.slots == before.slots
    assert [slot.stroke for slot in after.with_variant(name).slots] == ["up", "hammer"]
    old, new = FORMS[form].rstrip("\n"), path.read_bytes().decode()
    assert_kept(old, new)
    assert list(tmp_path.iterdir()) == [path]


def assert_kept(old: str, new: str) -> None:
    """The new text is the old one with one piece put in."""
    same = 0
    while same < len(old) and old[same] == new[same]:
        same += 1
    rest = old[same:]
    assert not rest or new.rstrip("\n").endswith(rest)


@pytest.mark.parametrize("path", CELLS, ids=lambda path: path.stem)
def test_every_shipped_cell_takes_a_variant(tmp_path, path):
    """Whatever its file looks like, into a copy; the file itself stays as it is."""
    text = path.read_bytes()
    to = tmp_path / "sub" / "copy.yaml"
    after = add_variant(path, "made up", {1: "up"}, None, to)
    assert load_cell(to) == after and "made up" in after.variants
    assert path.read_bytes() == text
    assert_kept(text.decode().rstrip("\n"), to.read_text("utf-8"))


def test_what_cannot_be_is_told_and_nothing_is_written(tmp_path):
    """A name that is taken or is none; no half file stays behind."""
    path = tmp_path / "x.yaml"
    path.write_text(FORMS["a block"], "utf-8")
    with pytest.raises(BadInput, match=r"there is a variant 'a' already; choose another name"):
        add_variant(path, "a", {1: "up"}, None)
    with pytest.raises(BadInput, match="begins with a dash"):
        add_variant(path, "-a", {1: "up"}, None)
    with pytest.raises(BadInput, match="cannot be written"):
        add_variant(path, "b", {1: "up"}, None, tmp_path / "x.yaml" / "y.yaml")
    assert path.read_text("utf-8") == FORMS["a block"] and list(tmp_path.iterdir()) == [path]
