"""Make the files of this folder anew with general notation libraries (music21 10.5, partitura 1.9,
pretty_midi 0.2.11, mido 1.3), which the project itself does not need:

    python -m venv venv && venv/bin/pip install music21 partitura pretty_midi mido
    venv/bin/python tests/data/notation/make.py

The figures are invented. What the files hold is written down in
tests/files/test_notation_library.py.
"""

from __future__ import annotations

from pathlib import Path

import mido
import music21 as m21
import numpy as np
import partitura
import pretty_midi
from partitura import score as ps

HERE = Path(__file__).parent


def tab_note(pitch: int, length: float, string: int, fret: int, *marks: object) -> m21.note.Note:
    note = m21.note.Note(pitch, quarterLength=length)
    note.articulations += [
        m21.articulations.StringIndication(string),
        m21.articulations.FretIndication(fret),
        *marks,
    ]
    return note


def music21_tab() -> None:
    """Two bars: strings, frets and bow marks; a tie over the bar line, a rest, triplets."""
    down, up = m21.articulations.DownBow, m21.articulations.UpBow
    part = m21.stream.Part()
    part.append(m21.tempo.MetronomeMark(number=92))
    part.append(m21.meter.TimeSignature("2/4"))
    for pitch, length, string, fret, mark in [
        (72, 0.5, 2, 13, down()),
        (69, 0.5, 2, 10, up()),
        (67, 0.5, 3, 12, down()),
        (65, 1.0, 3, 10, up()),
    ]:
        part.append(tab_note(pitch, length, string, fret, mark))
    third = m21.duration.Duration(1 / 3)
    for pitch, string, fret in [(57, 5, 12), (54, 5, 9), (52, 5, 7)]:
        note = tab_note(pitch, 1.0, string, fret)
        note.duration = third
        part.append(note)
    part.append(m21.note.Rest(quarterLength=0.5))
    score = m21.stream.Score([part.makeNotation()])
    score.metadata = m21.metadata.Metadata(title="tie and triplets")
    score.write("musicxml", HERE / "music21-tab.musicxml")
    score.write("mxl", HERE / "music21-tab.mxl")


def music21_pitches() -> None:
    """No strings: a treble clef that sounds an octave lower, and a transposing instrument."""
    for name, clef, instrument in [
        ("clef", m21.clef.Treble8vbClef(), None),
        ("transposed", m21.clef.TrebleClef(), m21.instrument.AcousticGuitar()),
    ]:
        part = m21.stream.Part()
        if instrument is not None:
            instrument.transposition = m21.interval.Interval("P-8")
            part.append(instrument)
        part.append(clef)
        part.append(m21.meter.TimeSignature("4/4"))
        written = 12 if instrument is not None else 0
        for pitch in (57, 60, 62, 64, 62, 60, 57, 55):
            part.append(m21.note.Note(pitch + written, quarterLength=0.5))
        if instrument is not None:
            part.atSoundingPitch = False
        score = m21.stream.Score([part])
        score.write("musicxml", HERE / f"music21-{name}.musicxml")
        if instrument is None:
            score.write("midi", HERE / "music21-one-channel.mid")


def partitura_files() -> None:
    """A part of seven sixteenths and a rest, as MusicXML and as a MIDI file."""
    part = ps.Part("P1", quarter_duration=4)
    part.add(ps.TimeSignature(4, 4), 0)
    part.add(ps.Clef(staff=1, sign="G", line=2, octave_change=-1), 0)
    for at, (step, alter, octave) in enumerate(
        [
            ("A", None, 3),
            ("C", None, 4),
            ("D", None, 4),
            ("E", None, 4),
            ("G", None, 4),
            ("F", 1, 4),
            ("E", None, 4),
        ]
    ):
        part.add(
            ps.Note(step=step, octave=octave, alter=alter, voice=1, staff=1, id=f"n{at}"),
            at,
            at + 1,
        )
    part.add(ps.Rest(voice=1, staff=1), 7, 16)
    ps.add_measures(part)
    partitura.save_musicxml(ps.Score([part]), str(HERE / "partitura.musicxml"))
    partitura.save_score_midi(ps.Score([part]), str(HERE / "partitura.mid"))


def pretty_midi_file() -> None:
    """Triplets on one channel at 108 to the minute, notes a little shorter than written."""
    midi = pretty_midi.PrettyMIDI(initial_tempo=108.0)
    guitar = pretty_midi.Instrument(program=27)
    beat = 60.0 / 108.0
    for at, pitch in enumerate((64, 67, 69, 71, 69, 67)):
        start = at * beat / 3
        guitar.notes.append(pretty_midi.Note(90, pitch, start, start + 0.8 * beat / 3))
    midi.instruments.append(guitar)
    midi.write(str(HERE / "pretty-midi.mid"))


def mido_files() -> None:
    """A channel for each string, a track for each channel; the end of the track behind a rest."""
    song = mido.MidiFile(type=1, ticks_per_beat=96)
    head = mido.MidiTrack([
        mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(120)),
        mido.MetaMessage("time_signature", numerator=2, denominator=4),
        mido.MetaMessage("end_of_track", time=192),
    ])  # fmt: skip
    song.tracks.append(head)
    by_channel: dict[int, list[tuple[int, mido.Message]]] = {}
    for at, (string, pitch) in enumerate([(2, 72), (2, 69), (3, 67), (3, 65), (5, 57), (5, 54)]):
        events = by_channel.setdefault(string, [])
        kind = {"channel": string - 1, "note": pitch}
        events.append((24 * at, mido.Message("note_on", velocity=80, **kind)))
        events.append((24 * at + 24, mido.Message("note_on", velocity=0, **kind)))
    for string, events in by_channel.items():
        track, now = mido.MidiTrack([mido.MetaMessage("track_name", name=f"string {string}")]), 0
        for tick, message in events:
            track.append(message.copy(time=tick - now))
            now = tick
        track.append(mido.MetaMessage("end_of_track", time=192 - now))
        song.tracks.append(track)
    song.save(HERE / "mido-channels.mid")


if __name__ == "__main__":
    np.random.seed(1)
    music21_tab()
    music21_pitches()
    partitura_files()
    pretty_midi_file()
    mido_files()
