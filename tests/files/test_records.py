"""Records as dictionaries."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.core.cell import make_cell
from livecheck.core.events import (
    Ask,
    Block,
    Click,
    ClickLink,
    Cue,
    Gap,
    Link,
    Mark,
    Midi,
    Stop,
    UseCells,
    UseRig,
)
from livecheck.core.rig import Delay, Gate, Rig
from livecheck.errors import BadInput
from livecheck.files.records import from_dict, to_dict

CELL = make_cell(
    "two ways",
    [(2, 10), (2, 12, "hammer"), (3, 12, None, 2), 1],
    tempo_bpm=96.5,
    quiet=[1],
    variants={"picked": {2: "up"}},
)
RIG = Rig("mine", "Hex", (11, 12, 13, 14, 15, 16), None, 24.0, Delay(4.0, 1.6), Gate(9, 30.0))
RECORDS = [
    Midi(0.25, bytes([0x90, 60, 100])),
    Midi(0.25, b""),
    UseRig(1.0, RIG),
    UseRig(1.0, Rig()),
    UseRig(
        1.0,
        Rig(
            delay=Delay(per_string_ms=(6.0, 7.0, 9.0, 12.0, 15.0, 20.0)),
            tuning=(62, 57, 53, 48, 43, 38),
        ),
    ),
    UseCells(2.0, ()),
    UseCells(2.0, (CELL, make_cell("one", [(1, 5)]))),
    UseCells(2.0, (CELL.with_variant("picked"),)),
    Link(3.0, True, "Hex 20:0"),
    Link(3.5, False, "unplugged"),
    Mark(4.0, "grün\n☃"),
    Gap(5.0, 12, "full"),
    Click(5.5, 7, 97.5),
    ClickLink(5.5, False, "unplugged"),
    Ask(5.5, "up"),
    Cue(5.5, "up"),
    Block(5.5, 97.5, 6, 8.0, 12.5, "warm-up"),
    Stop(6.0, "asked to"),
]


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: type(record).__name__)
def test_a_record_comes_back_from_json_as_it_was(record):
    """to_dict, JSON, from_dict gives an equal record, at the time that is handed in."""
    assert from_dict(json.loads(json.dumps(to_dict(record))), record.t_s) == record


@given(st.binary(max_size=40), st.text(max_size=40), st.booleans(), st.integers(0, 10**9))
def test_any_content_comes_back(data, text, up, dropped):
    """Whatever a port, a player or a name holds."""
    for record in (
        Midi(1.0, data),
        Mark(1.0, text),
        Link(1.0, up, text),
        Gap(1.0, dropped, text),
        Stop(1.0, text),
    ):
        assert from_dict(json.loads(json.dumps(to_dict(record))), 1.0) == record


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: type(record).__name__)
def test_a_field_missing_or_of_another_type_is_told_in_one_line(record):
    """Fields that do not fit give BadInput, whatever is in their place."""
    fields = to_dict(record)
    for key in fields:
        if key == "type":
            continue
        with pytest.raises(BadInput) as told:
            from_dict({other: value for other, value in fields.items() if other != key}, 0.0)
        assert "\n" not in str(told.value)
        for wrong in (None, 7, "xy", [1], {"a": 1}, 1.5):
            if type(wrong) is type(fields[key]):
                continue
            with pytest.raises(BadInput) as told:
                from_dict({**fields, key: wrong}, 0.0)
            assert "\n" not in str(told.value)


@pytest.mark.parametrize("kind", ["later", None, 3, ["midi"]])
def test_an_unknown_type_is_refused(kind):
    """A type that a later program may write is named."""
    with pytest.raises(BadInput, match="unknown type"):
        from_dict({"type": kind}, 0.0)


def test_a_key_of_a_later_program_is_passed_over():
    """A record may gain fields without becoming unreadable here."""
    assert from_dict({"type": "midi", "data": "903c64", "delta": 0.1}, 1.0) == Midi(
        1.0, bytes([0x90, 60, 100])
    )


def test_a_variant_that_the_cell_lacks_is_refused():
    """A journal that names no such variant is told in one line."""
    fields = to_dict(UseCells(0.0, (CELL,)))
    fields["cells"][0]["variant"] = "tapped"
    with pytest.raises(BadInput, match="tapped"):
        from_dict(fields, 0.0)
