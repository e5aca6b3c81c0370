"""Gestures, pedals and the sounds that answer them: what was typed and what the settings say, put
together, and what the recorder is told of it."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ..core.cues import USUAL, Tone, as_told
from ..core.gestures import Gesture
from ..core.hands import Mapped, Wanted
from ..daemon.ports import matcher
from ..files.settingsfile import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class HandsAsked:
    """What is listened to beside play. gestures: None where nothing was said of them."""

    pedals: tuple[Mapped, ...] = ()
    pedal_port: str | None = None
    gestures: bool | None = None
    cue_port: str | None = None
    cues: bool = False

    @classmethod
    def of(cls, options: Namespace) -> HandsAsked:
        """What was typed."""
        return cls(
            pedals=tuple(options.pedal or ()),
            pedal_port=options.pedal_port,
            gestures=options.gestures,
            cue_port=options.cue_port,
            cues=vars(options).get("cues", False),
        )


@dataclass(frozen=True, slots=True)
class HandsAre:
    """Hands and feet of a sitting: which are listened to, at which port, and what sounds."""

    wanted: Wanted
    pedal_port: str | None = None
    sounds: Mapping[str, tuple[Tone, ...]] = field(default_factory=lambda: USUAL)

    def commands(self) -> list[dict[str, Any]]:
        """What a recorder is told."""
        told: list[dict[str, Any]] = []
        if self.wanted.gestures:
            told.append({"command": "gestures", "gestures": as_records(self.wanted.gestures)})
        if self.pedal_port is not None:
            told.append({"command": "pedal", "port": self.pedal_port})
        return told

    def cue(self, word: str, port: str) -> dict[str, Any]:
        """What a recorder is told to sound."""
        return {"command": "cue", "port": port, "word": word, "notes": as_told(self.sounds[word])}


def hands_of(asked: HandsAsked, settings: Settings, gestures: bool) -> HandsAre:
    """What holds. gestures: whether the guitar is listened to where nothing was said of it. A
    switch that was typed goes before the same one in the settings. Raises BadInput."""
    typed = {(pedal, twice) for pedal, twice, _ in asked.pedals}
    kept = tuple(one for one in settings.pedals if one[:2] not in typed)
    port = asked.pedal_port if asked.pedal_port is not None else settings.pedal_port
    for one in (port, asked.cue_port):
        if one is not None:
            matcher(one)
    on = gestures if asked.gestures is None else asked.gestures
    wanted = Wanted(settings.gestures if on else (), (*asked.pedals, *kept))
    return HandsAre(wanted, port if wanted.pedals else None, settings.cues)


def as_records(gestures: tuple[Gesture, ...]) -> list[list[Any]]:
    """Gestures as the journal has them."""
    return [[one.string, one.fret, one.picks, one.action] for one in gestures]
