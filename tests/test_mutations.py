"""Whatever is done to a file, every command that reads it gives an answer or tells one line: never
a traceback, never a hang, never much memory. Some eighty damaged files in each run, 10,000 in the
long one.

By itself, for figures: ``python tests/test_mutations.py [FILES OF EACH KIND] [SEED]``.
"""

from __future__ import annotations

import copy
import io
import json
import os
import random
import re
import shutil
import signal
import sys
import tempfile
import time
import zlib
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from takes_on_disk import records_of, take_on_whole_ms, write_session

from livecheck import cli
from livecheck.files.config import dump_cell, dump_rig
from livecheck.files.midifile import write_midi

LONGEST_S = 10
HANGS = 12  # times so long by the clock on the wall: other work may hold it up
MOST_KB = 200 * 1024
# damaged files of each kind
USUAL = {"MIDI file": 6, "journal": 4, "cell": 30, "rig": 30, "settings": 12}
MANY = {"MIDI file": 2500, "journal": 1000, "cell": 3500, "rig": 3500, "settings": 500}
RECORDS = 220  # of the take: some repetitions
NAME = "2026-11-25T18-03-11"
NUMBERS = (
    "-1",
    "0",
    "1e999",
    "9" * 30,
    "1e308",
    "-1e308",
    "null",
    "true",
    '""',
    "[]",
    "{}",
    "NaN",
    "128",
    "0.5",
    "1e9",
)
OTHERS = (
    -1,
    0,
    1e308,
    -1e308,
    10**30,
    2**63,
    None,
    True,
    "",
    "x" * 300,
    [],
    {},
    1e9,
    0.5,
    "\ud800",
    float("nan"),
)
PIECES = (b"MTrk\xff\xff\xff\xff", b"MThd", b"\xff\x51\x03\0\0\0", b"\xff\xff\xff\x7f\x90\x40\x40")
WORDS = (
    *NUMBERS,
    ".nan",
    ".inf",
    "&a [*a]",
    "!!python/object:os.system",
    "\0",
    "\U0001f3b8",
    "- ",
    ": ",
    "{",
    "]",
    "1:30",
)


class Bench:
    """A practice folder with good files, and what is done to copies of them."""

    def __init__(self, home: Path) -> None:
        take = take_on_whole_ms(3, "everything")
        take.records[:] = take.records[:RECORDS]
        for name in ("configs/cells", "configs/rigs", "recordings"):
            (home / name).mkdir(parents=True)
        self.home = home
        self.midi, self.cell, self.rig = (
            home / "good.mid",
            home / "good-cell.yaml",
            home / "good-rig.yaml",
        )
        write_midi(self.midi, take.records)
        self.settings = home / "configs/settings.yaml"
        self.settings.write_text("rest: 25  # minutes\nsilence: never\n", "utf-8")
        self.cell.write_text(dump_cell(take.cell), "utf-8")
        self.rig.write_text(dump_rig(take.rig), "utf-8")
        self.session = home / "recordings" / NAME
        write_session(self.session, records_of(take))
        self.journal = self.session / "journal-001.log"
        self.good = {
            path: path.read_bytes()
            for path in (self.midi, self.cell, self.rig, self.journal, self.settings)
        }
        self.statuses: Counter[tuple[str, int]] = Counter()
        self.slowest: tuple[float, str] = (0.0, "")

    def midi_commands(self) -> list[list[str]]:
        bad = str(self.write("bad.mid"))
        named = ["--cell", str(self.cell), "--rig", str(self.rig)]
        return [
            ["score", bad, *named, "--json"],
            ["score", bad, *named],
            ["review", bad, *named, "--json"],
        ]

    def journal_commands(self) -> list[list[str]]:
        return [
            ["sessions", "--json"],
            ["sessions", "check", "--json"],
            ["sessions", "check", "--salvage"],
            ["score", str(self.session), "--json"],
            ["replay", str(self.session), "--fast", "--plain"],
            ["notes", str(self.session)],
            ["review", str(self.session), "--json"],
        ]

    def cell_commands(self) -> list[list[str]]:
        bad = str(self.write("configs/cells/bad-cell.yaml"))
        return [
            ["cell", "show", bad],
            ["cell", "check", bad],
            ["score", str(self.midi), "--cell", bad, "--json"],
        ]

    def rig_commands(self) -> list[list[str]]:
        bad = str(self.write("bad-rig.yaml"))
        return [
            ["rig", "show", bad],
            ["score", str(self.midi), "--cell", str(self.cell), "--rig", bad, "--json"],
        ]

    def write(self, name: str) -> Path:
        return self.home / name

    def kinds(
        self,
    ) -> dict[str, tuple[Path, Path, Callable[[bytes, random.Random], bytes], list[list[str]]]]:
        """Good file, where the damaged copy goes, how it is damaged, who reads it."""
        return {
            "MIDI file": (self.midi, self.write("bad.mid"), damaged, self.midi_commands()),
            "journal": (self.journal, self.journal, damaged_journal, self.journal_commands()),
            "cell": (
                self.cell,
                self.write("configs/cells/bad-cell.yaml"),
                damaged_text,
                self.cell_commands(),
            ),
            "rig": (self.rig, self.write("bad-rig.yaml"), damaged_text, self.rig_commands()),
            "settings": (
                self.settings,
                self.settings,
                damaged_text,
                [["daemon", "--print-unit", "systemd"]],
            ),
        }

    def in_turn(self, kind: str) -> list[list[str]]:
        """Who reads such a file, too, one of them for each damaged file."""
        named = ["--cell", str(self.cell), "--rig", str(self.rig)]
        session, midi, out = str(self.session), str(self.write("bad.mid")), str(self.write("out"))
        cell, rig = str(self.write("configs/cells/bad-cell.yaml")), str(self.write("bad-rig.yaml"))
        return {
            "MIDI file": [
                ["compare", midi, str(self.midi), *named],
                ["export", midi, "--csv", out, "--midi", out, "--force", *named],
                ["notes", midi, *named],
                ["rig", "latency", midi, *named],
                ["rig", "threshold", midi, *named],
            ],
            "journal": [
                ["score", session],
                ["review", "--html", str(self.write("out.html"))],
                ["compare", session, session, "--json"],
                ["export", session, "--csv", out, "--midi", out, "--force"],
                ["rig", "latency", session],
                ["rig", "threshold", session],
            ],
            "cell": [
                ["cell", "list"],
                ["daemon", cell, "--print-unit", "systemd"],
                ["notes", str(self.midi), "--cell", cell],
                ["review", "--cell", cell],
            ],
            "rig": [
                ["daemon", "--rig", rig, "--print-unit", "launchd"],
                ["review", str(self.midi), "--cell", str(self.cell), "--rig", rig],
            ],
            "settings": [["check"]],
        }[kind]

    def clear(self) -> None:
        """Nothing of the last damaged session is left."""
        for path in (self.home / "recordings").iterdir():
            if path != self.session:
                shutil.rmtree(path)
        for path in self.session.iterdir():
            if path != self.journal:
                path.unlink()


def damaged(data: bytes, chance: random.Random) -> bytes:
    """One to four accidents: bits turned, bytes lost, doubled, put in, set to an extreme, or the
    rest cut off."""
    out = bytearray(data)
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        at = chance.randrange(len(out) + 1)
        to = min(len(out), at + chance.randint(1, chance.choice((2, 8, 64))))
        way = chance.choice((0, 0, 0, 0, 1, 2, 3, 4, 5, 6))
        if way == 0:
            for near in range(at, min(at + chance.choice((1, 1, 1, 9)), len(out))):
                out[near] ^= 1 << chance.randrange(8)
        elif way == 1:
            del out[at:to]
        elif way == 2:
            out[at:at] = out[at:to] * chance.choice((1, 2, 200))
        elif way == 3:
            out[at:at] = chance.randbytes(chance.randint(1, 12))
        elif way == 4:
            out[at:to] = bytes([chance.choice((0, 0x7F, 0x80, 0xF0, 0xFF))]) * (to - at)
        elif way == 5 and chance.random() < 0.3:
            del out[at:]
        else:
            out[at:at] = chance.choice(PIECES)
    return bytes(out)


def damaged_text(data: bytes, chance: random.Random) -> bytes:
    """As an editor, or a bad disk, leaves it: sometimes bytes, mostly words and lines."""
    if chance.random() < 0.25:
        return damaged(data, chance)
    text = data.decode()
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        lines = text.splitlines(keepends=True) or [""]
        at = chance.randrange(len(lines))
        way = chance.randrange(4)
        if way == 0:
            lines[at] = lines[at] * chance.choice((0, 2, 300))
        elif way == 2:  # another number, which is often as good
            lines[at] = re.sub(r"\d+", lambda _: str(chance.randint(0, 12)), lines[at], count=1)
        elif way == 1:
            lines[at] = "  " * chance.randint(1, 3) + lines[at]
        else:
            words = lines[at].split(" ")
            words[chance.randrange(len(words))] = chance.choice(WORDS) + chance.choice(
                ("", "\n", ",", "]")
            )
            lines[at] = " ".join(words)
        text = "".join(lines)
    return text.encode("utf-8", "surrogatepass")


def damaged_journal(data: bytes, chance: random.Random) -> bytes:
    """Damaged bytes, or lines whose sum is right and whose contents are nonsense."""
    if chance.random() < 0.4:
        return damaged(data, chance)
    lines = data.splitlines()
    for _ in range(chance.randint(1, 5)):
        at = chance.randrange(min(len(lines), chance.choice((4, len(lines)))))
        fields = json.loads(lines[at].split(b" ", 1)[1])
        spoil(fields, chance)
        body = json.dumps(fields).encode()
        lines[at] = b"%08x %s" % (zlib.crc32(body), body)
    return b"\n".join(lines) + b"\n"


def spoil(value: Any, chance: random.Random) -> None:
    """Put something else somewhere into JSON."""
    while True:
        keys: Sequence[Any] = list(value) if isinstance(value, dict) else range(len(value))
        if not keys:
            return
        key = chance.choice(keys)
        if isinstance(value[key], (dict, list)) and value[key] and chance.random() < 0.8:
            value = value[key]
            continue
        if chance.random() < 0.2:
            del value[key]
        else:
            value[key] = copy.deepcopy(chance.choice(OTHERS))
        return


@contextmanager
def at_most(seconds: int) -> Iterator[None]:
    """What takes more processor time, or hangs, is interrupted; the program then reports a fault of
    its own."""

    def over(_number: int, _frame: object) -> None:
        raise TimeoutError(f"more than {seconds} s")

    kinds = {signal.SIGPROF: signal.ITIMER_PROF, signal.SIGALRM: signal.ITIMER_REAL}
    before = {number: signal.signal(number, over) for number in kinds}
    signal.setitimer(signal.ITIMER_PROF, seconds)
    signal.setitimer(signal.ITIMER_REAL, HANGS * seconds)
    try:
        yield
    finally:
        for number, timer in kinds.items():
            signal.setitimer(timer, 0)
            signal.signal(number, before[number])


def peak_kb() -> int:
    """The most memory that this process has had."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmHWM"):
            return int(line.split()[1])
    return 0


def check(bench: Bench, words: list[str], what: str, most_kb: int) -> int:
    """The command gives an answer, or one line and status 2; `check` tells what it found in its
    answer."""
    out, err = io.StringIO(), io.StringIO()
    begun = time.perf_counter()
    with at_most(LONGEST_S):
        status = cli.main([*words, "--home", str(bench.home)], out, err)
    took = time.perf_counter() - begun
    bench.slowest = max(bench.slowest, (took, what))
    bench.statuses[words[0], status] += 1
    told = err.getvalue()
    fault = (
        next((path.read_text("utf-8") for path in bench.home.rglob("fault.log")), "")
        if status == 1
        else ""
    )
    assert status in (0, 2), f"{what}: {words}: status {status}: {told}{fault[-2000:]}"
    assert "Traceback" not in told + out.getvalue(), f"{what}: {words}: {told}"
    if status == 2 and words[:2] not in (["sessions", "check"], ["cell", "check"], ["check"]):
        lines = told.splitlines()
        # the next line says why nothing can be told
        if "is not whole" in lines[0] or "left out" in lines[0]:
            del lines[0]
        assert len(lines) == 1 and lines[0].startswith("livecheck: ") and len(told) < 2000, (
            f"{what}: {words}: {told}"
        )
    if status == 0 and "--json" in words:
        json.loads(out.getvalue())
    if sys.platform == "linux":
        assert peak_kb() < most_kb, f"{what}: {words}: {peak_kb()} kB"
    return status


def damage_and_read(bench: Bench, kind: str, many: int, seed: int) -> None:
    """Damage so many copies of a file, and read each of them with every command."""
    good, bad, damage, commands = bench.kinds()[kind]
    for words in commands:  # what is loaded once is no memory of theirs
        bad.write_bytes(bench.good[good])
        assert check(bench, words, f"the good {kind}", sys.maxsize) == 0
    others = bench.in_turn(kind)
    for words in others:
        check(bench, words, f"the good {kind}", sys.maxsize)
    most_kb = peak_kb() + MOST_KB
    for number in range(many):
        chance = random.Random(f"{kind} {seed} {number}")
        bad.write_bytes(damage(bench.good[good], chance))
        for words in (*commands, others[number % len(others)]):
            check(bench, words, f"{kind}, seed {seed}, number {number}", most_kb)
        bench.clear()


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    made = Bench(tmp_path / "practice")
    monkeypatch.chdir(made.home)
    # to make it takes longer than most commands
    monkeypatch.setattr(cli, "parser", cache(cli.parser))
    return made


@pytest.mark.parametrize("kind", USUAL)
def test_a_damaged_file_gives_an_answer_or_a_line(bench: Bench, kind: str) -> None:
    """Some of each kind in each run."""
    damage_and_read(bench, kind, USUAL[kind], seed=1)


@pytest.mark.long
@pytest.mark.parametrize("kind", USUAL)
def test_thousands_of_damaged_files_give_an_answer_or_a_line(bench: Bench, kind: str) -> None:
    """More than 10,000 in all."""
    damage_and_read(bench, kind, MANY[kind], seed=2)
    print(kind, dict(bench.statuses), "slowest", bench.slowest)


if __name__ == "__main__":
    asked = [int(word) for word in sys.argv[1:3]]
    for one in sys.argv[3:] or USUAL:
        with tempfile.TemporaryDirectory() as folder:
            at = Bench(Path(folder) / "practice")
            os.chdir(at.home)
            cli.parser = cache(cli.parser)
            damage_and_read(
                at, one, asked[0] if asked else USUAL[one], asked[1] if len(asked) > 1 else 1
            )
            print(
                one,
                dict(at.statuses),
                "slowest",
                at.slowest,
                "peak",
                peak_kb() // 1024,
                "MB",
                flush=True,
            )
            os.chdir("/")
