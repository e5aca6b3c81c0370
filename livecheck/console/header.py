"""The top of the screen: cell, tempo and the last outcome in large lettering, link, and the heads of the columns."""

from __future__ import annotations

from rich.style import Style

from ..core.events import MISSED, WRONG
from .big import half_blocks
from .layout import LABEL, STRING, Layout
from .lines import Line, both_ends, columns, cut, fitted, padded, piece
from .model import Model
from .palette import ALARM, FAINT, GOOD, MISS, NOISY, NORMAL, SLIP, STRONG, Signs
from .words import cell_title, clean_text, happened, in_one_word, listed

UNITS = 13  # columns beside the large tempo


def link_words(model: Model) -> tuple[str, Style]:
    """How the link to the converter stands."""
    if model.stopped is not None:
        return f"session over: {model.stopped}", NORMAL
    if model.link is None:
        return "waiting for the converter", STRONG
    port = clean_text(model.link.port)
    return (f"linked to {port}", GOOD) if model.link.up else (f"LINK LOST: {port}", ALARM)


def outcome_style(model: Model) -> Style:
    """The colour that the gravest fault of the last repetition has in the table."""
    if model.last is None or model.last.clean:
        return GOOD
    verdicts = {result.verdict for result in model.last.slots}
    if not model.last.complete:
        return STRONG
    return MISS if MISSED in verdicts else SLIP if WRONG in verdicts else NOISY


def headline(model: Model, width: int, signs: Signs) -> list[Line]:
    """Three lines: what is played on the left; tempo and last outcome large on the right."""
    figure = "" if model.tempo_bpm is None else f"{model.tempo_bpm:.0f}"
    outcome = "" if model.last is None else in_one_word(model.last)
    told = "" if model.last is None else listed(happened(model.last, signs.times), 18, signs.more)
    title = "no cell chosen: recording only" if model.cell is None else cell_title(model.cell)
    if model.choice > 1 and model.last is None:
        title = f"listening for one of {model.choice} cells"
    link, link_style = link_words(model)
    rate = "" if model.notes_per_s is None else f"{model.notes_per_s:.1f}"
    units = [" bpm" if rate else "", "", f" {rate} notes/s" if rate else ""]
    if signs.blocks:
        tempo, words = half_blocks(figure), half_blocks(outcome)
        beside = len(tempo[0]) + UNITS
        if width - beside - len(words[0]) - 3 < 24:
            words = [told, "", ""]
            words = [padded(line, 18).text if told else "" for line in words]
    else:
        tempo, words = [figure, "", ""], [outcome, "", ""]
        tempo = [padded(line, len(figure)).text for line in tempo]
        words = [padded(line, len(outcome)).text for line in words]
    style = outcome_style(model)
    left: list[Line] = [[piece(" ")], [piece(" ")], [piece(" ")]]
    rights = [
        [piece(tempo[row], STRONG), padded(units[row], UNITS, FAINT), piece("  "), piece(words[row], style)]
        for row in range(3)
    ]
    room = width - columns(rights[0]) - 3
    aim = model.title
    if not aim and model.cell is not None and model.cell.tempo_bpm is not None:
        aim = f"starts from {model.cell.tempo_bpm:g} bpm"
    left[0].append(piece(cut(title, room, signs.more), STRONG))
    left[1].append(piece(cut(aim, room, signs.more), FAINT))
    left[2].append(piece(cut(link, room, signs.more), link_style))
    return [both_ends(left[row], [*rights[row], piece(" ")], width) for row in range(3)]


def column_heads(model: Model, layout: Layout, signs: Signs) -> list[Line]:
    """Note numbers, strings and strokes over the slots; names over the other columns."""
    cell = model.cell
    if cell is None or not cell.slots:
        return []
    lines: list[Line] = []
    wide = layout.slot_width
    for first in range(0, len(cell.slots), layout.per_line):
        slots = cell.slots[first : first + layout.per_line]
        rest = (layout.per_line - len(slots)) * wide
        number = [padded(" note", LABEL, FAINT)]
        string = [padded(" string", LABEL, FAINT)]
        stroke = [padded(" stroke", LABEL, FAINT)]
        for slot in slots:
            text = str(slot.number) if wide > 2 else str(slot.number % 10)
            on_beat = slot.start % cell.grid == 0
            number.append(padded(centred(text, wide), wide, STRONG if on_beat else NORMAL))
            string.append(padded(centred(str(slot.string), wide), wide, FAINT))
            stroke.append(padded(centred(signs.stroke(slot.stroke), wide), wide, FAINT))
        if first == 0:
            number += [padded("", rest), *_other_heads(layout, 0)]
            string += [padded("", rest), *_other_heads(layout, 1)]
            stroke += [padded("", rest), *_other_heads(layout, 2)]
        if layout.lines <= 2 or first == 0:
            lines += [fitted(number, layout.table), fitted(string, layout.table), fitted(stroke, layout.table)]
        else:
            lines.append(fitted(string, layout.table))
    return lines


def centred(text: str, width: int) -> str:
    """Text in the middle of a slot's column, one column to the right where it does not divide."""
    return text.rjust((width + len(text)) // 2 + (width - len(text)) % 2 if width > 1 else 1)


def _other_heads(layout: Layout, row: int) -> Line:
    line: Line = []
    if layout.noise:
        strings = "".join(str(string % 10).ljust(STRING) for string in range(1, layout.strings + 1))
        text = ("unwanted", "on string", strings)[row]
        line.append(padded("  " + text, layout.noise, FAINT))
    heads = (
        (layout.even, "uneven", "%"),
        (layout.bpm, "tempo", "bpm"),
        (layout.rate, "notes", "/s"),
        (layout.share, "right", "%"),
    )
    for width, name, unit in heads:
        if width:
            line.append(padded(("", name, unit)[row] + " ", width, FAINT, right=True))
    return line
