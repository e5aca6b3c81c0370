"""Cells go out into other kinds of file and come back the same."""

from __future__ import annotations

import json
import zipfile
from io import BytesIO
from pathlib import Path
from random import Random

import mido
import pytest

from livecheck.core.cell import STROKES, Cell, make_cell
from livecheck.files.config import load_cell
from livecheck.files.notation.figure import Asked
from livecheck.files.notation.midi_out import to_midi
from livecheck.files.notation.read import read_notation
from livecheck.files.notation.stamp import KEY
from livecheck.files.notation.tab_out import to_tab
from livecheck.files.notation.xml_out import to_musicxml, to_packed

CELLS = sorted((Path(__file__).parents[2] / "configs" / "cells").glob("*.yaml"))
WRITERS = {
    "x.mid": to_midi,
    "x.musicxml": lambda cell: to_musicxml(cell).encode(),
    "x.mxl": to_packed,
    "x.txt": lambda cell: to_tab(cell).encode(),
}


def read(folder: Path, name: str, data: bytes, **asked: object) -> list[Cell]:
    (folder / name).write_bytes(data)
    return read_notation(folder / name, Asked(**asked))[0]


def random_cell(seed: int) -> Cell:
    """Everything a cell may hold: long notes, rests, another tuning, capo, grid, strokes."""
    rng = Random(seed)
    strings = rng.randint(1, 8)
    tuning = (64, 59, 55, 50, 45, 40, 35, 30)[:strings]
    tuning = tuple(pitch + rng.choice((0, 0, -2, 1)) for pitch in tuning)
    places: list[object] = []
    for _ in range(rng.randint(1, 20)):
        if rng.random() < 0.2:
            places.append(rng.randint(1, 80 if rng.random() < 0.02 else 5))
        stroke = rng.choice((None, None, *STROKES))
        length = rng.choice((1, 1, 1, 2, 3, 5, 7))
        places.append((rng.randint(1, strings), rng.randint(0, 24), stroke, length))
    count = sum(not isinstance(place, int) for place in places)
    return make_cell(
        f"ünusual <{seed}> & 'more'",
        places,  # type: ignore[arg-type]
        grid=rng.randint(1, 16),
        tempo_bpm=rng.choice((None, 90.0, 97.37)),
        tuning=tuning,
        capo=rng.choice((0, 0, 3)),
        quiet=[] if rng.random() < 0.3 else None,
        variants={"v": {rng.randint(1, count): "hammer"}} if rng.random() < 0.5 else None,
    )


@pytest.mark.parametrize("kind", WRITERS)
@pytest.mark.parametrize("path", CELLS, ids=lambda path: path.stem)
def test_every_shipped_cell_comes_back_as_it_was(tmp_path, path, kind):
    """Equal in everything, quiet strings and variants with it."""
    cell = load_cell(path)
    assert read(tmp_path, kind, WRITERS[kind](cell)) == [cell]


@pytest.mark.parametrize("kind", WRITERS)
@pytest.mark.parametrize("seed", range(60))
def test_any_cell_comes_back_as_it_was(tmp_path, seed, kind):
    """Whatever its lengths, rests, grid, strings, strokes and name."""
    cell = random_cell(seed)
    assert read(tmp_path, kind, WRITERS[kind](cell)) == [cell]


def unstamped(kind: str, cell: Cell) -> bytes:
    """A file without the cell that is kept in it: the notation alone."""
    data = WRITERS[kind](cell)
    if kind == "x.txt":
        return data[: data.index(KEY.encode())]
    return data.replace(KEY.encode(), b"x" * len(KEY))


@pytest.mark.parametrize("seed", range(60))
def test_musicxml_says_notes_places_strokes_and_lengths_by_itself(tmp_path, seed):
    """Without the cell that is kept in the file."""
    cell = random_cell(seed)
    (back, *_) = read(tmp_path, "x.musicxml", unstamped("x.musicxml", cell))
    for one, other, written, again in zip(cell.slots, back.slots, cell.written, back.written):
        assert (one.string, one.fret, one.pitch) == (other.string, other.fret, other.pitch)
        assert one.start * back.grid == other.start * cell.grid
        assert one.length * back.grid == other.length * cell.grid
        assert written == again
    assert (len(back.slots), back.tuning, back.capo) == (len(cell.slots), cell.tuning, cell.capo)
    assert cell.steps * back.grid == back.steps * cell.grid and back.tempo_bpm == cell.tempo_bpm


@pytest.mark.parametrize("seed", range(60))
def test_tablature_says_places_strokes_and_proportions_by_itself(tmp_path, seed):
    """Times in proportion, counted from the first note."""
    cell = random_cell(seed)
    (back, *_) = read(tmp_path, "x.txt", unstamped("x.txt", cell))
    first, span = cell.slots[0].start, cell.slots[-1].start - cell.slots[0].start
    for one, other, written, again in zip(cell.slots, back.slots, cell.written, back.written):
        assert (one.string, one.fret, one.pitch) == (other.string, other.fret, other.pitch)
        assert (one.start - first) * back.slots[-1].start == other.start * span
        assert written == again
    assert (len(back.slots), back.tuning, back.capo) == (len(cell.slots), cell.tuning, cell.capo)


@pytest.mark.parametrize("seed", range(40))
def test_an_independent_reader_finds_the_notes_in_the_midi_file(seed):
    """mido (a general library): channel, pitch, start and end of every note, tempo, end of
    track."""
    cell = random_cell(seed)
    song = mido.MidiFile(file=BytesIO(to_midi(cell)))
    step = song.ticks_per_beat / cell.grid
    now, open_notes, found, tempo = 0, {}, [], None
    for message in song.tracks[0]:
        now += message.time
        if message.type == "note_on":
            open_notes[message.channel, message.note] = now
        elif message.type == "note_off":
            start = open_notes.pop((message.channel, message.note))
            found.append((start, now, message.channel + 1, message.note))
        elif message.type == "set_tempo":
            tempo = round(mido.tempo2bpm(message.tempo), 2)
    assert found == sorted(
        (slot.start * step, (slot.start + slot.length) * step, slot.string, slot.pitch)
        for slot in cell.slots
    )
    assert (now, tempo, open_notes) == (cell.steps * step, cell.tempo_bpm, {})


def test_a_file_that_was_changed_is_read_by_its_notes(tmp_path):
    """The cell that is kept in it counts only while the notes are still those."""
    cell = make_cell("x", [(2, 5, "down"), (2, 7, "up"), (3, 5, "down")], quiet=[4])
    text = to_tab(cell)
    assert "5-" in text
    changed = text.replace("-5-", "-6-", 1).encode()
    (back, *_) = read(tmp_path, "x.txt", changed)
    assert back != cell and 6 in {slot.fret for slot in back.slots} and 1 in back.quiet
    strokes = text.replace("D   U   D", "U   D   U").encode()
    assert read(tmp_path, "x.txt", strokes)[0].written == ("up", "down", "up")
    score = to_musicxml(cell).replace("<fret>7</fret>", "<fret>8</fret>").encode()
    assert read(tmp_path, "x.musicxml", score)[0].slots[1].fret == 8
    assert read(tmp_path, "x.mid", to_midi(cell), grid=8)[0].grid == 8


def test_a_kept_cell_that_is_none_is_passed_over(tmp_path):
    """Whatever stands in its place."""
    cell = make_cell("x", [(2, 5, "down"), (3, 7, "up")])
    for text in ("{}", "[" * 5000, "null", '{"slots": [[1, 99]]}', "x" * 70_000):
        data = to_tab(cell)[: to_tab(cell).index(KEY)] + f"{KEY} {text}\n"
        assert read(tmp_path, "x.txt", data.encode())[0].slots[0].fret == 5


def test_packed_scores_are_alike_and_hold_one_score():
    """Equal cells give equal bytes, and the container names the score."""
    cell = make_cell("x", [(2, 5, "down"), (3, 7, "up")])
    assert to_packed(cell) == to_packed(cell)
    with zipfile.ZipFile(BytesIO(to_packed(cell))) as packed:
        assert b'full-path="score.musicxml"' in packed.read("META-INF/container.xml")
        assert packed.read("score.musicxml").decode() == to_musicxml(cell)


def test_the_commands_write_show_and_keep(run):
    """Out by `export`, in by `import`; nothing is written over without being told."""
    for kind, name in (("midi", "a.mid"), ("musicxml", "a.mxl"), ("tab", "a.txt")):
        assert run("cell", "export", "odd-five", "--to", kind, "--out", name).status == 0
        again = run("cell", "export", "odd-five", "--to", kind, "--out", name)
        assert again.status == 2 and "--force writes over it" in again.err
        told = json.loads(run("cell", "import", name, "--json").out)
        shown = json.loads(run("cell", "show", "odd-five", "--json").out)
        assert told["cells"][0] == {key: shown[key] for key in told["cells"][0]}
    printed = run("cell", "export", "odd-five", "--to", "tab", "--variant", "pulled").out
    assert "p" in printed and "Title: odd five, pulled" in printed
    for kind, name in (("musicxml", "b.musicxml"), ("tab", "b.txt")):
        assert run("cell", "export", "odd-five", "--to", kind, "--out", name).status == 0
        assert run("cell", "export", "odd-five", "--to", kind).out == Path(name).read_text("utf-8")
    assert run("cell", "export", "odd-five", "--to", "midi").status == 2
    kept = run("cell", "import", "a.mid", "--write", "My riff")
    assert kept.status == 0 and "written to configs/cells/my-riff.yaml" in kept.out
    assert load_cell("configs/cells/my-riff.yaml").name == "My riff"
    assert run("cell", "check", "configs/cells/my-riff.yaml").status == 0
    assert "there already" in run("cell", "import", "a.mid", "--write", "my riff").err
    assert run("cell", "import", "a.mid", "--write", "my riff", "--force").status == 0
    for name in ("..", "a/b", "", "-x"):
        assert run("cell", "import", "a.mid", f"--write={name}").status == 2
    assert "there is no reading 9" in run("cell", "import", "a.mid", "--reading", "9").err
