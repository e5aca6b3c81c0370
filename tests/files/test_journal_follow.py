"""Following a journal that is being written."""

from __future__ import annotations

import random
import shutil

import pytest
from journals import HEAD, ZERO_NS, append, clock_ns, records, write

from livecheck.core.events import Mark
from livecheck.errors import BadInput
from livecheck.files.journal import Follower, Journal, read
from livecheck.files.lines import MAX_LINE, body_of, file_name, journal_files, line_of


def test_a_follower_sees_each_record_once_as_it_comes(tmp_path):
    """From before the folder exists to the last record, over several files."""
    follower = Follower(tmp_path / "s")
    assert follower.poll() == [] and follower.head is None
    journal = Journal.create(tmp_path / "s", HEAD, file_bytes=700)
    assert follower.poll() == [] and follower.head == HEAD
    for record in records(40):
        append(journal, clock_ns(record.t_s), record)
        assert follower.poll() == [record]
        assert follower.poll() == []
    journal.close()
    assert len(journal_files(tmp_path / "s")) > 3
    assert follower.account.stopped


@pytest.mark.parametrize("seed", range(30))
def test_whatever_portions_arrive_the_follower_reads_the_same(tmp_path, seed):
    """Files that grow byte by byte or in bursts, polled at any moment, give what a reader of the
    whole gives."""
    chance = random.Random(seed)
    write(tmp_path / "s", records(40), file_bytes=chance.choice([700, 2000, 10**6]))
    (tmp_path / "live").mkdir()
    follower = Follower(tmp_path / "live" / "journal-001.log")
    found = []
    for path in journal_files(tmp_path / "s"):
        content = path.read_bytes()
        with open(tmp_path / "live" / path.name, "ab", buffering=0) as file:
            at = 0
            while at < len(content):
                step = chance.choice([1, 7, 90, 1000])
                file.write(content[at : at + step])
                at += step
                if chance.random() < 0.5:
                    found += follower.poll()
    found += follower.poll()
    assert found == list(read(tmp_path / "s"))
    assert follower.account.whole


def test_a_poll_takes_a_bounded_portion(tmp_path):
    """A viewer that attaches late catches up poll by poll."""
    body = body_of("mark", ZERO_NS, {"text": "x" * 1000})
    lines = [line_of(0, body_of("head", ZERO_NS, HEAD.fields(1)))] + [
        line_of(1 + n, body) for n in range(3000)
    ]
    (tmp_path / file_name(1)).write_bytes(b"".join(lines))
    follower = Follower(tmp_path)
    portions = []
    while found := follower.poll(MAX_LINE):
        portions.append(len(found))
    assert sum(portions) == 3000
    assert max(portions) <= MAX_LINE // 1000


def test_a_torn_tail_that_is_cut_off_again_is_no_damage(tmp_path):
    """The writer takes part of a line back when the disk is full; the follower has not used it."""
    journal = write(tmp_path / "s", records(4))
    content = journal.path.read_bytes()
    follower = Follower(tmp_path / "s")
    follower.poll()
    with open(journal.path, "ab") as file:
        file.write(b"1234")
    assert follower.poll() == [] and follower.account.torn
    with open(journal.path, "r+b") as file:
        file.truncate(len(content))
    with open(journal.path, "ab") as file:
        file.write(line_of(9, body_of("mark", ZERO_NS + 2 * 10**9, {"text": "next"})))
    assert follower.poll() == [Mark(2.0, "next")]
    assert follower.account.damaged == 0


def test_a_file_cut_short_under_the_follower_repeats_nothing(tmp_path):
    """It goes on where the file then ends."""
    journal = write(tmp_path / "s", records(4))
    content = journal.path.read_bytes()
    follower = Follower(tmp_path / "s")
    assert len(follower.poll()) == 8
    journal.path.write_bytes(content[:200])
    assert follower.poll() == []
    journal.path.write_bytes(content)
    assert follower.poll() == []


def test_a_folder_deleted_under_the_follower(tmp_path):
    """Nothing more comes, and nothing is raised; a file that the writer then begins is followed."""
    journal = Journal.create(tmp_path / "s", HEAD)
    follower = Follower(tmp_path / "s")
    follower.poll()
    shutil.rmtree(tmp_path / "s")
    assert follower.poll() == []
    journal.sync()
    journal.append("mark", clock_ns(1.0), {"text": "a"})
    assert follower.poll() == [Mark(1.0, "a")]
    journal.close()


def test_a_line_without_end_does_not_stop_the_follower(tmp_path):
    """It is passed over as damage, and what follows is read."""
    journal = write(tmp_path / "s", records(4))
    with open(journal.path, "ab") as file:
        file.write(
            b"x" * (3 * MAX_LINE)
            + b"\n"
            + line_of(9, body_of("mark", ZERO_NS + 2 * 10**9, {"text": "next"}))
        )
    follower = Follower(tmp_path / "s")
    found = []
    for _ in range(5):
        found += follower.poll()
    assert found == [*records(4), Mark(2.0, "next")]
    assert follower.account.damaged


def test_a_newer_format_is_told(tmp_path):
    """As by the reader."""
    fields = {**HEAD.fields(1), "format": "livecheck-journal/9"}
    (tmp_path / file_name(1)).write_bytes(line_of(0, body_of("head", ZERO_NS, fields)))
    with pytest.raises(BadInput, match="newer"):
        Follower(tmp_path).poll()
