"""Minutes of play to a rest and of silence to a session's end: from the file, the command line, and
while it runs."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from jack import eventually

from livecheck.commands.record import Input, recording, settings_of
from livecheck.control import Client, state_folder
from livecheck.errors import BadInput, NoDevice
from livecheck.files.library import PracticeFolder
from livecheck.files.settingsfile import Settings


def write(home: Path, text: str) -> None:
    (home / "configs").mkdir(exist_ok=True)
    (home / "configs" / "settings.yaml").write_text(text, "utf-8")


def test_the_command_line_goes_before_the_file_and_the_file_before_what_is_usual(tmp_path):
    """Each setting by itself; 0 stands for never."""
    home = tmp_path / "home"
    home.mkdir()
    folder = PracticeFolder(home)
    assert settings_of(folder) == Settings()
    write(home, "rest: 40\nsilence: never\n")
    assert settings_of(folder) == Settings(2400.0, None)
    assert settings_of(folder, rest=0.0, silence=None) == Settings(None, None)
    assert settings_of(folder, rest=None, silence=2.0) == Settings(2400.0, 120.0)
    assert recording(home, (), None, Input(silence=2.0)).silence_s == 120.0
    # its end is its own
    assert recording(home, (), None, source=["player"]).silence_s is None


def test_a_mistake_in_the_file_is_told_before_anything_is_recorded(tmp_path):
    """With its line."""
    write(tmp_path, "rest: 40\nsilence: soon\n")
    with pytest.raises(
        BadInput, match=r"settings\.yaml:2: silence: 'soon' is no number of minutes"
    ):
        recording(tmp_path, (), None)


def test_a_running_daemon_takes_changed_settings_and_refuses_broken_ones(tmp_path, monkeypatch):
    """On SIGHUP; what is refused is one line in its log."""
    home = tmp_path / "home"
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    process = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "livecheck",
            "daemon",
            "--home",
            str(home),
            "--driver",
            "jack",
            "--port",
            "no such",
        ],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    client, log = Client(home), state_folder(home) / "recorder.log"

    def silence() -> float | None:
        try:
            told: float | None = client.ask({"command": "status"})["silence_s"]
        except NoDevice:
            return None
        return told

    try:
        eventually(lambda: silence() == 900.0, within_s=20)
        write(home, "silence: 5\n")
        os.kill(process.pid, signal.SIGHUP)
        eventually(lambda: silence() == 300.0)
        write(home, "silence: [\n")
        os.kill(process.pid, signal.SIGHUP)
        eventually(lambda: "is not used" in log.read_text())
        (line,) = (line for line in log.read_text().splitlines() if "is not used" in line)
        assert "settings.yaml:2" in line and silence() == 300.0
    finally:
        process.terminate()
        assert process.wait(20) == 0
