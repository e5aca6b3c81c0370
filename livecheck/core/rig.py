"""What stands between the fingers and the computer: channels, bend range, conversion delay, noise
gate."""

from __future__ import annotations

from dataclasses import dataclass, field

from .pitch import period_s


@dataclass(frozen=True, slots=True)
class Delay:
    """Conversion delay: how long after the stroke its note-on arrives.

    Either ``fixed_ms + periods × period of the sounding pitch`` (a converter must see one to two
    vibrations before it knows the pitch; sources.md C-01 to C-05), or one constant for each string
    in ``per_string_ms``.
    """

    fixed_ms: float = 0.0
    periods: float = 0.0
    per_string_ms: tuple[float, ...] | None = None

    def seconds(self, string: int, pitch: float) -> float:
        """Delay of one note in seconds. A string without a constant of its own takes the last one
        given."""
        if self.per_string_ms is not None:
            return self.per_string_ms[min(string, len(self.per_string_ms)) - 1] / 1000.0
        if self.periods == 0.0:
            return self.fixed_ms / 1000.0
        return self.fixed_ms / 1000.0 + self.periods * period_s(pitch)


@dataclass(frozen=True, slots=True)
class Gate:
    """Softer or shorter than this is noise, never a slot."""

    velocity: int = 12
    length_ms: float = 25.0


@dataclass(frozen=True, slots=True)
class Rig:
    """One converter as it is set up. Channels are 1 to 16, string 1's first."""

    name: str = "default"
    port: str | None = None
    channels: tuple[int, ...] = (1, 2, 3, 4, 5, 6)
    tuning: tuple[int, ...] | None = None  # only the default where a cell gives none
    bend_range: float = 12.0  # semitones, until RPN 0 says otherwise
    delay: Delay = field(default_factory=Delay)
    gate: Gate = field(default_factory=Gate)

    def string_of(self, channel: int) -> int | None:
        """The string whose notes come on a channel (1 to 16); None where it is no string of the
        rig."""
        return self.channels.index(channel) + 1 if channel in self.channels else None
