"""A robot at real ports that hears the click and nothing else, and a climb or listen beside it."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from conftest import ROOT
from jack import Server, eventually, leave

from livecheck.core.cues import USUAL
from livecheck.core.events import Block, Midi
from livecheck.errors import BadInput
from livecheck.files.config import load_cell
from livecheck.files.journal_reader import read

PATIENCE_S = 90
CUES = {tone.note for tones in USUAL.values() for tone in tones}


class Sitting:
    """A robot and a climb at the same ports."""

    def __init__(
        self, server: Server, home: Path, cell_name: str, words: list[str], **robot: Any
    ) -> None:
        for name in ("recordings", "configs/cells", "run"):
            (home / name).mkdir(parents=True, exist_ok=True)
        self.home = home
        path = ROOT / "configs" / "cells" / f"{cell_name}.yaml"
        cell = load_cell(path)
        slots = [[slot.string, slot.pitch, slot.start, slot.length] for slot in cell.slots]
        told = {
            "cell": {"slots": slots, "steps": cell.steps, "grid": cell.grid},
            "break_bpm": 400.0, "width": 0.03, "lapse": 0.0, "quiet": None, "reps": 4,
            "offset_ms": 8.0, "jitter_ms": 4.0, "seed": 1, **robot,
        }  # fmt: skip
        (home / "robot.json").write_text(json.dumps(told), "utf-8")
        self.environment = {
            **server.environment, "PYTHONPATH": str(ROOT), "XDG_RUNTIME_DIR": str(home / "run")
        }  # fmt: skip
        self.robot = subprocess.Popen(
            [sys.executable, str(ROOT / "tests/robot.py"), "robot", str(home / "robot.json")],
            env=self.environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert self.robot.stdout is not None and self.robot.stdout.readline() == "ready\n"
        ports = ["--driver", "jack", "--port", "robot:"]
        click = [] if "--follow-clock" in words else ["--click-port", "robot synth:"]
        self.climb = self.started(words[0], path, *ports, *click, *words[1:])

    def started(self, *words: object) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, "-m", "livecheck", *map(str, words), "--home", str(self.home)],
            env=self.environment, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True,
        )  # fmt: skip

    def say(self, word: str) -> None:
        assert self.robot.stdin is not None
        print(word, file=self.robot.stdin, flush=True)

    def report(self) -> dict[str, Any]:
        self.say("report")
        assert self.robot.stdout is not None
        told: dict[str, Any] = json.loads(self.robot.stdout.readline())
        return told

    def process(self, module: str) -> int:
        """The process of the recorder, the reader or the click, once it runs."""

        def found() -> int | None:
            for path in Path("/proc").glob("[0-9]*/cmdline"):
                try:
                    words = path.read_bytes().decode("utf-8", "replace").split("\0")
                    environment = (path.parent / "environ").read_bytes().decode("utf-8", "replace")
                except OSError:
                    continue
                if module in words and f"XDG_RUNTIME_DIR={self.home}/run\0" in environment:
                    return int(path.parent.name)
            return None

        return int(eventually(found, 30.0))

    def records(self) -> list[Any]:
        (session,) = (self.home / "recordings").iterdir()
        return list(read(session))

    def blocks(self) -> list[Block]:
        try:
            return [record for record in self.records() if isinstance(record, Block)]
        except (ValueError, BadInput):  # no session yet
            return []

    def in_block(self, number: int) -> None:
        """Wait until so many blocks have begun, and two notes of the last have come."""

        def playing() -> bool:
            blocks = self.blocks()
            if len(blocks) < number:
                return False
            from_s = blocks[number - 1].from_s
            notes = [one for one in self.records() if isinstance(one, Midi) and one.t_s > from_s]
            return len(notes) > 4

        eventually(playing, PATIENCE_S)

    def told(self, status: int = 0) -> tuple[dict[str, Any], str]:
        out, err = self.climb.communicate(timeout=PATIENCE_S)
        assert self.climb.returncode == status, err
        told: dict[str, Any] = json.loads(out)
        return told, err

    def kill(self) -> str:
        """Leave nothing running; returns what there is to be said of it."""
        ended = self.climb.poll()
        self.climb.kill()
        out, err = self.climb.communicate()
        leave(self.robot)
        log = self.home / ".livecheck" / "recorder.log"
        kept = log.read_text("utf-8") if log.exists() else "no log of a recorder"
        return f"status before it was killed: {ended}\n{out}\n{err}\n{kept}"


@contextmanager
def sitting(
    server: Server, home: Path, cell: str, words: str | list[str], **robot: Any
) -> Iterator[Sitting]:
    if isinstance(words, str):
        words = ["climb", "--json", *words.split()]
    one = Sitting(server, home, cell, words, **robot)
    try:
        yield one
    except BaseException:
        print(one.kill())
        raise
    one.kill()


BPM = 210.0
QUICK = f"--start {BPM:.0f} --reps 4 --rule free --blocks"
