"""Reading Standard MIDI Files: right answers, checked against published examples and other
libraries."""

from __future__ import annotations

import csv
import importlib.util
import io
import random
from pathlib import Path

import mido
import pretty_midi
import pytest
from midis import END, M41, M42, by_mido, grouped, smf

from livecheck.core.events import Midi
from livecheck.files.midifile import read_midi
from livecheck.files.midiwalk import messages

GUITARSET = Path(__file__).parents[2].parent / "shared" / "data" / "guitarset"
SHIPPED_BY = ("pretty_midi", "mir_eval", "partitura", "music21")


def sounding(found: list[Midi]) -> list[tuple[float, int, int, int]]:
    """Note-ons as (seconds, channel from 1, note, velocity)."""
    return [
        (t_s, (data[0] & 15) + 1, data[1], data[2])
        for t_s, data in found
        if data[0] & 0xF0 == 0x90 and data[2] > 0
    ]


def test_the_specifications_format_0_example():
    """Channels 3, 2, 1; ticks 0, 96, 192 and 384 of 96 a quarter at 120 bpm; running status
    (sources.md M-41, M-38)."""
    found = messages(M41)
    assert sorted(sounding(found)) == [
        (0.0, 3, 48, 96),
        (0.0, 3, 60, 96),
        (0.5, 2, 67, 64),
        (1.0, 1, 76, 32),
    ]
    offs = sorted(data.hex() for t_s, data in found if t_s == 2.0)
    assert offs == ["804c40", "814340", "823040", "823c40"]
    assert [data.hex() for t_s, data in found if data[0] & 0xF0 == 0xC0] == ["c005", "c12e", "c246"]
    assert len(found) == 11


def test_the_same_music_as_format_1():
    """The same notes from four tracks; note-ons of velocity 0 stay what they are (sources.md M-42,
    M-05)."""
    found = messages(M42)
    assert sorted(sounding(found)) == sorted(sounding(messages(M41)))
    assert sorted(data.hex() for t_s, data in found if t_s == 2.0) == [
        "904c00",
        "914300",
        "923000",
        "923c00",
    ]


@pytest.mark.parametrize("data", [M41, M42], ids=["M41", "M42"])
def test_mido_reads_the_examples_alike(data):
    """A second judgment."""
    assert grouped(messages(data)) == grouped(by_mido(data))


VLQ = {
    0: "00", 0x40: "40", 0x7F: "7F", 0x80: "8100", 0x2000: "C000", 0x3FFF: "FF7F", 0x4000: "818000",
    0x100000: "C08000", 0x1FFFFF: "FFFF7F", 0x200000: "81808000", 0x8000000: "C0808000",
    0xFFFFFFF: "FFFFFF7F",
}  # fmt: skip


@pytest.mark.parametrize(("ticks", "written"), VLQ.items())
def test_delta_times_are_read_as_the_specification_writes_them(ticks, written):
    """The specification's table of variable-length quantities (sources.md M-35)."""
    (note,) = messages(smf(f"{written} 903C40 {END}", division=1000))
    assert note.t_s == ticks / 2000


@pytest.mark.parametrize(
    ("written", "bpm"), [("07A120", 120.0), ("0927C0", 100.0), ("0718DC", 129.0), ("068A1B", 140.0)]
)
def test_a_tempo_is_microseconds_a_quarter(written, bpm):
    """500 000 is 120 bpm; 600 000, 465 116 and 428 571 are 100, 129 and 140 (sources.md M-38)."""
    (note,) = messages(smf(f"00FF5103{written} 8740 903C40 {END}", division=960))
    assert note.t_s == pytest.approx(60 / bpm, rel=2e-6)
    assert note.t_s == int(written, 16) / 1e6


def test_without_a_tempo_it_is_120():
    """The default (sources.md M-38)."""
    (note,) = messages(smf(f"60 903C40 {END}"))
    assert note.t_s == 0.5


def test_tempo_changes_hold_from_their_tick_for_all_tracks():
    """The tempo of one track moves the notes of another; of two at one tick the later counts."""
    found = messages(
        smf(
            # at 96: 1 s, then at once 0.2 s; at 192: 0.5 s
            f"60 FF51030F4240 00FF5103030D40 60 FF510307A120 {END}",
            f"30 903C40 30 903D40 30 903E40 30 903F40 60 904040 {END}",
        )
    )
    assert [t_s for t_s, _ in found] == pytest.approx([0.25, 0.5, 0.6, 0.7, 1.2], abs=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_random_files_are_read_as_mido_reads_them(seed):
    """Tempo maps, tracks, running status, controllers, bends and SysEx, written by mido at
    random."""
    chance = random.Random(seed)
    file = mido.MidiFile(type=1, ticks_per_beat=chance.choice([1, 24, 96, 480, 960, 0x7FFF]))
    for _ in range(chance.randint(1, 8)):
        track = mido.MidiTrack()
        file.tracks.append(track)
        for _ in range(chance.randint(0, 200)):
            wait, channel = chance.choice([0, 0, 1, 5, 200, 20_000]), chance.randrange(16)
            note, value = chance.randrange(128), chance.randrange(128)
            track.append(
                chance.choice([
                    mido.Message("note_on", channel=channel, note=note, velocity=value, time=wait),
                    mido.Message("note_off", channel=channel, note=note, velocity=value, time=wait),
                    mido.Message("pitchwheel", channel=channel, pitch=chance.randint(-8192, 8191),
                                 time=wait),
                    mido.Message("control_change", channel=channel, control=note, value=value,
                                 time=wait),
                    mido.Message("program_change", channel=channel, program=note, time=wait),
                    mido.Message("aftertouch", channel=channel, value=value, time=wait),
                    mido.Message("polytouch", channel=channel, note=note, value=value, time=wait),
                    mido.Message("sysex", data=[note, value], time=wait),
                    mido.MetaMessage("set_tempo", tempo=chance.randint(1, 2_000_000), time=wait),
                    mido.MetaMessage("text", text="x" * value, time=wait),
                ])
            )  # fmt: skip
    written = io.BytesIO()
    file.save(file=written)
    found, expected = messages(written.getvalue()), by_mido(written.getvalue())
    assert len(found) == len(expected)
    assert [t_s for t_s, _ in found] == pytest.approx(
        [t_s for t_s, _ in expected], rel=1e-9, abs=1e-9
    )
    for channel in range(16):
        mine = [data for _, data in found if data[0] & 15 == channel and data[0] < 0xF0]
        assert sorted(mine) == sorted(
            data for _, data in expected if data[0] & 15 == channel and data[0] < 0xF0
        )


def test_at_one_moment_offs_come_first_across_tracks_and_a_tracks_own_order_stays():
    """Track 1 ends and begins notes at the tick at which track 2 does; an off after an on keeps its
    place."""
    found = messages(
        smf(
            f"00 903C40 60 B00740 00 803C00 00 903D40 00 903D00 {END}",
            f"00 913C40 60 913C00 00 913D40 {END}",
        )
    )
    later = [data.hex() for t_s, data in found if t_s == 0.5]
    assert later == ["913c00", "b00740", "803c00", "903d40", "903d00", "913d40"]


def test_real_time_of_reading_is_not_the_order_of_tracks():
    """What comes earlier stands first, whichever track it is in."""
    found = messages(smf(f"60 903C40 {END}", f"30 913C40 60 913D40 {END}", f"00 923C40 {END}"))
    assert [data[0] & 15 for _, data in found] == [2, 1, 0, 1]


def test_sysex_is_kept_whole_also_in_packets():
    """F0 … F7 comes out as one message; packets (F7) are joined; an escape by itself is passed
    over."""
    found = messages(smf(f"00 F003 0102F7 00 F002 0304 10 F702 05F7 00 F701 F8 00 903C40 {END}"))
    assert [data.hex() for _, data in found] == ["f00102f7", "f0030405f7", "903c40"]


def test_running_status_goes_on_behind_a_text():
    """A file may not count on it (sources.md M-39), but some do, and it can mean one thing only."""
    found = messages(smf(f"00 903C40 00 FF0101 41 10 3C00 {END}"))
    assert [data.hex() for _, data in found] == ["903c40", "903c00"]


def test_unknown_chunks_and_longer_headers_are_passed_over():
    """As the specification asks (sources.md M-36)."""
    plain = smf(f"00 903C40 {END}")
    longer = plain[:4] + b"\0\0\0\x08" + plain[8:14] + b"??" + b"XFIH\0\0\0\x03abc" + plain[14:]
    assert messages(longer) == messages(plain)


def test_what_follows_the_end_of_track_or_the_last_track_is_passed_over():
    """The end-of-track event ends a track (sources.md M-40); one without it ends with its chunk."""
    assert len(messages(smf(f"00 903C40 {END} 00 903D40"))) == 1
    assert len(messages(smf("00 903C40") + b"junk")) == 1


def test_the_open_recording_is_read_as_its_annotation(tmp_path):
    """71 notes of a real solo, string by string: onsets to 0.26 ms, half a tick of its MIDI file
    (sources.md G-01)."""
    if not GUITARSET.is_dir():
        pytest.skip("the shared recording is not beside the project")
    found = sounding(read_midi(GUITARSET / "00_BN1-129-Eb_solo.mid"))
    with open(GUITARSET / "00_BN1-129-Eb_solo.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(found) == len(rows) == 71
    assert [sum(channel == string for _, channel, _, _ in found) for string in range(1, 7)] == [
        6,
        24,
        21,
        12,
        7,
        1,
    ]
    for string in range(1, 7):
        mine = [note for note in found if note[1] == string]
        theirs = [row for row in rows if int(row["string"]) == string]
        for (t_s, _, note, velocity), row in zip(mine, theirs):
            assert abs(t_s - float(row["onset_s"])) <= 0.000_261
            assert note == round(float(row["midi_pitch"]))
            assert velocity == 80


def library_files() -> list[Path]:
    found: list[Path] = []
    for name in SHIPPED_BY:
        spec = importlib.util.find_spec(name)
        for root in (spec.submodule_search_locations or []) if spec else []:
            found += sorted(Path(root).rglob("*.mid"))
    return found


@pytest.mark.parametrize("path", library_files(), ids=lambda path: path.name)
def test_files_that_come_with_libraries_are_read_as_mido_reads_them(path):
    """Real files by many programs: the same messages at the same times."""
    found, expected = read_midi(path), by_mido(path.read_bytes())
    assert [t_s for t_s, _ in found] == pytest.approx(
        [t_s for t_s, _ in expected], rel=1e-9, abs=1e-9
    )
    assert sorted(data for _, data in found) == sorted(data for _, data in expected)


def test_the_open_recording_is_read_as_pretty_midi_reads_it():
    """Every note of a third library at its time."""
    if not GUITARSET.is_dir():
        pytest.skip("the shared recording is not beside the project")
    path = GUITARSET / "00_BN1-129-Eb_solo.mid"
    notes = [
        note
        for instrument in pretty_midi.PrettyMIDI(str(path)).instruments
        for note in instrument.notes
    ]
    theirs = sorted((note.start, note.pitch, note.velocity) for note in notes)
    ours = sorted((t_s, note, velocity) for t_s, _, note, velocity in sounding(read_midi(path)))
    assert [note[1:] for note in ours] == [note[1:] for note in theirs]
    assert [note[0] for note in ours] == pytest.approx([note[0] for note in theirs], abs=1e-9)
