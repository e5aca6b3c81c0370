"""A damaged journal: every whole line is read, nothing is invented, the damage is told."""

from __future__ import annotations

import random

import pytest
from journals import HEAD, ZERO_NS, records, write

from livecheck.core.events import Mark
from livecheck.errors import BadInput
from livecheck.files.journal import Head, read
from livecheck.files.lines import MAX_LINE, body_of, journal_files, line_of, parse
from livecheck.files.salvage import check, salvage

MARK = body_of("mark", ZERO_NS, {"text": "x"})


@pytest.fixture
def small(tmp_path):
    """A journal file of nine lines."""
    return write(tmp_path / "s", records(4)).path


def lines_of(path):
    return [line.fields for line in read(path).lines()]


def test_a_journal_cut_anywhere_keeps_every_whole_line(small):
    """Cut at every byte: exactly the lines before the cut are read, and only the uncut journal is
    whole."""
    content = small.read_bytes()
    whole = lines_of(small)
    for cut in range(len(content) + 1):
        small.write_bytes(content[:cut])
        reading = read(small)
        assert [line.fields for line in reading.lines()] == whole[: content[:cut].count(b"\n")]
        assert reading.account.torn == (content[:cut][-1:] not in (b"\n", b""))
        assert reading.account.damaged == 0
        assert not reading.whole
    small.write_bytes(content)
    reading = read(small)
    assert len(list(reading)) == len(whole) - 1 and reading.whole


def test_any_bit_flipped_costs_at_most_two_lines(small):
    """Every bit in turn: what is read is the original without one or two neighbouring lines, and
    the damage is told."""
    content = small.read_bytes()
    whole = lines_of(small)
    for bit in range(len(content) * 8):
        flipped = bytearray(content)
        flipped[bit // 8] ^= 1 << bit % 8
        with open(small, "r+b") as file:
            file.write(flipped)
        reading = read(small)
        found = [line.fields for line in reading.lines()]
        numbers = {fields["seq"] for fields in found}
        assert found == [fields for fields in whole if fields["seq"] in numbers]
        assert 1 <= len(whole) - len(found) <= 2
        assert reading.account.damaged or reading.account.torn
        assert not reading.whole


@pytest.mark.parametrize("seed", range(60))
def test_any_heap_of_damage_invents_nothing(tmp_path, seed):
    """Bytes changed, cut out, doubled and shuffled: what is read is true, in order, each once."""
    chance = random.Random(seed)
    write(tmp_path / "s", records(30), file_bytes=chance.choice([700, 10**6]))
    whole = lines_of(tmp_path / "s")
    for path in journal_files(tmp_path / "s"):
        content = bytearray(path.read_bytes())
        for _ in range(chance.choice([0, 1, 1, 3, 10])):
            at = chance.randrange(len(content) or 1)
            length = chance.randint(1, 300)
            kind = chance.randrange(4)
            if kind == 0:
                content[at : at + 1] = chance.randbytes(1)
            elif kind == 1:
                del content[at : at + length]
            elif kind == 2:
                content[at:at] = content[chance.randrange(len(content) or 1) :][:length]
            else:
                content[at : at + length] = chance.randbytes(length)
        path.write_bytes(content)
    try:
        rest = iter(whole)
        assert all(fields in rest for fields in lines_of(tmp_path / "s"))
    except BadInput as told:
        assert "\n" not in str(told)


def test_a_lost_head_is_taken_from_the_next_file(tmp_path):
    """Every head has the same clock pair; the times are right without the first one."""
    given = records(30)
    write(tmp_path / "s", given, file_bytes=700)
    first = journal_files(tmp_path / "s")[0]
    first.write_bytes(b"?" + first.read_bytes()[1:])
    reading = read(tmp_path / "s")
    assert reading.head == HEAD
    assert list(reading) == given
    assert not reading.whole


def test_without_any_head_times_count_from_the_first_record(small):
    """That is said, and nothing else is lost."""
    small.write_bytes(small.read_bytes().split(b"\n", 1)[1])
    reading = read(small)
    given = records(4)
    assert list(reading) == given
    assert not reading.whole
    assert any("no head can be read" in line for line in check(small))


def test_a_missing_file_in_the_middle_is_a_gap(tmp_path):
    """The numbers tell how many records are gone."""
    write(tmp_path / "s", records(30), file_bytes=700)
    paths = journal_files(tmp_path / "s")
    gone = paths[1].read_bytes().count(b"\n") - 1
    paths[1].unlink()
    reading = read(tmp_path / "s")
    assert len(list(reading)) == len(records(30)) - gone
    assert [many for _, _, many in reading.account.missing] == [gone]
    assert any(f"{gone} records missing after number" in line for line in check(tmp_path / "s"))


def test_another_sessions_file_is_left_out(tmp_path):
    """A second file with other clocks is named and not mixed in."""
    write(tmp_path / "s", records(4))
    other = Head(HEAD.wall, ZERO_NS + 1, "boot", "0.1.0")
    (tmp_path / "s" / "journal-002.log").write_bytes(
        line_of(8, body_of("head", other.perf_ns, other.fields(2))) + line_of(9, MARK)
    )
    reading = read(tmp_path / "s")
    assert list(reading) == records(4)
    assert reading.account.foreign == ["journal-002.log"] and not reading.whole


def test_a_line_that_comes_twice_is_taken_once(small):
    """The second of a number is passed over and counted."""
    lines = small.read_bytes().splitlines(keepends=True)
    small.write_bytes(b"".join([*lines[:5], lines[4], lines[2], *lines[5:]]))
    reading = read(small)
    assert list(reading) == records(4)
    assert reading.account.repeated == 2


def test_a_line_without_end_needs_no_memory(small):
    """A run of bytes without a newline is passed over in pieces; what follows is read."""
    lines = small.read_bytes().splitlines(keepends=True)
    small.write_bytes(b"".join([*lines[:4], b"x" * (5 * MAX_LINE), b"\n", *lines[4:]]))
    reading = read(small)
    assert list(reading) == records(4)
    assert reading.account.damaged == 5


@pytest.mark.parametrize(
    "body",
    [
        "}", '"t":1}', '"t":-1,"type":"mark","text":"a"}', '"t":1.5,"type":"mark","text":"a"}',
        '"t":true,"type":"mark","text":"a"}', f'"t":{10**400},"type":"mark","text":"a"}}',
        '"t":1,"type":7}',
        '"t":1,"type":"mark","text":' + "[" * 100_000, '"t":1,"type":"mark","text":NaN,"t":null}',
        '"t":1,"type":"mark"',
    ],
)  # fmt: skip
def test_a_good_checksum_around_nonsense_is_damage(small, body):
    """Bytes that nobody's journal writes are counted, whatever they are."""
    small.write_bytes(small.read_bytes() + line_of(100, body))
    reading = read(small)
    assert list(reading) == records(4)
    assert reading.account.damaged == 1


def test_a_record_of_a_later_kind_is_passed_over(small):
    """A type that this program does not know is counted and spoils nothing."""
    content = small.read_bytes().splitlines(keepends=True)
    later = line_of(8, body_of("later", ZERO_NS, {"what": 1}))
    stop = line_of(9, body_of("stop", ZERO_NS + 10**9, {"why": "asked to"}))
    small.write_bytes(b"".join([*content[:-1], later, stop]))
    reading = read(small)
    assert len(list(reading)) == len(records(4))
    assert reading.account.unknown == 1 and reading.whole
    assert check(small) == [f"{small}: 1 record that this program does not understand"]


# -------------------------------------------------------------------------------- check and salvage


def test_nothing_is_said_of_a_whole_journal(small):
    """check finds nothing where nothing is wrong."""
    assert check(small.parent) == []


def test_salvage_saves_the_whole_lines_and_leaves_the_original(tmp_path):
    """The new journal is whole, holds every good record at its time, and a gap where some are
    lost."""
    write(tmp_path / "s", records(30), file_bytes=700)
    paths = journal_files(tmp_path / "s")
    damaged = bytearray(paths[1].read_bytes())
    damaged[-10] ^= 4
    paths[1].write_bytes(damaged)
    paths[-1].write_bytes(paths[-1].read_bytes()[:-20])
    before = [path.read_bytes() for path in paths]
    assert check(tmp_path / "s")
    good = list(read(tmp_path / "s"))
    assert salvage(tmp_path / "s", tmp_path / "new") == len(good)
    assert [path.read_bytes() for path in paths] == before
    saved = read(tmp_path / "new")
    found = list(saved)
    assert saved.whole and saved.head == HEAD
    assert [record for record in found if type(record).__name__ not in ("Gap", "Stop")] == good
    gaps = [record.dropped for record in found if type(record).__name__ == "Gap"]
    assert gaps == [1, 0]
    assert type(found[-1]).__name__ == "Stop"


def test_salvage_of_a_whole_journal_is_the_same_journal(tmp_path):
    """Nothing is added where nothing is lost, however many files there were."""
    given = records(30)
    write(tmp_path / "s", given, file_bytes=700)
    salvage(tmp_path / "s", tmp_path / "new")
    assert list(read(tmp_path / "new")) == given


def test_salvage_never_writes_into_a_session(small, tmp_path):
    """A folder that holds a journal is refused as target, the source itself included."""
    with pytest.raises(BadInput, match="is there already; a session is never written into"):
        salvage(small.parent, small.parent)


def test_salvage_without_a_head_or_a_line(small, tmp_path):
    """Without a head, times count from the first record; without any line there is nothing to
    save."""
    small.write_bytes(small.read_bytes().split(b"\n", 1)[1])
    salvage(small.parent, tmp_path / "new")
    assert [record for record in read(tmp_path / "new") if isinstance(record, Mark)] == [
        Mark(0.3, "go")
    ]
    small.write_bytes(b"nothing\n")
    with pytest.raises(BadInput, match="no whole line"):
        salvage(small.parent, tmp_path / "newer")


def test_nonsense_with_a_right_sum_is_salvaged_or_passed_over(tmp_path):
    """A record of a kind that nobody knows is copied as it is; a number that JSON does not have
    makes no line."""
    odd = body_of('kind "\ud800', ZERO_NS, {"text": "\ud800é"})
    assert parse(line_of(1, odd)).kind == 'kind "\ud800'
    for number in ("NaN", "Infinity", "-Infinity", "1e999"):
        assert parse(line_of(1, f'"t":5,"type":"mark","text":{number}}}')) is None
    path = write(tmp_path / "source", records(4)).path
    many = len(path.read_bytes().splitlines())
    with path.open("ab") as file:
        file.write(line_of(many, odd))
    salvage(tmp_path / "source", tmp_path / "target")
    assert odd.encode() in (tmp_path / "target" / "journal-001.log").read_bytes()
