"""What many tests need: the program run in process, and a JACK server where one can be had."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import HealthCheck, settings
from remembered import remembering

ROOT = Path(__file__).resolve().parents[1]

settings.register_profile(
    "busy machine", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("busy machine")


class Ran(NamedTuple):
    """How a command ended."""

    status: int
    out: str
    err: str


Run = Callable[..., Ran]


@pytest.fixture(scope="session", autouse=True)
def _the_same_sitting_is_read_once() -> Iterator[None]:
    """Strokes and levels of the same notes are worked out once in a run."""
    from livecheck.measures.strokes import attack, direction

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(direction, "learn", remembering(direction.learn))
        patch.setattr(attack, "two_levels", remembering(attack.two_levels))
        yield


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run the program in process, in a practice folder of its own that is the current folder."""
    from livecheck.cli import main

    home = tmp_path / "practice"
    for name in ("cells", "rigs"):
        shutil.copytree(ROOT / "configs" / name, home / "configs" / name)
    (home / "recordings").mkdir()
    monkeypatch.chdir(home)
    monkeypatch.delenv("LIVECHECK_HOME", raising=False)
    monkeypatch.delenv("XDG_RUNTIME_DIR", raising=False)

    def runs(*words: object) -> Ran:
        out, err = io.StringIO(), io.StringIO()
        status = main([str(word) for word in words], out, err)
        return Ran(status, out.getvalue(), err.getvalue())

    return runs


@pytest.fixture
def short_path() -> Iterator[Path]:
    """A folder with a short name, however long those of ``tmp_path`` are: a Unix socket's may have
    some hundred bytes."""
    with tempfile.TemporaryDirectory(prefix="lc-") as folder:
        yield Path(folder)


@pytest.fixture(scope="session")
def jack_server() -> None:
    """A JACK server that answers; skips where there is none (run under
    ``../shared/tools/jack-midi.sh``)."""
    if shutil.which("jack_lsp") is None:
        pytest.skip("no JACK here: the program jack_lsp is missing")
    environment = {**os.environ, "JACK_NO_START_SERVER": "1"}
    if subprocess.run(["jack_lsp"], capture_output=True, timeout=30, env=environment).returncode:
        pytest.skip("no JACK server answers; run the tests under one to include these")


@pytest.fixture(scope="session")
def shared() -> Path:
    """Open data and checks that lie beside the repository; skips where they are absent."""
    folder = ROOT.parent / "shared"
    if not folder.is_dir():
        pytest.skip("the folder ../shared is not here")
    return folder


def python(code: str, *words: object, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run code in a fresh interpreter that finds the package."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", code, *map(str, words)]
    return subprocess.run(
        command, capture_output=True, text=True, timeout=60, env=environment, cwd=cwd
    )
