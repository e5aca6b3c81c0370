"""One line that says what is wrong and how to mend it: options and places of many commands."""

from __future__ import annotations

from pathlib import Path

import pytest

BAD = [
    (["cell", "plan", "odd-five", "--write", ""], "--write: the name is empty; write one"),
    (["cell", "plan", "odd-five", "--write", "as written"], "'as written' names the cell's own"),
    (["cell", "plan", "odd-five", "--most", "0"], "--most: 0 is none; write 1 or more"),
    (["week", "--to", "0001-01-01"], "--to 0001-01-01: no seven days lie before it"),
    (["week", "--to", "0001-01-07"], "--to 0001-01-07: no seven days lie before it"),
    (["week", "--to", "2026-13-01"], "'2026-13-01' is no day; write it as 2026-01-31; see"),
    (["week", "--to", "2026-11"], "'2026-11' is no day; write it as 2026-01-31; see"),
    (
        ["cell", "export", "odd-five", "--to", "midi", "--out", "configs", "--force"],
        "configs: is a folder; name a file, configs/cell.mid for example",
    ),
    (["cell", "export", "odd-five", "--to", "tab", "--out", "configs"], "configs/cell.txt for"),
    (["cell", "learn", "--from", "x.mid", "--out", "configs"], "configs/learned.yaml for example"),
    (["week", "--html", "configs"], "configs: is a folder; name a file for the page, configs/week"),
    (["compare", "a", "b", "--html", "configs"], "configs/compare.html for example"),
    (["ways"], "required: CELL; see"),
    (["review", "last", "--html", ""], "--html: the name is empty; name a file for the page, as"),
]


@pytest.mark.parametrize(("words", "hint"), BAD, ids=[" ".join(words)[:60] for words, _ in BAD])
def test_what_is_wrong_is_said_in_one_line(run, words, hint):
    """Status 2, nothing on the output, one line on the error stream."""
    status, out, err = run(*words)
    assert (status, out) == (2, "")
    assert err.startswith("livecheck: ") and err.count("\n") == 1
    assert hint in err


def test_a_name_that_cannot_be_leaves_the_cell_file_as_it_was(run):
    """Nothing is half-written where a variant is refused."""
    Path("mine.yaml").write_text("slots: [[1, 8], [1, 5], [2, 8]]\n", "utf-8")
    before = Path("mine.yaml").read_bytes()
    for name in ("", "  ", "as written"):
        assert run("cell", "plan", "mine.yaml", "--slurs", "1", "--write", name).status == 2
    assert Path("mine.yaml").read_bytes() == before
