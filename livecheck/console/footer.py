"""The foot of the screen: the one thing that needs saying, what the signs mean, and how the session
stands."""

from __future__ import annotations

from functools import lru_cache

from ..core.plain_text import counted
from .header import link_lost
from .lines import Line, both_ends, columns, cut, fitted, piece
from .model import Model
from .palette import ALARM, FAINT, GOOD, MISS, NOISY, NORMAL, SLIP, STRONG, Signs
from .words import clock_text, fitting

STRANGE = 24
"""Notes that belong to no repetition before it is asked, while there has been none, what they are
of. No source."""

KEYS = "q stop  f far  m mark  l late"
SELDOM = "  n v first stroke"
"""Keys, and those that are named only where everything else has room."""


def message(model: Model) -> tuple[list[str], bool]:
    """The most pressing thing to tell, at length and shorter, and whether it is an alarm; empty
    where all is well."""
    if model.unsaved is not None:
        return [f"NOT SAVED: {model.unsaved}"], True
    if link_lost(model):
        return [
            "the converter's port is gone; recording goes on as soon as it is back",
            "port gone; recording goes on when it is back",
            "port gone",
        ], True
    if model.dropped:
        return [f"{counted(model.dropped, 'message')} could not be saved"], True
    if model.reminder and model.current is None:  # it waits for a pause
        return [model.reminder, "rest now: put the guitar down", "rest now"], False
    if model.foreign and not model.reps:
        messages = counted(model.foreign, "message")
        return [
            f"{messages} on channels that are no string: check the rig",
            f"{messages} on other channels: rig?",
        ], False
    if model.outside >= STRANGE and not model.reps:
        return [
            f"{model.outside} notes came, and none of them makes up the cell: is it this one, is "
            "the rig right?",
            f"{model.outside} notes, none of the cell: is the rig right?",
            f"{model.outside} notes, none of the cell",
        ], False
    return [], False


def message_line(model: Model, width: int, signs: Signs) -> Line:
    told, alarm = message(model)
    text = fitting(told, width - 2) or (cut(told[-1], width - 2, signs.more) if told else "")
    return fitted([piece(" "), piece(text, ALARM if alarm else STRONG)], width)


@lru_cache(maxsize=16)
def legend_line(width: int, signs: Signs, in_place: bool = False) -> Line:
    """What the signs mean, as many as there is room for; in_place: early and late are shown by
    place."""
    line: Line = [piece(" ")]
    placed = f"{signs.hit}{signs.dot} {signs.dot}{signs.hit}"
    known = [
        (signs.hit, GOOD, "hit"),
        (signs.missed, MISS, "missed"),
        (signs.wrong, SLIP, "wrong note"),
        (signs.struck, STRONG, "not certain yet"),
        *([(placed, GOOD, "early, late")] if in_place else []),
        (signs.pending, FAINT, "to come"),
        (signs.uneven, STRONG, "uneven enough to hear"),
        *([(signs.rule, NOISY, "rings on")] if in_place else []),
        (f"{signs.down} {signs.up}", NORMAL, "down, up"),
        ("h p s t", NORMAL, "hammer, pull, slide, tap"),
    ]
    for sign, style, meaning in known:
        more = [piece(sign, style), piece(f" {meaning}   ", FAINT)]
        if columns(line) + columns(more) - 3 > width - 1:
            break
        line += more
    return fitted(line, width)


def status_line(model: Model, width: int, signs: Signs) -> Line:
    """Time played, counts and whether it is being saved; keys to the right."""
    saved = "not saved" if model.unsaved is not None else "saved"
    parts = [
        saved if model.stopped is None else "over",
        f"{model.clean} of {counted(model.reps, 'repetition')} clean",
        f"{clock_text(model.played_s)} played",
    ]
    if model.today_s is not None:
        parts.append(f"{clock_text(model.today_s)} today")
    if model.take:
        parts.append(f"take {model.take}")
    if model.foreign:
        parts.append(f"{model.foreign} on other channels")
    if model.artefacts:
        parts.append(f"{counted(model.artefacts, 'converter fault')}")
    if model.heard_s is None and model.stopped is None:
        parts.append("nothing heard yet")
    between = f" {signs.dot} "
    keys = model.keys
    if len(between.join(parts)) > width - len(keys) - 4:
        keys = KEYS if keys.startswith(KEYS) else keys
    while len(parts) > 1 and len(between.join(parts)) > width - len(keys) - 4:
        parts.pop()
    while keys and len(between.join(parts)) + len(keys) + 4 > width:
        keys = keys.rpartition("  ")[0]
    return both_ends(
        [piece(" " + between.join(parts), FAINT)], [piece(keys + " ", FAINT)] if keys else [], width
    )
