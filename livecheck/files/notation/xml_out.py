"""A cell as MusicXML 4.0: one bar of tablature with strings, frets, bow marks and slurs."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from fractions import Fraction
from xml.sax.saxutils import escape, quoteattr

from ...core.cell import Cell, Slot
from ...core.pitch import name_of
from .midi_out import time_signature
from .stamp import KEY, stamp

_TYPES = {
    Fraction(8): "breve",
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "16th",
    Fraction(1, 8): "32nd",
    Fraction(1, 16): "64th",
    Fraction(1, 32): "128th",
}
_HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" \
"http://www.musicxml.org/dtds/partwise.dtd">
"""
_SLURS = {"hammer": ("hammer-on", "H"), "pull": ("pull-off", "P")}


def to_musicxml(cell: Cell) -> str:
    """The text of a score of one bar."""
    return "\n".join(
        [_HEAD + '<score-partwise version="4.0">', *_score(cell), "</score-partwise>", ""]
    )


def to_packed(cell: Cell) -> bytes:
    """The same packed, as .mxl files are; equal cells give equal bytes."""
    container = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles><rootfile '
        'full-path="score.musicxml" media-type="application/vnd.recordare.musicxml+xml"/>'
        "</rootfiles></container>\n"
    )
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        for name, text in (
            ("META-INF/container.xml", container),
            ("score.musicxml", to_musicxml(cell)),
        ):
            file.writestr(zipfile.ZipInfo(name), text, zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def _score(cell: Cell) -> Iterator[str]:
    yield f"<work><work-title>{escape(cell.name)}</work-title></work>"
    yield "<identification><encoding><software>livecheck</software></encoding><miscellaneous>"
    yield f"<miscellaneous-field name={quoteattr(KEY)}>{escape(stamp(cell))}</miscellaneous-field>"
    yield "</miscellaneous></identification>"
    yield '<part-list><score-part id="P1"><part-name>Guitar</part-name></score-part></part-list>'
    yield '<part id="P1"><measure number="1">'
    yield from _attributes(cell)
    if cell.tempo_bpm is not None:
        tempo = f"{cell.tempo_bpm:.10g}"
        yield "<direction><direction-type><metronome><beat-unit>quarter</beat-unit>"
        yield f"<per-minute>{tempo}</per-minute></metronome></direction-type>"
        yield f'<sound tempo="{tempo}"/></direction>'
    at = 0
    for index, slot in enumerate(cell.slots):
        yield from _rest(cell, slot.start - at)
        yield from _note(cell, index)
        at = slot.start + slot.length
    yield from _rest(cell, cell.steps - at)
    yield '<barline location="right"><repeat direction="backward"/></barline>'
    yield "</measure></part>"


def _attributes(cell: Cell) -> Iterator[str]:
    yield f"<attributes><divisions>{cell.grid}</divisions>"
    time = time_signature(cell)
    if time is None:
        yield "<time><senza-misura/></time>"
    else:
        yield f"<time><beats>{time[0]}</beats><beat-type>{2 ** time[1]}</beat-type></time>"
    yield "<clef><sign>TAB</sign><line>5</line></clef>"
    yield f"<staff-details><staff-lines>{len(cell.tuning)}</staff-lines>"
    for line, pitch in enumerate(reversed(cell.tuning), 1):
        yield f'<staff-tuning line="{line}">{_pitch(pitch, "tuning-")}</staff-tuning>'
    if cell.capo:
        yield f"<capo>{cell.capo}</capo>"
    yield "</staff-details></attributes>"


def _pitch(pitch: int, prefix: str = "") -> str:
    name = name_of(pitch)
    letter, octave = name[0], name[1:].lstrip("#b")
    alter = f"<{prefix}alter>1</{prefix}alter>" if "#" in name else ""
    return f"<{prefix}step>{letter}</{prefix}step>{alter}<{prefix}octave>{octave}</{prefix}octave>"


def _rest(cell: Cell, steps: int) -> Iterator[str]:
    for length in _written(steps, cell.grid):
        yield f"<note><rest/>{_length(length, cell.grid)}</note>"


def _note(cell: Cell, index: int) -> Iterator[str]:
    """A slot, as tied notes where no single one is so long."""
    slot, written = cell.slots[index], cell.written[index]
    ahead: tuple[Slot, str | None] | None = None
    if index + 1 < len(cell.slots):
        ahead = cell.slots[index + 1], cell.written[index + 1]
    pieces = _written(slot.length, cell.grid)
    for number, length in enumerate(pieces):
        first, last = number == 0, number == len(pieces) - 1
        ties = ([] if first else ["stop"]) + ([] if last else ["start"])
        yield f"<note><pitch>{_pitch(slot.pitch)}</pitch>"
        times = f"<duration>{length}</duration>"
        marks = "".join(f'<tie type="{kind}"/>' for kind in ties)
        yield times + marks + _kind(length, cell.grid)
        yield "<notations>" + "".join(f'<tied type="{kind}"/>' for kind in ties)
        yield from _marks(slot, written if first else None, ahead if last else None)
        yield "</notations></note>"


def _marks(slot: Slot, stroke: str | None, ahead: tuple[Slot, str | None] | None) -> Iterator[str]:
    """Slides, then string, fret and strokes; a slur begins at the note before the one it leads
    to."""
    leads = ahead[1] if ahead is not None and ahead[0].string == slot.string else None
    if stroke == "slide":
        yield '<slide type="stop" number="1"/>'
    if leads == "slide":
        yield '<slide type="start" number="1" line-type="solid"/>'
    yield f"<technical><string>{slot.string}</string><fret>{slot.fret}</fret>"
    if stroke in ("down", "up"):
        yield f"<{stroke}-bow/>"
    elif stroke == "tap":
        yield "<tap/>"
    elif stroke in _SLURS:
        yield f'<{_SLURS[stroke][0]} type="stop" number="1"/>'
    if leads in _SLURS:
        tag, letter = _SLURS[leads]
        yield f'<{tag} type="start" number="1">{letter}</{tag}>'
    yield "</technical>"


def _length(length: int, grid: int) -> str:
    return f"<duration>{length}</duration>{_kind(length, grid)}"


def _tuplet(grid: int) -> tuple[int, int]:
    """Notes in the time of how many usual ones; (1, 1) for plain note values."""
    odd = grid
    while odd % 2 == 0:
        odd //= 2
    usual = 1
    while usual * 2 < odd:
        usual *= 2
    return (odd, usual) if odd > 1 else (1, 1)


def _kind(length: int, grid: int) -> str:
    """The note value's name, its dot and its tuplet."""
    actual, usual = _tuplet(grid)
    value = Fraction(length, grid) * actual / usual
    dot = value not in _TYPES
    name = _TYPES.get(value * 2 / 3 if dot else value)
    if name is None:
        return ""
    tuplet = (
        f"<time-modification><actual-notes>{actual}</actual-notes><normal-notes>{usual}"
        "</normal-notes></time-modification>"
        if actual > 1
        else ""
    )
    return f"<type>{name}</type>{'<dot/>' * dot}{tuplet}"


def _written(steps: int, grid: int) -> list[int]:
    """A length in grid steps as lengths that single notes have, the longest first."""
    pieces = []
    while steps > 0:
        piece = next((one for one in range(steps, 0, -1) if _kind(one, grid)), 1)
        pieces.append(piece)
        steps -= piece
    return pieces
