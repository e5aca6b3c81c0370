"""What a rig file may hold, and what is said about every mistake in it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from livecheck.core.rig import Delay, Gate, Rig
from livecheck.errors import BadInput
from livecheck.files.config import dump_rig, load_rig, rig_from_dict, rig_to_dict

ROOT = Path(__file__).parents[2]
RIGS = sorted((ROOT / "configs" / "rigs").glob("*.yaml"))

SOUND = """\
name: my converter
port: "Hex"
channels: [1, 2, 3, 4, 5, 6]
bend_range: 12
delay: {fixed_ms: 4.0, periods: 1.6}
gate: {velocity: 12, length_ms: 25}
"""


def loaded(tmp_path: Path, text: str) -> Rig:
    path = tmp_path / "rig.yaml"
    path.write_text(text, encoding="utf-8")
    return load_rig(path)


def test_the_published_example_is_read_as_it_says(tmp_path):
    """The example of the format, and with a constant for each string instead of the model."""
    rig = loaded(tmp_path, SOUND)
    assert rig == Rig(
        "my converter", "Hex", (1, 2, 3, 4, 5, 6), None, 12.0, Delay(4.0, 1.6), Gate(12, 25.0)
    )
    constant = SOUND.replace(
        "delay: {fixed_ms: 4.0, periods: 1.6}", "delay_ms: [6, 7, 9, 12, 15, 20]"
    )
    assert loaded(tmp_path, constant).delay == Delay(
        per_string_ms=(6.0, 7.0, 9.0, 12.0, 15.0, 20.0)
    )


def test_what_is_left_out_takes_its_default(tmp_path):
    """Channels 1 to 6, bend range 12, no delay, the usual gate; the name is the file's."""
    assert loaded(tmp_path, "bend_range: 12\n") == Rig(name="rig")
    assert loaded(tmp_path, "gate: {velocity: 20}\n").gate == Gate(20, 25.0)
    assert loaded(tmp_path, "delay: {periods: 2}\n").delay == Delay(0.0, 2.0)


def test_mono_mode_channels(tmp_path):
    """Six strings from basic channel 11 take 11 to 16, the highest possible; sources.md M-21, M-22
    (MIDI 1.0 4.2.1)."""
    rig = loaded(tmp_path, "channels: [11, 12, 13, 14, 15, 16]\n")
    assert [rig.string_of(channel) for channel in (10, 11, 16, 1)] == [None, 1, 6, None]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("channels:", "chanels:", "rig.yaml:3: chanels: unknown key; did you mean channels?"),
        ("[1, 2, 3,", "[0, 2, 3,",
         "rig.yaml:3: channels[1]: channel 0 is out of range; channels are written 1 to 16"),
        ("[1, 2, 3,", "[17, 2, 3,", "rig.yaml:3: channels[1]: channel 17 is out of range"),
        ("[1, 2, 3,", "[2, 2, 3,",
         "rig.yaml:3: channels[2]: channel 2 stands here twice; each string has a channel"),
        ("[1, 2, 3,", "[one, 2, 3,", "rig.yaml:3: channels[1]: 'one' is no channel"),
        ("[1, 2, 3, 4, 5, 6]", "1-6",
         "rig.yaml:3: channels: '1-6' is no list of channels; write string 1's channel"),
        ("[1, 2, 3, 4, 5, 6]", "[]",
         "rig.yaml:3: channels: 0 channels; give 1 to 12, one for each string"),
        ("bend_range: 12", "bend_range: 0",
         "rig.yaml:4: bend_range: bend range 0 is out of range; write"),
        ("bend_range: 12", "bend_range: octave",
         "rig.yaml:4: bend_range: 'octave' is no bend range"),
        ("{fixed_ms: 4.0, periods: 1.6}", "5",
         "rig.yaml:5: delay: 5 is no delay; write {fixed_ms: 4.0, periods: 1.6}"),
        ("{fixed_ms: 4.0, periods: 1.6}", "{}", "rig.yaml:5: delay: the delay is empty"),
        ("fixed_ms:", "fixed:", "rig.yaml:5: delay.fixed: unknown key; did you mean fixed_ms?"),
        ("4.0", "-4",
         "rig.yaml:5: delay.fixed_ms: fixed_ms -4 is out of range; write a number from 0 to 200"),
        ("1.6", "16",
         "rig.yaml:5: delay.periods: periods 16 is out of range; write a number from 0 to 10"),
        ("gate:", "delay_ms: [1, 2, 3, 4, 5, 6]\ngate:",
         "rig.yaml:6: delay_ms: delay and delay_ms stand beside each other; keep one of the two"),
        ("delay: {fixed_ms: 4.0, periods: 1.6}", "delay_ms: [1, 2]",
         "rig.yaml:5: delay_ms: 2 delays for 6 channels; give one for each string"),
        ("delay: {fixed_ms: 4.0, periods: 1.6}", "delay_ms: 8",
         "rig.yaml:5: delay_ms: 8 is no list of delays"),
        ("delay: {fixed_ms: 4.0, periods: 1.6}", "delay_ms: [1, 2, 3, 4, x, 6]",
         "delay_ms[5]: 'x' is no delay"),
        ("velocity: 12", "velocity: 128",
         "rig.yaml:6: gate.velocity: velocity 128 is out of range"),
        ("length_ms: 25", "length_ms: '25'",
         "rig.yaml:6: gate.length_ms: length_ms '25' is text; take the"),
        ("length_ms: 25", "length: 25",
         "rig.yaml:6: gate.length: unknown key; did you mean length_ms?"),
        ('"Hex"', "/He(x/",
         "rig.yaml:2: port: '/He(x/' is no regular expression (missing ), unterminated subpattern"),
        ('"Hex"', "/Hex", "rig.yaml:2: port: the regular expression is empty or not closed; write "
                          "it between slashes"),
        ('"Hex"', "//", "rig.yaml:2: port: the regular expression is empty or not closed"),
        ('"Hex"', '""', "rig.yaml:2: port: the port's name is empty"),
        ('"Hex"', "[Hex]", "rig.yaml:2: port: a list stands where a port's name belongs"),
        ('"Hex"', "*Hex*",
         "rig.yaml:2: & and * stand for anchors and aliases, which are not used here; put"),
        ("bend_range: 12", "tuning: [E4, B3]",
         "rig.yaml:4: tuning: the tuning has 2 strings and there are 6 channels; give each string "
         "its channel"),
        ("bend_range: 12", "tuning: [E, B]",
         "rig.yaml:4: tuning[1]: 'E' is no note name; add the octave"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_with_its_place_and_its_remedy(tmp_path, old, new, said):
    """One change in a sound file, one line about it: file, line, key path, what is wrong, how to
    mend it."""
    assert old in SOUND
    with pytest.raises(BadInput) as caught:
        loaded(tmp_path, SOUND.replace(old, new, 1))
    told = str(caught.value).replace(f"{tmp_path}/", "")
    assert said in told and told.startswith("rig.yaml:") and told.isprintable()


@pytest.mark.parametrize(
    "pattern", ["/a{99999999999}/", "/[[a]/", r"/(?P<n>a)(?P<n>b)/", "/*/", "/\\\\/"]
)
@pytest.mark.filterwarnings("error")
def test_odd_patterns_compile_or_are_refused(tmp_path, pattern):
    """Whatever stands between the slashes: a rig or one line, and no warning on the way."""
    try:
        assert loaded(tmp_path, f"port: '{pattern}'\n").port == pattern
    except BadInput as error:
        assert "is no regular expression" in str(error) and str(error).isprintable()


@pytest.mark.parametrize("path", RIGS, ids=lambda path: path.stem)
def test_every_rig_that_comes_with_it_goes_round_unchanged(path, tmp_path):
    """Load, write, load again: equal as YAML, as a dict, and after a way through JSON."""
    rig = load_rig(path)
    assert loaded(tmp_path, dump_rig(rig)) == rig
    assert rig_from_dict(json.loads(json.dumps(rig_to_dict(rig))), "journal") == rig


def test_the_rigs_cover_both_ways_of_telling_the_delay():
    """One on channels 1 to 6 with the model, one on 11 to 16 with constants and bend range 24."""
    rigs = {load_rig(path).channels: load_rig(path) for path in RIGS}
    assert rigs[1, 2, 3, 4, 5, 6].delay.periods > 0
    high = rigs[11, 12, 13, 14, 15, 16]
    assert high.bend_range == 24 and high.delay.per_string_ms is not None


def test_the_rig_that_is_used_without_a_file_goes_round():
    """The default rig can be written to the journal and read back."""
    assert rig_from_dict(rig_to_dict(Rig()), "journal") == Rig()
