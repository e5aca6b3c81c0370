"""What a cell file may hold, and what is said about every mistake in it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from livecheck.core.cell import STROKES, Cell, make_cell
from livecheck.core.pitch import STANDARD_TUNING, period_s
from livecheck.errors import BadInput
from livecheck.files.config import (
    cell_from_dict,
    cell_to_dict,
    dump_cell,
    load_cell,
    load_rig,
    rig_for,
)

ROOT = Path(__file__).parents[2]
CELLS = sorted((ROOT / "configs" / "cells").glob("*.yaml"))

SOUND = """\
name: six across a skip
grid: 4                    # slots per beat
tempo: 100
tuning: [E4, B3, G3, D3, A2, E2]
capo: 0
slots:
  - [2, 13, down]
  - [2, 10, up]
  - [3, 12, down]
  - [3, 10, up]
  - [5, 12, down]
  - {string: 5, fret: 10, stroke: pull, length: 2}
  - rest
quiet: [4]
variants:
  hammered: {5: hammer}
"""


def loaded(tmp_path: Path, text: str, **options: object) -> Cell:
    path = tmp_path / "cell.yaml"
    path.write_text(text, encoding="utf-8")
    return load_cell(path, **options)


def mistake(tmp_path: Path, text: str) -> str:
    """What is said about a cell file, without the folder's name."""
    with pytest.raises(BadInput) as caught:
        loaded(tmp_path, text)
    return str(caught.value).replace(f"{tmp_path}/", "")


def with_slots(*slots: str) -> str:
    return "name: x\nslots:\n" + "".join(f"  - {slot}\n" for slot in slots)


# -------------------------------------------------------------------------------------- sound cells


def test_the_published_example_is_read_as_it_says(tmp_path):
    """The example of the format: six slots on eight grid steps, five picked strokes."""
    cell = loaded(tmp_path, SOUND)
    assert (cell.name, cell.grid, cell.tempo_bpm, cell.tuning, cell.capo) == (
        "six across a skip", 4, 100.0, STANDARD_TUNING, 0
    )  # fmt: skip
    assert [(s.string, s.fret, s.stroke, s.start, s.length) for s in cell.slots] == [
        (2, 13, "down", 0, 1),
        (2, 10, "up", 1, 1),
        (3, 12, "down", 2, 1),
        (3, 10, "up", 3, 1),
        (5, 12, "down", 4, 1),
        (5, 10, "pull", 5, 2),
    ]
    assert (cell.steps, cell.quiet, sum(slot.picked for slot in cell.slots)) == (8, (4,), 5)
    assert cell.with_variant("hammered").slots[4].stroke == "hammer"
    assert cell.written == ("down", "up", "down", "up", "down", "pull")


def test_what_is_left_out_takes_its_default(tmp_path):
    """Standard tuning, no capo, four to the beat, one step a slot, alternation from down, unused
    strings quiet."""
    cell = loaded(tmp_path, "slots: [[1, 5], [1, 8], [2, 5]]")
    assert cell == make_cell("cell", [(1, 5), (1, 8), (2, 5)])
    assert [slot.stroke for slot in cell.slots] == ["down", "up", "down"]
    assert (cell.written, cell.quiet, cell.grid) == ((None, None, None), (3, 4, 5, 6), 4)


def test_the_rigs_tuning_is_only_a_default(tmp_path):
    """A cell's own tuning decides; one without takes what it is given."""
    low = (62, 57, 53, 48, 43, 38)
    assert loaded(tmp_path, with_slots("[6, 0]"), default_tuning=low).slots[0].pitch == 38
    assert loaded(tmp_path, with_slots("[6, 0]")).slots[0].pitch == 40
    own = "tuning: [E4, B3, G3, D3, A2, D2]\n" + with_slots("[1, 0]")
    assert loaded(tmp_path, own, default_tuning=low).slots[0].pitch == 64


def test_empty_quiet_list_means_no_quiet_string(tmp_path):
    """`quiet: []` is not the same as leaving quiet out."""
    assert loaded(tmp_path, with_slots("[1, 0]") + "quiet: []\n").quiet == ()


@pytest.mark.parametrize(
    "name", ["yes", "off", "08", "1:30", "2026-01-02", "12", "1e3", "~x", "Übung ⊓"]
)
def test_names_are_taken_as_they_are_written(tmp_path, name):
    """YAML's own readings (truth values, octal, sexagesimal, dates) never change a name."""
    cell = loaded(
        tmp_path, f"name: {name}\nslots: [[1, 0, down]]\nvariants: {{{name}: {{1: up}}}}\n"
    )
    assert cell.name == name and set(cell.variants) == {name}
    assert loaded(tmp_path, dump_cell(cell)) == cell


def test_rests_move_what_follows_and_are_not_numbered(tmp_path):
    """Rests take grid steps, sounding slots alone are numbered, a rest may begin the cell."""
    cell = loaded(
        tmp_path,
        with_slots("{rest: 2}", "[1, 0]", "rest", "{string: 2, fret: 1, length: 3}", "rest"),
    )
    assert [(slot.number, slot.start) for slot in cell.slots] == [(1, 2), (2, 4)]
    assert cell.steps == 8


def test_tunings_sound_what_the_tables_say(tmp_path):
    """Open strings and periods, sources.md T-05 (derived from equal temperament), tunings T-06
    (common practice)."""
    eight = with_slots(*(f"[{string}, 0]" for string in range(1, 9)))
    cell = loaded(tmp_path, "tuning: [E4, B3, G3, D3, A2, E2, B1, F#1]\n" + eight)
    assert [slot.pitch for slot in cell.slots] == [64, 59, 55, 50, 45, 40, 35, 30]
    periods_ms = [period_s(slot.pitch) * 1000 for slot in cell.slots]
    # D3 is 6.8105: printed rounded up twice
    printed = [3.034, 4.050, 5.102, 6.811, 9.091, 12.135, 16.198, 21.622]
    assert periods_ms == pytest.approx(printed, abs=0.0006)
    table = {
        "[Eb4, Bb3, Gb3, Db3, Ab2, Eb2]": (63, 58, 54, 49, 44, 39),
        "[D4, A3, F3, C3, G2, D2]": (62, 57, 53, 48, 43, 38),
        "[E4, B3, G3, D3, A2, D2]": (64, 59, 55, 50, 45, 38),
        "[D4, B3, G3, D3, A2, D2]": (62, 59, 55, 50, 45, 38),
        "[D4, A3, G3, D3, A2, D2]": (62, 57, 55, 50, 45, 38),
        "[D4, B3, G3, D3, G2, D2]": (62, 59, 55, 50, 43, 38),
        "[D4, A3, F#3, D3, A2, D2]": (62, 57, 54, 50, 45, 38),
        "[F4, C4, G3, D3, A2, E2]": (65, 60, 55, 50, 45, 40),
        # string 3 above string 1: never sorted
        "[E4, B3, G4, D4, A3, E3]": (64, 59, 67, 62, 57, 52),
    }
    for written, pitches in table.items():
        assert loaded(tmp_path, f"tuning: {written}\n" + with_slots("[1, 0]")).tuning == pitches


def test_frets_add_semitones_and_count_from_the_capo(tmp_path):
    """sources.md T-07 (open + capo + fret) and T-08 (note 64 in its six places), both derived from
    T-05."""
    places = with_slots("[1, 0]", "[2, 5]", "[3, 9]", "[4, 14]", "[5, 19]", "[6, 24]")
    assert {slot.pitch for slot in loaded(tmp_path, places).slots} == {64}
    assert {slot.pitch for slot in loaded(tmp_path, "capo: 3\n" + places).slots} == {67}


ODD = "slots: [[1, 5], [1, 8], [2, 5]]\n"


def test_how_strokes_go_over_the_seam_is_read_and_written_back(tmp_path):
    """`picking`, `begin` and a variant's own beginning; what stands at its default is left out."""
    cell = loaded(tmp_path, "picking: repeat\nbegin: up\n" + ODD)
    assert (cell.picking, cell.begin) == ("repeat", "up")
    assert [slot.stroke for slot in cell.slots] == ["up", "down", "up"]
    assert loaded(tmp_path, dump_cell(cell)) == cell
    own = loaded(tmp_path, ODD + "variants: {up first: {begin: up, 2: hammer, 3: pick}}\n")
    assert (own.picking, own.begins) == ("alternate", {"up first": "up"})
    assert [slot.stroke for slot in own.with_variant("up first").slots] == ["up", "hammer", "down"]
    assert loaded(tmp_path, dump_cell(own)) == own
    assert cell_from_dict(json.loads(json.dumps(cell_to_dict(own))), "journal") == own
    assert not {"picking", "begin"} & cell_to_dict(own).keys()
    sound = loaded(tmp_path, "picking: repeat\n" + SOUND)
    assert sound.picking == "repeat" and "picking" not in cell_to_dict(sound)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("picking: turn\n" + ODD,
         "cell.yaml:1: picking: 'turn' is no picking; write one of alternate, repeat"),
        ("picking: altrenate\n" + ODD,
         "cell.yaml:1: picking: 'altrenate' is no picking; did you mean alternate?"),
        ("picking: alternate\n" + SOUND, "cell.yaml:1: picking: every stroke is written, so "
                                         "nothing can go on alternating; leave strokes out of the "
                                         "slots, or write repeat"),
        ("begin: left\n" + ODD,
         "cell.yaml:1: begin: 'left' is no stroke to begin with; write one of down, up"),
        ("begin: up\n" + SOUND,
         "cell.yaml:1: begin: slot 1 is the first that is picked, and is written down; take"),
        ("begin: up\n" + with_slots("[1, 5, tap]"),
         "cell.yaml:1: begin: no note is picked; take the key out"),
        (ODD + "variants: {a: {begin: hammer}}\n",
         "variants.a.begin: 'hammer' is no stroke to begin with"),
        (with_slots("[1, 5, pick]"), "slots[1].stroke: 'pick' is no stroke"),
    ],
)  # fmt: skip
def test_a_seam_that_cannot_be_is_told(tmp_path, text, said):
    """One line with its place and its remedy."""
    assert said in mistake(tmp_path, text)


# ----------------------------------------------------------------------------------------- mistakes

UNKNOWN_FORM = (
    "write [string, fret, stroke], {string: 5, fret: 10, stroke: pull, length: 2}, rest or {rest: "
    "2}"
)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        # keys
        ("tuning:", "tunning:", "cell.yaml:4: tunning: unknown key; did you mean tuning?"),
        ("capo:", "Capo:", "cell.yaml:5: Capo: unknown key; did you mean capo?"),
        ("capo:", "zzz:", "cell.yaml:5: zzz: unknown key; keys here: name, grid, tempo, tuning, "
                          "capo, slots, quiet, "),
        ("length: 2", "lenght: 2",
         "cell.yaml:12: slots[6].lenght: unknown key; did you mean length?"),
        ("capo: 0", "name: y",
         "cell.yaml:5: name: this key stands here twice (first in line 1); keep one of the two"),
        ("slots:", "sluts:", "cell.yaml:6: sluts: unknown key; did you mean slots?"),
        ("capo: 0", "capo:",
         "cell.yaml:5: capo: nothing is written here; give a value or take the key out"),
        # strings and frets
        ("[3, 12, down]", "[7, 12, down]",
         "cell.yaml:9: slots[3].string: string 7 does not exist; this tuning has strings 1 to 6"),
        ("[3, 12, down]", "[0, 12, down]",
         "slots[3].string: string 0 is out of range; this tuning has strings 1 to 6"),
        ("[3, 12, down]", "[3, x, down]",
         "cell.yaml:9: slots[3].fret: 'x' is no fret; write a whole number from 0 to 36"),
        ("[3, 12, down]", "[3, -1, down]",
         "slots[3].fret: fret -1 is out of range; write a whole number from 0 to 36"),
        ("[3, 12, down]", "[3, 12.5, down]",
         "slots[3].fret: 12.5 is no fret; write a whole number"),
        ("[3, 12, down]", "[3, yes, down]", "slots[3].fret: 'yes' is no fret"),
        ("[3, 12, down]", "[3, 37, down]", "slots[3].fret: fret 37 is out of range"),
        ("[3, 12, down]", "[3, 08, down]", "slots[3].fret: fret '08' begins with a zero; write 8"),
        ("[3, 12, down]", "[3, 0o7, down]", "slots[3].fret: '0o7' is no fret"),
        ("[3, 12, down]", "[3, 1:30, down]", "slots[3].fret: '1:30' is no fret"),
        ("[3, 12, down]", "[3, 2026-01-02, down]", "slots[3].fret: '2026-01-02' is no fret"),
        ("[3, 12, down]", "[3, '12', down]",
         "slots[3].fret: fret '12' is text; take the quotes away"),
        ("[3, 12, down]", "[3, ~, down]", "slots[3].fret: nothing is written where a fret belongs"),
        ("[3, 12, down]", "[3, [12], down]", "slots[3].fret: a list stands where a fret belongs"),
        ("[3, 12, down]", "[3, 99999999999999999999999999999999999999, down]", "slots[3].fret"),
        ("capo: 0", "capo: 13",
         "cell.yaml:5: capo: capo 13 is out of range; write a whole number from 0 to 12"),
        # forms of a slot
        ("[3, 12, down]", "[3]",
         f"cell.yaml:9: slots[3]: this slot has 1 of 2 or 3 values; {UNKNOWN_FORM}"),
        ("[3, 12, down]", "[3. 12. down]",
         "this slot has 1 of 2 or 3 values; commas must stand between them; "),
        ("[3, 12, down]", "[3, 12, down, 2]",
         "this slot has 4 of 2 or 3 values; a length goes into the long form; "),
        ("[3, 12, down]", "{string: 3}",
         "cell.yaml:9: slots[3]: the slot has no fret; add `fret:`"),
        ("[3, 12, down]", "pause", f"cell.yaml:9: slots[3]: 'pause' is no slot; {UNKNOWN_FORM}"),
        ("[3, 12, down]", "12", "slots[3]: 12 is no slot; write [string, fret, stroke]"),
        ("- rest", "- {rest: 0}",
         "cell.yaml:13: slots[7].rest: rest 0 is out of range; write a whole number from 1"),
        ("- rest", "- {rest: 1, string: 2}", "cell.yaml:13: slots[7].string: unknown key"),
        ("length: 2", "length: 0", "cell.yaml:12: slots[6].length: length 0 is out of range"),
        ("length: 2", "length: two", "cell.yaml:12: slots[6].length: 'two' is no length"),
        # strokes
        ("[3, 12, down]", "[3, 12, dwon]",
         "cell.yaml:9: slots[3].stroke: 'dwon' is no stroke; did you mean down?"),
        ("[3, 12, down]", "[3, 12, hammer-on]", "'hammer-on' is no stroke; did you mean hammer?"),
        ("[3, 12, down]", "[3, 12, u]", "'u' is no stroke; did you mean up?"),
        ("[3, 12, down]", "[3, 12, 5]",
         "5 is no stroke; write one of down, up, hammer, pull, slide, tap"),
        ("[3, 12, down]", "[3, 12, sweep!]", "'sweep!' is no stroke; write one of down, up"),
        # tuning
        ("[E4, B3, G3, D3, A2, E2]", "[E4, B3, G3, D3, A2, E]",
         "cell.yaml:4: tuning[6]: 'E' is no note name; add the octave, as in E3 (middle C is C4)"),
        ("[E4, B3,", "[e4, B3,", "cell.yaml:4: tuning[1]: 'e4' is no note name; write E4"),
        ("[E4, B3,", "[E4, H3,", "cell.yaml:4: tuning[2]: 'H3' is no note name; write B3"),
        ("[E4, B3,", "[E4, E♭3,", "'E♭3' is no note name; write Eb3"),
        ("[E4, B3,", "[E4, 59,", "cell.yaml:4: tuning[2]: 59 is no note name; write B3"),
        ("[E4, B3,", "[E4, X3,",
         "'X3' is no note name; write a letter, # or b if needed, and the octave"),
        ("[E4, B3,", "[E4, B99,",
         "'B99' is no note name; octaves go from -1 to 9 and notes from C-1 to G9"),
        ("[E4, B3,", "[E4, A9,",
         "'A9' is no note name; octaves go from -1 to 9 and notes from C-1 to G9"),
        ("[E4, B3,", "[E4, {a: b},",
         "tuning[2]: a mapping (key: value) stands where a note name belongs"),
        ("[E4, B3, G3, D3, A2, E2]", "E4 B3 G3",
         "cell.yaml:4: tuning: 'E4 B3 G3' is no tuning; write the open"),
        ("[E4, B3, G3, D3, A2, E2]", "[]",
         "cell.yaml:4: tuning: a tuning of 0 strings; give 1 to 12 strings"),
        ("[E4, B3, G3, D3, A2, E2]", "[G9, B3, G3, D3, G9, E2]",
         "cell.yaml:11: slots[5].fret: fret 12 sounds note 139; MIDI ends at 127; check tuning, "
         "capo and fret"),
        # grid and tempo
        ("grid: 4", "grid: 0",
         "cell.yaml:2: grid: grid 0 is out of range; write a whole number from 1 to 16"),
        ("grid: 4", "grid: 4.0", "cell.yaml:2: grid: 4.0 is no grid"),
        ("grid: 4", "grid: [4]", "cell.yaml:2: grid: a list stands where a grid belongs"),
        ("tempo: 100", "tempo: fast",
         "cell.yaml:3: tempo: 'fast' is no tempo; write a number from 20 to 400"),
        ("tempo: 100", "tempo: 1000",
         "cell.yaml:3: tempo: tempo 1000 is out of range; write a number from 20 to 400"),
        ("tempo: 100", "tempo: .nan", "cell.yaml:3: tempo: '.nan' is no tempo"),
        ("tempo: 100", "tempo: 1e999", "cell.yaml:3: tempo: tempo inf is out of range"),
        # quiet strings
        ("quiet: [4]", "quiet: [9]",
         "cell.yaml:14: quiet[1]: string 9 is out of range; this tuning has"),
        ("quiet: [4]", "quiet: [4, 3]",
         "cell.yaml:14: quiet[2]: string 3 is played by slot 3; a quiet string is one that no "
         "slot uses"),
        ("quiet: [4]", "quiet: [4, 4]",
         "cell.yaml:14: quiet[2]: string 4 stands here twice; name each string once"),
        ("quiet: [4]", "quiet: 4",
         "cell.yaml:14: quiet: 4 is no list of strings; write a list such as [4]"),
        # variants
        ("{5: hammer}", "{7: hammer}", "cell.yaml:16: variants.hammered.7: there is no such slot; "
                                       "sounding slots are numbered 1 to 6, rests not counted"),
        ("{5: hammer}", "{0: hammer}", "variants.hammered.0: there is no such slot"),
        ("{5: hammer}", "{five: hammer}", "variants.hammered.five: there is no such slot"),
        ("{5: hammer}", "{5: hamer}",
         "variants.hammered.5: 'hamer' is no stroke; did you mean hammer?"),
        ("{5: hammer}", "{}", "cell.yaml:16: variants.hammered: the variant changes no slot"),
        ("{5: hammer}", "hammer",
         "cell.yaml:16: variants.hammered: 'hammer' is no mapping of strokes; write a"),
        ("hammered:", "--hammered:", "variants.--hammered: a variant's name begins with a dash"),
        ("hammered:", "as written:",
         "cell.yaml:16: variants.as written: 'as written' names the cell's own strokes; give the"),
        ("hammered:", '" ":', "the variant's name is empty"),
        ("hammered:", "h" * 41 + ":", "the variant's name has 41 letters; keep it to 40"),
        ("  hammered: {5: hammer}", "  [hammered]",
         "cell.yaml:15: variants: a list stands where a mapping of"),
        ("  hammered: {5: hammer}", "  a: {1: up}\n  'a ': {1: down}",
         "this variant stands here twice"),
        # names
        ("six across a skip", '""', "cell.yaml:1: name: the name is empty; write some text"),
        ("six across a skip", '"a\\nb"',
         "cell.yaml:1: name: the name holds a character that does not print (U+000A)"),
        ("six across a skip", '"\\ud800"',
         "cell.yaml:1: name: the name holds a character that does not print (U+D8"),
        ("six across a skip", "x" * 81,
         "cell.yaml:1: name: the name has 81 letters; keep it to 80"),
        ("six across a skip", "[x]",
         "cell.yaml:1: name: a list stands where a name belongs; write it as text"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_with_its_place_and_its_remedy(tmp_path, old, new, said):
    """One change in a sound file, one line about it: file, line, key path, what is wrong, how to
    mend it."""
    assert old in SOUND
    told = mistake(tmp_path, SOUND.replace(old, new, 1))
    assert said in told
    assert told.startswith("cell.yaml:") and "; " in told and told.isprintable()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name: x\n", "cell.yaml:1: there are no slots; add `slots:`"),
        (
            "name: x\nslots: []\n",
            "cell.yaml:2: slots: the cell is empty; write at least one slot such as",
        ),
        (
            with_slots("rest", "{rest: 4}"),
            "cell.yaml:2: slots: nothing but rests; write at least one slot",
        ),
        ("name: x\nslots: 5\n", "cell.yaml:2: slots: 5 is no list of slots; write a list"),
        (
            "[1, 2]\n",
            "cell.yaml:1: a list stands where a cell belongs; write `name:` and `slots:` at least",
        ),
        ("just text\n", "cell.yaml:1: 'just text' is no cell"),
        ("# nothing\n", "cell.yaml: the file is empty"),
        ("---\n", "cell.yaml:2: nothing is written where a cell belongs"),
        (
            with_slots(*["[1, 0]"] * 65),
            "cell.yaml:67: slots[65]: this is slot 65; keep a cell to 64 slots",
        ),
        (
            with_slots("[1, 0]", *["{rest: 64}"] * 4),
            "slots[5]: the cell reaches 257 grid steps here; keep it to 256",
        ),
    ],
)
def test_a_cell_needs_something_to_play_and_has_an_end(tmp_path, text, said):
    """Nothing to play, or too much of it, is told at its place."""
    assert said in mistake(tmp_path, text)


def test_sixty_four_slots_are_a_cell(tmp_path):
    """The limit itself is allowed."""
    assert len(loaded(tmp_path, with_slots(*["[1, 0]"] * 64)).slots) == 64


def test_too_many_variants_are_refused(tmp_path):
    """33 variants are one too many."""
    variants = "".join(f"  v{number}: {{1: up}}\n" for number in range(33))
    assert "33 variants; keep a cell to 32" in mistake(
        tmp_path, with_slots("[1, 0]") + "variants:\n" + variants
    )


# ----------------------------------------------------------------------------------- back and forth


@pytest.mark.parametrize("path", CELLS, ids=lambda path: path.stem)
def test_every_cell_that_comes_with_it_goes_round_unchanged(path, tmp_path):
    """Load, write, load again: equal as YAML, as a dict, and after a way through JSON; variants
    stay playable."""
    cell = load_cell(path)
    assert loaded(tmp_path, dump_cell(cell)) == cell
    assert cell_from_dict(cell_to_dict(cell), "here") == cell
    assert cell_from_dict(json.loads(json.dumps(cell_to_dict(cell))), "journal") == cell
    for name in cell.variants:
        assert cell_to_dict(cell.with_variant(name)) == cell_to_dict(cell)
    assert path.read_text(encoding="utf-8").startswith("# "), "says first what it is for"


def test_the_cells_cover_what_players_meet():
    """Odd and even lengths, one string to six, skips, legato, seven strings, drop tuning, capo,
    rests, long slots."""
    cells = [load_cell(path) for path in CELLS]
    assert len(cells) >= 10 and len({cell.name for cell in cells}) == len(cells)
    assert {len(cell.slots) % 2 for cell in cells} == {0, 1}
    assert {1, 2, 3, 6} <= {len(cell.strings) for cell in cells}
    assert {len(cell.tuning) for cell in cells} == {6, 7}
    assert {slot.stroke for cell in cells for slot in cell.slots} == set(STROKES)
    assert any(cell.capo for cell in cells) and any(cell.tuning[5] == 38 for cell in cells)
    assert any(slot.length > 1 for cell in cells for slot in cell.slots)
    assert any(cell.steps > sum(slot.length for slot in cell.slots) for cell in cells)
    assert sum(bool(cell.variants) for cell in cells) >= 3
    beginnings = [tuple((slot.string, slot.fret) for slot in cell.slots[:3]) for cell in cells]
    assert len(set(beginnings)) < len(beginnings), "two of them begin alike"


def test_a_dict_without_lines_tells_its_place_by_key_path():
    """The same checks for a cell out of the journal; only the line is missing."""
    with pytest.raises(
        BadInput, match=r"^journal: slots\[2\]\.fret: True is no fret; write a whole number"
    ):
        cell_from_dict({"name": "x", "slots": [[1, 2], [1, True]]}, "journal")
    with pytest.raises(
        BadInput,
        match=r"^journal: tempo: tempo nan is out of range; write a number from 20 to 400$",
    ):
        cell_from_dict({"name": "x", "tempo": float("nan"), "slots": [[1, 2]]}, "journal")
    with pytest.raises(BadInput, match=r"^journal: nothing is written where a cell belongs; write"):
        cell_from_dict(None, "journal")


def test_without_a_rig_each_string_of_the_cell_has_its_channel():
    """A seven-string cell gets channels 1 to 7; a rig without a channel for a string it plays is
    told."""
    seven = load_cell(ROOT / "configs/cells/seven-strings.yaml")
    assert rig_for(seven, None).channels == (1, 2, 3, 4, 5, 6, 7)
    assert rig_for(make_cell("six", [(1, 0)]), None).channels == (1, 2, 3, 4, 5, 6)
    rig = load_rig(ROOT / "configs/rigs/channels-1-to-6.yaml")
    assert rig_for(make_cell("six", [(1, 0)]), rig) is rig
    with pytest.raises(
        BadInput, match="cell 'low seven' plays string 7, rig 'channels 1 to 6' has 6 channels; add"
    ):
        rig_for(seven, rig)
