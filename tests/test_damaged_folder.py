"""One bad session stops nothing: every command that reads sessions × every kind of damage × every
place in a folder of ten. Some of it in each run, all of it in the long one.

LIVECHECK_ATTACKS (in the environment) says how much is tried in the long runs: in how many places
of the folder a kind of damage is planted (at most ten), how many of the n-th calls fail.
"""

from __future__ import annotations

import errno
import io
import json
import os
import random
import shutil
import time
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from damage import DAMAGES, STAND_INS, FaultyReads, stand_in
from takes_on_disk import records_of, take_on_whole_ms
from test_mutations import at_most

from livecheck import cli
from livecheck.core.events import Link
from livecheck.files import kept, ordinary, workers
from livecheck.files.journal import Head, Journal
from livecheck.files.records import to_dict

SIZE = int(os.environ.get("LIVECHECK_ATTACKS", "1"))
MANY = 10
LONGEST_S = 10  # of a processor
HANGS_S = 180
PERF_NS = 5_000_000_000_000
NAMES = [f"2026-11-{10 + number}T18-03-11" for number in range(MANY)]

FAULTS: dict[str, tuple[tuple[str, ...], int]] = {
    "an input/output error": (("read",), errno.EIO),
    "no permission": (("open",), errno.EACCES),
    "a folder that cannot be listed": (("names",), errno.EACCES),
    "nothing can be looked at": (("look",), errno.EIO),
    "a stale handle": (("status", "read", "look"), errno.ESTALE),
    "too many open files": (("open",), errno.EMFILE),
}
"""What a failing disk does with one session: the calls that fail, and how."""

HOWS = [*DAMAGES, *(f"journal a {what}" for what in STAND_INS), *FAULTS]
HOWS += [f"session a {what}" for what in ("pipe", "dangling", "link")]
HOWS += [f"{name} a {what}" for name in (kept.NAME, "session.mid") for what in STAND_INS]
SOUND = {*(f"{name} a {what}" for name in (kept.NAME, "session.mid") for what in STAND_INS)}
"""Damage that leaves the session as it was."""


class Ran(NamedTuple):
    status: int
    out: str
    err: str


class Folder:
    """A practice folder of ten sessions."""

    def __init__(self, home: Path, messages: int = 220) -> None:
        self.home = home
        for name in ("configs/cells", "configs/rigs", "recordings"):
            (home / name).mkdir(parents=True)
        take = take_on_whole_ms(3, "everything")
        take.records[:] = take.records[:messages]
        for number, name in enumerate(NAMES):
            day, _, clock = name.partition("T")
            head = Head(f"{day}T{clock.replace('-', ':')}+00:00", PERF_NS, "boot", "test")
            journal = Journal.create(home / "recordings" / name, head)
            records = records_of(take)
            records[2:2] = [Link(0.0, True, "Hex 20:0")]
            for record in records[: len(records) - number]:
                fields = to_dict(record)
                journal.append(fields.pop("type"), PERF_NS + round(record.t_s * 1e9), fields)
            journal.append("stop", PERF_NS + round(take.records[-1].t_s * 1e9), {"why": ""})
            journal.close()
        self.good = home.with_name("good")
        shutil.copytree(home, self.good)
        self.tried, self.slowest = 0, (0.0, "")
        self.statuses: Counter[int] = Counter()

    def again(self) -> None:
        """As it was."""
        shutil.rmtree(self.home / "recordings")
        shutil.copytree(self.good / "recordings", self.home / "recordings")

    def hurt(self, how: str, number: int) -> None:
        """Let something befall one of the sessions."""
        session = self.home / "recordings" / NAMES[number]
        journal = session / "journal-001.log"
        elsewhere = self.home.with_name("elsewhere")
        if how in DAMAGES:
            journal.write_bytes(DAMAGES[how](journal.read_bytes()))
        elif how in FAULTS:
            calls, code = FAULTS[how]
            ordinary.disk = FaultyReads(calls, code, where=NAMES[number])
        else:
            name, _, what = how.partition(" a ")
            path = {"session": session, "journal": journal}.get(name, session / name)
            if path.is_dir():
                shutil.rmtree(path)
            path.unlink(missing_ok=True)
            stand_in(path, what, elsewhere)

    def run(self, words: list[str], most_s: int = LONGEST_S) -> Ran:
        """One command; nothing of it may be a fault, a hang or more than it may say."""
        out, err = io.StringIO(), io.StringIO()
        begun = time.process_time()  # the machine may be busy with other things
        with at_most(HANGS_S):
            status = cli.main([*words, "--home", str(self.home)], out, err)
        took_s = time.process_time() - begun
        self.slowest = max(self.slowest, (took_s, " ".join(words)))
        assert took_s < most_s, (words, took_s)
        self.tried += 1
        self.statuses[status] += 1
        told = out.getvalue() + err.getvalue()
        fault = self.home / ".livecheck/fault.log"
        log = fault.read_text()[-3000:] if status == 1 and fault.exists() else ""
        assert status in (0, 2) or (status == 3 and words[0] in ("status", "watch")), (
            words, told[-2000:], log,
        )  # fmt: skip
        assert "Traceback" not in told and "fault of its own" not in told, (words, told[-2000:])
        assert all(line.startswith("livecheck: ") for line in err.getvalue().splitlines()), (
            words, err.getvalue()[-2000:],
        )  # fmt: skip
        assert not any(ord(sign) < 32 and sign != "\n" for sign in told), (words, told[-2000:])
        return Ran(status, out.getvalue(), err.getvalue())


def commands(number: int) -> list[list[str]]:
    """Every command that reads sessions. number: which one it is about, where it is about one."""
    name, other = NAMES[number], NAMES[(number + 1) % MANY]
    return [
        ["sessions"],
        ["sessions", "check"],
        ["sessions", "check", "--json", "--salvage"],
        ["sessions", "check", "--salvage"],
        ["score", "last"],
        ["score", name, "--json"],
        ["review"],
        ["review", name, "--json"],
        ["review", "--last", "3"],
        ["replay", "last", "--fast", "--plain"],
        ["replay", name, "--fast", "--plain"],
        ["notes", "last"],
        ["notes", name],
        ["compare", name, other, "--json"],
        ["export", name, "--csv", "out", "--midi", "out", "--force"],
        ["export", "last", "--csv", "out", "--force"],
        ["rig", "latency", "--last", "4"],
        ["rig", "latency", name],
        ["rig", "threshold", name],
        ["check"],
        ["status"],
        ["watch"],
    ]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Folder]:
    made = Folder(tmp_path / "practice", messages=120)
    monkeypatch.chdir(made.home)
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    monkeypatch.setattr(workers, "processors", lambda: 1)  # the failing disk is in this process
    monkeypatch.setattr(ordinary, "disk", ordinary.disk)
    monkeypatch.setattr(cli, "parser", cache(cli.parser))
    yield made


def told_by_list(ran: Ran) -> dict[str, Any]:
    return {one["name"]: one for one in json.loads(ran.out)}


def without_one(folder: Folder, how: str, number: int, whole: bool) -> None:
    """The others are told as if nothing were wrong, in the list, the check and the review."""
    name = NAMES[number]
    listed = told_by_list(folder.run(["sessions", "--json"]))
    before = told_by_list(without_one.good[0])
    assert set(listed) == set(NAMES)
    changed = {one for one in NAMES if listed[one] != before[one]}
    assert changed <= {name} and (how in SOUND) <= (not changed), (how, number)
    checked = folder.run(["sessions", "check", "--json"])
    assert {one["name"] for one in json.loads(checked.out) if one["damaged"]} <= {name}
    sound = next(one for one in json.loads(checked.out) if one["name"] == name)
    assert (checked.status == 2) == (sound["damaged"] or sound["lines"] is None), (how, checked)
    if not whole:
        return
    last = folder.run(["score", "last", "--json"])
    newest = NAMES[-1] if number != MANY - 1 or how in SOUND else None
    if newest is not None:
        assert last == without_one.good[1], (how, number)
    elif last.status == 2:
        assert name in last.err
    reviewed = folder.run(["review", "--json"])
    assert reviewed.status == 0, (how, reviewed.err)


without_one.good = []  # the list and the score of the good folder


def attack(
    folder: Folder, how: str, number: int, words: list[list[str]], whole: bool = True
) -> None:
    """One kind of damage in one place: some commands one after the other."""
    if not without_one.good or not whole:
        without_one.good.clear()
        without_one.good += [
            folder.run([*one]) for one in (["sessions", "--json"], ["score", "last", "--json"])
        ]
        folder.again()
    try:
        folder.hurt(how, number)
        without_one(folder, how, number, whole)
        for one in words:
            folder.run(one)
    finally:
        ordinary.disk = ordinary.Disk()
        folder.again()


@pytest.fixture
def small(folder: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    made = Folder(tmp_path / "small/practice", messages=60)
    monkeypatch.chdir(made.home)
    return made


@pytest.mark.parametrize("how", [*HOWS[::6], "journal a pipe", *FAULTS][:14])
def test_one_bad_session_stops_nothing(small: Folder, how: str) -> None:
    """Some kinds of damage, each in a place that is drawn, read by a command that is drawn; the
    list and the check always."""
    chance = random.Random(f"damaged folder {how}")
    number = chance.choice((0, 4, MANY - 1))
    attack(small, how, number, chance.sample(commands(number), 1), whole=False)


@pytest.mark.long
@pytest.mark.parametrize("how", HOWS)
def test_one_bad_session_stops_nothing_anywhere(folder: Folder, how: str) -> None:
    """Every command; LIVECHECK_ATTACKS says in how many of the ten places."""
    chance = random.Random(f"places {how}")
    for number in chance.sample(range(MANY), min(SIZE, MANY)):
        attack(folder, how, number, commands(number))
    print(
        f"\ntried: {how}: {folder.tried} commands, {dict(folder.statuses)}, slowest "
        f"{folder.slowest}"
    )


CALLS = ("names", "look", "open", "status", "read")


def each_nth(folder: Folder, words: list[str], call: str, for_good: bool, step: int) -> int:
    """A command on a disk whose n-th call of a kind fails, for n in steps until there is none;
    returns how many were tried. The command gives an answer or a line, and nothing that could be
    read is told otherwise: with the disk sound again, the list is as it was."""
    nth = 1
    while True:
        for path in folder.home.glob(f"recordings/*/{kept.NAME}"):
            path.unlink()
        disk = FaultyReads((call,), errno.EIO, nth=nth, for_good=for_good)
        ordinary.disk = disk
        try:
            folder.run(words)
        finally:
            ordinary.disk = ordinary.Disk()
        assert folder.run(["sessions", "--json"]).out == each_nth.good[0], (words, call, nth)
        if disk.seen < nth:
            return nth
        nth += step


each_nth.good = []


@pytest.mark.parametrize("call", CALLS)
def test_a_disk_that_fails_now_and_then_gives_an_answer_or_a_line(small: Folder, call: str) -> None:
    """The n-th call failing, once, for some n; what was kept meanwhile is right."""
    each_nth.good[:] = [small.run(["sessions", "--json"]).out]
    for words in (["sessions", "check"], ["score", "last"]):
        each_nth(small, words, call, for_good=False, step=23)


@pytest.mark.long
@pytest.mark.parametrize("call", CALLS)
def test_a_failing_disk_gives_an_answer_or_a_line(small: Folder, call: str) -> None:
    """The n-th call failing, once and for good, through every command."""
    each_nth.good[:] = [small.run(["sessions", "--json"]).out]
    tried = 0
    for words in commands(3):
        for for_good in (False, True):
            tried += each_nth(small, words, call, for_good, step=max(1, 17 // SIZE))
    print(f"\ntried: {call}: {small.tried} commands, {dict(small.statuses)}")
