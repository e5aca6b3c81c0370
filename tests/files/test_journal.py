"""The journal in good times: what is written comes back, file after file."""

from __future__ import annotations

import json
import stat
import threading
from zlib import crc32

import pytest
from journals import HEAD, ZERO_NS, append, clock_ns, records, write

from livecheck.core.events import Gap, Mark, Midi, Stop
from livecheck.errors import BadInput
from livecheck.files.journal import Journal, head_now, read
from livecheck.files.lines import MAX_LINE, body_of, file_name, journal_files, line_of, parse


def test_what_is_written_is_read_back(tmp_path):
    """Every record once, in order, at its own time; the journal is whole."""
    given = records(50)
    write(tmp_path / "s", given)
    reading = read(tmp_path / "s")
    assert list(reading) == given
    assert reading.whole
    assert reading.head == HEAD


def test_a_line_can_be_read_without_this_program(tmp_path):
    """Eight hex digits of CRC-32 (as zlib, gzip and PNG use it), a space, JSON with seq, t and
    type."""
    write(tmp_path / "s", records(3))
    lines = (tmp_path / "s" / "journal-001.log").read_bytes().splitlines()
    for seq, line in enumerate(lines):
        assert int(line[:8], 16) == crc32(line[9:])
        fields = json.loads(line[9:])
        assert list(fields)[:3] == ["seq", "t", "type"]
        assert fields["seq"] == seq
    assert json.loads(lines[0][9:]) == {
        "seq": 0, "t": ZERO_NS, "type": "head", "format": "livecheck-journal/1", "file": 1,
        "wall": HEAD.wall, "perf": ZERO_NS, "boot": "boot", "program": "0.1.0",
    }  # fmt: skip


def test_the_checksum_is_the_published_one():
    """CRC-32 check value of the digits 1 to 9: CBF43926 (Rocksoft model, "A painless guide to CRC";
    from memory)."""
    assert crc32(b"123456789") == 0xCBF43926
    assert line_of(0, '"t":1}')[:8] == b"%08x" % crc32(b'{"seq":0,"t":1}')


def test_a_long_session_goes_on_in_the_next_file(tmp_path):
    """Files change between two lines, each begins with a head of the same clocks, numbers go on
    without a gap."""
    given = records(60)
    write(tmp_path / "s", given, file_bytes=1000)
    paths = journal_files(tmp_path / "s")
    assert [path.name for path in paths] == [
        file_name(number) for number in range(1, len(paths) + 1)
    ]
    assert len(paths) > 3
    for number, path in enumerate(paths, 1):
        content = path.read_bytes()
        first = parse(content.splitlines(keepends=True)[0])
        assert (
            first.kind == "head"
            and first.fields["perf"] == ZERO_NS
            and first.fields["file"] == number
        )
        assert content.endswith(b"\n")
    reading = read(tmp_path / "s")
    assert list(reading) == given
    assert reading.whole


def test_files_are_the_players_own(tmp_path):
    """Folder 0700, file 0600."""
    journal = write(tmp_path / "s", records(1))
    assert stat.S_IMODE(journal.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(journal.folder.stat().st_mode) == 0o700


def test_a_session_is_never_appended_to(tmp_path):
    """A folder that holds a journal is refused, and stays as it was."""
    journal = write(tmp_path / "s", records(1))
    before = journal.path.read_bytes()
    with pytest.raises(BadInput, match="holds a session already"):
        Journal.create(tmp_path / "s", HEAD)
    assert journal.path.read_bytes() == before


def test_no_folder_no_journal(tmp_path):
    """Where no folder can be made, one line says where and what to do."""
    (tmp_path / "file").write_text("")
    with pytest.raises(BadInput, match=r"file/s: cannot record there: Not a directory; .*--home"):
        Journal.create(tmp_path / "file" / "s", HEAD)


def test_every_record_is_in_the_file_when_append_returns(tmp_path):
    """Nothing waits in a buffer of the program."""
    journal = Journal.create(tmp_path / "s", HEAD)
    for count, record in enumerate(records(20), 1):
        assert append(journal, clock_ns(record.t_s), record)
        assert len(list(read(tmp_path / "s"))) == count
    journal.close()


def test_after_the_end_nothing_is_written(tmp_path):
    """A closed journal takes no record, says so, and can be closed, synced and ticked again."""
    journal = write(tmp_path / "s", records(2))
    assert not journal.append("mark", clock_ns(9.0), {"text": "late"})
    journal.close()
    journal.tick(clock_ns(10.0))
    assert not journal.sync()
    assert journal.dropped == 1
    assert list(read(tmp_path / "s")) == records(2)


def test_a_record_too_long_for_a_line_becomes_a_gap(tmp_path):
    """No reader needs more memory than one line's limit."""
    given = [Midi(0.1, bytes([0xF0]) + bytes(MAX_LINE) + bytes([0xF7])), Stop(1.0, "")]
    write(tmp_path / "s", given)
    kept = list(read(tmp_path / "s"))
    assert isinstance(kept[0], Gap) and kept[0].dropped == 1
    assert kept[1:] == given[1:]


def test_time_never_runs_backwards_for_the_reader(tmp_path):
    """A note stamped before a command, but written after it, takes the command's time."""
    write(
        tmp_path / "s",
        [Mark(1.0, "a"), Midi(0.999, b"\x90\x3c\x40"), Midi(1.5, b"\x80\x3c\x40"), Stop(2.0, "")],
    )
    reading = read(tmp_path / "s")
    assert [record.t_s for record in reading] == [1.0, 1.0, 1.5, 2.0]
    assert reading.account.late == 1


def test_three_threads_may_use_one_journal(tmp_path):
    """Two that append and one that syncs, over many files: every record is there once, each
    thread's in its order."""
    journal = Journal.create(tmp_path / "s", HEAD, file_bytes=2000)
    done = threading.Event()

    def append(name: str) -> None:
        for number in range(400):
            journal.append("mark", clock_ns(number), {"text": f"{name} {number}"})

    def sync() -> None:
        while not done.is_set():
            journal.sync()

    writers = [threading.Thread(target=append, args=(name,)) for name in "ab"]
    syncer = threading.Thread(target=sync)
    for thread in (*writers, syncer):
        thread.start()
    for thread in writers:
        thread.join()
    done.set()
    syncer.join()
    journal.close()
    reading = read(tmp_path / "s")
    texts = [record.text for record in reading]
    assert not reading.account.missing and not reading.account.damaged
    for name in "ab":
        assert [text for text in texts if text.startswith(name)] == [
            f"{name} {number}" for number in range(400)
        ]


def test_a_head_pairs_the_two_clocks_of_one_moment():
    """The wall clock has its offset, and later heads have later readings."""
    first, second = head_now("1"), head_now("1")
    assert first.perf_ns < second.perf_ns
    assert first.wall < second.wall and first.wall[-6] in "+-"


@pytest.mark.parametrize("version", ["2", "10"])
def test_a_newer_format_is_told_in_one_line(tmp_path, version):
    """Opening a journal of a newer program says so and what to do."""
    fields = {**HEAD.fields(1), "format": f"livecheck-journal/{version}"}
    (tmp_path / "journal-001.log").write_bytes(line_of(0, body_of("head", ZERO_NS, fields)))
    with pytest.raises(BadInput, match=rf"format {version} is newer .* update livecheck"):
        read(tmp_path)


def test_no_journal_is_told_in_one_line(tmp_path):
    """An empty folder, or none, is no session."""
    for path in (tmp_path, tmp_path / "none"):
        with pytest.raises(BadInput, match="no session there"):
            read(path)
