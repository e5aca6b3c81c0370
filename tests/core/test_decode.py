"""From messages to sounded notes. Rows M-.. and C-.. are those of the project's check values."""

from __future__ import annotations

import random

import pytest

from livecheck.core.decode import Decoder
from livecheck.core.events import Note
from livecheck.core.pitch import STANDARD_TUNING, period_s
from livecheck.core.rig import Delay, Gate, Rig

LOWEST = list(enumerate(STANDARD_TUNING, 1))


def notes(
    *messages: tuple[float, str], rig: Rig | None = None, plan: tuple[tuple[int, int], ...] = ()
) -> list[Note]:
    """The notes of (seconds, hex bytes) messages, in the order in which they are handed on."""
    decoder = Decoder(rig or Rig(), LOWEST, plan)
    return drain(decoder, messages)


def drain(decoder: Decoder, messages: tuple[tuple[float, str], ...]) -> list[Note]:
    found = []

    def release(until_s: float) -> None:
        while decoder.due_s is not None and decoder.due_s <= until_s:
            note = decoder.release()[1]
            if note is not None:
                found.append(note)

    for t_s, data in messages:
        release(t_s)
        decoder.feed(t_s, bytes.fromhex(data))
    release(1e9)
    return found


def pitches(found: list[Note]) -> list[int]:
    return [note.pitch for note in found]


def test_velocity_zero_ends_a_note() -> None:
    """Note-on with velocity 0 is a note-off (M-05, 4.2.1 p. 10)."""
    (note,) = notes((1.0, "90 40 50"), (1.2, "90 40 00"))
    assert (note.string, note.pitch, note.velocity, note.end_s) == (1, 64, 80, 1.2)


def test_overlapped_legato_keeps_the_new_note() -> None:
    """On #1, on #2, off #1 on one channel (M-25, 4.2.1 p. 22): the late off is not the end of
    #2."""
    first, second = notes(
        (1.0, "91 3C 50"), (1.1, "91 3E 40"), (1.11, "81 3C 00"), (1.3, "81 3E 00")
    )
    assert (first.pitch, first.end_s) == (60, 1.1)
    assert (second.pitch, second.end_s) == (62, 1.3)


def test_bend_range_follows_rpn_zero() -> None:
    """`B0 65 00 64 00 06 0C 26 00` sets channel 1 to 12 semitones (M-16); 12288 is then +6
    (M-20)."""
    setup = [(0.0, f"B0 {pair}") for pair in ("65 00", "64 00", "06 0C", "26 00")]
    found = notes(*setup, (1.0, "90 40 50"), (1.1, "E0 00 60"), rig=Rig(bend_range=2.0))
    assert pitches(found) == [64, 70]
    found = notes((1.0, "90 40 50"), (1.1, "E0 00 60"), rig=Rig(bend_range=2.0))
    assert pitches(found) == [64, 65], "without RPN the rig's range holds"


def test_the_null_parameter_closes_data_entry() -> None:
    """After RPN 7F 7F a data entry changes nothing (M-18, from memory in the check values)."""
    setup = [(0.0, f"B0 {pair}") for pair in ("65 00", "64 00", "06 02", "65 7F", "64 7F", "06 18")]
    assert pitches(notes(*setup, (1.0, "90 40 50"), (1.1, "E0 00 60"))) == [64, 65]


def test_pitch_bend_is_low_byte_first() -> None:
    """`E0 00 40` is the centre (M-13): no bend, no new note."""
    assert pitches(notes((1.0, "90 40 50"), (1.1, "E0 00 40"))) == [64]
    assert pitches(notes((1.0, "90 40 50"), (1.1, "E0 7F 7F"))) == [64, 76]


def test_legato_by_bend_alone_is_a_note() -> None:
    """A bend that settles half a semitone or more away counts at the message that reached it (C-11;
    formats.md)."""
    found = notes((1.0, "90 40 50"), (1.100, "E0 00 42"), (1.105, "E0 55 4A"), (1.3, "80 40 00"))
    assert [(note.pitch, note.by, note.onset_s) for note in found] == [
        (64, "note", 1.0),
        (66, "bend", 1.105),
    ]
    assert found[1].velocity is None
    assert found[1].end_s == 1.3


def test_semitones_passed_on_the_way_are_no_notes() -> None:
    """A slide of three semitones, each held under 20 ms, gives one note (formats.md)."""
    steps = [(1.100, "E0 2B 45"), (1.115, "E0 55 4A"), (1.130, "E0 00 50")]
    assert pitches(notes((1.0, "90 40 50"), *steps, (1.4, "80 40 00"))) == [64, 67]


def test_a_bend_put_back_by_the_next_note_is_no_note() -> None:
    """Wheel to the centre a few ms before or after the next note-on."""
    before = notes((1.0, "90 40 50"), (1.1, "E0 55 4A"), (1.196, "E0 00 40"), (1.2, "90 43 50"))
    assert pitches(before) == [64, 66, 67]
    after = notes((1.0, "90 40 50"), (1.1, "E0 55 4A"), (1.2, "90 43 50"), (1.203, "E0 00 40"))
    assert pitches(after) == [64, 66, 67]


def test_vibrato_is_no_note() -> None:
    """A wheel that swings by a third of a semitone never reaches the next one."""
    swing = [(1.0 + 0.05 * n, "E0 6A 41" if n % 2 else "E0 15 3E") for n in range(1, 10)]
    assert pitches(notes((1.0, "90 40 50"), *swing)) == [64]


def test_softer_or_shorter_than_the_gate() -> None:
    """Only below the gate: exactly at it passes."""
    rig = Rig(gate=Gate(velocity=12, length_ms=25.0))
    found = notes(
        (1.0, "90 40 0B"), (1.1, "80 40 00"), (2.0, "90 40 0C"), (2.1, "80 40 00"),
        (3.0, "90 40 50"), (3.024, "80 40 00"), (4.0, "90 40 50"), (4.025, "80 40 00"), rig=rig,
    )  # fmt: skip
    assert [note.gated for note in found] == [True, False, True, False]


def test_a_lost_and_found_note_is_not_short() -> None:
    """Off and on again at once (double trigger, C-14): the first note did sound on."""
    first, second = notes(
        (1.0, "90 40 50"), (1.020, "80 40 00"), (1.021, "90 40 48"), (1.2, "80 40 00")
    )
    assert (first.gated, second.gated) == (False, False)


def test_an_octave_error_that_corrects_itself_is_no_slot() -> None:
    """The octave above a planned pitch, right again within 40 ms (C-15; formats.md, reading 1)."""
    wrong, right = notes((1.0, "90 4C 50"), (1.030, "90 40 40"), (1.2, "80 40 00"), plan=((1, 64),))
    assert (wrong.pitch, wrong.gated) == (76, True)
    assert (right.pitch, right.gated, right.onset_s) == (64, False, 1.030)
    assert right.struck_s == pytest.approx(1.0)


def test_notes_come_in_the_order_struck() -> None:
    """A low string's note-on arrives after a high one's that was struck later (C-06); delays as in
    T-05."""
    rig = Rig(delay=Delay(fixed_ms=4.0, periods=2.0))
    struck = [(6, 40, 1.000), (1, 64, 1.012)]
    arrived = sorted(
        (at + 0.004 + 2.0 * period_s(pitch), string, pitch) for string, pitch, at in struck
    )
    assert [string for _, string, _ in arrived] == [1, 6]
    found = notes(
        *[(at, f"{0x8F + string:02X} {pitch:02X} 50") for at, string, pitch in arrived], rig=rig
    )
    assert [note.string for note in found] == [6, 1]
    assert [note.corrected_s for note in found] == pytest.approx([1.000, 1.012])


def test_other_channels_are_counted_not_judged() -> None:
    """A channel that is no string of the rig; clock, active sensing, SysEx and program change say
    nothing."""
    decoder = Decoder(Rig(channels=(11, 12, 13, 14, 15, 16)), LOWEST)
    messages = (
        (1.0, "90 40 50"), (1.1, "C3 05"), (1.2, "F8"), (1.3, "FE"), (1.4, "F0 7E 7F 06 01 F7"),
        (1.5, "CA 05"), (1.6, "9A 40 50"),
    )  # fmt: skip
    assert [(note.string, note.pitch) for note in drain(decoder, messages)] == [(1, 64)]
    assert decoder.foreign == 2
    assert decoder.damaged == 0


def test_damaged_messages_are_counted() -> None:
    """What no driver should hand over (data without a status, nothing at all, statuses without
    data) raises nothing."""
    decoder = Decoder(Rig(), LOWEST)
    assert (
        drain(decoder, ((1.0, "40 01 02"), (1.1, ""), (1.2, "F4"), (1.3, "90 C8 C8"), (1.4, "90")))
        == []
    )
    assert decoder.damaged == 2


def test_all_notes_off_ends_what_sounds() -> None:
    """Controller 123 acts on its own channel (M-26)."""
    one, other = notes((1.0, "90 40 50"), (1.01, "91 3B 50"), (1.2, "B0 7B 00"), (1.4, "81 3B 00"))
    assert (one.end_s, other.end_s) == (1.2, 1.4)


def test_a_pulled_cable_ends_what_sounds() -> None:
    """After silence() a bend changes nothing and the rig's bend range holds again."""
    decoder = Decoder(Rig(), LOWEST)
    decoder.feed(1.0, bytes.fromhex("90 40 50"))
    decoder.silence(1.5)
    decoder.feed(1.6, bytes.fromhex("E0 55 4A"))
    (note,) = drain(decoder, ())
    assert note.end_s == 1.5


def test_random_messages_never_raise_and_lose_no_note() -> None:
    """Every note-on of a string comes out exactly once, whatever surrounds it."""
    rng = random.Random(11)
    messages, sent = [], 0
    for n in range(20_000):
        status = rng.choice([0x80, 0x90, 0x90, 0xA0, 0xB0, 0xC0, 0xD0, 0xE0]) + rng.randrange(8)
        data = [status, rng.randrange(128), rng.randrange(128)][
            : 2 if status & 0xF0 in (0xC0, 0xD0) else 3
        ]
        sent += status & 0xF0 == 0x90 and data[2] > 0 and status & 0x0F < 6
        messages.append((n * rng.choice([0.0, 0.001, 0.01]) / 10 + n * 0.002, bytes(data).hex()))
    messages.sort(key=lambda message: message[0])
    found = notes(*messages)
    assert sum(note.by == "note" for note in found) == sent
    assert len({id(note) for note in found}) == len(found)
