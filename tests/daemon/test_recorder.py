"""The recorder: every message once, sessions that begin and end where they should, commands that
are checked."""

from __future__ import annotations

import errno
from dataclasses import replace

import pytest

from livecheck.core.events import (
    Block,
    Click,
    ClickLink,
    Cue,
    Gap,
    Link,
    Mark,
    Midi,
    Stop,
    UseCells,
    UseRig,
)
from livecheck.daemon import beginning
from livecheck.daemon.frames import Alive, Beat, Cued, Down, Message, Up
from livecheck.daemon.recorder import WAITING, Recorder
from livecheck.errors import BadInput
from livecheck.files.disk import Disk
from livecheck.files.journal import Journal, read
from livecheck.files.library import PracticeFolder

S = 1_000_000_000
NOTE, OFF = bytes([0x90, 60, 100]), bytes([0x90, 60, 0])
CELL = {
    "name": "two",
    "grid": 4,
    "slots": [[2, 10], [3, 12]],
    "variants": {"hammered": {2: "hammer"}},
    "variant": None,
}


@pytest.fixture
def ended():
    return []


@pytest.fixture
def recorder(tmp_path, ended):
    return Recorder(PracticeFolder(tmp_path), on_end=ended.append)


def records(folder):
    return list(read(folder))


def kinds(folder):
    return [type(record).__name__ for record in records(folder)]


def test_every_message_is_in_the_journal_once_with_its_own_time(recorder):
    """The times are the reader's stamps, not those of the writing."""
    folder = recorder.begin(100 * S)
    recorder.take(Up(100 * S, "Hex"))
    for number in range(50):
        recorder.take(Message(101 * S + number * 1_000_000, bytes([0x90, number, 9])))
    recorder.end("done", 200 * S)
    notes = [record for record in records(folder) if isinstance(record, Midi)]
    assert [note.data[1] for note in notes] == list(range(50))
    assert [round(note.t_s, 6) for note in notes] == [
        round(1 + number / 1000, 6) for number in range(50)
    ]
    assert read(folder).files and records(folder)[-1] == Stop(100.0, "done")


def test_each_click_and_cue_is_written_with_the_time_at_which_it_was_sent(recorder):
    """And the port they go to, opened and lost, with the name by which it was asked for."""
    folder = recorder.begin(100 * S)
    recorder.click(Up(100 * S, "Synth"), "syn")
    recorder.click(Beat(101 * S, 0, 90.0), "syn")
    recorder.click(Cued(101 * S, "up"), "syn")
    recorder.click(Down(102 * S, "Synth was unplugged"), "syn")
    recorder.click(Alive(102 * S, 0, 0), "syn")
    assert records(folder) == [
        ClickLink(0.0, True, "Synth", "syn"),
        Click(1.0, 0, 90.0),
        Cue(1.0, "up"),
        ClickLink(2.0, False, "Synth was unplugged", "syn"),
    ]


def test_a_block_is_written_as_it_is_told(recorder):
    """The recorder knows nothing of it but that it is one."""
    folder = recorder.begin(100 * S)
    told = {"bpm": 90.0, "reps": 6, "from_s": 4.0, "until_s": 10.0, "kind": "warm-up"}
    recorder.command({"command": "block", **told}, 101 * S)
    assert records(folder) == [Block(1.0, 90.0, 6, 4.0, 10.0, "warm-up")]
    with pytest.raises(BadInput):
        recorder.command({"command": "block", **told, "bpm": float("nan")}, 101 * S)


def test_a_session_begins_with_the_first_note_and_its_time(recorder, tmp_path):
    """Without a session, what is no note begins none; the first note lies at its zero."""
    recorder.take(Up(1 * S, "Hex"))
    recorder.take(Message(2 * S, bytes([0xB0, 64, 127])))
    recorder.take(Message(2 * S, OFF))
    assert recorder.journal is None and not (tmp_path / "recordings").exists()
    recorder.take(Message(3 * S, NOTE))
    assert records(recorder.journal.folder) == [Link(0.0, True, "Hex"), Midi(0.0, NOTE)]


def test_a_long_silence_ends_the_session_and_the_next_note_begins_another(recorder, ended):
    """A day is a list of sittings. The silence counts from the last note, not from pedals or
    bends."""
    recorder.take(Message(1 * S, NOTE))
    first = recorder.journal.folder
    recorder.tick(900 * S)
    recorder.take(Message(900 * S, bytes([0xE0, 0, 64])))
    assert recorder.journal is not None
    recorder.tick(902 * S)
    assert recorder.journal is None and ended == [first]
    recorder.take(Message(2000 * S, NOTE))
    assert recorder.journal.folder != first
    assert records(first)[-1].why == "a long silence"


def test_a_clock_that_is_set_back_or_on_moves_no_note(recorder, ended, monkeypatch):
    """It names the session, and nothing else: stamps are of another clock, silence is counted by
    it."""
    walls = iter(
        ["2026-10-25T02:59:59+02:00", "2026-10-25T02:00:01+01:00", "2030-01-01T00:00:00+01:00"]
    )
    now = beginning.head_now
    monkeypatch.setattr(
        beginning, "head_now", lambda program: replace(now(program), wall=next(walls))
    )
    far = 10**9 * S  # after the machine's own clock, so that the heads keep the wall clock's moment
    for sitting in range(3):
        for second in range(3):
            recorder.take(Message(far + (sitting * 2000 + second) * S, NOTE))
            recorder.tick(far + (sitting * 2000 + second) * S)
        recorder.tick(far + (sitting * 2000 + 1000) * S)
    assert [folder.name for folder in ended] == [
        "2026-10-25T02-59-59",
        "2026-10-25T02-00-01",
        "2030-01-01T00-00-00",
    ]
    for folder in ended:
        assert [record.t_s for record in records(folder) if isinstance(record, Midi)] == [
            0.0,
            1.0,
            2.0,
        ]


def test_a_session_without_a_note_does_not_end_by_silence(recorder):
    """The player may tune, talk and drink coffee before the first note."""
    recorder.begin(1 * S)
    recorder.tick(5000 * S)
    assert recorder.journal is not None


def test_a_sitting_with_nothing_played_leaves_nothing_behind(recorder, ended, tmp_path):
    """Not even a folder. What somebody else put there stays."""
    recorder.begin(1 * S)
    recorder.take(Message(2 * S, bytes([0xB0, 7, 7])))
    recorder.end("done", 3 * S)
    assert list((tmp_path / "recordings").iterdir()) == [] and ended == []
    folder = recorder.begin(4 * S)
    (folder / "notes.txt").write_text("mine")
    recorder.end("done", 5 * S)
    assert [path.name for path in folder.iterdir()] == ["notes.txt"]


def test_a_mark_alone_is_worth_keeping(recorder, ended):
    """It begins a session where there is none."""
    recorder.command({"command": "mark", "text": " sore thumb "}, 5 * S)
    recorder.end("done", 6 * S)
    assert records(ended[0]) == [Mark(0.0, "sore thumb"), Stop(1.0, "done")]


def test_a_new_session_knows_the_bend_range_and_the_bends_in_force(recorder):
    """RPN 0 comes once, when the converter is switched on (sources.md, section 3); a bend only when
    it changes."""
    recorder.take(Up(1 * S, "Hex"))
    rpn = [bytes([0xB0, number, value]) for number, value in ((101, 0), (100, 0), (6, 24), (38, 0))]
    for data in [
        *rpn,
        bytes([0xE0, 1, 65]),
        bytes([0xE0, 5, 65]),
        bytes([0xE1, 9, 64]),
        bytes([0xB0, 7, 90]),
    ]:
        recorder.take(Message(2 * S, data))
    recorder.take(Message(9 * S, NOTE))
    carried = [*rpn, bytes([0xE0, 5, 65]), bytes([0xE1, 9, 64]), NOTE]
    assert [record.data for record in records(recorder.journal.folder)[1:]] == carried
    recorder.end("silence", 10 * S)
    recorder.take(Message(20 * S, NOTE))
    assert [record.data for record in records(recorder.journal.folder)[1:]] == carried


def test_after_a_lost_cable_nothing_is_carried_on(recorder):
    """The converter may come back with other settings, and its strings rest."""
    recorder.take(Message(1 * S, bytes([0xE0, 1, 65])))
    recorder.take(Down(2 * S, "unplugged"))
    recorder.take(Message(3 * S, NOTE))
    assert [type(record) for record in records(recorder.journal.folder)] == [Link, Midi]


def test_rig_cells_and_link_are_written_when_they_change_and_at_each_start(tmp_path):
    """A sitting explains itself."""
    recorder = Recorder(
        PracticeFolder(tmp_path), rig={"name": "mine", "channels": [1, 2, 3, 4, 5, 6]}, cells=[CELL]
    )
    folder = recorder.begin(1 * S)
    recorder.take(Up(2 * S, "Hex"))
    recorder.take(Down(3 * S, "unplugged"))
    recorder.take(Down(3 * S, "unplugged"))
    recorder.take(Up(4 * S, "Hex"))
    recorder.command({"command": "variant", "name": "hammered"}, 5 * S)
    recorder.command({"command": "cells", "cells": []}, 6 * S)
    assert kinds(folder) == ["UseRig", "UseCells", "Link", "Link", "Link", "UseCells", "UseCells"]
    rig, cells, up, down, back, variant, none = records(folder)
    assert isinstance(rig, UseRig) and rig.rig.name == "mine"
    assert (cells.cells[0].variant, variant.cells[0].variant, none) == (
        None,
        "hammered",
        UseCells(5.0, ()),
    )
    assert variant.cells[0].slots[1].stroke == "hammer"
    assert (up.up, down.up, back.up, down.port) == (True, False, True, "unplugged")


def test_the_cell_as_written_is_one_of_its_variants_by_name(tmp_path):
    """Reviews call it so, and so may the player."""
    recorder = Recorder(PracticeFolder(tmp_path), cells=[{**CELL, "variant": "hammered"}])
    recorder.command({"command": "variant", "name": "as written"}, 5 * S)
    assert recorder.cells[0]["variant"] is None


@pytest.mark.parametrize(
    ("command", "line"),
    [
        ({"command": "dance"}, "the recorder knows no command 'dance'"),
        ({}, "the recorder knows no command None"),
        ({"command": "mark"}, "mark: a text is needed"),
        ({"command": "mark", "text": "  "}, "mark: a text is needed"),
        ({"command": "mark", "text": "x" * 501}, "mark: 501 characters; at most 500"),
        (
            {"command": "variant", "name": "tapped"},
            "has a variant 'tapped'; there is: as written, hammered",
        ),
        ({"command": "variant", "name": 3}, "variant: a name is needed"),
        ({"command": "cells", "cells": {"a": 1}}, "cells: a list of cells is needed"),
        ({"command": "cells", "cells": [{"name": "x"}]}, "slots"),
        ({"command": "cells", "cells": [3]}, "cannot be understood"),
        (
            {"command": "cells", "cells": [{**CELL, "variant": "no such"}]},
            "cells record cannot be understood",
        ),
    ],
)
def test_a_command_that_cannot_be_carried_out_changes_nothing(tmp_path, command, line):
    """One line says why; the journal gets no word of it."""
    recorder = Recorder(PracticeFolder(tmp_path), cells=[CELL])
    folder = recorder.begin(1 * S)
    with pytest.raises(BadInput, match=line):
        recorder.command(command, 2 * S)
    assert kinds(folder) == ["UseCells"] and recorder.cells == [CELL]


def test_what_the_reader_dropped_is_told_once(recorder):
    """Heartbeats carry sums; a new reader begins at zero."""
    folder = recorder.begin(1 * S)
    for t_s, dropped in ((2, 0), (3, 5), (4, 5), (5, 7)):
        recorder.take(Alive(t_s * S, dropped, 0))
    recorder.new_reader()
    recorder.take(Alive(6 * S, 1, 0))
    assert [(gap.t_s, gap.dropped) for gap in records(folder)] == [(2.0, 5), (4.0, 2), (5.0, 1)]
    assert recorder.status(7 * S)["dropped"] == 8


def test_status_says_how_things_stand(recorder):
    """What ``livecheck status`` shows."""
    assert recorder.status(1 * S)["session"] is None
    recorder.take(Up(1 * S, "Hex"))
    recorder.take(Message(2 * S, NOTE))
    recorder.take(Message(3 * S, OFF))
    status = recorder.status(62 * S)
    assert status["link"] == {"up": True, "port": "Hex"}
    assert (status["messages"], status["notes"], status["duration_s"], status["trouble"]) == (
        2,
        1,
        60.0,
        None,
    )


class FullDisk(Disk):
    """Refuses every write while ``full``."""

    def __init__(self):
        self.full = True

    def write(self, fd, data):
        if self.full:
            raise OSError(errno.ENOSPC, "No space left on device")
        return super().write(fd, data)


def test_on_a_full_disk_playing_goes_on_and_nothing_is_lost(tmp_path):
    """Notes wait in memory, status says why, and all are written when there is room again, in
    order."""
    disk = FullDisk()
    recorder = Recorder(
        PracticeFolder(tmp_path),
        open_journal=lambda folder, head: Journal.create(folder, head, disk=disk),
    )
    for number in range(30):
        recorder.take(Message((10 + number) * S, bytes([0x90, number, 9])))
        recorder.tick((10 + number) * S)
    assert recorder.journal is None and recorder.status(41 * S)["waiting"] == 30
    assert "No space left" in recorder.status(41 * S)["trouble"]
    assert list((tmp_path / "recordings").iterdir()) == []
    disk.full = False
    recorder.tick(42 * S)
    disk.full = True
    recorder.take(Message(43 * S, bytes([0x90, 30, 9])))
    assert (
        "No space left" in recorder.status(43 * S)["trouble"]
        and recorder.status(43 * S)["waiting"] == 1
    )
    disk.full = False
    recorder.tick(45 * S)
    recorder.take(Message(46 * S, bytes([0x90, 31, 9])))
    found = records(recorder.journal.folder)
    assert [(round(record.t_s), record.data[1]) for record in found] == [
        *[(number, number) for number in range(30)],
        (33, 30),
        (36, 31),
    ]
    assert recorder.status(47 * S)["trouble"] is None


def test_memory_is_bounded_while_no_journal_can_be_made(tmp_path):
    """What does not fit is counted, and a gap record says so later."""
    disk = FullDisk()
    recorder = Recorder(
        PracticeFolder(tmp_path),
        open_journal=lambda folder, head: Journal.create(folder, head, disk=disk),
    )
    for number in range(WAITING + 250):
        recorder.take(Message(10 * S + number, NOTE))
    disk.full = False
    recorder.tick(20 * S)
    found = records(recorder.journal.folder)
    assert len(found) == WAITING + 1
    assert found[-1] == Gap(10.0, 250, "no journal could be made and memory was full")
