"""Records of a sitting as plain dictionaries, ready for JSON, and back.

A record's own time is kept beside the dictionary, not in it: on disk it is the raw clock reading,
in memory seconds from the session's start.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import inf
from typing import Any

from ..core.events import (
    Ask,
    Block,
    Click,
    ClickLink,
    Cue,
    Foot,
    FootLink,
    Gap,
    Link,
    Mark,
    Midi,
    Record,
    Stop,
    UseCells,
    UseGestures,
    UseRig,
)
from ..core.gestures import MOST_GESTURES, Gesture
from ..errors import BadInput
from .config import cell_from_dict, cell_to_dict, rig_from_dict, rig_to_dict
from .lines import NUMBER_LIMIT

SOURCE = "journal"  # where a mistake in a cell or rig is said to stand


def to_dict(record: Record) -> dict[str, Any]:
    """The record without its time; ``type`` says which kind it is.

    >>> to_dict(Midi(1.5, bytes([0x90, 60, 100])))
    {'type': 'midi', 'data': '903c64'}
    """
    if isinstance(record, Midi):
        return {"type": "midi", "data": record.data.hex()}
    if isinstance(record, UseRig):
        return {"type": "rig", "rig": rig_to_dict(record.rig)}
    if isinstance(record, UseCells):
        return {
            "type": "cells",
            "cells": [{**cell_to_dict(cell), "variant": cell.variant} for cell in record.cells],
        }
    if isinstance(record, Link):
        return {"type": "link", "up": record.up, "port": record.port}
    if isinstance(record, Mark):
        return {"type": "mark", "text": record.text}
    if isinstance(record, Gap):
        return {"type": "gap", "dropped": record.dropped, "why": record.why}
    if isinstance(record, Click):
        return {"type": "click", "beat": record.beat, "bpm": record.bpm}
    if isinstance(record, ClickLink):
        told = {"type": "click-link", "up": record.up, "port": record.port}
        return told if record.wanted is None else {**told, "wanted": record.wanted}
    if isinstance(record, Cue):
        return {"type": "cue", "word": record.word}
    if isinstance(record, Ask):
        return {"type": "ask", "action": record.action}
    if isinstance(record, UseGestures):
        return {"type": "gestures", "gestures": [list(one) for one in record.gestures]}
    if isinstance(record, Foot):
        return {"type": "pedal", "data": record.data.hex()}
    if isinstance(record, FootLink):
        return {"type": "pedal-link", "up": record.up, "port": record.port}
    if isinstance(record, Block):
        times = {"from_s": record.from_s, "until_s": record.until_s}
        return {
            "type": "block",
            "bpm": record.bpm,
            "reps": record.reps,
            **times,
            "kind": record.kind,
        }
    return {"type": "stop", "why": record.why}


def from_dict(fields: Mapping[str, Any], t_s: float) -> Record:
    """The record that ``to_dict`` was given, at a time in seconds from the session's start.

    Keys that are not known are passed over. Raises BadInput for an unknown type or fields that do
    not fit it.
    """
    kind = fields.get("type")
    make = _MAKERS.get(kind) if isinstance(kind, str) else None
    if make is None:
        raise BadInput(f"record of unknown type {kind!r}")
    try:
        return make(fields, t_s)
    except (LookupError, TypeError, ValueError, AttributeError) as error:
        raise BadInput(f"{kind} record cannot be understood: {error!r}") from error


def _midi(fields: Mapping[str, Any], t_s: float) -> Midi:
    return Midi(t_s, bytes.fromhex(fields["data"]))


def _rig(fields: Mapping[str, Any], t_s: float) -> UseRig:
    return UseRig(t_s, rig_from_dict(fields["rig"], SOURCE))


def _cells(fields: Mapping[str, Any], t_s: float) -> UseCells:
    cells = []
    for entry in fields["cells"]:
        written = {key: value for key, value in entry.items() if key != "variant"}
        cell = cell_from_dict(written, SOURCE)
        variant = entry.get("variant")
        cells.append(cell if variant is None else cell.with_variant(variant))
    return UseCells(t_s, tuple(cells))


def _link(fields: Mapping[str, Any], t_s: float) -> Link:
    return Link(t_s, _typed(fields["up"], bool), _typed(fields["port"], str))


def _mark(fields: Mapping[str, Any], t_s: float) -> Mark:
    return Mark(t_s, _typed(fields["text"], str))


def _gap(fields: Mapping[str, Any], t_s: float) -> Gap:
    dropped = _typed(fields["dropped"], int)
    if not 0 <= dropped < NUMBER_LIMIT:
        raise ValueError("that many records cannot be missing")
    return Gap(t_s, dropped, _typed(fields["why"], str))


def _click(fields: Mapping[str, Any], t_s: float) -> Click:
    return Click(t_s, _typed(fields["beat"], int), _typed(fields["bpm"], float))


def _click_link(fields: Mapping[str, Any], t_s: float) -> ClickLink:
    wanted = fields.get("wanted")
    return ClickLink(
        t_s,
        _typed(fields["up"], bool),
        _typed(fields["port"], str),
        None if wanted is None else _typed(wanted, str),
    )


def _cue(fields: Mapping[str, Any], t_s: float) -> Cue:
    return Cue(t_s, _typed(fields["word"], str))


def _ask(fields: Mapping[str, Any], t_s: float) -> Ask:
    return Ask(t_s, _typed(fields["action"], str))


def _gestures(fields: Mapping[str, Any], t_s: float) -> UseGestures:
    told = _typed(fields["gestures"], list)
    if len(told) > MOST_GESTURES:
        raise ValueError("too many gestures")
    gestures = []
    for string, fret, picks, action in told:
        string = None if string is None else _typed(string, int)
        one = string, _typed(fret, int), _typed(picks, int), _typed(action, str)
        Gesture(*one)
        gestures.append(one)
    return UseGestures(t_s, tuple(gestures))


def _pedal(fields: Mapping[str, Any], t_s: float) -> Foot:
    return Foot(t_s, bytes.fromhex(fields["data"]))


def _pedal_link(fields: Mapping[str, Any], t_s: float) -> FootLink:
    return FootLink(t_s, _typed(fields["up"], bool), _typed(fields["port"], str))


def _block(fields: Mapping[str, Any], t_s: float) -> Block:
    bpm, from_s, until_s = (_typed(fields[name], float) for name in ("bpm", "from_s", "until_s"))
    if not (0.0 < bpm < inf and 0.0 <= from_s < until_s < inf):
        raise ValueError(f"no block: {fields!r}")
    return Block(
        t_s, bpm, _typed(fields["reps"], int), from_s, until_s, _typed(fields["kind"], str)
    )


def _stop(fields: Mapping[str, Any], t_s: float) -> Stop:
    return Stop(t_s, _typed(fields["why"], str))


def _typed(value: Any, kind: type) -> Any:
    if type(value) is not kind:
        raise TypeError(f"{value!r} is no {kind.__name__}")
    return value


_MAKERS: dict[str, Callable[[Mapping[str, Any], float], Record]] = {
    "midi": _midi,
    "rig": _rig,
    "cells": _cells,
    "link": _link,
    "mark": _mark,
    "gap": _gap,
    "click": _click,
    "click-link": _click_link,
    "cue": _cue,
    "ask": _ask,
    "gestures": _gestures,
    "pedal": _pedal,
    "pedal-link": _pedal_link,
    "block": _block,
    "stop": _stop,
}
