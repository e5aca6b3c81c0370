"""A file of any kind, read into cells: which kind it is, and one line for every mistake."""

from __future__ import annotations

from pathlib import Path

from ...core.cell import Cell
from ...errors import BadInput
from ..ordinary import contents, reason
from ..written import one_line
from .figure import Asked, Figure, Unreadable, cells_of
from .midi_in import read_midi_figure
from .tab_in import read_tab_figure
from .xml_in import read_xml_figure

LARGEST_BYTES = 8 << 20
LARGEST_TEXT = 256 << 10


def read_notation(path: Path, asked: Asked) -> tuple[list[Cell], list[str]]:
    """The cells that a file may hold, the likeliest first, and remarks. Raises BadInput with one
    line: file, line or bar, what is wrong."""
    source = one_line(str(path))
    try:
        return _read(_contents(path), path.stem, asked)
    except Unreadable as wrong:
        raise BadInput(f"{source}: {one_line(str(wrong))}") from None
    except OSError as error:
        raise BadInput(f"{source}: {reason(error)}") from None


def _contents(path: Path) -> bytes:
    data = contents(path, LARGEST_BYTES, follow=True)
    if len(data) > LARGEST_BYTES:
        raise Unreadable(f"is larger than {LARGEST_BYTES >> 20} MB")
    if not data:
        raise Unreadable("there is nothing in it")
    return data


def _read(data: bytes, name: str, asked: Asked) -> tuple[list[Cell], list[str]]:
    figures: list[Figure]
    if data[:4] in (b"MThd", b"RIFF"):
        figure, kept = read_midi_figure(data, name, asked)
        figures = [figure]
    elif data[:2] == b"PK" or _is_xml(data):
        figure, kept = read_xml_figure(data, name, asked)
        figures = [figure]
    else:
        figures, kept = read_tab_figure(_text(data), name, asked)
    if kept is not None:
        return [kept], []
    cells, notes = cells_of(figures[0], asked.grid)
    for other in figures[1:]:
        more, _ = cells_of(other, asked.grid)
        cells += [cell for cell in more if cell not in cells]
        notes.append("its notes stand at uneven distances; the last reading has them evenly spaced")
    return cells, notes


def _is_xml(data: bytes) -> bool:
    head = data[:200].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n")
    return head[:1] == b"<"


def _text(data: bytes) -> str:
    if len(data) > LARGEST_TEXT:
        raise Unreadable(f"is larger than {LARGEST_TEXT >> 10} KB of text")
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", "replace")
    if b"\0" in data:
        raise Unreadable("is no text, no MIDI file and no MusicXML")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")
