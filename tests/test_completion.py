"""What the Tab key offers in a shell, asked as the shell asks it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import ROOT
from takes_on_disk import records_of, take_on_whole_ms, write_session

pytest.importorskip("argcomplete")


@pytest.fixture(scope="module")
def home(tmp_path_factory) -> Path:
    """A practice folder with a session and a rig."""
    folder = tmp_path_factory.mktemp("completion") / "practice"
    (folder / "configs/rigs").mkdir(parents=True)
    (folder / "configs/rigs/hex-one.yaml").write_text("name: hex\n", "utf-8")
    write_session(folder / "recordings/2026-11-25T18-03-11", records_of(take_on_whole_ms(3)))
    return folder


def offered(line: str, home: Path) -> list[str]:
    """What may follow a line that is being typed."""
    answer = home / "answer"
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "LIVECHECK_HOME": str(home),
        "_ARGCOMPLETE": "1",
        "_ARGCOMPLETE_IFS": "\n",
        "_ARGCOMPLETE_STDOUT_FILENAME": str(answer),
        "COMP_LINE": line,
        "COMP_POINT": str(len(line)),
        "COMP_TYPE": "9",
    }
    code = "import sys; from livecheck.cli import main; sys.exit(main())"
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=environment,
        cwd=home.parent,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    return [word.strip() for word in answer.read_text("utf-8").split("\n") if word.strip()]


@pytest.mark.parametrize(
    ("line", "first"),
    [
        ("livecheck rev", ["review"]),
        ("livecheck rig lat", ["latency"]),
        ("livecheck listen six-ov", ["six-over-four"]),
        ("livecheck review --cell odd-f", ["odd-five"]),
        ("livecheck score 2026", ["2026-11-25T18-03-11"]),
        ("livecheck notes la", ["last"]),
        ("livecheck score last --rig hex", ["hex-one"]),
        ("livecheck demo --pl", ["--plain"]),
        ("livecheck --vers", ["--version"]),
    ],
)
def test_commands_options_and_names_are_completed(home, line, first):
    """Of cells, rigs and sessions the names that other commands take."""
    assert offered(line, home) == first


def test_asking_makes_no_practice_folder(tmp_path):
    """A Tab changes nothing."""
    (tmp_path / "work").mkdir()
    assert "six-over-four" in offered(
        f"livecheck listen --home {tmp_path}/none six", tmp_path / "work"
    )
    assert not (tmp_path / "none").exists()
