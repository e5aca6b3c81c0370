"""The written shape of a cell: from checked values to a Cell and back.

Owns every rule about what a cell may hold. The shape is the public one of cell files, and the
journal keeps cells in it too (as JSON, where the slot numbers of a variant turn into text).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from ..core.cell import (
    ALTERNATE,
    AS_WRITTEN,
    PICK,
    PICKED,
    PICKINGS,
    REPEAT,
    STROKES,
    Cell,
    make_cell,
)
from ..core.click import HIGHEST_BPM, LOWEST_BPM
from ..core.pitch import STANDARD_TUNING, name_of
from .written import Written, tuning_of

KEYS = (
    "name",
    "grid",
    "tempo",
    "tuning",
    "capo",
    "slots",
    "quiet",
    "picking",
    "begin",
    "variants",
    "parent",
    "notes",
    "family",
)
LONG_FORM = ("string", "fret", "stroke", "length")

HIGHEST_FRET = 36
HIGHEST_CAPO = 12
MOST_SLOTS = 64
MOST_STEPS = 256
MOST_VARIANTS = 32
FINEST_GRID = 16

_FORMS = (
    "write [string, fret, stroke], {string: 5, fret: 10, stroke: pull, length: 2}, rest or {rest: "
    "2}"
)
_Place = tuple[int, int, "str | None", int]


def read_cell(top: Written, default_tuning: Sequence[int] | None, default_name: str) -> Cell:
    """The cell that was written. Raises BadInput at the first mistake."""
    keys = top.fields("cell", KEYS, "write `name:` and `slots:` at least")
    if "slots" not in keys:
        raise top.wrong(
            "there are no slots", "add `slots:` with a list such as [[2, 13, down], [2, 10, up]]"
        )
    name = keys["name"].words("name") if "name" in keys else default_name
    grid = keys["grid"].whole("grid", 1, FINEST_GRID) if "grid" in keys else 4
    tempo_bpm = keys["tempo"].number("tempo", LOWEST_BPM, HIGHEST_BPM) if "tempo" in keys else None
    tuning = (
        tuning_of(keys["tuning"]) if "tuning" in keys else tuple(default_tuning or STANDARD_TUNING)
    )
    capo = keys["capo"].whole("capo", 0, HIGHEST_CAPO) if "capo" in keys else 0
    places = _places(keys["slots"], [pitch + capo for pitch in tuning])
    sounding = [place for place in places if not isinstance(place, int)]
    written = [place[2] for place in sounding]
    over, begins = (
        _variants(keys["variants"], len(sounding)) if "variants" in keys else (None, None)
    )
    cell = make_cell(
        name,
        places,
        grid=grid,
        tempo_bpm=tempo_bpm,
        tuning=tuning,
        capo=capo,
        quiet=_quiet(keys["quiet"], len(tuning), sounding) if "quiet" in keys else None,
        variants=over,
        picking=_picking(keys["picking"], written) if "picking" in keys else None,
        begin=_begin(keys["begin"], written) if "begin" in keys else "down",
        begins=begins,
        family=keys["family"].words("family") if "family" in keys else None,
    )
    if "parent" not in keys:
        return cell
    if "notes" not in keys:
        raise top.wrong("a part says its notes", "add `notes:` with the numbers they have there")
    entries = keys["notes"].entries("list of notes", "write their numbers: [3, 4, 5]")
    notes = [one.whole("note", 1, MOST_SLOTS) for one in entries]
    if len(notes) != len(cell.slots):
        raise keys["notes"].wrong(
            f"{len(notes)} notes", f"the part has {len(cell.slots)} slots: name one for each"
        )
    return replace(cell, parent=keys["parent"].words("parent"), notes=tuple(notes))


def write_cell(cell: Cell) -> dict[str, Any]:
    """The public shape of a cell, strokes as written; the variant in force is not in it.

    What stands at its default is left out, but for the tuning: its default may come from a rig.
    """
    data: dict[str, Any] = {"name": cell.name, "grid": cell.grid}
    if cell.tempo_bpm is not None:
        data["tempo"] = (
            int(cell.tempo_bpm) if cell.tempo_bpm == int(cell.tempo_bpm) else cell.tempo_bpm
        )
    data["tuning"] = [name_of(pitch) for pitch in cell.tuning]
    if cell.capo:
        data["capo"] = cell.capo
    if cell.picking != (ALTERNATE if None in cell.written else REPEAT):
        data["picking"] = cell.picking
    if cell.begin != "down":
        data["begin"] = cell.begin
    data["slots"] = _write_slots(cell)
    if set(cell.quiet) != set(range(1, len(cell.tuning) + 1)) - set(cell.strings):
        data["quiet"] = list(cell.quiet)
    if cell.variants:
        data["variants"] = {name: _write_variant(cell, name) for name in cell.variants}
    if cell.family is not None:
        data["family"] = cell.family
    if cell.parent is not None:
        data["parent"], data["notes"] = cell.parent, list(cell.notes)
    return data


def _write_variant(cell: Cell, name: str) -> dict[str | int, str]:
    data: dict[str | int, str] = {"begin": cell.begins[name]} if name in cell.begins else {}
    data.update(cell.variants[name].items())
    return data


def _write_slots(cell: Cell) -> list[Any]:
    written: list[Any] = []
    at = 0
    for slot, stroke in zip(cell.slots, cell.written, strict=True):
        written += _write_rest(slot.start - at)
        at = slot.start + slot.length
        if slot.length == 1:
            written.append([slot.string, slot.fret] + ([stroke] if stroke else []))
        else:
            stroked = {"stroke": stroke} if stroke else {}
            written.append(
                {"string": slot.string, "fret": slot.fret, **stroked, "length": slot.length}
            )
    return written + _write_rest(cell.steps - at)


def _write_rest(steps: int) -> list[Any]:
    whole: list[Any] = [{"rest": MOST_SLOTS}] * (steps // MOST_SLOTS)  # no longer one is read
    steps %= MOST_SLOTS
    return whole + ([] if steps == 0 else ["rest" if steps == 1 else {"rest": steps}])


def _places(slots: Written, open_pitches: Sequence[int]) -> list[_Place | int]:
    """Slots and rests in order, as make_cell takes them."""
    entries = slots.entries(
        "list of slots", "write a list of slots such as [[2, 13, down], [2, 10, up]]"
    )
    if not entries:
        raise slots.wrong("the cell is empty", "write at least one slot such as [2, 13, down]")
    places: list[_Place | int] = []
    count = steps = 0
    for entry in entries:
        place = _place(entry, open_pitches)
        places.append(place)
        count += not isinstance(place, int)
        steps += place if isinstance(place, int) else place[3]
        if count > MOST_SLOTS:
            raise entry.wrong(f"this is slot {count}", f"keep a cell to {MOST_SLOTS} slots")
        if steps > MOST_STEPS:
            raise entry.wrong(
                f"the cell reaches {steps} grid steps here", f"keep it to {MOST_STEPS}"
            )
    if not count:
        raise slots.wrong("nothing but rests", "write at least one slot such as [2, 13, down]")
    return places


def _place(entry: Written, open_pitches: Sequence[int]) -> _Place | int:
    """One entry: (string, fret, stroke, length), or the steps of a rest."""
    if entry.value == "rest":
        return 1
    if isinstance(entry.value, dict):
        if "rest" in entry.value:
            rest = entry.fields("rest", ("rest",), _FORMS)["rest"]
            return rest.whole("rest", 1, MOST_SLOTS)
        parts = entry.fields("slot", (*LONG_FORM, "rest"), _FORMS)
        for key in ("string", "fret"):
            if key not in parts:
                raise entry.wrong(f"the slot has no {key}", f"add `{key}:`")
    elif isinstance(entry.value, list):
        if not 2 <= len(entry.value) <= 3:
            longer = "a length goes into the long form; " if len(entry.value) == 4 else ""
            if (
                len(entry.value) == 1
                and isinstance(text := entry.value[0].value, str)
                and len(text.split()) > 1
            ):
                longer = "commas must stand between them; "
            raise entry.wrong(
                f"this slot has {len(entry.value)} of 2 or 3 values", f"{longer}{_FORMS}"
            )
        parts = {
            key: _named(part, entry.path, key)
            for key, part in zip(LONG_FORM, entry.value, strict=False)
        }
    else:
        raise entry.no("slot", _FORMS)

    strings = len(open_pitches)
    string = parts["string"].whole(
        "string", 1, MOST_STEPS, f"this tuning has strings 1 to {strings}"
    )
    if string > strings:
        raise parts["string"].wrong(
            f"string {string} does not exist", f"this tuning has strings 1 to {strings}"
        )
    fret = parts["fret"].whole("fret", 0, HIGHEST_FRET)
    stroke = parts["stroke"].choice("stroke", STROKES) if "stroke" in parts else None
    length = parts["length"].whole("length", 1, MOST_SLOTS) if "length" in parts else 1
    pitch = open_pitches[string - 1] + fret
    if pitch > 127:
        raise parts["fret"].wrong(
            f"fret {fret} sounds note {pitch}", "MIDI ends at 127; check tuning, capo and fret"
        )
    return string, fret, stroke, length


def _named(part: Written, path: str, key: str) -> Written:
    """A value of the short form under the name that the long form gives it."""
    return Written(part.value, part.text, part.source, part.line, f"{path}.{key}")


def _quiet(quiet: Written, strings: int, sounding: Sequence[_Place]) -> list[int]:
    """The strings that are to stay silent: they exist, the cell does not play them, and none is
    given twice."""
    result: list[int] = []
    for entry in quiet.entries("list of strings", "write a list such as [4], or [] for none"):
        string = entry.whole("string", 1, strings, f"this tuning has strings 1 to {strings}")
        user = next(
            (number for number, place in enumerate(sounding, 1) if place[0] == string), None
        )
        if user is not None:
            raise entry.wrong(
                f"string {string} is played by slot {user}",
                "a quiet string is one that no slot uses",
            )
        if string in result:
            raise entry.wrong(f"string {string} stands here twice", "name each string once")
        result.append(string)
    return result


def _picking(picking: Written, written: Sequence[str | None]) -> str:
    """How strokes go over the seam; there must be one that can."""
    chosen = picking.choice("picking", PICKINGS)
    if chosen == ALTERNATE and None not in written:
        raise picking.wrong(
            "every stroke is written, so nothing can go on alternating",
            "leave strokes out of the slots, or write repeat",
        )
    return chosen


def _begin(begin: Written, written: Sequence[str | None]) -> str:
    """The first picked note's stroke; where that is written, the two agree."""
    chosen = begin.choice("stroke to begin with", PICKED)
    first = next(
        (at for at, stroke in enumerate(written, 1) if stroke is None or stroke in PICKED), None
    )
    if first is None:
        raise begin.wrong("no note is picked", "take the key out")
    if written[first - 1] not in (None, chosen):
        raise begin.wrong(
            f"slot {first} is the first that is picked, and is written {written[first - 1]}",
            "take one of the two out",
        )
    return chosen


def _variants(variants: Written, count: int) -> tuple[dict[str, dict[int, str]], dict[str, str]]:
    """Strokes by slot number for each variant, and how those begin that say so."""
    mend = "write a name and strokes by slot number, as in `hammered: {5: hammer}`"
    result: dict[str, dict[int, str]] = {}
    begins: dict[str, str] = {}
    pairs = variants.pairs("mapping of variants", mend)
    if len(pairs) > MOST_VARIANTS:
        raise variants.wrong(f"{len(pairs)} variants", f"keep a cell to {MOST_VARIANTS}")
    for key, over in pairs.items():
        name = Written(key, key, over.source, over.line, over.path).words("variant's name", 40)
        if name.startswith("-"):
            raise over.wrong(
                "a variant's name begins with a dash",
                "begin it with a letter, it is used in commands",
            )
        if name == AS_WRITTEN and over.line is not None:  # sessions of before may hold one
            raise over.wrong(
                f"'{AS_WRITTEN}' names the cell's own strokes", "give the variant another name"
            )
        if name in result:
            raise over.wrong("this variant stands here twice", "give each its own name")
        strokes = over.pairs("mapping of strokes", mend)
        if not strokes:
            raise over.wrong("the variant changes no slot", mend)
        if "begin" in strokes:
            begins[name] = strokes["begin"].choice("stroke to begin with", PICKED)
        result[name] = {
            _number(slot, at, count): at.choice("stroke", (*STROKES, PICK))
            for slot, at in strokes.items()
            if slot != "begin"
        }
    return result, begins


def _number(key: str, at: Written, count: int) -> int:
    plain = key.isascii() and key.isdigit() and not key.startswith("0") and len(key) < 6
    if not plain or int(key) > count:
        raise at.wrong(
            "there is no such slot", f"sounding slots are numbered 1 to {count}, rests not counted"
        )
    return int(key)
