"""Clicks and cues through the sound card, for players without a synthesizer: the notes of channel
10 made into short tones.

Asked for as a MIDI output is, by the name ``SOUND``. It needs the optional extra *sound* (numpy
makes the tones, sounddevice hands them to the system). ``Timeline`` and ``Mixer`` are pure: a note
sounds a constant time after it was sent, to the sample, however unevenly the system calls for more.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from queue import Empty, SimpleQueue
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from ..errors import NoDevice
from .ports import SOUND

RATE, BLOCK = 48_000, 128
AHEAD_BLOCKS = 3
"""From a note to its first sample: the block under way, one that may be called for early, and one
more for a call that comes late."""
DRIFT = 1e-4  # between the card's clock and the computer's, at most
MISSING = (
    "the sound card needs the extra for sound: pip install 'livecheck[sound]', and on Linux the "
    "system's libportaudio2; or name a MIDI output"
)
_TONES = {76: (1600.0, 0.02), 77: (1000.0, 0.02), 75: (2200.0, 0.012), 67: (1400.0, 0.05),
          68: (930.0, 0.05), 56: (560.0, 0.06), 80: (2700.0, 0.02), 81: (2700.0, 0.18)}  # fmt: skip
"""Of the notes that clicks and cues use: frequency, and the time in which it falls to a third."""
_FALL_S, _LONGEST = 0.08, 6.0  # of other notes; a tone ends after so many falls
_LOUD = 0.5

Samples = NDArray[np.float32]


def tone(note: int, velocity: int, rate: int) -> Samples:
    """A note as samples: a sine that falls, faded in over half a millisecond, so that nothing
    cracks."""
    hertz, fall_s = _TONES.get(note, (440.0 * 2.0 ** ((note - 69) / 12.0), _FALL_S))
    at_s = np.arange(round(_LONGEST * fall_s * rate)) / rate
    level = _LOUD * velocity / 127.0 * np.minimum(at_s / 0.0005, 1.0) * np.exp(-at_s / fall_s)
    wave = level * np.sin(2.0 * np.pi * min(hertz, 0.45 * rate) * at_s)
    return np.asarray(wave, np.float32)


class Timeline:
    """Where samples lie on the computer's clock, of calls that come unevenly: the earliest ones are
    right, all others were held up."""

    def __init__(self) -> None:
        self._origin_ns: float | None = None
        self._called_ns = 0

    def called(self, now_ns: int, sample: int) -> None:
        """More was called for, from this sample on."""
        origin_ns = now_ns - sample * 1e9 / RATE
        if self._origin_ns is None:
            self._origin_ns = origin_ns
        else:
            drift_ns = DRIFT * (now_ns - self._called_ns)
            self._origin_ns = min(self._origin_ns + drift_ns, origin_ns)
        self._called_ns = now_ns

    def sample_at(self, t_ns: int) -> int:
        """The sample that is called for at a moment."""
        assert self._origin_ns is not None
        return round((t_ns - self._origin_ns) * RATE / 1e9)


class Mixer:
    """Notes in from one thread, samples out in another."""

    def __init__(self) -> None:
        self.ahead_ns = round(AHEAD_BLOCKS * BLOCK * 1e9 / RATE)
        self._queue: SimpleQueue[tuple[int, int, int]] = SimpleQueue()
        self._timeline = Timeline()
        self._sounding: list[tuple[int, Samples]] = []  # first sample, and all of them
        self._tones: dict[tuple[int, int], Samples] = {}
        self._sample = 0

    def send(self, t_ns: int, data: bytes) -> None:
        """A message; only beginnings of notes on channel 10 sound."""
        if len(data) == 3 and data[0] == 0x99 and data[2]:
            self._queue.put((t_ns, data[1], data[2]))

    def render(self, frames: int, now_ns: int) -> Samples:
        """The next samples, called for at this moment."""
        self._timeline.called(now_ns, self._sample)
        while True:
            try:
                t_ns, note, velocity = self._queue.get_nowait()
            except Empty:
                break
            key = note, velocity
            if key not in self._tones:
                self._tones[key] = tone(note, velocity, RATE)
            first = max(self._timeline.sample_at(t_ns + self.ahead_ns), self._sample)
            self._sounding.append((first, self._tones[key]))
        out = np.zeros(frames, np.float32)
        for first, wave in self._sounding:
            begin, end = first - self._sample, first - self._sample + len(wave)
            low, high = max(begin, 0), min(end, frames)
            if low < high:
                out[low:high] += wave[low - begin : high - begin]
        self._sample += frames
        self._sounding = [one for one in self._sounding if one[0] + len(one[1]) > self._sample]
        return np.clip(out, -1.0, 1.0)


Fill = Callable[[Any, int], None]


class Card(Protocol):
    """What is needed of an audio library."""

    def open(self, rate: int, block: int, fill: Fill) -> tuple[str, float]:
        """Begin to call ``fill(samples, frames)``; the device's name and latency in seconds."""

    def active(self) -> bool: ...
    def close(self) -> None: ...


class SoundOutput:
    """A sound card in the place of a MIDI output. Raises NoDevice where there is none."""

    def __init__(self, card: Card | None = None) -> None:
        self._card = card or sound_device()
        self._mixer = Mixer()
        self._name: str | None = None
        self._again()

    def names(self) -> list[str]:
        """The card with how late it sounds; none where it is gone."""
        if not self._card.active():
            try:
                self._again()
            except NoDevice:
                return []
        return [] if self._name is None else [self._name]

    def open(self, index: int) -> None:
        return

    def is_connected(self) -> bool:
        return self._card.active()

    def shut(self) -> None:
        return

    def send(self, data: bytes) -> None:
        self._mixer.send(time.perf_counter_ns(), data)

    def delete(self) -> None:
        """Close the card."""
        self._card.close()

    def _again(self) -> None:
        self._name = None
        self._mixer = mixer = Mixer()

        def fill(samples: Any, frames: int) -> None:
            samples[:, 0] = mixer.render(frames, time.perf_counter_ns())

        device, latency_s = self._card.open(RATE, BLOCK, fill)
        late_ms = 1e3 * latency_s + mixer.ahead_ns / 1e6
        self._name = f"{SOUND}: {device}, sounds {late_ms:.0f} ms late"


class _SoundDevice:
    """The library sounddevice."""

    def __init__(self, library: Any) -> None:
        self._library = library
        self._stream: Any = None

    def open(self, rate: int, block: int, fill: Fill) -> tuple[str, float]:
        try:
            self.close()
            device = self._library.query_devices(kind="output")
            self._stream = self._library.OutputStream(
                samplerate=rate,
                blocksize=block,
                channels=1,
                dtype="float32",
                latency="low",
                callback=lambda samples, frames, _time, _status: fill(samples, frames),
            )
            self._stream.start()
        except (self._library.PortAudioError, ValueError, OSError) as error:
            raise NoDevice(
                f"there is no sound card that plays ({' '.join(str(error).split())}); name a MIDI "
                "output"
            ) from error
        return str(device["name"]), float(self._stream.latency)

    def active(self) -> bool:
        return self._stream is not None and bool(self._stream.active)

    def close(self) -> None:
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.close()


def sound_device() -> Card:
    """The audio library. Raises NoDevice where it, or the system's part of it, is not installed."""
    try:
        import sounddevice
    except (ImportError, OSError) as error:  # OSError: the system's library is missing
        raise NoDevice(MISSING) from error
    return _SoundDevice(sounddevice)


def card_name() -> str:
    """The device that would sound, found without opening it. Raises NoDevice."""
    card = sound_device()
    assert isinstance(card, _SoundDevice)
    try:
        return str(card._library.query_devices(kind="output")["name"])
    except (card._library.PortAudioError, ValueError, OSError) as error:
        raise NoDevice(f"the extra is there, but no sound card: {error}") from error
