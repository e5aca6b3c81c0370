"""Files of other programs, read as their kind says; every mistake is one line with its place."""

from __future__ import annotations

from pathlib import Path

import mido
import pytest

from livecheck.core.cell import Cell
from livecheck.errors import BadInput
from livecheck.files.notation.figure import Asked
from livecheck.files.notation.read import read_notation

LIBRARY = Path(__file__).parents[1] / "data" / "notation"
STANDARD = (64, 59, 55, 50, 45, 40)


def read(path: Path, **asked: object) -> tuple[list[Cell], list[str]]:
    return read_notation(path, Asked(**asked))


def text(folder: Path, words: str, **asked: object) -> Cell:
    (folder / "x.txt").write_text(words, "utf-8")
    return read(folder / "x.txt", **asked)[0][0]


def places(cell: Cell) -> list[tuple[int, int, int]]:
    """String, fret and start."""
    return [(slot.string, slot.fret, slot.start) for slot in cell.slots]


def pitches(cell: Cell) -> list[int]:
    return [slot.pitch for slot in cell.slots]


# --------------------------------------------------------- written by general notation libraries


@pytest.mark.parametrize("name", ["music21-tab.mxl"])
def test_strings_frets_bows_ties_and_triplets_of_music21(name):
    """Two bars in two four; the fourth note is tied over the bar line."""
    cells, notes = read(LIBRARY / name)
    (cell,) = cells
    assert (cell.name, cell.grid, cell.tempo_bpm, notes) == ("tie and triplets", 6, 92.0, [])
    assert [(s.string, s.fret, s.start, s.length) for s in cell.slots] == [
        (2, 13, 0, 3), (2, 10, 3, 3), (3, 12, 6, 3), (3, 10, 9, 6), (5, 12, 15, 2), (5, 9, 17, 2),
        (5, 7, 19, 2)
    ]  # fmt: skip
    assert cell.written == ("down", "up", "down", "up", None, None, None) and cell.steps == 24
    second = read(LIBRARY / name, bars=(2, 2))[0][0]
    assert [slot.fret for slot in second.slots] == [12, 9, 7] and second.steps == 12


@pytest.mark.parametrize("name", ["music21-clef", "music21-transposed"])
def test_transposing_clefs_and_parts_of_music21(name):
    """A treble clef that sounds an octave lower is written as it sounds; a transposing part is not.
    Both sound A3 to E4 and back."""
    cells, notes = read(LIBRARY / f"{name}.musicxml")
    assert len(cells) > 1 and "ways to play these notes" in notes[0]
    for cell in cells:
        assert pitches(cell) == [57, 60, 62, 64, 62, 60, 57, 55]
        assert (cell.grid, cell.steps) == (2, 8)
    assert max(abs(a.fret - b.fret) for a in cells[0].slots for b in cells[0].slots) <= 5


def test_one_channel_of_music21():
    """The library ends its track a quarter note behind the last note: the end of the cell."""
    cell = read(LIBRARY / "music21-one-channel.mid")[0][0]
    assert pitches(cell) == [57, 60, 62, 64, 62, 60, 57, 55] and cell.steps == 10


@pytest.mark.parametrize("name", ["partitura.musicxml", "partitura.mid"])
def test_a_part_of_partitura(name):
    """Seven sixteenths; in the score a rest fills the bar, in the MIDI file the track ends."""
    cell = read(LIBRARY / name)[0][0]
    assert pitches(cell) == [57, 60, 62, 64, 67, 66, 64] and cell.grid == 4
    assert [slot.start for slot in cell.slots] == list(range(7))
    assert cell.steps == (16 if name.endswith("xml") else 7)


def test_triplets_of_pretty_midi():
    """Notes four fifths as long as written, times rounded to ticks."""
    cell = read(LIBRARY / "pretty-midi.mid")[0][0]
    assert (pitches(cell), cell.grid, cell.tempo_bpm) == ([64, 67, 69, 71, 69, 67], 3, 108.0)
    assert [slot.start for slot in cell.slots] == list(range(6)) and cell.steps == 6


def test_a_channel_for_each_string_of_mido():
    """A track for each channel, note-ons of velocity 0 as ends, the track's end behind a rest."""
    cells, _ = read(LIBRARY / "mido-channels.mid")
    assert places(cells[0]) == [
        (2, 13, 0),
        (2, 10, 1),
        (3, 12, 2),
        (3, 10, 3),
        (5, 12, 4),
        (5, 9, 5),
    ]
    assert (cells[0].grid, cells[0].steps, cells[0].tempo_bpm) == (4, 8, 120.0)
    alone = read(LIBRARY / "mido-channels.mid", track=3)[0]
    assert [slot.pitch for slot in alone[0].slots] == [67, 65]


# --------------------------------------------------------------------------------- MIDI files


def midi(folder: Path, notes: list[tuple[int, int, int, int]], end: int = 0, **head: int) -> Path:
    """A file of one track, 96 ticks a quarter; notes are (start, end, channel from 1, pitch)."""
    song = mido.MidiFile(type=0, ticks_per_beat=96)
    events = [(0, 0, mido.MetaMessage("time_signature", **head))] if head else []
    for start, stop, channel, pitch in notes:
        kind = {"channel": channel - 1, "note": pitch}
        events.append((start, 2, mido.Message("note_on", velocity=80, **kind)))
        events.append((stop, 1, mido.Message("note_off", **kind)))
    track, now = mido.MidiTrack(), 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        track.append(message.copy(time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(end - now, 0)))
    song.tracks.append(track)
    song.save(folder / "x.mid")
    return folder / "x.mid"


def test_bars_are_those_of_the_time_signature(tmp_path):
    """Times count from the beginning of the bars chosen, whole bars are taken."""
    notes = [(24 * at, 24 * at + 24, 1, 64 + at % 12) for at in range(36)]
    path = midi(tmp_path, notes, numerator=3, denominator=4)
    cell = read(path, bars=(2, 2))[0][0]
    assert (pitches(cell)[0], cell.slots[0].start, cell.steps) == (64, 0, 12)
    assert len(read(path, bars=(2, 3))[0][0].slots) == 12, "twice the same is read once"
    with pytest.raises(BadInput, match=r"x\.mid: bars 2-9 are not there: it has 3 bars"):
        read(path, bars=(2, 9))


def test_other_numberings_of_the_channels_are_read(tmp_path):
    """Channels 11 to 16, or 6 for the first string; one channel alone tells nothing of strings."""
    at = [(0, 24, 12, 69), (24, 48, 13, 65), (48, 72, 15, 57)]
    assert places(read(midi(tmp_path, at))[0][0]) == [(2, 10, 0), (3, 10, 1), (5, 12, 2)]
    turned = [(0, 24, 5, 60), (24, 48, 2, 47), (48, 72, 1, 45)]
    assert [slot.string for slot in read(midi(tmp_path, turned))[0][0].slots] == [2, 5, 6]
    cells, _ = read(midi(tmp_path, [(0, 24, 4, 52), (24, 48, 4, 55)]))
    assert [slot.string for slot in cells[0].slots] == [4, 4]


def test_low_notes_find_a_tuning_that_has_them(tmp_path):
    """Drop D, seven strings; or the tuning that is given; else it is told."""
    assert read(midi(tmp_path, [(0, 24, 6, 38)]))[0][0].tuning[5] == 38
    assert len(read(midi(tmp_path, [(0, 24, 1, 36)]))[0][0].tuning) == 7
    given = read(midi(tmp_path, [(0, 24, 1, 30)]), tuning=(40, 35, 30))[0][0]
    assert (given.tuning, places(given)[0][:2]) == ((40, 35, 30), (3, 0))
    with pytest.raises(BadInput, match=r"bar 1: C0 is on no string of .*; give another --tuning"):
        read(midi(tmp_path, [(0, 24, 1, 12)]))


@pytest.mark.parametrize(
    ("notes", "said"),
    [
        ([(0, 24, 1, 64), (0, 24, 1, 67)], "bar 1: E4 and G4 begin together; a cell has one note"),
        ([(400, 424, 1, 64), (400, 424, 2, 62)], "bar 2: D4 and E4 begin together"),
        ([(0, 24, 1, 64), (7, 20, 1, 66), (20, 40, 1, 68)],
         "bar 1: the notes lie on no grid of up to 16"),
        ([], "there are no notes in it"),
        ([(24 * at, 24 * at + 12, 1, 64 + at % 13) for at in range(70)], "a cell has at most 64"),
    ],
)  # fmt: skip
def test_what_is_no_cell_is_told_with_its_bar(tmp_path, notes, said):
    """Two notes at once, off every grid, nothing, too much."""
    with pytest.raises(BadInput, match="x.mid: .*" + said.replace("(", r"\(")):
        read(midi(tmp_path, notes))


def test_tracks_that_sound_together_are_to_be_chosen_from(tmp_path):
    """The line names them; a track without notes is told, too."""
    song = mido.MidiFile(type=1, ticks_per_beat=96)
    song.tracks.append(mido.MidiTrack())
    for name in ("lead", "bass"):
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
        track += [mido.Message("note_on", note=64), mido.Message("note_off", note=64, time=24)]
        song.tracks.append(track)
    song.save(tmp_path / "x.mid")
    said = r"bar 1: .*choose one with --track: 2 \('lead', 1 notes\); 3 \('bass', 1 notes\)"
    with pytest.raises(BadInput, match=said):
        read(tmp_path / "x.mid")
    assert read(tmp_path / "x.mid", track=2)[0][0].name == "lead"
    with pytest.raises(BadInput, match="track 1 has no notes"):
        read(tmp_path / "x.mid", track=1)


# ------------------------------------------------------------------------------------ MusicXML

HEAD = '<score-partwise><part id="P1"><measure number="1">'
TAIL = "</measure></part></score-partwise>"
DETAILS = (
    "<attributes><divisions>2</divisions><staff-details><staff-lines>6</staff-lines>"
    '<staff-tuning line="1"><tuning-step>D</tuning-step><tuning-octave>2</tuning-octave>'
    "</staff-tuning><capo>2</capo></staff-details></attributes>"
)


def note(string: int, fret: int, marks: str = "", duration: int = 1, more: str = "") -> str:
    return (
        f"<note><pitch><step>C</step><octave>4</octave></pitch><duration>{duration}</duration>"
        f"<notations><technical><string>{string}</string><fret>{fret}</fret>{marks}</technical>"
        f"{more}</notations></note>"
    )


def xml(folder: Path, words: str, **asked: object) -> Cell:
    (folder / "x.musicxml").write_text(words, "utf-8")
    return read(folder / "x.musicxml", **asked)[0][0]


def test_tuning_capo_and_slurs_of_a_score(tmp_path):
    """Lines that are not told are as usual; the note that ends a slur is slurred; frets count from
    the capo."""
    cell = xml(
        tmp_path,
        HEAD
        + DETAILS
        + note(6, 0, "<down-bow/>")
        + note(6, 2, '<hammer-on type="start"/>')
        + note(6, 5, '<hammer-on type="stop"/><pull-off type="start"/>')
        + note(6, 2, '<pull-off type="stop"/>', more='<slide type="start"/>')
        + note(6, 4, more='<slide type="stop"/>')
        + note(1, 3, "<up-bow/>")
        + TAIL,
    )
    assert cell.written == ("down", None, "hammer", "pull", "slide", "up")
    assert (cell.tuning, cell.capo) == ((64, 59, 55, 50, 45, 38), 2)
    assert cell.slots[0].pitch == 40 and cell.slots[5].pitch == 69


def test_a_type_definition_is_passed_over_and_entities_are_refused(tmp_path):
    """Nothing is fetched, nothing is expanded; the line is named."""
    outside = '<?xml version="1.0"?>\n<!DOCTYPE score-partwise SYSTEM "file:///etc/passwd">\n'
    assert len(xml(tmp_path, outside + HEAD + note(2, 5) + TAIL).slots) == 1
    bombs = [
        '<!DOCTYPE x [\n<!ENTITY a "aaaa">]>' + HEAD + "&a;" + TAIL,
        '<!DOCTYPE x [\n<!ENTITY a SYSTEM "file:///etc/passwd">]>' + HEAD + "&a;" + TAIL,
        '<!DOCTYPE x [\n<!ENTITY % a SYSTEM "http://127.0.0.1/x">%a;]>' + HEAD + TAIL,
        '<!DOCTYPE x SYSTEM "x.dtd">\n' + HEAD + "&nbsp;" + TAIL,
    ]
    for bomb in bombs:
        with pytest.raises(BadInput, match=r"x\.musicxml: line 2: .*entity"):
            xml(tmp_path, bomb)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("<a>" * 100, "line 1: elements stand too deep"),
        (HEAD + note(2, 5), "line 1: cannot be read as XML"),
        ("<html></html>", "<html> is no score"),
        (HEAD + TAIL, "there are no notes in it"),
        (HEAD + note(2, 99) + TAIL, "<fret> '99' is no whole number from 0 to 36"),
        (HEAD + note(2, 5) + "<note><chord/>" + note(3, 5)[6:] + TAIL,
         "begin together; a cell has one"),
        (HEAD + note(2, 5, duration=-1) + TAIL, "<duration> '-1' is no length"),
        (HEAD + note(9, 5) + TAIL, "string 9 has no <staff-tuning>|string 9 does not exist"),
        (HEAD + "\n<attributes><divisions>0</divisions></attributes>" + TAIL, "no notes"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_score_is_one_line(tmp_path, words, said):
    """With its line or bar."""
    with pytest.raises(BadInput, match=said) as caught:
        xml(tmp_path, words)
    assert "\n" not in str(caught.value)


def test_a_packed_bomb_is_not_unpacked(tmp_path):
    """No further than its bound."""
    import zipfile

    with zipfile.ZipFile(tmp_path / "x.mxl", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("x.xml", HEAD + " " * (40 << 20) + TAIL)
    with pytest.raises(BadInput, match="is larger than 8 MB when unpacked"):
        read(tmp_path / "x.mxl")
    (tmp_path / "y.mxl").write_bytes((tmp_path / "x.mxl").read_bytes()[:200])
    with pytest.raises(BadInput, match="cannot be unpacked"):
        read(tmp_path / "y.mxl")


def test_of_some_notes_the_places_are_written(tmp_path):
    """The others are played near them."""
    bare = "<note><pitch><step>B</step><octave>4</octave></pitch><duration>1</duration></note>"
    cell = xml(tmp_path, HEAD + note(2, 10) + bare + note(2, 13) + TAIL)
    assert places(cell)[0][:2] == (2, 10) and places(cell)[2][:2] == (2, 13)
    assert cell.slots[1].pitch == 71 and abs(cell.slots[1].fret - 11) < 3


def test_a_score_told_by_bars_and_one_with_two_staves(tmp_path):
    """Timewise scores hold the same; of a staff and its tablature the one with frets is read."""
    timewise = (
        "<score-timewise><measure><part id='P1'>"
        + note(2, 5)
        + "</part></measure></score-timewise>"
    )
    assert places(xml(tmp_path, timewise)) == [(2, 5, 0)]
    plain = (
        "<note><pitch><step>E</step><octave>4</octave></pitch>"
        "<duration>1</duration><staff>1</staff></note>"
    )
    tab = note(2, 5).replace("<notations>", "<staff>2</staff><notations>")
    both = HEAD + plain + "<backup><duration>1</duration></backup>" + tab + TAIL
    assert places(xml(tmp_path, both)) == [(2, 5, 0)]


# ------------------------------------------------------------------------------ text tablature


def test_a_line_of_tablature(tmp_path):
    """The dashes before the first note are margin; a pull-off belongs to the note behind it; time
    is in proportion to columns."""
    cell = text(tmp_path, "e|--5-8p5--|\n")
    assert places(cell) == [(1, 5, 0), (1, 8, 1), (1, 5, 2)]
    assert (cell.written, cell.steps, cell.grid) == ((None, None, "pull"), 3, 4)
    assert text(tmp_path, "e|--5-8p5--|\n", grid=3).grid == 3


SIX = """\
Any words. Capo 3

{}|-------------|-------------|
{}|-12-10-------|-12----------|
{}|-------12-10-|----10-------|
{}|-------------|-------12/14-|
{}|-------------|-------------|
{}|-------------|-------------|
   D  U  D  U    D  U  h
"""


@pytest.mark.parametrize(
    ("labels", "tuning"),
    [
        ("eBGDAE", STANDARD),
        ("EBGDAD", (64, 59, 55, 50, 45, 38)),
        ("dagdad", (62, 57, 55, 50, 45, 38)),
        ("123456", STANDARD),
    ],
)
def test_any_labels_bars_and_strokes(tmp_path, labels, tuning):
    """Letters without an octave are the strings nearest to standard; strokes stand under the notes;
    a bar line takes no time; a slide's sign goes before the letter below."""
    cell = text(tmp_path, SIX.format(*labels))
    assert (cell.tuning, cell.capo) == (tuning, 3)
    assert [(s.string, s.fret, s.start) for s in cell.slots] == [
        (2, 12, 0), (2, 10, 1), (3, 12, 2), (3, 10, 3), (2, 12, 4), (3, 10, 5), (4, 12, 6),
        (4, 14, 7)
    ]  # fmt: skip
    assert cell.written == ("down", "up", "down", "up", "down", "up", "hammer", "slide")
    second = text(tmp_path, SIX.format(*labels), bars=(2, 2))
    assert [slot.fret for slot in second.slots] == [12, 10, 12, 14] and second.steps == 4


@pytest.mark.parametrize(
    ("line", "tuning"),
    [
        ("Tuning: D A D G B E", (64, 59, 55, 50, 45, 38)),
        ("tuned to DADGAD", (62, 57, 55, 50, 45, 38)),
        ("Tuning: E4 B3 G3 D3 A2 D2", (64, 59, 55, 50, 45, 38)),
        ("tuning: D2, A2, D3, G3, B3, E4", (64, 59, 55, 50, 45, 38)),
        ("Tuning - drop D", STANDARD),
        ("Tuning: drop D", (64, 59, 55, 50, 45, 38)),
        ("Tuning: Eb Ab Db Gb Bb Eb", (63, 58, 54, 49, 44, 39)),
        ("tuning: down (eadgbe)", STANDARD),
        ("Tuning: drop C (C G C F A D)", (62, 57, 53, 48, 43, 36)),
    ],
)
def test_tuning_lines_are_read(tmp_path, line, tuning):
    """From the lowest string up or from the highest down, whichever is nearer to standard; by name;
    with octaves exactly."""
    words = line + "\n" + SIX.format(*"eBGDAE").split("\n", 2)[2]
    assert text(tmp_path, words).tuning == tuning


def test_repeat_bars_systems_and_signs_around(tmp_path):
    """Repeat dots and what follows the last bar line take no time; systems go on; bends and muted
    notes are told and passed over."""
    words = "e|:--5---8---:|  x4\nB|:----------:|\n\nchorus\n\ne||--5b7-x---|*\nB||--------8-|*\n"
    (tmp_path / "x.txt").write_text(words, "utf-8")
    cells, notes = read(tmp_path / "x.txt")
    assert places(cells[0]) == [(1, 5, 0), (1, 8, 2), (1, 5, 4), (2, 8, 7)]
    assert notes[:2] == [
        "bends are passed over (1); the fret stands for the note",
        "muted notes (x) are left out (1)",
    ]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("just words\n", "there is no tablature in it"),
        ("e|--5--|\nB|--5--|\n", "bar 1, line 2, column 5: strings 1 and 2 sound together"),
        ("e|--57--|\n", "line 1, column 5: 57 is no fret; put a dash between two notes"),
        ("e|--5%-|\n", "line 1: '%' is no sign of tablature"),
        (
            "e|--5-|--|\nB|----|--|\n\ne|--5--|\n",
            "line 4: this staff has 1 strings, the first one 2",
        ),
        ("e|--5-|--|\nB|---|---|\n", "line 1: no bar line in column 6"),
        ("e|--5--|\n", "bars 3-4 are not there: it has 1 bar"),
        ("Capo 20\ne|--5--|\n", "capo 20 is out of range"),
        ("e|-----|\nB|-----|\nG|-----|\nD|-----|\n", "there are no notes in it"),
    ],
)
def test_what_is_wrong_with_tablature_is_one_line(tmp_path, words, said):
    """With its line and column."""
    asked = {"bars": (3, 4)} if "bars" in said else {}
    with pytest.raises(BadInput) as caught:
        text(tmp_path, words, **asked)
    assert said in str(caught.value)


def test_unevenly_typed_notes_have_an_even_reading_too(tmp_path):
    """Two figures beside one are a column wider: the second reading makes nothing of it."""
    (tmp_path / "x.txt").write_text("e|-5-8-10-8-5-|\n", "utf-8")
    cells, notes = read(tmp_path / "x.txt")
    assert [slot.start for slot in cells[0].slots] == [0, 2, 4, 7, 9]
    assert [slot.start for slot in cells[1].slots] == [0, 1, 2, 3, 4]
    assert "uneven distances" in notes[-1]


def test_a_stroke_letter_too_many_is_told(tmp_path):
    """The others hold; a line of words is none of strokes."""
    staff = "e|--8-7-5-----|\nB|--------8-6-|\n"
    (tmp_path / "x.txt").write_text(staff + "    n v n v n v n\n", "utf-8")
    cells, notes = read(tmp_path / "x.txt")
    assert cells[0].written == ("down", "up", "down", "up", "down")
    assert notes == ["2 stroke letters stand under no note"]
    assert set(text(tmp_path, staff + "Down Up Down\n").written) == {None}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("Q|--8-----|\ne|--8-7-5-|\n", "line 1 is passed over: 'Q' names no string; write a note"),
        ("e|--8-7-5-|\nB|--------|\nQ|--8-----|\n", "line 3 is passed over: 'Q' names no string"),
        ("e|--8-7-5-|\n    D U Z\n", "line 2 is passed over: 'Z' is no stroke; write D, U, h, p"),
        ("e|--8-7-5-|\nStrokes: x y\n", "line 2 is passed over: 'x' is no stroke; write D, U"),
        ("e|--8-7-5-|\n              D U D\n", "line 2 is passed over: its letters stand under no"),
    ],
)
def test_a_line_that_is_passed_over_is_told(tmp_path, words, said):
    """A string that has no such name, strokes that are none: a remark with the line's number."""
    (tmp_path / "x.txt").write_text(words, "utf-8")
    cells, notes = read(tmp_path / "x.txt")
    assert [slot.fret for slot in cells[0].slots] == [8, 7, 5] and set(cells[0].written) == {None}
    assert len(notes) == 1 and notes[0].startswith(said)


def test_a_line_without_a_string_within_a_staff_is_told_by_its_number(tmp_path):
    """It parts the staff; what is wrong is the line, not the number of strings. Words, chords and
    a lone letter beside a staff are no mistake."""
    with pytest.raises(BadInput, match="line 2 is passed over: 'Q' names no string"):
        text(tmp_path, "e|--8-7-5-|\nQ|--8-----|\nB|------5-|\nG|--------|\n")
    for beside in ("A  E  G", "Down Up Down", "D", "x4", "let ring"):
        (tmp_path / "x.txt").write_text(f"{beside}\ne|--8-7-5-|\n{beside}\n", "utf-8")
        assert read(tmp_path / "x.txt")[1] == []


def test_what_cell_show_prints_is_tablature_too(run, tmp_path):
    """Its picture, with labels, numbers of strings and quiet ones, and its strokes."""
    shown = run("cell", "show", "six-over-four").out
    cell = text(tmp_path, shown)
    assert [(slot.string, slot.fret) for slot in cell.slots] == [
        (2, 11), (2, 8), (3, 10), (3, 7), (5, 10), (5, 7)
    ]  # fmt: skip
    assert cell.written == ("down", "up") * 3 and cell.tempo_bpm == 90


def test_files_that_are_none_are_told(tmp_path):
    """A folder, nothing, bytes of no kind, a file that is not there."""
    (tmp_path / "empty").write_bytes(b"")
    (tmp_path / "bytes").write_bytes(b"\0\1\2" * 50)
    for name, said in (
        (".", "is a folder"),
        ("empty", "there is nothing in it"),
        ("bytes", "is no text, no MIDI file and no MusicXML"),
        ("nowhere", "No such file"),
    ):
        with pytest.raises(BadInput, match=said):
            read(tmp_path / name)


def test_of_several_voices_the_one_with_most_notes_is_read(tmp_path):
    """A held bass under three notes is left out, and that is told; voices in turn are one line."""
    path = tmp_path / "voices.musicxml"
    upper, bass = note(2, 5) + note(2, 7) + note(2, 8), note(5, 3, duration=3)
    lower = bass.replace("</duration>", "</duration><voice>2</voice>")
    back = "<backup><duration>3</duration></backup>"
    path.write_text(HEAD + upper + back + lower + TAIL, "utf-8")
    cells, told = read_notation(path, Asked())
    assert [(slot.string, slot.fret) for slot in cells[0].slots] == [(2, 5), (2, 7), (2, 8)]
    assert "voice 2 is left out (1 note): a cell has one note at a time" in told
    path.write_text(HEAD + upper + lower + TAIL, "utf-8")
    cells, told = read_notation(path, Asked())
    assert len(cells[0].slots) == 4 and not any("voice" in one for one in told)
