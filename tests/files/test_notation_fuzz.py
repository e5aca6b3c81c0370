"""Whatever is done to a file of notation, it gives cells or one line: never a traceback, never a
hang, never a cell that cannot be written. By itself, for figures: ``python
tests/files/test_notation_fuzz.py [FILES OF EACH KIND] [SEED]``."""

from __future__ import annotations

import sys
import tempfile
import time
import zipfile
from collections import Counter
from io import BytesIO
from pathlib import Path
from random import Random

import pytest

from livecheck.core.cell import make_cell
from livecheck.errors import BadInput
from livecheck.files.config import cell_from_dict, cell_to_dict
from livecheck.files.notation.figure import Asked
from livecheck.files.notation.midi_out import to_midi
from livecheck.files.notation.read import read_notation
from livecheck.files.notation.tab_out import to_tab
from livecheck.files.notation.xml_out import to_musicxml, to_packed

LIBRARY = Path(__file__).parents[1] / "data" / "notation"
CELL = make_cell(
    "six",
    [(2, 13, "down"), (2, 10, "up"), (3, 12, "hammer", 3), 2, (5, 12, "slide"), (5, 10, "tap")],
    tempo_bpm=90,
    capo=2,
)
TAB = "Capo 2\nTuning: D A D G B E\n" + to_tab(CELL).split("\n\n")[1] + "\n"
GOOD = {
    "mid": [to_midi(CELL), *(path.read_bytes() for path in sorted(LIBRARY.glob("*.mid")))],
    "musicxml": [
        to_musicxml(CELL).encode(),
        *(path.read_bytes() for path in sorted(LIBRARY.glob("*.musicxml"))),
    ],
    "mxl": [to_packed(CELL), *(path.read_bytes() for path in sorted(LIBRARY.glob("*.mxl")))],
    "txt": [to_tab(CELL).encode(), TAB.encode()],
}
PIECES = {
    "mid": [b"\xff\x51\x03\0\0\0", b"\xff\x58\x04\xff\0\x18\x08", b"\x90\x40\x40", b"\xff\x2f\0"],
    "musicxml": [
        b"<chord/>", b"<duration>1e9</duration>", b"<fret>-1</fret>", b"<!ENTITY a 'b'>", b"&a;",
        b"\0", b"<backup><duration>99</duration></backup>", b"<octave>99</octave>",
        b"<divisions>0</divisions>", b'<tie type="stop"/>', b"<string>99</string>", b"]]>",
        b"<staff-tuning line='99'>", b"nan", b"inf",
    ],
    "mxl": [b"PK\x03\x04", b"\xff" * 8],
    "txt": [b"|", b"-", b"99", b"h", b"x", b"\n", b"e|--5--|\n", b"D", b"\t", "é♯".encode(), b":",
            b"capo 99"],
}  # fmt: skip
ASKED = (Asked(), Asked(bars=(1, 1)), Asked(track=1), Asked(grid=16), Asked(tuning=(64,), capo=12))
LONGEST_S = 5.0


def mutated(rng: Random, kind: str) -> bytes:
    """A good file with a few things done to it."""
    data = bytearray(rng.choice(GOOD[kind]))
    if kind == "mxl" and rng.random() < 0.7:
        packed = BytesIO()
        with zipfile.ZipFile(packed, "w", rng.choice((0, 8))) as file:
            file.writestr(
                rng.choice(("a.xml", "META-INF/container.xml", "b")), mutated(rng, "musicxml")
            )
        data = bytearray(packed.getvalue())
    for _ in range(rng.choice((1, 1, 2, 5))):
        at = rng.randrange(len(data) + 1)
        end = min(len(data), at + int(rng.expovariate(0.3)))
        match rng.randrange(6):
            case 0:
                del data[at:end]
            case 1:
                data[at:at] = rng.choice(PIECES[kind])
            case 2:
                data[at:at] = data[at:end] * rng.randint(1, 30)
            case 3:
                data[at:end] = rng.randbytes(end - at)
            case 4 if at < len(data):
                data[at] ^= 1 << rng.randrange(8)
            case _:
                other = rng.randrange(len(data) + 1)
                data[at:end] = data[other : other + rng.randint(0, 40)]
    return bytes(data)


def look(path: Path, data: bytes, asked: Asked) -> str:
    """What came of a file: cells, or the line about it without its details."""
    path.write_bytes(data)
    begin = time.process_time()
    try:
        cells, notes = read_notation(path, asked)
    except BadInput as error:
        assert str(error).isprintable() and str(error).startswith(str(path)), str(error)
        outcome = "told"
    else:
        assert cells and all(note.isprintable() for note in notes)
        for cell in cells:
            assert cell_from_dict(cell_to_dict(cell), "x") == cell
        outcome = "cells"
    assert time.process_time() - begin < LONGEST_S
    return outcome


@pytest.mark.parametrize("kind", GOOD)
def test_a_damaged_file_gives_cells_or_one_line(tmp_path, kind):
    """A hundred of each kind."""
    rng = Random(2026)
    for _ in range(100):
        look(tmp_path / f"x.{kind}", mutated(rng, kind), rng.choice(ASKED))


def main(count: int, seed: int) -> None:
    rng = Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        for kind in GOOD:
            begin, seen = time.process_time(), Counter()
            for _ in range(count):
                data, asked = mutated(rng, kind), rng.choice(ASKED)
                try:
                    seen[look(Path(folder) / f"x.{kind}", data, asked)] += 1
                except BaseException:
                    (Path(tempfile.gettempdir()) / f"fault.{kind}").write_bytes(data)
                    print(asked)
                    raise
            print(kind, dict(seen), f"{time.process_time() - begin:.1f} s")


if __name__ == "__main__":
    main(*(int(word) for word in (sys.argv[1:] + ["2000", "7"])[:2]))
