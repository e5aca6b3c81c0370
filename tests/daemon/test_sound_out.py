"""Clicks and cues through a sound card, with a card that is none."""

from __future__ import annotations

import sys
from random import Random
from typing import Any

import numpy as np
import pytest

from livecheck.daemon.ports import SOUND, choose_output
from livecheck.daemon.sound_out import BLOCK, MISSING, RATE, Mixer, SoundOutput, sound_device, tone
from livecheck.errors import NoDevice

ON = bytes((0x99, 76, 100))


class Card:
    """Calls for samples when it is told to."""

    def __init__(self) -> None:
        self.there, self.on = True, False
        self.fill: Any = None

    def open(self, rate: int, block: int, fill: Any) -> tuple[str, float]:
        if not self.there:
            raise NoDevice("gone")
        self.fill, self.on = fill, True
        return "Speakers", 0.012

    def active(self) -> bool:
        return self.on

    def close(self) -> None:
        self.on = False


def onsets(samples: np.ndarray) -> list[int]:
    """First samples of tones: where sound follows a hundredth of a second of silence."""
    loud = np.flatnonzero(np.abs(samples) > 1e-4)
    return [int(at) for at, before in zip(loud, [-RATE, *loud]) if at - before > RATE // 100]


@pytest.mark.parametrize("seed", range(3))
def test_clicks_stay_as_even_as_they_were_sent_however_the_card_calls(seed: int) -> None:
    """Calls come up to 1.5 blocks late; half a minute of clicks lies within a tenth of a
    millisecond, a constant time behind."""
    rng, mixer, out = Random(seed), Mixer(), []
    sent = [round(1e9 * (0.1 + 0.2 * at + rng.random() * 1e-3)) for at in range(150)]
    todo = list(sent)
    for call in range(30 * RATE // BLOCK):
        due_ns = call * BLOCK * 1e9 / RATE
        now_ns = round(due_ns + (rng.random() < 0.5) * rng.random() * 1.5 * BLOCK * 1e9 / RATE)
        while todo and todo[0] <= now_ns:
            mixer.send(todo.pop(0), ON)
        out.append(mixer.render(BLOCK, now_ns))
    heard = onsets(np.concatenate(out))[: len(sent)]
    late_ms = np.array([1e3 * at / RATE - ns / 1e6 for at, ns in zip(heard, sent, strict=True)])
    assert np.ptp(late_ms) < 0.15
    assert late_ms.mean() == pytest.approx(mixer.ahead_ns / 1e6, abs=0.3)


def test_a_note_is_a_tone_that_ends_and_never_too_loud() -> None:
    """High and low click differ; ends of notes and other channels are silent; many at once are
    cut to what a card takes."""
    high, low = (np.abs(np.fft.rfft(tone(note, 100, RATE), RATE)).argmax() for note in (76, 77))
    assert high > 1.3 * low
    for note in range(128):
        wave = tone(note, 127, RATE)
        assert 0.0 < np.abs(wave).max() <= 0.5 and abs(float(wave[-1])) < 0.01
    mixer = Mixer()
    for data in (bytes((0x89, 76, 64)), bytes((0x99, 76, 0)), bytes((0x90, 76, 100)), b"\xf8"):
        mixer.send(0, data)
    assert not mixer.render(4 * BLOCK, 0).any()
    for _ in range(20):
        mixer.send(0, ON)
    loud = np.concatenate([mixer.render(BLOCK, 0) for _ in range(8)])
    assert 0.9 < np.abs(loud).max() <= 1.0


def test_the_card_is_a_port_that_tells_how_late_it_sounds() -> None:
    """It is chosen by its name; one that is pulled out is no port, and comes back."""
    card = Card()
    sound = SoundOutput(card)
    (name,) = sound.names()
    assert name == f"{SOUND}: Speakers, sounds 20 ms late"
    assert choose_output([name], SOUND) == 0
    sound.send(ON)
    samples = np.zeros((BLOCK, 1), np.float32)
    for _ in range(40):
        card.fill(samples, BLOCK)
    card.on = card.there = False
    assert sound.names() == [] and not sound.is_connected()
    card.there = True
    assert sound.names() == [name] and sound.is_connected()
    sound.delete()
    assert not card.on


def test_without_the_extra_it_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """One line; the same where the system's library is missing."""
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(NoDevice) as raised:
        sound_device()
    assert str(raised.value) == MISSING and "\n" not in MISSING
