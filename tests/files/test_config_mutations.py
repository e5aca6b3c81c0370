"""Damaged files: whatever is done to a cell or rig, reading gives a sound one or tells one line."""

from __future__ import annotations

import random
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.core.cell import STROKES, Cell, make_cell
from livecheck.core.rig import Delay, Gate, Rig
from livecheck.errors import BadInput
from livecheck.files.config import (
    cell_from_dict,
    cell_to_dict,
    dump_cell,
    dump_rig,
    load_cell,
    load_rig,
    rig_from_dict,
    rig_to_dict,
)

ROOT = Path(__file__).parents[2]
SHIPPED = sorted((ROOT / "configs").glob("*/*.yaml"))
MUTATIONS = 250  # of each file

PIECES = (
    *"[]{}:,-#&*!|>'\"%@`\\?~ \t\n\r\0\x85\u2028\ufeff09.eE_+",
    *("yes", "~", "1:30", "08", "-1", "1e999", ".nan", "!!int ", "&a ", "*a", "<<: ", "---\n",
      "rest", "  - "),
    *("\\U0011FFFF", "9" * 20, "down", "quiet: [1]", "{rest: 3}", "name: x\n", '"\\ud800"', "é",
      "⊓"),
)  # fmt: skip


def mutated(text: str, chance: random.Random) -> str:
    """The text with one to four small accidents of editing."""
    for _ in range(chance.randint(1, 4)):
        text = accident(text, chance)
    return text


def accident(text: str, chance: random.Random) -> str:
    """Letters lost, typed in or typed over, a line lost, doubled or pushed right, or the rest cut
    off."""
    at = chance.randrange(len(text) + 1)
    to = min(len(text), at + chance.randint(1, 6))
    lines = text.splitlines(keepends=True) or [""]
    line = chance.randrange(len(lines))
    return chance.choice(
        [
            text[:at] + text[to:],
            text[:at] + chance.choice(PIECES) + text[at:],
            text[:at] + chance.choice(PIECES) + text[to:],
            "".join(lines[:line] + lines[line + 1 :]),
            "".join(lines[: line + 1] + lines[line:]),
            "".join([*lines[:line], " ", *lines[line:]]),
            text[:at],
        ]
    )


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_damage_gives_a_sound_value_or_one_line(path, tmp_path):
    """Thousands of small accidents: never another exception, never two lines, and what is read goes
    round."""
    load, dump = (load_rig, dump_rig) if path.parent.name == "rigs" else (load_cell, dump_cell)
    # comments only dilute the accidents
    original = path.read_text(encoding="utf-8").split("\n", 2)[2]
    target = tmp_path / "damaged.yaml"
    told = 0
    for seed in range(MUTATIONS):
        text = mutated(original, random.Random(f"{path.name} {seed}"))
        target.write_bytes(text.encode("utf-8", "surrogatepass"))
        try:
            value = load(target)
        except BadInput as error:
            told += 1
            assert (
                str(error).isprintable() and "damaged.yaml" in str(error) and "; " in str(error)
            ), (seed, str(error))
            continue
        except Exception as error:
            pytest.fail(f"seed {seed}: {error!r} for\n{text}")
        check_sound(value, f"seed {seed}:\n{text}")
        target.write_text(dump(value), encoding="utf-8")
        assert load(target) == value, (seed, text)
    assert MUTATIONS * 0.2 < told < MUTATIONS, (
        "the accidents are neither harmless nor fatal throughout"
    )


def test_bytes_of_any_kind_give_a_sound_value_or_one_line(tmp_path):
    """Damage below the level of text: bytes set, cut and repeated."""
    chance = random.Random(11)
    original = (ROOT / "configs/cells/long-landing.yaml").read_bytes()
    target = tmp_path / "damaged.yaml"
    for _ in range(400):
        data = bytearray(original[: chance.randrange(1, len(original) + 1)])
        for _ in range(chance.randint(0, 3)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        target.write_bytes(data)
        try:
            check_sound(load_cell(target), repr(data))
        except BadInput as error:
            assert str(error).isprintable(), repr(data)


def check_sound(value: Cell | Rig, where: str) -> None:
    """What the rest of the program relies on."""
    if isinstance(value, Rig):
        assert len(set(value.channels)) == len(value.channels) and set(value.channels) <= set(
            range(1, 17)
        ), where
        assert all(0 <= value.delay.seconds(string, 40) < 1 for string in range(1, 13)), where
        return
    ends = [0]
    for number, slot in enumerate(value.slots, 1):
        assert slot.number == number and slot.stroke in STROKES and slot.length >= 1, where
        assert slot.start >= ends[-1], where
        assert slot.pitch == value.tuning[slot.string - 1] + value.capo + slot.fret <= 127, where
        ends.append(slot.start + slot.length)
    assert value.slots and value.steps >= ends[-1] and value.grid >= 1 and value.name.strip(), where
    assert not set(value.quiet) & set(value.strings) and set(value.quiet) <= set(
        range(1, len(value.tuning) + 1)
    ), where
    for name in value.variants:
        value.with_variant(name)


# --------------------------------------------------------------------------------------- properties

NAMES = (
    st.text(min_size=1, max_size=40).map(str.strip).filter(lambda name: name.isprintable() and name)
)
NUMBERS = st.floats(0.001, 9.99) | st.integers(1, 9).map(float)


@st.composite
def cells(draw: st.DrawFn) -> Cell:
    """Any cell that the rules allow."""
    tuning = draw(st.lists(st.integers(20, 79), min_size=1, max_size=12))
    strokes = st.sampled_from((None, *STROKES))
    place = st.tuples(st.integers(1, len(tuning)), st.integers(0, 36), strokes, st.integers(1, 5))
    places = draw(st.lists(place | st.integers(1, 4), min_size=1, max_size=30).filter(has_a_slot))
    count = sum(not isinstance(entry, int) for entry in places)
    unused = set(range(1, len(tuning) + 1)) - {
        entry[0] for entry in places if not isinstance(entry, int)
    }
    over = st.dictionaries(st.integers(1, count), st.sampled_from(STROKES), min_size=1, max_size=5)
    return make_cell(
        draw(NAMES),
        places,
        grid=draw(st.integers(1, 16)),
        tempo_bpm=draw(st.none() | NUMBERS.map(lambda number: number * 38 + 20)),
        tuning=tuning,
        capo=draw(st.integers(0, 12)),
        quiet=draw(st.none() | st.sets(st.sampled_from(sorted(unused)))) if unused else None,
        variants=draw(st.dictionaries(NAMES.filter(lambda name: name[0] != "-"), over, max_size=3)),
    )


def has_a_slot(places: list[object]) -> bool:
    return any(not isinstance(place, int) for place in places)


rigs = st.builds(
    lambda channels, name, port, bend_range, delay, velocity, length_ms: Rig(
        name,
        port,
        tuple(channels),
        None,
        bend_range,
        delay(len(channels)),
        Gate(velocity, length_ms),
    ),
    st.lists(st.integers(1, 16), min_size=1, max_size=12, unique=True),
    NAMES,
    st.none() | NAMES.filter(lambda port: port[0] != "/"),
    NUMBERS.map(lambda number: number + 1),
    st.builds(lambda fixed_ms, periods: lambda _: Delay(fixed_ms, periods), NUMBERS, NUMBERS)
    | st.builds(lambda delay_ms: lambda count: Delay(per_string_ms=(delay_ms,) * count), NUMBERS),
    st.integers(0, 127),
    NUMBERS,
)


@settings(max_examples=150, deadline=None)
@given(cells())
def test_any_cell_goes_round(cell):
    """As a dict and as YAML text: what is written is what was there, whatever the names look
    like."""
    assert cell_from_dict(cell_to_dict(cell), "here") == cell
    assert from_text(load_cell, dump_cell(cell)) == cell


@settings(max_examples=150, deadline=None)
@given(rigs)
def test_any_rig_goes_round(rig):
    """The same for rigs."""
    assert rig_from_dict(rig_to_dict(rig), "here") == rig
    assert from_text(load_rig, dump_rig(rig)) == rig


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(("rest", 3)),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(
                ("name", "slots", "quiet", "variants", "tuning", "rest", "string", "fret", "1")
            )
            | st.sampled_from(("channels", "delay", "delay_ms", "gate", "port", "bend_range", "x")),
            inner,
            max_size=5,
        )
    ),
    max_leaves=20,
)


@settings(max_examples=300, deadline=None)
@given(JSON)
def test_any_json_is_a_value_or_one_line(data):
    """A dict out of a journal that somebody edited: a cell or rig, or one line."""
    for read in (cell_from_dict, rig_from_dict):
        try:
            check_sound(read(data, "journal"), repr(data))
        except BadInput as error:
            assert str(error).isprintable() and str(error).startswith("journal: ")


def from_text(load, text: str) -> Cell | Rig:
    """Load text by way of a file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "some.yaml"
        path.write_text(text, encoding="utf-8")
        return load(path)
