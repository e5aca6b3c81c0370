"""The simulated converter and its cable: delays, bytes in a row, mono strings, bends."""

from __future__ import annotations

from random import Random

import pytest

from livecheck.core.cell import make_cell
from livecheck.player.converter import Message, convert, delay_s
from livecheck.player.habits import Conversion
from livecheck.player.sounds import Label, Sound
from livecheck.player.takes import make_take
from livecheck.player.wire import send

PLAIN = Conversion(jitter_ms=0.0, jitter_periods=0.0, overlapped=0.0, late_off=0.0, sends_rpn=False)
CELL = make_cell("hammer", [(2, 5, "down"), (2, 7, "hammer")])


def sound(t_s, string, pitch, stroke="down", slot=1, end_s=None):
    return Sound(
        t_s,
        end_s if end_s is not None else t_s + 0.12,
        string,
        pitch,
        80,
        stroke,
        Label(1, slot, "hit"),
    )


@pytest.mark.parametrize(
    ("open_pitch", "least_ms", "most_ms"),
    [(64, 3, 6), (59, 4, 8), (55, 5, 10), (50, 7, 14), (45, 9, 18), (40, 12, 24)],
)
def test_delay_lies_between_one_and_two_periods_plus_the_fixed_part(open_pitch, least_ms, most_ms):
    """Open strings wait 3–6, 4–8, 5–10, 7–14, 9–18, 12–24 ms for one to two periods; half at fret
    12 (C-05, T-05)."""
    one = (
        delay_s(
            open_pitch,
            Conversion(fixed_ms=0.0, periods=1.0, jitter_ms=0.0, jitter_periods=0.0),
            Random(1),
        )
        * 1000
    )
    two = (
        delay_s(
            open_pitch,
            Conversion(fixed_ms=0.0, periods=2.0, jitter_ms=0.0, jitter_periods=0.0),
            Random(1),
        )
        * 1000
    )
    assert (round(one), round(two)) == pytest.approx((least_ms, most_ms), abs=0.51)
    assert delay_s(
        open_pitch + 12,
        Conversion(fixed_ms=0.0, periods=2.0, jitter_ms=0.0, jitter_periods=0.0),
        Random(1),
    ) * 1000 == pytest.approx(two / 2)
    fixed = (
        delay_s(
            open_pitch,
            Conversion(fixed_ms=4.0, periods=2.0, jitter_ms=0.0, jitter_periods=0.0),
            Random(1),
        )
        * 1000
    )
    assert fixed == pytest.approx(two + 4)


def test_six_strings_struck_at_once_take_five_and_three_quarter_milliseconds():
    """18 bytes at 320 µs: 5.76 ms; with a bend before each note 36 bytes and 11.52 ms (sources.md
    M-01 to M-03)."""
    notes = [Message(1.0, bytes((0x90 | channel, 60, 80))) for channel in range(6)]
    sent = send(notes, PLAIN, 6, Random(1))
    assert sent[0].ready_s - 1.0 == pytest.approx(0.00096, abs=1e-6)
    assert sent[-1].ready_s - 1.0 == pytest.approx(0.00576, abs=1e-6)
    both = [
        Message(1.0, data)
        for note in range(6)
        for data in (bytes((0xE0 | note, 0, 64)), bytes((0x90 | note, 60, 80)))
    ]
    assert send(both, PLAIN, 6, Random(1))[-1].ready_s - 1.0 == pytest.approx(0.01152, abs=1e-6)


def test_messages_never_overtake_each_other():
    """Arrival times rise, on the cable as in packets."""
    for mix in ("converter", "everything"):
        for seed in range(6):
            times = [record.t_s for record in make_take(seed, mix).records]
            assert times == sorted(times)


def test_a_string_is_mono():
    """Between two note-ons of a string its older note has ended, unless legato is overlapped or the
    end got lost."""
    sounds = [sound(1.0, 2, 64), sound(1.1, 2, 66, slot=2), sound(1.3, 2, 64)]
    messages = [m.data for m in convert(CELL, sounds, PLAIN, Random(1))]
    kinds = ["on" if data[0] >> 4 == 9 and data[2] else "off" for data in messages]
    assert kinds == ["on", "off"] * 3


def test_overlapped_legato_ends_the_old_note_after_the_new_one_began():
    """on #1, on #2, off #1, off #2 on one channel (sources.md M-25)."""
    how = Conversion(overlapped=1.0, late_off=0.0, zero_velocity_off=0.0, bend_legato=0.0)
    data = [
        m.data
        for m in convert(CELL, [sound(1.0, 2, 64), sound(1.1, 2, 66, "hammer", 2)], how, Random(1))
    ]
    assert [(each[0] >> 4, each[1]) for each in data] == [(9, 64), (9, 66), (8, 64), (8, 66)]


@pytest.mark.parametrize("seed", range(8))
def test_legato_by_bend_alone_begins_within_half_a_semitone(seed):
    """No second note-on; the note begins at the first bend within half a semitone, the last bend is
    at the pitch."""
    how = Conversion(bend_legato=1.0, glide=0.5, bend_range=12)
    messages = convert(CELL, [sound(1.0, 2, 64), sound(1.1, 2, 66, "hammer", 2)], how, Random(seed))
    assert sum(m.data[0] >> 4 == 9 and m.data[2] > 0 for m in messages) == 1
    bends = [
        (((m.data[2] << 7 | m.data[1]) - 8192) / 8192 * 12, m)
        for m in messages
        if m.data[0] >> 4 == 14
    ]
    begun = [at for at, (_, m) in enumerate(bends) if m.label]
    assert len(begun) == 1
    assert abs(bends[begun[0]][0] - 2) <= 0.5 + 1e-9
    assert all(abs(value - 2) > 0.5 for value, _ in bends[: begun[0]])
    assert bends[-1][0] == pytest.approx(2, abs=0.13)


def test_octave_errors_are_held_or_corrected():
    """Held: one note-on an octave, twelfth or two octaves up. Corrected: the right one within some
    40 ms."""
    held = convert(CELL, [sound(1.0, 2, 64)], Conversion(octave_held=1.0), Random(1))
    ons = [m for m in held if m.data[0] >> 4 == 9 and m.data[2]]
    assert [m.data[1] - 64 in (12, 19, 24) for m in ons] == [True]
    corrected = convert(CELL, [sound(1.0, 2, 64)], Conversion(octave_corrected=1.0), Random(1))
    first, second = (m for m in corrected if m.data[0] >> 4 == 9 and m.data[2])
    assert first.data[1] - 64 in (12, 19, 24)
    assert first.label.verdict == "artefact"
    assert (second.data[1], second.label.verdict) == (64, "hit")
    assert second.ready_s - first.ready_s < 0.04


def test_double_triggers_come_within_sixty_milliseconds():
    """The same note again on its string 20 to 60 ms later, an artefact (sources.md C-14)."""
    first, second = (
        m
        for m in convert(CELL, [sound(1.0, 2, 64, end_s=1.3)], Conversion(double=1.0), Random(2))
        if m.label
    )
    assert first.data[:2] == second.data[:2]
    assert 0.019 < second.ready_s - first.ready_s < 0.061
    assert (first.label.verdict, second.label.verdict) == ("hit", "artefact")
