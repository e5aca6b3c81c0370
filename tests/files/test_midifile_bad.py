"""Files that are no sound Standard MIDI Files: one line with the place, or a right answer; never a
hang."""

from __future__ import annotations

import io
import os
import random
import signal
import struct
from collections.abc import Sequence

import mido
import pytest
from midis import END, M41, M42, by_mido, grouped, smf
from mido.midifiles.meta import KeySignatureError

from livecheck.errors import BadInput
from livecheck.files import midifile
from livecheck.files.midifile import read_midi
from livecheck.files.midiwalk import MOST_MESSAGES, Unreadable, messages

TICKS = "export it again as a Standard MIDI File with ticks per quarter note"
MIDO_REFUSES = (OSError, EOFError, ValueError, LookupError, ArithmeticError, KeySignatureError)


def told(tmp_path, data: bytes) -> str:
    """The one line that a file's content earns."""
    path = tmp_path / "take.mid"
    path.write_bytes(data)
    with pytest.raises(BadInput) as error:
        read_midi(path)
    line = str(error.value)
    assert line.startswith(f"{path}: ") and "\n" not in line
    return line.removeprefix(f"{path}: ")


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b"", "does not begin with MThd: no Standard MIDI File"),
        (b"hello, this is text", "does not begin with MThd: no Standard MIDI File"),
        (
            b"RIFF\0\0\0\0RMIDdata" + M41,
            "is wrapped in RIFF; export it again as a Standard MIDI File",
        ),
        (M41[:10], "is cut short: its header ends too early"),
        (M41[:4] + b"\0\0\0\x05" + M41[8:], "byte 4: a header of 5 bytes; it has at least 6"),
        (
            smf(END, form=2),
            "byte 8: format 2 is not read; export it again as a Standard MIDI File of format 0 or "
            "1",
        ),
        (
            smf(END, form=0, promised=2),
            "byte 10: 2 tracks; format 0 has one, format 1 at most 1000",
        ),
        (
            smf(END, form=1, promised=1001),
            "byte 10: 1001 tracks; format 0 has one, format 1 at most 1000",
        ),
        (smf(END, division=0), "byte 12: 0 ticks per quarter note; there is at least 1"),
        (smf(END, division=0xE728), "byte 12: counts time in film frames (SMPTE); " + TICKS),
        (M41[:-1], "byte 18: is cut short: 59 bytes should follow, 58 do"),
        (M42[:66], "byte 66: ends after 2 of 4 tracks"),
        (smf("00 903C"), "byte 25, track 1: the track ends inside an event"),
        (smf("00"), "byte 23, track 1: the track ends inside an event"),
        (smf("81"), "byte 23, track 1: the track ends inside an event"),
        (smf("00 3C40"), "byte 23, track 1: data byte 3C where a message should begin"),
        (
            smf("00 903C40 00 F001F7 00 3C40"),
            "byte 31, track 1: data byte 3C where a message should begin",
        ),
        (smf("00 90C840"), "byte 24, track 1: C8 inside a message; data bytes are below 80"),
        (smf("00 903CC8"), "byte 25, track 1: C8 inside a message; data bytes are below 80"),
        (smf("00 F8"), "byte 23, track 1: F8 may not stand in a file"),
        (smf("00 F23C40"), "byte 23, track 1: F2 may not stand in a file"),
        (smf("8181818100 903C40"), "byte 22, track 1: a number of more than four bytes"),
        (smf("00 FF"), "byte 24, track 1: the track ends inside an event"),
        (
            smf("00 FF0105 41"),
            "byte 25, track 1: is cut short: 5 bytes should follow in this track",
        ),
        (smf("00 F005 41"), "byte 24, track 1: is cut short: 5 bytes should follow in this track"),
        (smf("00 FF5103000000"), "byte 26, track 1: '00 00 00' is no tempo"),
        (smf("00 FF510207A1"), "byte 26, track 1: '07 A1' is no tempo"),
        (smf("00 F003 C801F7"), "byte 28, track 1: the SysEx before holds bytes over 7F"),
        (smf(END, "00 903C"), "byte 37, track 2: the track ends inside an event"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(tmp_path, data, line):
    """File, byte, track, what is wrong, and the remedy where there is one (sources.md M-35 to M-40,
    M-45)."""
    assert told(tmp_path, data) == line


def test_what_is_no_file_is_told(tmp_path):
    """Nothing there, a folder, a pipe that would never end."""
    with pytest.raises(BadInput, match=r"none\.mid: cannot be read: No such file or directory"):
        read_midi(tmp_path / "none.mid")
    with pytest.raises(BadInput, match="is a folder, not a MIDI file"):
        read_midi(tmp_path)
    os.mkfifo(tmp_path / "pipe.mid")
    with pytest.raises(BadInput, match="is no ordinary file"):
        read_midi(tmp_path / "pipe.mid")


def test_a_file_too_large_is_not_read(tmp_path):
    """Over 16 MB."""
    path = tmp_path / "large.mid"
    path.write_bytes(M41)
    os.truncate(path, midifile.LARGEST_BYTES + 1)
    with pytest.raises(BadInput, match="is larger than 16 MB; split it"):
        read_midi(path)


def track(events: bytes) -> bytes:
    return M41[:14] + b"MTrk" + struct.pack(">L", len(events)) + events


def test_a_file_of_too_many_messages_is_not_read():
    """Memory stays bounded however short the messages are."""
    with pytest.raises(Unreadable, match=r"holds more than 1000000 messages; split it"):
        messages(track(b"\x00\x90\x3c\x40" + b"\x00\x3c\x00" * MOST_MESSAGES))
    with pytest.raises(Unreadable, match="more than 100000 tempo changes"):
        messages(track(b"\x00\xff\x51\x03\x07\xa1\x20" * 100_001))


@pytest.fixture
def guard():
    """Ends a test that hangs: after 20 s of the system's alarm clock."""

    def hangs(_signal: int, _frame: object) -> None:
        raise AssertionError("it hangs")

    before = signal.signal(signal.SIGALRM, hangs)
    signal.alarm(20)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.mark.parametrize(
    "events",
    [
        b"\xff" * 4_000_000,
        b"\x80" * 4_000_000,
        b"\x00\xf0" + b"\xff" * 4_000_000,
        (b"\xff" * 4095 + b"\x7f") * 1000,
    ],
    ids=["FF", "80", "SysEx", "just below 4096"],
)
def test_no_run_of_bytes_makes_it_hang(guard, events):
    """Endless numbers, which cost a general library minutes, are refused at their fifth byte."""
    with pytest.raises(Unreadable, match="four bytes"):
        messages(track(events))


def mutated(data: bytes, chance: random.Random) -> bytes:
    """One to four changes: bytes set, cut out, doubled, inserted; or the end cut off."""
    changed = bytearray(data)
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(changed) or 1)
        kind = chance.randrange(6)
        if kind == 0:
            changed[at : at + 1] = chance.randbytes(1)
        elif kind == 1:
            changed[at : at + 1] = bytes([chance.choice([0, 0x7F, 0x80, 0xF0, 0xF7, 0xFF])])
        elif kind == 2:
            del changed[at : at + chance.randint(1, 8)]
        elif kind == 3:
            changed[at:at] = changed[chance.randrange(len(changed) or 1) :][: chance.randint(1, 16)]
        elif kind == 4:
            changed[at:at] = chance.randbytes(chance.randint(1, 8))
        else:
            del changed[at:]
    return bytes(changed)


def written_file(chance: random.Random) -> bytes:
    file = mido.MidiFile(type=1, ticks_per_beat=480)
    for number in range(3):
        line = mido.MidiTrack(
            [mido.MetaMessage("set_tempo", tempo=400_000), mido.MetaMessage("text", text="a")]
        )
        for _ in range(8):
            note = chance.randrange(40, 90)
            line.append(mido.Message("note_on", channel=number, note=note, velocity=80, time=100))
            line.append(
                mido.Message("pitchwheel", channel=number, pitch=chance.randint(-99, 99), time=7)
            )
            line.append(mido.Message("note_off", channel=number, note=note, time=300))
        line.append(mido.Message("sysex", data=[1, 2, 3]))
        file.tracks.append(line)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def channel_messages(timed: Sequence[tuple[float, bytes]]) -> list[tuple[float, list[bytes]]]:
    """Without SysEx, of which mido takes the packets for messages."""
    return grouped([(t_s, message) for t_s, message in timed if message[0] < 0xF0])


def survive(count: int, seed: int) -> tuple[int, int]:
    """Read so many damaged files; returns how many were read, and how many of them mido read
    too."""
    chance = random.Random(seed)
    originals = [M41, M41, M42, *(written_file(chance) for _ in range(3))]
    read = both = 0
    for _ in range(count):
        original = chance.choice(originals)
        # Most changes of a whole file spoil the length of a track; changed events in a sound track
        # reach further.
        data = (
            mutated(original, chance)
            if chance.random() < 0.3
            else track(mutated(original[22:], chance))
        )
        try:
            found = messages(data)
        except Unreadable as wrong:
            assert "\n" not in str(wrong)
            continue
        read += 1
        times = [t_s for t_s, _ in found]
        assert times == sorted(times) and all(t_s >= 0 for t_s in times)
        for _, message in found:
            assert mido.Message.from_bytes(message).bytes() == list(message)
        if b"\xff\x2f" in data[:-3]:
            continue  # mido reads on behind the end of a track
        try:
            expected = by_mido(data)
        except MIDO_REFUSES:
            continue
        assert channel_messages(found) == channel_messages(expected), data.hex()
        both += 1
    return read, both


def test_damaged_files_are_read_or_refused():
    """2,000 mutations: one line or messages that are messages, in order; those that mido reads,
    too, alike."""
    read, both = survive(2000, seed=1)
    assert read > 200 and both > 50


@pytest.mark.long
def test_many_damaged_files():
    """50,000 mutations."""
    print(survive(50_000, seed=2))


def test_a_damaged_file_is_told_in_one_line(tmp_path):
    """The same through the file: BadInput with the name, nothing else."""
    chance = random.Random(3)
    for _ in range(200):
        path = tmp_path / "take.mid"
        path.write_bytes(mutated(M42, chance))
        try:
            read_midi(path)
        except BadInput as error:
            assert str(error).startswith(f"{path}: ") and "\n" not in str(error)
