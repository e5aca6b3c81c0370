"""The top of the screen: cell, tempo and the last outcome in large lettering, port, and the heads
of the columns."""

from __future__ import annotations

from rich.cells import cell_len
from rich.style import Style

from ..core.events import MISSED, WRONG
from ..core.picking import begun_with, strokes_of
from .big import half_blocks
from .layout import LABEL, STRING, Layout
from .lines import Line, both_ends, columns, cut, fitted, padded, piece
from .model import Model
from .palette import ALARM, FAINT, GOOD, MISS, NOISY, NORMAL, SLIP, STRONG, Signs
from .places import under
from .words import cell_title, clean_text, happened, in_large, listed

NARROW = 72  # columns below which notes a second leave the tempo's side
LOST = 20  # columns of the left side that a lost port may take
LISTENING = "listening to "
SMALL = 14  # columns of an outcome in small letters


def port_words(model: Model) -> tuple[str, Style]:
    """How the port of the converter stands."""
    if model.stopped is not None:
        return f"session over: {model.stopped}", NORMAL
    if model.link is None:
        return "waiting for the converter", STRONG
    port = clean_text(model.link.port)
    return (f"{LISTENING}{port}", FAINT) if model.link.up else (f"PORT LOST: {port}", ALARM)


def outcome_style(model: Model) -> Style:
    """The colour that the gravest fault of the last repetition has in the table."""
    if model.last is None or model.last.clean:
        return GOOD
    verdicts = {result.verdict for result in model.last.slots}
    if not model.last.complete:
        return STRONG
    return MISS if MISSED in verdicts else SLIP if WRONG in verdicts else NOISY


def link_lost(model: Model) -> bool:
    """Whether the converter was there and is gone."""
    return model.link is not None and not model.link.up and model.stopped is None


def headline(model: Model, width: int, signs: Signs) -> list[Line]:
    """Three lines: what is played on the left; tempo and last outcome (or a lost port) large on the
    right."""
    figure = "" if model.tempo_bpm is None else f"{model.tempo_bpm:.0f}"
    rate = "" if model.notes_per_s is None else f"{model.notes_per_s:.1f} notes/s"
    narrow = width < NARROW
    tempo, unit = _lettering(figure, signs), 5 if narrow else 13
    units = [" bpm" if figure else "", "", "" if narrow else f" {rate}"]
    title, second = _titles(model)
    port, port_style = port_words(model)
    left = [(title, STRONG), (rate if narrow and rate else second, FAINT), (port, port_style)]
    room = width - len(tempo[0]) - unit - 6 - max(cell_len(text) for text, _ in left)
    outcome = _large_outcome(model, room, signs)
    if outcome is None:
        room = width - 6 - cell_len(left[1][0])
        if narrow:  # small letters for the tempo, too, leave the left side whole
            tempo, unit = [figure.rjust(4), "", ""], 5
            outcome = ["", _small_outcome(model, max(SMALL, room), signs), ""]
        else:
            small = _small_outcome(model, max(SMALL, room - len(tempo[0]) - unit), signs)
            outcome = [" " * len(small), small, " " * len(small)]
    style = MISS if link_lost(model) else outcome_style(model)
    lines = []
    for row in range(3):
        right = [
            piece(tempo[row], STRONG),
            padded(units[row], unit if tempo[row] or units[row] else 0, FAINT),
            piece(f"  {outcome[row]} " if outcome[row] else "", style),
        ]
        text, text_style = left[row]
        room = width - columns(right) - 2
        if cell_len(text) > room:  # the name alone tells more than half a name
            text = text.removeprefix(LISTENING)
        lines.append(
            both_ends([piece(" "), piece(cut(text, room, signs.more), text_style)], right, width)
        )
    return lines


def _titles(model: Model) -> tuple[str, str]:
    """What is played, and a word beneath it."""
    cell = model.cell
    if model.choice > 1 and cell is None:
        return f"listening for one of {model.choice} cells", model.title
    if cell is None:
        return "no cell chosen: only recording", model.title
    aim = "" if cell.tempo_bpm is None else f"starts from {cell.tempo_bpm:g} bpm"
    return cell_title(cell), model.title or aim


def _large_outcome(model: Model, room: int, signs: Signs) -> list[str] | None:
    """The last outcome in the largest letters that leave what stands beside it whole; None where
    there are none."""
    if link_lost(model):  # it matters more than what stands beside it
        room, large = room + LOST, ["NO PORT"]
    elif model.last is not None:
        large = in_large(model.last)
    else:
        return ["", "", ""]
    found = (letters for text in large if len((letters := _lettering(text, signs))[0]) <= room)
    return next(found, None)


def _small_outcome(model: Model, room: int, signs: Signs) -> str:
    """The last outcome in small letters."""
    if link_lost(model):
        return "NO PORT"
    told = happened(model.last, signs.times) if model.last is not None else []
    return listed(told, room, signs.more)


def _lettering(text: str, signs: Signs) -> list[str]:
    """Three lines: blocks where they can be shown, else the text itself."""
    return half_blocks(text) if signs.blocks else [text, *([" " * len(text)] * 2)]


def column_heads(model: Model, layout: Layout, signs: Signs) -> list[Line]:
    """Note numbers, strings and strokes over the slots; names over the other columns.

    Strokes are planned ones, faint, or as the hand is heard to go on, bright.
    """
    cell = model.cell
    if cell is None or not cell.slots:
        return []
    lines: list[Line] = []
    wide = layout.slot_width
    strokes, begins = strokes_of(cell, model.since_start), model.begins
    if begins is not None:
        strokes = begun_with(cell, model.since_start, begins)
    style = FAINT if begins is None else NORMAL
    for first in range(0, len(cell.slots), layout.per_line):
        slots = cell.slots[first : first + layout.per_line]
        rest = (layout.per_line - len(slots)) * wide
        number = [padded(" note", LABEL, FAINT)]
        string = [padded(" string", LABEL, FAINT)]
        stroke = [padded(" stroke", LABEL, FAINT)]
        for slot in slots:
            text = str(slot.number) if wide > 2 else str(slot.number % 10)
            on_beat = slot.start % cell.grid == 0
            number.append(piece(under(text, wide), STRONG if on_beat else NORMAL))
            string.append(piece(under(str(slot.string), wide), FAINT))
            stroke.append(piece(under(signs.stroke(strokes[slot.number - 1]), wide), style))
        if first == 0:
            number += [padded("", rest), *_other_heads(layout, 0)]
            string += [padded("", rest), *_other_heads(layout, 1)]
            stroke += [padded("", rest), *_other_heads(layout, 2)]
        if layout.lines <= 2 or first == 0:
            lines += [
                fitted(number, layout.table),
                fitted(string, layout.table),
                fitted(stroke, layout.table),
            ]
        else:
            lines.append(fitted(string, layout.table))
    return lines


def _other_heads(layout: Layout, row: int) -> Line:
    line: Line = []
    if layout.noise:
        strings = "".join(str(string % 10).ljust(STRING) for string in range(1, layout.strings + 1))
        text = ("unwanted", "on string", strings)[row]
        line.append(padded("  " + text, layout.noise, FAINT))
    elif layout.gap:
        line.append(piece(" "))
    for column in layout.columns:
        text = ("", column.head, column.unit)[row]
        line.append(padded(text + " ", column.width, FAINT, right=True))
    if layout.way:
        line.append(padded(("", "way ", "")[row][: layout.way], layout.way, FAINT, right=True))
    return line
