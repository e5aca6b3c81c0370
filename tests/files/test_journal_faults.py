"""The journal when the disk refuses: nothing raises, nothing is invented, what was acknowledged is
there once.

The kinds of test follow "How SQLite is tested": the n-th call fails, once or for good, for every n;
a power cut that keeps what was synced and any part of later blocks.
"""

from __future__ import annotations

import os
import random
import resource
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from disks import FaultyDisk, PowerCutDisk, SmallDisk
from journals import HEAD, clock_ns

from livecheck.core.events import Gap, Mark, Midi, Stop
from livecheck.errors import BadInput
from livecheck.files.disk import Disk
from livecheck.files.journal import RESERVE, Journal, read
from livecheck.files.lines import journal_files

RECORDS = 12
FAULTS = [("write", fault) for fault in ("ENOSPC", "EIO", "EINTR", "EROFS", "short", "lying")] + [
    (call, fault)
    for call in (
        "make_folder",
        "create",
        "truncate",
        "size",
        "links",
        "sync",
        "sync_folder",
        "remove",
        "close",
    )
    for fault in ("ENOSPC", "EIO", "EINTR")
]


def play(folder: Path, disk: Disk, waiting: int = 100) -> tuple[Journal | None, list[str]]:
    """A sitting over several files. Returns the closed journal (None: it could not begin) and what
    it acknowledged."""
    try:
        journal = Journal.create(folder, HEAD, disk=disk, file_bytes=450, waiting=waiting)
    except BadInput as told:
        assert "\n" not in str(told)
        return None, []
    acknowledged = []
    for number in range(RECORDS):
        t_ns = clock_ns(0.4 * number)
        if journal.append("mark", t_ns, {"text": f"m{number}"}):
            # True: everything before is out, too
            acknowledged = [f"m{earlier}" for earlier in range(number + 1)]
        journal.tick(t_ns + 100_000_000)
        if number % 3 == 2:
            journal.sync()
    journal.close()
    return journal, acknowledged


def texts(folder: Path) -> list[str]:
    return [record.text for record in read(folder) if isinstance(record, Mark)]


@pytest.mark.parametrize(("call", "fault"), FAULTS)
def test_the_nth_call_fails_once(tmp_path, call, fault):
    """A single failure of any call loses nothing at all."""
    for nth in range(1, 100):
        folder = tmp_path / str(nth)
        disk = FaultyDisk(call, nth, fault, for_good=False)
        journal, _ = play(folder, disk)
        if disk.seen < nth:
            break
        if journal is None:
            assert nth <= 2
            continue
        assert texts(folder) == [f"m{number}" for number in range(RECORDS)], nth
        assert journal.dropped == 0 and journal.pending == 0
        assert not disk.open_fds
    # these are called only after another failure
    assert nth > 1 or call in ("truncate", "size", "remove")


@pytest.mark.parametrize(("call", "fault"), FAULTS)
def test_the_nth_call_and_all_later_ones_fail(tmp_path, call, fault):
    """A failure for good raises nothing; what was acknowledged is there once, the rest is
    counted."""
    for nth in range(1, 100):
        folder = tmp_path / str(nth)
        disk = FaultyDisk(call, nth, fault, for_good=True)
        journal, acknowledged = play(folder, disk)
        if disk.seen < nth:
            break
        if journal is None:
            continue
        found = texts(folder)
        assert found == [f"m{number}" for number in range(len(found))], nth
        assert len(found) >= len(acknowledged)
        if fault != "lying":
            assert len(found) + journal.dropped == RECORDS
        if call == "write":
            assert journal.trouble is not None
        assert not disk.open_fds


@pytest.mark.parametrize("seed", range(60))
def test_any_two_calls_fail_together(tmp_path, seed):
    """Writes that fail at random beside truncates, creates or sizes that fail at random."""
    chance = random.Random(seed)

    class Wild(FaultyDisk):
        def _fails(self, call: str) -> bool:
            if call == "write":
                self.fault = chance.choice(["ENOSPC", "EIO", "EINTR", "short", "lying"])
            elif self.fault in ("short", "lying"):
                self.fault = "EIO"
            return call in failing and chance.random() < 0.3

    failing = {
        "write",
        *chance.sample(["truncate", "create", "size", "sync", "sync_folder", "remove", "links"], 3),
    }
    journal, acknowledged = play(tmp_path / "s", Wild("", 0, "EIO", False))
    if journal is None:
        return
    found = texts(tmp_path / "s")
    assert found == [f"m{number}" for number in range(len(found))], seed
    assert len(found) >= len(acknowledged)


def test_while_the_disk_is_full_records_wait_and_then_follow(tmp_path):
    """They are tried again after a second, not before; the trouble is told and goes away."""
    disk = FaultyDisk("write", 3, "ENOSPC", for_good=True)
    journal = Journal.create(tmp_path / "s", HEAD, disk=disk)
    assert journal.append("mark", clock_ns(0.0), {"text": "a"})
    assert not journal.append("mark", clock_ns(0.1), {"text": "b"})
    assert journal.trouble == f"{journal.path}: No space left on device"
    calls = disk.seen
    assert not journal.append("mark", clock_ns(0.9), {"text": "c"})
    assert (disk.seen, journal.pending) == (calls, 2)
    journal.tick(clock_ns(1.2))
    assert disk.seen == calls + 1
    disk.for_good = False
    journal.tick(clock_ns(1.9))
    assert journal.pending == 2
    journal.tick(clock_ns(2.3))
    assert (journal.pending, journal.trouble) == (0, None)
    assert texts(tmp_path / "s") == ["a", "b", "c"]
    journal.close()


def test_what_memory_cannot_hold_is_told_by_a_gap_record(tmp_path):
    """Notes beyond the limit are dropped and counted; a rig, cell or mark still finds room; a gap
    follows."""
    disk = FaultyDisk("write", 2, "ENOSPC", for_good=True)
    journal = Journal.create(tmp_path / "s", HEAD, disk=disk, waiting=5)
    for number in range(20):
        journal.append("midi", clock_ns(0.01 * number), {"data": f"9040{number:02x}"})
    journal.append("mark", clock_ns(0.5), {"text": "kept"})
    assert (journal.pending, journal.dropped) == (6, 15)
    disk.for_good = False
    assert journal.append("midi", clock_ns(3.0), {"data": "904050"})
    journal.close()
    reading = read(tmp_path / "s")
    found = list(reading)
    assert [record.data[2] for record in found[:5]] == [0, 1, 2, 3, 4]
    assert found[5] == Mark(0.5, "kept")
    assert found[6] == Gap(3.0, 15, "the disk refused and memory was full")
    assert found[7].data[2] == 0x50
    assert not reading.account.missing and reading.account.dropped == 15


def test_long_messages_do_not_fill_the_memory(tmp_path):
    """What waits is bounded in characters as well as in number; the rest is dropped and told."""
    disk = FaultyDisk("write", 2, "ENOSPC", for_good=True)
    journal = Journal.create(tmp_path / "s", HEAD, disk=disk, waiting=1000)
    for number in range(100):
        journal.append("midi", clock_ns(0.001 * number), {"data": "f0" + "00" * 20_000 + "f7"})
    assert (journal.pending, journal.dropped) == (7, 93)
    disk.for_good = False
    journal.tick(clock_ns(2.0))
    journal.close()
    assert read(tmp_path / "s").head == HEAD
    assert list(read(tmp_path / "s"))[-1] == Gap(2.0, 93, "the disk refused and memory was full")


def test_a_long_wait_is_written_in_portions(tmp_path):
    """No single call takes long when the disk accepts again; order is kept."""
    disk = FaultyDisk("write", 2, "EIO", for_good=True)
    journal = Journal.create(tmp_path / "s", HEAD, disk=disk)
    for number in range(5000):
        journal.append("mark", clock_ns(0.0001 * number), {"text": f"m{number}"})
    disk.for_good = False
    journal.tick(clock_ns(5.0))
    assert journal.pending == 3000
    journal.append("mark", clock_ns(5.1), {"text": "m5000"})
    assert journal.pending == 1001
    journal.close()
    assert texts(tmp_path / "s") == [f"m{number}" for number in range(5001)]


@pytest.mark.parametrize("seed", range(40))
def test_a_power_cut_keeps_everything_that_was_synced(tmp_path, seed):
    """What remains is read as a run of true records that holds all up to the last sync."""
    chance = random.Random(seed)
    disk = PowerCutDisk()
    journal = Journal.create(
        tmp_path / "s", HEAD, disk=disk, file_bytes=chance.choice([3000, 20_000, 10**6])
    )
    safe = 0
    written = []
    for number in range(chance.randint(1, 400)):
        written.append(f"m{number} " + "x" * chance.randint(0, 80))
        assert journal.append("mark", clock_ns(0.05 * number), {"text": written[-1]})
        if chance.random() < 0.02 and journal.sync():
            safe = len(written)
    disk.power_cut(tmp_path / "after", chance)
    found = texts(tmp_path / "after")
    assert found[:safe] == written[:safe]
    rest = iter(written)
    assert all(text in rest for text in found), "in order, each once, none invented"
    journal.close()


def test_a_deleted_file_is_noticed_and_a_new_one_begun(tmp_path):
    """When somebody deletes the folder of a running session, it is told, and the session goes on in
    a new file."""
    journal = Journal.create(tmp_path / "s", HEAD)
    journal.append("mark", clock_ns(0.0), {"text": "gone"})
    shutil.rmtree(tmp_path / "s")
    journal.sync()
    assert "was deleted" in journal.trouble
    assert journal.append("mark", clock_ns(1.0), {"text": "a"})
    assert journal.trouble is None
    journal.append("mark", clock_ns(2.0), {"text": "b"})
    journal.close()
    assert [path.name for path in journal_files(tmp_path / "s")] == ["journal-002.log"]
    assert texts(tmp_path / "s") == ["a", "b"]


def test_a_folder_replaced_by_a_file_is_lived_with(tmp_path):
    """Records wait in memory, and follow once the folder can be made again."""
    journal = Journal.create(tmp_path / "s", HEAD)
    shutil.rmtree(tmp_path / "s")
    (tmp_path / "s").write_text("in the way")
    journal.sync()
    assert not journal.append("mark", clock_ns(1.0), {"text": "a"})
    journal.tick(clock_ns(3.0))
    assert journal.trouble and journal.pending == 1
    (tmp_path / "s").unlink()
    journal.tick(clock_ns(5.0))
    assert (journal.trouble, journal.pending) == (None, 0)
    journal.close()
    assert texts(tmp_path / "s") == ["a"]


LIMITED = """
import resource, sys
from pathlib import Path
sys.path.insert(0, {tests!r})
from journals import HEAD, clock_ns
from livecheck.files.journal import Journal
resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))
journal = Journal.create(Path({folder!r}), HEAD)
for number in range(200):
    journal.append("mark", clock_ns(0.6 * number), {{"text": f"m{{number}}"}})
journal.close()
print(journal.dropped, journal.pending, journal.trouble)
"""


@pytest.mark.skipif(
    not hasattr(resource, "RLIMIT_FSIZE"), reason="this system limits no file sizes"
)
def test_a_limit_on_file_size_loses_nothing(tmp_path):
    """Under the system's own limit of 2,000 bytes a file, the session goes on in ever new files."""
    script = LIMITED.format(tests=str(Path(__file__).parent), folder=str(tmp_path / "s"))
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=60
    )
    assert (done.stdout.strip(), done.stderr) == ("0 0 None", "")
    assert texts(tmp_path / "s") == [f"m{number}" for number in range(200)]
    assert all(path.stat().st_size <= 2000 for path in journal_files(tmp_path / "s"))


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_device_that_is_always_full(tmp_path):
    """/dev/full refuses each write: the journal cannot begin, and says why."""

    class Full(Disk):
        def create(self, path: Path) -> int:
            super().close(super().create(path))
            return os.open("/dev/full", os.O_WRONLY)

    with pytest.raises(BadInput, match="No space left on device"):
        Journal.create(tmp_path / "s", HEAD, disk=Full())
    assert journal_files(tmp_path / "s") == []


def test_the_faulty_disk_fails_as_it_should(tmp_path):
    """The tests above would prove nothing with a disk that never fails."""
    failed = Counter()
    for call, fault in FAULTS:
        disk = FaultyDisk(call, 2, fault, for_good=True)
        play(tmp_path / f"{call}{fault}", disk)
        failed[call] += disk.seen
    assert (
        failed["write"] > 10 and failed["sync"] > 5 and failed["create"] > 2 and failed["links"] > 3
    )


@pytest.mark.parametrize("more", [0, 1, 7, 90, 91, 250, 4000])
@pytest.mark.parametrize("waiting", [5, 20, 1000])
def test_a_full_disk_is_told_in_the_journal_with_what_was_kept_in_reserve(tmp_path, more, waiting):
    """Every note is there or counted by the gap record, and the end is the orderly one; a later
    reader knows how much is missing without having been told on the day."""
    disk = SmallDisk(RESERVE + 400 + more)
    journal = Journal.create(tmp_path / "s", HEAD, disk=disk, waiting=waiting)
    sent = 300
    for number in range(sent):
        data = bytes([0x90, number % 128, 1 + number % 100]).hex()
        journal.append("midi", HEAD.perf_ns + number, {"data": data})
    assert "No space left" in str(journal.trouble)
    journal.append("stop", HEAD.perf_ns + sent, {"why": "stopped"})
    journal.close()
    reading = read(tmp_path / "s")
    records = list(reading)
    notes = [record for record in records if isinstance(record, Midi)]
    assert len(notes) + journal.dropped == sent and journal.dropped > 0
    assert sum(record.dropped for record in records if isinstance(record, Gap)) == journal.dropped
    assert isinstance(records[-1], Stop) and reading.whole
    assert "No space left" in str(journal.lost_why)
    assert disk.reserved == {} and [path.name for path in (tmp_path / "s").iterdir()] == [
        "journal-001.log"
    ]


def test_room_that_comes_back_costs_nothing(tmp_path):
    """What waited is written, and nothing is missing."""
    disk = SmallDisk(RESERVE + 1000)
    journal = Journal.create(tmp_path / "s", HEAD, disk=disk)
    for number in range(100):
        journal.append("midi", HEAD.perf_ns + number, {"data": "903c40"})
    assert journal.pending > 50
    disk.room = 1 << 20
    journal.append("stop", HEAD.perf_ns + 100, {"why": ""})
    journal.close()
    assert len(list(read(tmp_path / "s"))) == 101 and journal.dropped == 0
