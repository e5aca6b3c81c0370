"""`livecheck cell plan` from the outside."""

from __future__ import annotations

import json
from pathlib import Path

from conftest import ROOT


def test_the_plan_is_a_drawing_changes_in_words_and_the_other_plans(run):
    """An odd cell: both repetitions, each with its ways of the pick under its strokes."""
    status, out, err = run("cell", "plan", "odd-five")
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert "stroke    ⊓   ∨   ⊓   ∨   ⊓" in lines and "2nd time  ∨   ⊓   ∨   ⊓   ∨" in lines
    assert "change         out        out" in lines and "change         in          in" in lines
    assert "2. note 5 to 1 (string 2 to 1, the higher): ∨ then ⊓, inside; leaves after ∨" in lines
    assert "16 plans can be played:" in lines
    assert any(line.split()[-2:] == ["today's", "plan"] for line in lines)
    assert all(len(line) <= 80 for line in lines)


def test_the_plan_as_json(run):
    """The keys that other programs rely on."""
    told = json.loads(run("cell", "plan", "six-over-four", "--json").out)
    assert (told["format"], told["repetitions"]) == ("livecheck-plan/1", 1)
    assert [
        (one["from_slot"], one["to_slot"], one["toward"], one["side"], one["skipped"])
        for one in told["changes"]
    ] == [
        (2, 3, "lower", "outside", []),
        (4, 5, "lower", "outside", [4]),
        (6, 1, "higher", "inside", [3, 4]),
    ]
    assert told["plans"][0] == {
        "strokes": ["down", "up"] * 3,
        "slurs": 0,
        "same_start": True,
        "leaves": ["up"] * 3,
        "differs": [],
    }
    assert told["count"] == len(told["plans"]) == 16
    slurred = json.loads(run("cell", "plan", "six-over-four", "--variant", "slurred", "--json").out)
    assert slurred["plans"][0]["strokes"] == ["down", "pull"] * 3


def test_filters_add_up(run):
    """Each alone lets more through than both."""

    def told(*filters: str) -> list[tuple[str, ...]]:
        plans = json.loads(run("cell", "plan", "odd-five", "--json", *filters).out)["plans"]
        return [tuple(plan["strokes"]) for plan in plans]

    up, one = told("--leave", "up"), told("--slurs", "1")
    assert told("--leave", "up", "--slurs", "1") == [plan for plan in up if plan in one]
    assert told("--same-start", "--no-inside", "--no-skip-under", "down")
    none = run("cell", "plan", "odd-five", "--slurs", "5")
    assert none.status == 0 and "no plan is like that" in none.out


def test_a_long_cell_is_told_in_part_and_counted(run):
    """Sixteen notes on one string: 131,070 plans."""
    Path("run.yaml").write_text(f"slots: {[[1, 5 + at % 4] for at in range(16)]}\n", "utf-8")
    out = run("cell", "plan", "run.yaml").out
    assert "131,070 plans can be played:" in out and "and 131,030 more" in out
    told = json.loads(run("cell", "plan", "run.yaml", "--json").out)
    assert told["count"] == 131_070 and 1000 < len(told["plans"]) < 10_000
    assert (
        len(json.loads(run("cell", "plan", "run.yaml", "--json", "--most", "3").out)["plans"]) == 3
    )


def test_a_plan_becomes_a_variant_of_the_cell(run):
    """In the file of a cell of one's own; a shipped cell is copied into the practice folder
    first."""
    Path("mine.yaml").write_text("# mine\nslots: [[1, 8], [1, 5], [2, 8]]  # three\n", "utf-8")
    status, out, err = run(
        "cell", "plan", "mine.yaml", "--slurs", "1", "--same-start", "--write", "even"
    )
    assert (status, err) == (0, "") and "variant 'even' is now in mine.yaml:" in out
    text = Path("mine.yaml").read_text("utf-8")
    assert text.startswith("# mine\nslots: [[1, 8], [1, 5], [2, 8]]  # three\n")
    shown = run("cell", "show", "mine.yaml", "--variant", "even").out
    assert "stroke    ⊓   p   ∨" in shown.splitlines()
    second = run("cell", "plan", "mine.yaml", "--write", "even")
    assert second.status == 2 and "there is a variant 'even' already" in second.err
    assert run("cell", "plan", "mine.yaml", "--write", "up", "--plan", "2").status == 0
    up = json.loads(run("cell", "show", "mine.yaml", "--variant", "up", "--json").out)
    assert up["variants"]["up"] == {"begin": "up"}
    for words, said in [
        (["--plan", "2"], "--plan N goes with --write NAME"),
        (["--write", "x", "--plan", "99"], "there is no plan 99"),
        (["--write", "x", "--slurs", "3"], "no other plan is like that"),
        (["--slurs", "x"], "'x' is no whole number"),
    ]:
        failed = run("cell", "plan", "mine.yaml", *words)
        assert failed.status == 2 and said in failed.err and failed.out == ""


def test_shipped_cells_are_not_written_into(run):
    """The practice folder gets its own copy, which goes before the shipped one."""
    shipped = (ROOT / "configs/cells/odd-five.yaml").read_bytes()
    own = Path("configs/cells/odd-five.yaml")
    if own.exists():
        own.unlink()
    assert run("cell", "plan", "odd-five", "--slurs", "1", "--write", "one slur").status == 0
    assert "one slur" in own.read_text("utf-8")
    assert (ROOT / "configs/cells/odd-five.yaml").read_bytes() == shipped
    assert run("cell", "show", "odd-five", "--variant", "one slur").status == 0
