"""Writing a session as a Standard MIDI File that other programs read."""

from __future__ import annotations

import io
import random
import stat

import mido
import pretty_midi
import pytest
from journals import records, write

from livecheck.core.events import Mark, Midi, Stop, UseRig
from livecheck.core.rig import Rig
from livecheck.errors import BadInput
from livecheck.files.journal import read
from livecheck.files.midifile import LONGEST_DELTA, read_midi, write_midi


def session(seed: int, notes: int = 300) -> list[Midi]:
    """Notes on six channels at times of any fraction of a millisecond, with bends and controllers
    between them."""
    chance = random.Random(seed)
    t_s = 0.0
    played = []
    for index in range(notes):
        t_s += chance.uniform(0.01, 0.2)
        status, note = index % 6, chance.randrange(40, 90)
        played.append(
            Midi(t_s, bytes([0xE0 + status, chance.randrange(128), chance.randrange(128)]))
        )
        played.append(Midi(t_s, bytes([0x90 + status, note, chance.randint(1, 127)])))
        t_s += 0.0071
        played.append(Midi(t_s, bytes([0x80 + status, note, 64])))
        played.append(Midi(t_s, bytes([0xB0 + status, 7, chance.randrange(128)])))
    return played


@pytest.mark.parametrize("seed", range(5))
def test_what_is_written_is_read_back_within_half_a_millisecond(tmp_path, seed):
    """Every message, on every channel in its order; the error does not grow over the file."""
    played = session(seed)
    assert write_midi(tmp_path / "s.mid", played) == 0
    found = read_midi(tmp_path / "s.mid")
    assert len(found) == len(played)
    for channel in range(16):
        mine = [message for message in played if message.data[0] & 15 == channel]
        theirs = [message for message in found if message.data[0] & 15 == channel]
        assert [message.data for message in theirs] == [message.data for message in mine]
        assert all(abs(a.t_s - b.t_s) <= 0.000_501 for a, b in zip(mine, theirs))


def test_other_libraries_read_it_alike(tmp_path):
    """mido: format 1, 480 ticks at 125 bpm, one track a string; pretty_midi: the notes, in
    seconds."""
    played = session(1)
    write_midi(tmp_path / "s.mid", [UseRig(0.0, Rig()), *played, Stop(60.0, "")])
    file = mido.MidiFile(tmp_path / "s.mid")
    assert (file.type, file.ticks_per_beat) == (1, 480)
    assert [track.name for track in file.tracks] == [
        "livecheck",
        *(f"string {number}" for number in range(1, 7)),
    ]
    assert file.tracks[0][1].tempo == 480_000
    assert {sum(message.time for message in track) for track in file.tracks} == {60_000}
    assert file.length == pytest.approx(60.0)
    notes = [
        (note.start, note.pitch, note.velocity)
        for instrument in pretty_midi.PrettyMIDI(str(tmp_path / "s.mid")).instruments
        for note in instrument.notes
    ]
    onsets = [(m.t_s, m.data[1], m.data[2]) for m in played if m.data[0] & 0xF0 == 0x90]
    assert len(notes) == len(onsets)
    for (start, pitch, velocity), (t_s, key, force) in zip(sorted(notes), sorted(onsets)):
        assert (pitch, velocity) == (key, force)
        assert abs(start - t_s) <= 0.000_501


def test_messages_that_may_not_stand_in_a_file_are_counted(tmp_path):
    """Real-time, system common and broken messages are left out (sources.md M-39); SysEx stays."""
    sent = "90 3c 40, f8, fe, f2 01 02, 90, 90 c8 40, 40 01 02, f0 01 02 f7, f0 01, f4, 80 3c 40"
    played = [Midi(0.5, bytes.fromhex(message)) for message in sent.split(",")] + [Midi(0.6, b"")]
    assert write_midi(tmp_path / "s.mid", played) == 9
    assert sorted(data.hex() for _, data in read_midi(tmp_path / "s.mid")) == [
        "803c40",
        "903c40",
        "f00102f7",
    ]


def test_marks_are_markers(tmp_path):
    """In any writing; even half a character does no harm."""
    write_midi(tmp_path / "s.mid", [Mark(1.0, "grün ☃"), Mark(2.0, "half \ud83d")])
    file = mido.MidiFile(tmp_path / "s.mid", charset="utf-8")
    assert [message.text for message in file.tracks[0] if message.type == "marker"] == [
        "grün ☃",
        "half ?",
    ]


def test_strings_are_named_by_the_rig(tmp_path):
    """A channel that is no string of it, or without a rig, is named by its number, from 1
    (sources.md M-46)."""
    played = [Midi(0.0, b"\x9a\x3c\x40"), Midi(0.0, b"\x90\x3c\x40")]
    rig = UseRig(0.0, Rig(channels=(11, 12, 13, 14, 15, 16)))
    write_midi(tmp_path / "a.mid", [rig, *played])
    write_midi(tmp_path / "b.mid", played)
    assert [track.name for track in mido.MidiFile(tmp_path / "a.mid").tracks[1:]] == [
        "channel 1",
        "string 1",
    ]
    assert [track.name for track in mido.MidiFile(tmp_path / "b.mid").tracks[1:]] == [
        "channel 1",
        "channel 11",
    ]


def test_a_silence_of_days_is_written(tmp_path):
    """Longer than a delta time can be (sources.md M-35)."""
    late_s = 2.5 * LONGEST_DELTA / 1000
    write_midi(tmp_path / "s.mid", [Midi(0.0, b"\x90\x3c\x40"), Midi(late_s, b"\x80\x3c\x40")])
    assert read_midi(tmp_path / "s.mid")[1].t_s == pytest.approx(late_s, abs=0.000_501)


def test_times_out_of_order_lose_nothing(tmp_path):
    """A message before the last one's time, or before the start, is moved up to it."""
    played = [Midi(-1.0, b"\x90\x3c\x40"), Midi(0.5, b"\x90\x3d\x40"), Midi(0.4, b"\x90\x3e\x40")]
    write_midi(tmp_path / "s.mid", played)
    assert [(t_s, data[1]) for t_s, data in read_midi(tmp_path / "s.mid")] == [
        (0.0, 60),
        (0.5, 61),
        (0.5, 62),
    ]


def test_nothing_played_is_a_file_all_the_same(tmp_path):
    """With no track but the first."""
    write_midi(tmp_path / "s.mid", [])
    assert read_midi(tmp_path / "s.mid") == []
    assert len(mido.MidiFile(tmp_path / "s.mid").tracks) == 1


def test_a_session_goes_from_journal_to_file(tmp_path):
    """Straight from the reader, without being held in memory as a whole."""
    write(tmp_path / "s", records(20))
    write_midi(tmp_path / "s" / "session.mid", read(tmp_path / "s"))
    found = read_midi(tmp_path / "s" / "session.mid")
    assert found == [record for record in records(20) if isinstance(record, Midi)]


def test_the_file_is_the_players_own_and_replaces_the_old_one(tmp_path):
    """0600; nothing is left beside it."""
    (tmp_path / "s.mid").write_text("old")
    write_midi(tmp_path / "s.mid", records(1))
    assert stat.S_IMODE((tmp_path / "s.mid").stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir()] == ["s.mid"]


def test_a_file_that_cannot_be_written_is_told_in_one_line(tmp_path):
    """And an existing one, or what stands in its place, stays as it was."""
    with pytest.raises(
        BadInput, match=r"none/s\.mid: cannot be written: No such file or directory"
    ):
        write_midi(tmp_path / "none" / "s.mid", records(1))
    (tmp_path / "folder.mid").mkdir()
    with pytest.raises(BadInput, match="cannot be written"):
        write_midi(tmp_path / "folder.mid", records(1))
    assert [path.name for path in tmp_path.iterdir()] == ["folder.mid"]


def test_equal_sessions_give_equal_files(tmp_path):
    """No date, no name of a machine."""
    for name in "ab":
        write_midi(tmp_path / name, session(3))
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()
    assert mido.MidiFile(file=io.BytesIO((tmp_path / "a").read_bytes())).length > 1
