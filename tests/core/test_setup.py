"""The guided setup: what is said, and what is found."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.core.pitch import STANDARD_TUNING
from livecheck.core.rig import Delay, Gate, Rig
from livecheck.core.rigfind import Found, range_of_octave
from livecheck.core.setup import ASK, HEARD, TROUBLE, Said, Setup
from livecheck.core.tunings import TUNINGS, explain, usual_tuning

Message = tuple[float, bytes]


class Guitar:
    """Writes messages with a clock that goes on."""

    def __init__(self) -> None:
        self.t_s = 0.0
        self.messages: list[Message] = []

    def pluck(
        self, channel: int, key: int, velocity: int = 90, rest_s: float = 1.5, length_s: float = 1.0
    ) -> Guitar:
        self.messages.append((self.t_s, bytes((0x90 | channel - 1, key, velocity))))
        self.messages.append((self.t_s + length_s, bytes((0x80 | channel - 1, key, 64))))
        self.t_s += rest_s
        return self

    def strings(
        self, tuning: tuple[int, ...] = STANDARD_TUNING, first: int = 1, way: int = 1
    ) -> Guitar:
        """Every string from low to high."""
        for string in range(len(tuning), 0, -1):
            self.pluck(first + way * (string - 1), tuning[string - 1])
        return self

    def wheel(self, channel: int, value: int, after_s: float = 0.3) -> Guitar:
        self.t_s += after_s
        self.messages.append((self.t_s, bytes((0xE0 | channel - 1, value & 0x7F, value >> 7))))
        return self

    def control(self, channel: int, *pairs: tuple[int, int]) -> Guitar:
        for number, value in pairs:
            self.messages.append((self.t_s, bytes((0xB0 | channel - 1, number, value))))
        return self

    def slur(self, wheel: int, channel: int = 1, key: int = 64) -> Guitar:
        """The open string, and after a while a bend that stays."""
        self.pluck(channel, key, rest_s=0.3, length_s=4.0)
        self.wheel(channel, wheel)
        self.t_s += 2.0
        return self


def run(
    guitar: Guitar, base: Rig | None = None, strings: int = 6, wait_s: float = 0.0
) -> tuple[Setup, list[Said]]:
    """Feed everything with a tick each 50 ms."""
    setup = Setup(base, strings)
    said = setup.begin(0.0)
    now, end = 0.0, guitar.t_s + wait_s
    pending = sorted(guitar.messages, key=lambda message: message[0])
    while now <= end and not setup.done:
        while pending and pending[0][0] <= now:
            said += setup.feed(*pending.pop(0))
        said += setup.tick(now)
        now += 0.05
    said += setup.finish(now)
    return setup, said


def found(guitar: Guitar, **more: object) -> Found:
    return run(guitar, **more)[0].result()  # type: ignore[arg-type]


def troubles(said: list[Said]) -> list[str]:
    return [one.text for one in said if one.kind == TROUBLE]


# -------------------------------------------------------------------------------------- all is well


@pytest.mark.parametrize(
    ("first", "way", "channels"),
    [(1, 1, (1, 2, 3, 4, 5, 6)), (11, 1, (11, 12, 13, 14, 15, 16)), (6, -1, (6, 5, 4, 3, 2, 1))],
)
def test_channels_and_their_direction_are_found(
    first: int, way: int, channels: tuple[int, ...]
) -> None:
    """Channels 1 to 6, 11 to 16 (sources.md C-09, M-22), or turned round."""
    guitar = Guitar().strings(first=first, way=way).slur(12288, channel=first)
    setup, said = run(guitar)
    assert troubles(said) == []
    result = setup.result()
    assert result.whole and result.troubles == ()
    assert (result.rig.channels, result.rig.tuning, result.capo) == (channels, STANDARD_TUNING, 0)
    assert result.rig.bend_range == 24.0


def test_each_step_is_asked_and_answered_without_a_keyboard() -> None:
    """Six questions from low to high, an answer to each, and the slur at the end."""
    _, said = run(Guitar().strings().slur(16383))
    asked = [one.text for one in said if one.kind == ASK]
    assert [text[:13] for text in asked[:6]] == [
        f"Play string {string}" for string in (6, 5, 4, 3, 2, 1)
    ]
    assert "twelfth fret" in asked[6]
    assert [one.text for one in said if one.kind == HEARD][:2] == [
        "String 6: channel 6, E2.",
        "String 5: channel 5, A2.",
    ]


@pytest.mark.parametrize("name", list(TUNINGS))
def test_named_tunings_are_recognised(name: str) -> None:
    """sources.md T-06; strings 3 to 6 an octave up are not in order of pitch."""
    result = found(Guitar().strings(TUNINGS[name]).slur(16383, key=TUNINGS[name][0]))
    assert result.rig.tuning == TUNINGS[name]
    assert result.capo == 0 and result.notes[1] == name
    assert result.troubles == ()


def test_a_capo_is_told_from_the_tuning() -> None:
    """All strings up by two: standard tuning, capo 2; down by one: tuned down (sources.md T-06,
    T-07)."""
    assert explain([pitch + 2 for pitch in STANDARD_TUNING])[:2] == (STANDARD_TUNING, 2)
    assert explain((63, 58, 54, 49, 44, 39)) == (
        (63, 58, 54, 49, 44, 39),
        0,
        "standard tuning, 1 semitone down",
    )
    assert explain((62, 57, 53, 48, 43, 38)).name == "standard tuning, 2 semitones down"
    up = tuple(pitch + 2 for pitch in STANDARD_TUNING)
    result = found(Guitar().strings(up).slur(16383, key=up[0]))
    assert (result.rig.tuning, result.capo) == (STANDARD_TUNING, 2)


def test_seven_strings() -> None:
    """The seventh is B1 (sources.md T-05)."""
    result = found(Guitar().strings(usual_tuning(7)).slur(16383), strings=7)
    assert result.rig.channels == (1, 2, 3, 4, 5, 6, 7) and result.rig.tuning == usual_tuning(7)


def test_what_is_not_measured_stays_as_it_was() -> None:
    """Port, delay and gate come from the rig there is."""
    base = Rig("mine", "Hex", delay=Delay(4.0, 1.6), gate=Gate(9, 20.0))
    rig = found(Guitar().strings(first=11).slur(16383, channel=11), base=base).rig
    assert (rig.name, rig.port, rig.delay, rig.gate) == ("mine", "Hex", base.delay, base.gate)
    assert rig.channels[0] == 11


# --------------------------------------------------------------------------------------- bend range


@pytest.mark.parametrize(
    ("wheel", "semitones"), [(16383, 12.0), (12288, 24.0), (12300, 24.0), (10240, 48.0)]
)
def test_the_bend_range_follows_from_a_slur_over_an_octave(wheel: int, semitones: float) -> None:
    """sources.md M-20: at a range of 24 the wheel stands at 12288 for an octave, at 12 it is at its
    end."""
    assert range_of_octave(wheel) == semitones
    assert found(Guitar().strings().slur(wheel)).rig.bend_range == semitones


def test_a_converter_that_says_its_range_needs_no_slur() -> None:
    """sources.md M-16: RPN 00 00 with data entry 24; the question is left out."""
    guitar = Guitar()
    for channel in range(1, 7):
        guitar.control(
            channel, (101, 0), (100, 0), (6, 24), (38, 0), (101, 127), (100, 127), (6, 2)
        )
    setup, said = run(guitar.strings())
    assert setup.result().rig.bend_range == 24.0
    assert not any("twelfth" in one.text for one in said)


def test_unlike_ranges_are_said() -> None:
    """One string set otherwise makes every slide on it land wrong (sources.md C-10)."""
    guitar = Guitar()
    for channel in range(1, 7):
        guitar.control(channel, (101, 0), (100, 0), (6, 2 if channel == 3 else 12))
    result = found(guitar.strings())
    assert result.rig.bend_range == 12.0
    assert any("different bend ranges (2, 12)" in trouble for trouble in result.troubles)


def test_a_slur_that_comes_as_a_new_note_leaves_the_range() -> None:
    """sources.md C-11: hammer-ons may come as note-ons; then nothing can be heard of the range."""
    guitar = Guitar().strings().pluck(1, 64, rest_s=0.5, length_s=0.5).pluck(1, 76, rest_s=2.0)
    setup, said = run(guitar, Rig(bend_range=7.0))
    assert setup.result().rig.bend_range == 7.0
    assert said[-1] == Said(HEARD, "The slur came as a new note, not as a bend.")


def test_without_a_slur_the_range_is_left() -> None:
    """After a while it goes on without."""
    setup, said = run(Guitar().strings(), wait_s=30.0)
    assert setup.done and setup.result().rig.bend_range == 12.0
    assert troubles(said)[-1] == "No slur was heard. Going on without it."


# ------------------------------------------------------------------------------------------ trouble


def test_the_string_before_played_again_is_said_and_asked_once_more() -> None:
    """String 6 twice, then on as asked."""
    guitar = Guitar().pluck(6, 40).pluck(6, 40)
    for string in (5, 4, 3, 2, 1):
        guitar.pluck(string, STANDARD_TUNING[string - 1])
    setup, said = run(guitar.slur(16383))
    assert troubles(said) == ["That was string 6 again: play string 5 by itself once more."]
    assert setup.result().rig.channels == (1, 2, 3, 4, 5, 6)


def test_a_wrong_string_at_the_very_first_is_mended_later() -> None:
    """String 5 for string 6 cannot be told from another tuning; played again when string 5 is asked
    for, it is that."""
    guitar = Guitar().pluck(5, 45).pluck(5, 45).pluck(5, 45).pluck(6, 40)
    for string in (4, 3, 2, 1):
        guitar.pluck(string, STANDARD_TUNING[string - 1])
    setup, said = run(guitar.slur(16383))
    assert troubles(said) == ["That was string 6 again: play string 5 by itself once more."]
    assert "Then that is string 5 (channel 5, A2), and string 6 is still to come." in [
        one.text for one in said
    ]
    result = setup.result()
    assert (result.rig.channels, result.rig.tuning, result.troubles) == (
        (1, 2, 3, 4, 5, 6),
        STANDARD_TUNING,
        (),
    )


def test_a_string_played_three_times_too_often_is_put_right_again() -> None:
    """String 6 for string 5, twice over: exchanged, and exchanged back when it is insisted upon."""
    guitar = Guitar()
    for _ in range(5):
        guitar.pluck(6, 40)
    for string in (5, 4, 3, 2, 1):
        guitar.pluck(string, STANDARD_TUNING[string - 1])
    assert found(guitar.slur(16383)).rig.channels == (1, 2, 3, 4, 5, 6)


def test_a_skipped_string_is_noticed() -> None:
    """String 4 in the place of string 5: a channel further and two strings' interval higher."""
    guitar = Guitar().pluck(6, 40).pluck(4, 50)
    for string in (5, 4, 3, 2, 1):
        guitar.pluck(string, STANDARD_TUNING[string - 1])
    setup, said = run(guitar.slur(16383))
    assert troubles(said) == [
        "That seems to be another string (channel 4, D3): play string 5 by itself once more."
    ]
    assert setup.result().rig.channels == (1, 2, 3, 4, 5, 6)


def test_two_strings_at_once_are_not_taken() -> None:
    """Two channels about as loud within the same stroke."""
    guitar = Guitar().pluck(6, 40, rest_s=0.03).pluck(5, 45)
    setup, said = run(guitar.strings().slur(16383))
    assert troubles(said) == [
        "Two strings at once (channels 5 and 6): play string 6 by itself once more."
    ]
    assert setup.result().whole


def test_a_soft_neighbour_is_no_second_string() -> None:
    """Ghosts on neighbouring strings are soft and short (sources.md C-13)."""
    guitar = Guitar()
    for string in range(6, 0, -1):
        guitar.pluck(string, STANDARD_TUNING[string - 1], rest_s=0.02)
        guitar.pluck(
            string % 6 + 1, STANDARD_TUNING[string % 6] + 12, 20, rest_s=1.5, length_s=0.02
        )
    setup, said = run(guitar.slur(16383))
    assert troubles(said) == [] and setup.result().rig.channels == (1, 2, 3, 4, 5, 6)


def test_an_octave_that_is_put_right_gives_the_right_pitch() -> None:
    """sources.md C-15: the octave first, the string's own pitch some 30 ms later."""
    guitar = Guitar().pluck(6, 52, rest_s=0.03, length_s=0.03).pluck(6, 40)
    for string in (5, 4, 3, 2, 1):
        guitar.pluck(string, STANDARD_TUNING[string - 1])
    assert found(guitar.slur(16383)).rig.tuning == STANDARD_TUNING


def test_a_string_without_a_signal_is_said_and_left_out() -> None:
    """Silence on string 3: a reminder, then on without it; its channel follows from the others."""
    guitar = Guitar().pluck(6, 40).pluck(5, 45).pluck(4, 50)
    guitar.t_s += 21.0
    guitar.pluck(2, 59).pluck(1, 64)
    setup, said = run(guitar.slur(16383))
    assert troubles(said) == [
        "Nothing from string 3 yet: play it once more, a little harder.",
        "String 3: no signal. Going on without it.",
    ]
    result = setup.result()
    assert result.heard == (1, 2, 4, 5, 6) and not result.whole
    assert (result.rig.channels, result.rig.tuning) == ((1, 2, 3, 4, 5, 6), STANDARD_TUNING)
    assert "no signal from string 3" in result.troubles[0]


def test_two_strings_on_one_channel_are_said_when_it_is_sure() -> None:
    """String 5 comes on string 6's channel, twice: the converter is in a wrong mode (sources.md
    M-21)."""
    guitar = Guitar().pluck(6, 40).pluck(6, 45).pluck(6, 45)
    for string in (4, 3, 2, 1):
        guitar.pluck(string, STANDARD_TUNING[string - 1])
    setup, said = run(guitar.slur(16383))
    assert troubles(said)[-1] == "Strings 6 and 5 send on one channel (6). Going on."
    result = setup.result()
    assert not result.whole and len(set(result.rig.channels)) == 6
    assert any("Mode 4" in trouble for trouble in result.troubles)


def test_strings_played_from_high_to_low_are_turned_round() -> None:
    """Each string lower than the one before cannot be from low to high."""
    guitar = Guitar()
    for string in range(1, 7):
        guitar.pluck(string, STANDARD_TUNING[string - 1])
    result = found(guitar)
    assert result.rig.channels == (1, 2, 3, 4, 5, 6) and result.rig.tuning == STANDARD_TUNING
    assert "high to low" in result.troubles[0]


def test_an_unusual_order_of_channels_is_taken_when_it_comes_twice() -> None:
    """Channels crossed at strings 2 and 1: asked once more, then taken as it is."""
    guitar = (
        Guitar()
        .pluck(6, 40)
        .pluck(5, 45)
        .pluck(4, 50)
        .pluck(3, 55)
        .pluck(9, 75)
        .pluck(9, 75)
        .pluck(1, 80)
    )
    setup, said = run(guitar, wait_s=25.0)
    assert len(troubles(said)) == 3  # string 2, and the slur that never came
    assert setup.result().rig.channels == (1, 9, 3, 4, 5, 6)


def test_nothing_at_all_ends_it() -> None:
    """No message for a minute: there is no converter."""
    setup, said = run(Guitar(), wait_s=70.0)
    assert setup.done and setup.dead
    assert troubles(said) == [
        "Nothing comes in: is the converter on, and is this its port?",
        "Nothing came in at all.",
    ]


def test_a_file_that_ends_early_leaves_the_rest_missing() -> None:
    """What was not played is told as such."""
    assert found(Guitar().pluck(6, 40).pluck(5, 45)).heard == (5, 6)


# ----------------------------------------------------------------------------------- whatever comes


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(0.0, 3.0),
            st.one_of(
                st.binary(max_size=6),
                st.builds(
                    lambda kind, channel, one, two: bytes((kind | channel, one, two)),
                    st.sampled_from((0x80, 0x90, 0x90, 0xB0, 0xE0)),
                    st.integers(0, 15),
                    st.integers(0, 127),
                    st.integers(0, 127),
                ),
            ),
        ),
        max_size=80,
    )
)
def test_whatever_comes_in_gives_a_rig_that_can_be_written(
    messages: list[tuple[float, bytes]],
) -> None:
    """Any bytes at any times: never an exception, always six different channels and a tuning of six
    strings."""
    setup = Setup()
    setup.begin(0.0)
    now = 0.0
    for after_s, data in messages:
        now += after_s
        setup.feed(now, data)
    setup.finish(now)
    rig = setup.result().rig
    assert len(set(rig.channels)) == 6 and all(1 <= channel <= 16 for channel in rig.channels)
    assert rig.tuning is not None and len(rig.tuning) == 6
    assert 1.0 <= rig.bend_range <= 96.0
