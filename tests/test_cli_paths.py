"""Paths as players write them, and homes that are not there: an answer or one line."""

from __future__ import annotations

from pathlib import Path

import pytest

NOBODY = "~nobody-of-that-name"
FORMS = [
    ["sessions", "--home", NOBODY],
    ["sessions", "check", NOBODY],
    ["score", NOBODY],
    ["score", f"{NOBODY}/x.mid", "--cell", "six-over-four"],
    ["score", "x.mid", "--cell", NOBODY],
    ["replay", NOBODY],
    ["review", NOBODY],
    ["review", "--html", f"{NOBODY}/x.html"],
    ["compare", NOBODY, NOBODY],
    ["notes", NOBODY],
    ["export", NOBODY, "--csv", "out"],
    ["cell", "show", NOBODY],
    ["cell", "check", NOBODY],
    ["rig", "show", f"{NOBODY}/rig.yaml"],
    ["rig", "latency", NOBODY],
    ["rig", "threshold", NOBODY],
    ["listen", NOBODY],
    ["daemon", NOBODY, "--print-unit"],
    ["demo", NOBODY],
]


@pytest.mark.parametrize("words", FORMS, ids=" ".join)
def test_a_home_of_an_unknown_account_is_told_in_one_line(run, words):
    """Status 2, and what to write instead; where it may also be a name, that there is none."""
    status, _, err = run(*words)
    assert status == 2 and err.count("\n") == 1, err
    assert "fault of its own" not in err and NOBODY in err


def test_a_home_variable_of_an_unknown_account_is_told_in_one_line(run, monkeypatch, tmp_path):
    """The variable is as good as the option."""
    monkeypatch.setenv("LIVECHECK_HOME", f"{NOBODY}/practice")
    monkeypatch.chdir(tmp_path)
    status, _, err = run("sessions")
    assert status == 2 and "is not known here" in err and err.count("\n") == 1


def test_an_account_without_a_home_is_told_what_to_name(run, monkeypatch, tmp_path):
    """No HOME, and no entry for the account: one line, no traceback, also out of the handler of
    faults."""

    def unknown(cls):
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(Path, "home", classmethod(unknown))
    monkeypatch.chdir(tmp_path)
    status, _, err = run("sessions")
    assert status == 2 and err.count("\n") == 1 and "name the practice folder by --home" in err
    monkeypatch.setattr("livecheck.cli.resolve", unknown)
    status, _, err = run("sessions")
    assert status == 1 and err.count("\n") == 1 and "Could not determine" in err
